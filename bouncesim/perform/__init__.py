"""The one place where the parts meet: a scenario is read, its tuner set, simulated, and turned into a Run.

The closed form sets the tuner, once; from there on both engines get the same component values, and each computes alone.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from bouncesim import exact
from bouncesim.account.readings import Readings
from bouncesim.account.run import Run, Settling
from bouncesim.budget import Work
from bouncesim.march import simulation as march
from bouncesim.perform import record
from bouncesim.perform.ranges import antenna_range, behaviour_range, resolve, source_range
from bouncesim.scenario import Scenario, read_scenario

__all__ = ["antenna_range", "behaviour_range", "load", "resolve", "simulate", "solve_exact", "source_range", "work"]

Progress = Callable[[int, int], None]

ROUND_TRIPS_NAMED = 60
TAIL_PERIODS = 3  # of steady state kept behind the story, for a film to go on from


def load(path: str | os.PathLike[str]) -> Scenario:
    """Read a scenario file. Raises ScenarioError with every mistake in it."""
    return read_scenario(Path(path))


def solve_exact(scenario: Scenario) -> Readings:
    """Every steady-state reading in closed form, as the last event leaves the station. Raises ScenarioError."""
    return exact.solve(resolve(scenario).at_end())


def work(scenario: Scenario) -> Work:
    """What `simulate` takes, estimated. Raises ScenarioError."""
    return march.run_work(resolve(scenario))


def simulate(scenario: Scenario, *, progress: Progress | None = None) -> Run:
    """Run a station from key-down to its steady state, or to its end. Raises ScenarioError, TooMuchWork, NotSettled, Diverged.

    progress(done, total) is called now and then.
    """
    resolved = resolve(scenario)
    done = march.simulate(resolved, progress=progress)
    # The steady state knows no echo from another; the closed form tells how it was put together.
    readings = replace(done.outcome.readings(), echoes=exact.solve(resolved.at_end()).echoes)
    taken = record.traces(done)
    period = 1 / resolved.transmitter.frequency_hz
    delay = sum(section.delay_s for section in record.main_sections(done).values())
    settled = record.settled_at(taken, readings, done, resolved)
    moments = {"key down": 0.0, "antenna reached": delay, "first echo": 2 * delay, "settled": settled}
    moments |= {f"round trip {n}": 2 * n * delay for n in range(1, ROUND_TRIPS_NAMED + 1)}
    moments |= {event.happens: event.at_s for event in reversed(resolved.events)}
    stresses = record.stresses(done, taken, readings)
    span = max([settled, *(moments.get(beat.until, 0.0) if isinstance(beat.until, str) else beat.until for beat in resolved.beats)])
    return Run(
        scenario=resolved,
        readings=readings,
        traces=taken if march.is_over(resolved) else record.until(taken, span + TAIL_PERIODS * period),
        moments=moments,
        settling=Settling(settled, done.outcome.stepper.time_s, done.steady.periods, settled / (2 * delay), done.steady.estimate),
        ledger=record.ledger(done),
        stresses=stresses,
    )
