"""An impedance that was measured over a band, as a scenario carries it; and finding its file."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import Field

from bouncesim.quantity import quote
from bouncesim.scenario.base import Conflict, Frozen
from bouncesim.scenario.beside import Kind, content_beside

if TYPE_CHECKING:
    from bouncesim.scenario.touchstone import Measurement


class Sweep(Frozen):
    """Impedance (ohm) at rising frequencies (Hz), two at least."""

    frequency_hz: tuple[float, ...] = Field(min_length=2, max_length=100_000)
    impedance_ohm: tuple[complex, ...]
    reference_ohm: float = 50.0

    @property
    def band_hz(self) -> tuple[float, float]:
        """First and last frequency."""
        return self.frequency_hz[0], self.frequency_hz[-1]

    def measurement(self) -> Measurement:
        """The same in arrays, for scenario.touchstone.at."""
        import numpy as np

        from bouncesim.scenario.touchstone import Measurement

        return Measurement(np.array(self.frequency_hz), np.array(self.impedance_ohm), self.reference_ohm)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """An impedance a frequency, and the frequencies rise."""
        frequencies, impedances = given["frequency_hz"], given["impedance_ohm"]
        if len(frequencies) != len(impedances):
            yield "impedance_ohm", f"{len(impedances)} impedances at {len(frequencies)} frequencies", "Give one a frequency"
        if not all(low < high for low, high in itertools.pairwise((-1e-300, *frequencies))):
            yield "frequency_hz", "the frequencies do not rise", "Sort them"


def read_beside(folder: Path, name: str, place: str) -> Sweep:
    """The measurement in the Touchstone file called `name` in the folder of a scenario or below it. ScenarioError at `place`."""
    from bouncesim.scenario.touchstone import LARGEST_BYTES, read_touchstone

    kind = Kind("a one-port file", "antenna.s1p", LARGEST_BYTES, "A measurement of an antenna is much smaller")
    content = content_beside(folder, name, place, kind)
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        text = content.decode("latin-1")  # remarks of older instruments
    found = read_touchstone(text, f"{place} ({quote(name)[1:-1]})")
    return Sweep(
        frequency_hz=tuple(found.frequency_hz.tolist()),
        impedance_ohm=tuple(found.impedance_ohm.tolist()),
        reference_ohm=found.reference_ohm,
    )
