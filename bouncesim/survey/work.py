"""How much work a survey is, before it begins; and what to take instead where it is too much."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass

from bouncesim.errors import OptionError, ScenarioError
from bouncesim.march import grid
from bouncesim.scenario import Tuner
from bouncesim.survey import transient
from bouncesim.survey.stations import Stations

MOST_EXACT, MOST_IN_TIME = 250_000, 10_000  # stations, unless the user asks for more
# Measured on an ordinary machine of 2024; they only decide what is said beforehand.
SOLVE_S, SEARCH_S = 60e-6, 20e-3  # to solve a station, to set a pi or T
STEP_S, CELL_S, BUILD_S = 90e-9, 2.2e-9, 25e-3  # of the time domain: a step, a cell in it, and what a station takes besides
ROUND_TRIPS, PERIODS = 30, 100  # until a station is at rest, as a rule
SAMPLED = 50  # stations that the estimate looks at
BYTES_A_CELL = 40  # of the table, in all its forms on the way
NAMES = {"line type": "line types", "frequency": "frequencies", "length": "lengths", "antenna": "antennas", "tuner": "tuners"}


@dataclass(frozen=True)
class Estimate:
    """What lies ahead: stations, seconds in all, bytes of memory."""

    stations: int
    seconds: float
    bytes: float

    @property
    def told(self) -> str:
        """In a sentence."""
        size = f", {self.bytes / 1e9:.1f} GB of memory" if self.bytes > 5e8 else ""
        return f"{self.stations:,} station{'s' * (self.stations > 1)}, about {duration(self.seconds)}{size}"


def duration(seconds: float) -> str:
    """A time in words, to be trusted within a factor of two or three."""
    if seconds < 1.5:
        return "a second"
    for size, unit in ((86_400.0, "day"), (3600.0, "hour"), (60.0, "minute")):
        if seconds >= 1.5 * size:
            return f"{seconds / size:,.0f} {unit}s"
    return f"{seconds:.0f} seconds"


def estimate(stations: Stations, columns: int, in_time: bool, threads: int) -> Estimate:
    """Of a survey with so many columns."""
    tuner = next((part.shape for part in stations.base.path if isinstance(part, Tuner)), "none")
    searched = sum((shape or tuner) in ("pi", "T") for shape in stations.tuners) / len(stations.tuners)
    seconds = stations.count * (SOLVE_S + SEARCH_S * searched)
    if in_time:
        step = max(stations.count // SAMPLED, 1)
        sample = [_in_time_s(stations, number) for number in range(0, stations.count, step)]
        seconds += stations.count * sum(sample) / len(sample) / threads
    return Estimate(stations.count, seconds, float(stations.count) * columns * BYTES_A_CELL)


def _memory_bytes() -> float:
    """Of this machine; without bound where it cannot be told."""
    try:
        return float(os.sysconf("SC_PAGE_SIZE")) * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):
        return math.inf


def _in_time_s(stations: Stations, number: int) -> float:
    """Of one station, about."""
    station = stations.station(number)
    frequency = station.transmitter.frequency_hz
    try:
        points = transient.steps_a_period(station)
    except ScenarioError:
        return BUILD_S
    periods = frequency * sum(grid.delay_of(line, frequency) for line in station.all_lines)
    steps = points * (station.keying.rise_s * frequency + 2 * ROUND_TRIPS * periods + PERIODS)
    return BUILD_S + steps * (STEP_S + CELL_S * points * periods)


def refuse_too_much(stations: Stations, told: Estimate, in_time: bool, most: int | None) -> None:
    """OptionError for a survey of more stations than `most`, or than is usual; it says what could be done instead."""
    limit = most or (MOST_IN_TIME if in_time else MOST_EXACT)
    memory = _memory_bytes()
    if stations.count <= limit and told.bytes < memory:
        return
    if stations.count <= limit:
        nearest = _listed(stations, thinned(stations.shape, int(memory / told.bytes * stations.count)))
        raise OptionError(
            f"This survey of {stations.count:,} stations needs {told.bytes / 1e9:,.1f} GB of memory, and this machine has "
            f"{memory / 1e9:,.1f} GB. Do it in parts, for example of {nearest}."
        )
    how = ", each of them started in time" if in_time else ""
    nearest = _listed(stations, thinned(stations.shape, limit))
    raise OptionError(
        f"This survey has {stations.count:,} stations ({_listed(stations, stations.shape)}){how}: about {duration(told.seconds)} and "
        f"{told.bytes / 1e9:,.1f} GB. At most {limit:,} are taken at once. The nearest that can be done is fewer values, for example "
        f"{nearest}; or allow more with --most {stations.count}."
    )


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
