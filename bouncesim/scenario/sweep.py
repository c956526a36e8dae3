"""An impedance that was measured over a band, as a scenario carries it; and finding its file."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import Field

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import quote
from bouncesim.scenario.base import Conflict, Frozen

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
    """The measurement in the Touchstone file called `name` in the folder of a scenario or below it, never outside of it: a scenario may
    come from a stranger, and may not make us read other files. ScenarioError at `place`."""
    from bouncesim.scenario.touchstone import LARGEST_BYTES, read_touchstone

    def wrong(reason: str, remedy: str) -> ScenarioError:
        return ScenarioError(Problem(place, f"{quote(name)} {reason}", remedy))

    if set(name) & set("\\:\0") or name.startswith("/") or ".." in name.split("/"):
        raise wrong("leads away from the scenario's folder", 'Name a file that stands beside the scenario, such as "antenna.s1p"')
    try:
        home, file = folder.resolve(), (folder / name).resolve()
        if not file.is_relative_to(home):
            raise wrong("leads away from the scenario's folder", "Put the file itself there, not a link to it")
        if not file.exists():
            raise wrong("is not there", "Put the file into the folder of the scenario, and mind capitals")
        if not file.is_file():
            raise wrong("is not a file", 'Name a one-port file, such as "antenna.s1p"')
        with open(file, "rb") as opened:
            content = opened.read(LARGEST_BYTES + 1)
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle
        reason = getattr(error, "strerror", None) or "a link that leads nowhere"
        raise wrong(f"cannot be read ({reason})", "Check the file and its permissions") from None
    if len(content) > LARGEST_BYTES:
        raise wrong("is larger than 5 MB", "A measurement of an antenna is much smaller: is this the right file?")
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
