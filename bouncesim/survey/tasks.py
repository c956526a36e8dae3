"""The pieces that a survey is worked off in, here or on another machine: each depends on nothing but its arguments."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

from bouncesim.exact.phasor import Real
from bouncesim.scenario import Scenario
from bouncesim.survey import transient
from bouncesim.survey.columns import readings
from bouncesim.survey.path import Solver
from bouncesim.survey.stations import Stations

Rows = NDArray[np.float64]

BATCH = 4096  # stations solved at once; always so many, as the last digit of a sum may depend on how an array is cut
Piece = tuple[int, int]  # first station, how many


@functools.lru_cache(maxsize=2)
def solver_of(scenario_json: str) -> Solver:
    """The solver of a survey, with what it has already worked out."""
    return Solver(Stations(Scenario.from_json(scenario_json)))


def solved(solver: Solver, first: int, count: int) -> dict[str, Real]:
    """Every steady-state column of some stations, (count,) each: what became of them, their antenna, their readings."""
    batch = solver.solve(first, count)
    found: dict[str, Real] = {
        "outcome": batch.outcome.astype(float),
        "antenna.impedance_ohm.real": batch.load.real,
        "antenna.impedance_ohm.imag": batch.load.imag,
    }
    return found | readings(batch, solver.stations.base.transmitter)


def exact_rows(scenario_json: str, piece: Piece) -> Rows:
    """The same as rows, (count, columns)."""
    return np.column_stack(list(solved(solver_of(scenario_json), *piece).values()))


def key_rows(scenario_json: str, piece: Piece, steady: dict[str, float]) -> Rows:
    """One station started in time, (1, columns of transient.columns); `steady`: its columns of `solved`."""
    solver = solver_of(scenario_json)
    station = transient.with_tuner(solver.station(piece[0]), steady)
    found = transient.start(station, steady)
    return np.array([[found.get(name, np.nan) for name in transient.columns(solver.stations.base)]])
