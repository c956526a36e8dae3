"""How much work a survey is, before it begins; and what to take instead where it is too much."""

from __future__ import annotations

import math
from dataclasses import replace

from bouncesim import budget
from bouncesim.budget import Work
from bouncesim.errors import ScenarioError
from bouncesim.exact.dipole import dipole_work
from bouncesim.march import grid
from bouncesim.march.budget import CELL_S, STEP_S
from bouncesim.march.expected import expected_s
from bouncesim.scenario import Tuner
from bouncesim.survey import transient
from bouncesim.survey.stations import Load, Stations

# Measured on an ordinary machine of 2024; they only decide what is said beforehand.
SOLVE_S, SEARCH_S = 60e-6, 20e-3  # to solve a station, to set a pi or T
BUILD_S = 25e-3  # what a station in time takes besides its steps
SAMPLED = 50  # stations that the estimate looks at
BYTES_A_CELL = 40  # of memory: the table in all its forms on the way
DISK_A_CELL = 40  # the tables, and the journal meanwhile
NAMES = {"line type": "line types", "frequency": "frequencies", "length": "lengths", "antenna": "antennas", "tuner": "tuners"}


def estimate(stations: Stations, columns: int, in_time: bool, threads: int) -> Work:
    """Of a survey with so many columns, with the nearest one that can be done."""
    tuner = next((part.shape for part in stations.base.path if isinstance(part, Tuner)), "none")
    searched = sum((shape or tuner) in ("pi", "T") for shape in stations.tuners) / len(stations.tuners)
    seconds = stations.count * (SOLVE_S + SEARCH_S * searched)
    if stations.base.antenna.dipole is not None and stations.loads == (Load(),):
        seconds += sum(dipole_work(hz, stations.base.antenna.dipole.length_m).seconds for hz in stations.frequencies)
    if in_time:
        step = max(stations.count // SAMPLED, 1)
        sample = [_in_time_s(stations, number) for number in range(0, stations.count, step)]
        seconds += stations.count * sum(sample) / len(sample) / threads
    how = ", each of them started in time" if in_time else ""
    takes = f"This survey takes {stations.count:,} stations ({_listed(stations, stations.shape)}){how}"
    cells = float(stations.count) * columns
    work = Work(takes, "", seconds, BYTES_A_CELL * cells, DISK_A_CELL * cells)
    fits = stations.count * budget.affordable(work)
    if fits < 1:
        return replace(work, nearest="One of them alone is too much: take shorter lines, a quicker key, or lower frequencies")
    fitting = thinned(stations.shape, int(min(fits, stations.count)))
    return replace(work, nearest=f"The nearest that can be done is fewer values, for example {_listed(stations, fitting)}")


def _in_time_s(stations: Stations, number: int) -> float:
    """Of one station, about."""
    station = stations.station(number)
    frequency = station.transmitter.frequency_hz
    try:
        points = transient.steps_a_period(station)
    except ScenarioError:
        return BUILD_S
    delay = sum(grid.delay_of(line, frequency) for line in station.all_lines)
    steps = expected_s(station, delay) * frequency * points
    return BUILD_S + steps * (STEP_S + CELL_S * points * frequency * delay)


def thinned(shape: tuple[int, ...], most: int) -> tuple[int, ...]:
    """The shape with its largest axes made smaller, until there are no more than `most` stations."""
    sizes = list(shape)
    while math.prod(sizes) > most:
        largest = max(range(len(sizes)), key=sizes.__getitem__)
        others = math.prod(sizes) // sizes[largest]
        sizes[largest] = max(most // others, (sizes[largest] + 1) // 2, 1)
    return tuple(sizes)


def _listed(stations: Stations, shape: tuple[int, ...]) -> str:
    names = [NAMES.get(name, f"{name}s") for name in stations.AXES]
    parts = [f"{size:,} {name if size > 1 else stations.AXES[k]}" for k, (size, name) in enumerate(zip(shape, names, strict=True))]
    kept = [part for part, size in zip(parts, stations.shape, strict=True) if size > 1]
    return f"{' × '.join(kept)} = {math.prod(shape):,}"
