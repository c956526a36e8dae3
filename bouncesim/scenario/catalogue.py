"""Types of line with their figures and sources: what catalogue.toml holds.

Matched loss at the frequency f: constant + conductor sqrt(f) + dielectric f, every term positive. Skin effect gives the second term,
a dielectric of constant loss tangent the third; the first stands for the copper on a steel centre, which is thinner than the skin depth
at low frequency, and counts as conductor loss.
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from bouncesim.quantity import show

PER_100_M = 1 / 100  # dB/100 m -> dB/m


@dataclass(frozen=True)
class Figure:
    """One published figure of the matched loss; `fitted`: the law was fitted to it."""

    frequency_hz: float
    loss_db_per_m: float
    kind: str  # "nominal", "maximum" or "measured"
    source: str
    seen: str  # where, or "from memory"
    fitted: bool


@dataclass(frozen=True)
class LineType:
    """One type of line. `uncertainty_percent`: of the loss of an unknown sample, 1.8 to 30 MHz, 20 degrees Celsius."""

    name: str
    description: str
    impedance_ohm: float
    impedance_tolerance_ohm: float
    velocity_factor: float
    constant_db_per_100m: float
    conductor_db_per_100m: float  # at 1 MHz
    dielectric_db_per_100m: float  # at 1 MHz
    uncertainty_percent: float
    valid_from_hz: float
    valid_to_hz: float
    working_voltage_v_rms: float | None
    working_voltage_seen: str
    notes: tuple[str, ...]
    figures: tuple[Figure, ...]

    def loss_parts_db_per_m(self, frequency_hz: float) -> tuple[float, float]:
        """Matched loss in the conductors and in the dielectric, dB/m."""
        f = frequency_hz / 1e6
        conductor = self.constant_db_per_100m + self.conductor_db_per_100m * math.sqrt(f)
        return conductor * PER_100_M, self.dielectric_db_per_100m * f * PER_100_M

    def loss_db_per_m(self, frequency_hz: float) -> float:
        """Matched loss, dB/m."""
        return sum(self.loss_parts_db_per_m(frequency_hz))

    def departure_percent(self, figure: Figure) -> float:
        """By how much the law is above the figure (per cent of the figure)."""
        return 100 * (self.loss_db_per_m(figure.frequency_hz) / figure.loss_db_per_m - 1)

    @property
    def sources_differ_percent(self) -> float | None:
        """Largest departure of the law from any figure that is not a limit, as far as the law is said to hold; None without figures."""
        inside = (f for f in self.figures if f.kind != "maximum" and self.valid_from_hz <= f.frequency_hz <= self.valid_to_hz)
        return max((abs(self.departure_percent(figure)) for figure in inside), default=None)

    @property
    def all_from_memory(self) -> bool:
        """True if not one figure has a source that can be looked up."""
        return all(figure.seen == "from memory" for figure in self.figures)

    def notes_at(self, frequency_hz: float) -> tuple[str, ...]:
        """What to know before trusting this type at a frequency, in sentences without a full stop."""
        found = [f"The loss of an unknown sample is uncertain by {self.uncertainty_percent:g} %"]
        if not self.valid_from_hz <= frequency_hz <= self.valid_to_hz:
            limits = f"{show(self.valid_from_hz, 'Hz')} to {show(self.valid_to_hz, 'Hz')}"
            found.append(f"{show(frequency_hz, 'Hz', 4)} is outside the range in which its loss is known, {limits}: the figure is a guess")
        if self.working_voltage_v_rms is not None:
            voltage = show(self.working_voltage_v_rms, "V")
            found.append(f"Working voltage {voltage} rms ({self.working_voltage_seen}): not to be exceeded anywhere along the line")
        return (*found, *self.notes)


@functools.cache
def catalogue() -> Mapping[str, LineType]:
    """Every type by its name."""
    data = tomllib.loads((files("bouncesim.scenario") / "catalogue.toml").read_text("utf-8"))
    return {name: _line_type(name, entry, data["sources"]) for name, entry in data["types"].items()}


def _line_type(name: str, entry: Mapping[str, Any], sources: Mapping[str, Mapping[str, str]]) -> LineType:
    figures = tuple(
        Figure(
            frequency_hz=figure["mhz"] * 1e6,
            loss_db_per_m=figure["loss"] * PER_100_M,
            kind=figure["kind"],
            source=sources[figure["source"]]["text"],
            seen=sources[figure["source"]]["seen"],
            fitted=figure.get("fitted", False),
        )
        for figure in entry["figures"]
    )
    return LineType(
        name=name,
        description=entry["description"],
        impedance_ohm=entry["impedance"],
        impedance_tolerance_ohm=entry["impedance_tolerance"],
        velocity_factor=entry["velocity_factor"],
        constant_db_per_100m=entry.get("constant_loss", 0.0),
        conductor_db_per_100m=entry["conductor_loss"],
        dielectric_db_per_100m=entry["dielectric_loss"],
        uncertainty_percent=entry["uncertainty"],
        valid_from_hz=entry["valid_mhz"][0] * 1e6,
        valid_to_hz=entry["valid_mhz"][1] * 1e6,
        working_voltage_v_rms=entry.get("working_voltage"),
        working_voltage_seen=entry.get("working_voltage_seen", ""),
        notes=tuple(entry.get("notes", ())),
        figures=figures,
    )
