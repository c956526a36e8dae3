"""The stations of a survey: every combination of its ranges, numbered, none of them built before it is asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim import budget
from bouncesim.budget import Work
from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.dipole import dipole_work
from bouncesim.scenario import Antenna, Line, Part, Scenario, Tuner
from bouncesim.scenario.model import flat_parts
from bouncesim.scenario.survey import Survey

Indices = NDArray[np.int64]
LOAD_BYTES = 250  # of memory, of a Load


@dataclass(frozen=True)
class Load:
    """The antenna of a station: an impedance; an SWR on the line that feeds it, and the phase of its reflection; or, with neither, the
    station's own."""

    impedance_ohm: complex | None = None
    swr: float | None = None
    phase_rad: float = 0.0

    @property
    def reflection(self) -> complex:
        """Of an SWR: rho exp(j phase)."""
        assert self.swr is not None
        rho = (self.swr - 1) / (self.swr + 1)
        return complex(rho * math.cos(self.phase_rad), rho * math.sin(self.phase_rad))

    def ohm(self, reference_ohm: float) -> complex:
        """The impedance, where it is not the station's own."""
        if self.impedance_ohm is not None:
            return self.impedance_ohm
        return reference_ohm * (1 + self.reflection) / (1 - self.reflection)


class Stations:
    """The ranges of a survey. Axes in order: frequency, line type, length, antenna, tuner, power; the last one runs fastest."""

    AXES = ("frequency", "line type", "length", "antenna", "tuner", "power")

    def __init__(self, scenario: Scenario) -> None:
        """ScenarioError if the scenario has no [survey]."""
        survey = scenario.survey
        if survey is None:
            remedy = 'Add [survey] and what is varied, for example bands = ["40 m", "20 m"]'
            raise ScenarioError(Problem("survey", "is missing", remedy))
        self.base = scenario.model_copy(update={"survey": None, "claims": (), "beats": (), "narration": ()})
        self.survey: Survey = survey
        self.frequencies = survey.frequencies() or (scenario.transmitter.frequency_hz,)
        self.line = next((line.name for line in scenario.lines if survey.line in (None, line.name)), "")
        self.types: tuple[str | None, ...] = survey.types or (None,)
        self.lengths: tuple[float | None, ...] = survey.lengths_m or (None,)
        self.loads = self._loads()
        self.tuners: tuple[str | None, ...] = survey.tuners or (None,)
        if self.base.antenna.dipole is not None and self.loads == (Load(),):
            budget.check(*(dipole_work(hz, self.base.antenna.dipole.length_m) for hz in self.frequencies))
        self.powers = survey.powers_w or (scenario.transmitter.power_w,)

    def _loads(self) -> tuple[Load, ...]:
        if self.survey.impedances_ohm:
            return tuple(Load(impedance_ohm=ohm) for ohm in self.survey.impedances_ohm)
        swrs = self.survey.swrs or (() if self.base.antenna.swr is None else (self.base.antenna.swr,))
        takes = f"This survey takes {len(swrs):,} SWRs with {self.survey.phases:,} phases each"
        budget.check(Work(takes, "Take fewer of them", memory=float(LOAD_BYTES * len(swrs) * self.survey.phases)))
        turns = [2 * math.pi * k / self.survey.phases for k in range(self.survey.phases)]
        return tuple(Load(swr=swr, phase_rad=turn) for swr in swrs for turn in turns) or (Load(),)

    @property
    def shape(self) -> tuple[int, ...]:
        """How many values each axis has."""
        return tuple(map(len, (self.frequencies, self.types, self.lengths, self.loads, self.tuners, self.powers)))

    @property
    def count(self) -> int:
        """How many stations there are."""
        return math.prod(self.shape)

    def indices(self, first: int, count: int) -> tuple[Indices, ...]:
        """For so many stations from `first` on: the index on each axis."""
        return tuple(np.asarray(axis, dtype=np.int64) for axis in np.unravel_index(np.arange(first, first + count), self.shape))

    def station(self, number: int) -> Scenario:
        """One station as a scenario of its own, its tuner not yet set; `number` counts from 0."""
        f, kind, length, load, tuner, power = (int(axis[0]) for axis in self.indices(number, 1))
        frequency = self.frequencies[f]
        change = {"frequency_hz": frequency, "power_w": self.powers[power]}
        parts = [self.part(part, kind, length, tuner) for part in self.base.path]
        path = tuple(part for part in parts if part is not None)
        update: dict[str, Any] = {"transmitter": self.base.transmitter.model_copy(update=change), "path": path}
        made = self.base.model_copy(update=update)
        return made if self.loads[load] == Load() else made.model_copy(update={"antenna": self.antenna(self.loads[load], made, frequency)})

    def part(self, part: Part, kind: int, length: int, tuner: int) -> Part | None:
        """A part of the path as these values have it; None for a tuner that is left out."""
        shape = self.tuners[tuner]
        if isinstance(part, Tuner) and shape is not None:
            changed = {"shape": shape, "kind": part.kind if shape == "L" else "least heat"}
            return None if shape == "none" else part.model_copy(update=changed)
        if not isinstance(part, Line) or part.name != self.line:
            return part
        new_type, new_length = self.types[kind], self.lengths[length]
        if new_type is not None:
            part = Line(name=part.name, length_m=part.length_m, type=new_type, loss_law=part.loss_law)
        return part if new_length is None else part.model_copy(update={"length_m": new_length})

    @staticmethod
    def antenna(load: Load, station: Scenario, frequency_hz: float) -> Antenna:
        """The antenna that a load stands for."""
        return Antenna.computed(load.ohm(station.lines[-1].constants(frequency_hz).impedance_ohm))

    @property
    def kept(self) -> tuple[str, ...]:
        """Names of the parts of the path, in order."""
        return tuple(part.name for part in flat_parts(self.base.path))
