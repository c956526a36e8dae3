"""How fast is a survey? Run it as a script: python tests/benchmarks/bench_survey.py

Closed form: whole batches of 19,200 stations against a loop over some of them, in turns, best of several; AT_LEAST times as fast. In time:
the same stations with one thread and with two, in turns, best of several (two processors that nothing else uses are needed for the ratio to
mean anything). Nothing here is a test: other work on the machine would decide it.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable

from bouncesim import perform
from bouncesim.scenario import parse_scenario
from bouncesim.survey import Threads, Work
from bouncesim.survey.path import Solver
from bouncesim.survey.stations import Stations
from bouncesim.survey.tasks import BATCH, key_rows, solved
from tests.survey.scenarios import HEAD, PLAIN, many

ROUNDS = 7
AT_LEAST = 100  # times as fast as a loop
ON_TWO = 1.8  # times as fast with two threads on two processors
IN_TIME = """
[keying]
shape = "raised-cosine"
rise = "4 us"
[survey]
bands = ["40 m", "20 m"]
length = ["25 m", "40 m"]
swr = [1.5, 4]
phases = 4
"""


def best_of(*works: Callable[[], object], rounds: int = ROUNDS) -> list[float]:
    """Shortest time of each, s, taken in turns so that all meet the same disturbances."""
    best = [float("inf")] * len(works)
    for _ in range(rounds):
        for k, work in enumerate(works):
            begin = time.perf_counter()
            work()
            best[k] = min(best[k], time.perf_counter() - begin)
    return best


def closed_form() -> None:
    """Batches against a loop."""
    stations = Stations(many())
    solver = Solver(stations)
    few = [stations.station(number) for number in range(0, stations.count, 400)]
    at_once, one_by_one = best_of(
        lambda: [solved(solver, first, min(BATCH, stations.count - first)) for first in range(0, stations.count, BATCH)],
        lambda: [perform.solve_exact(station) for station in few],
    )
    each, alone = at_once / stations.count, one_by_one / len(few)
    print(f"closed form, {stations.count:,} stations:   {each * 1e6:7.1f} us a station, {1 / each:,.0f} a second")
    print(f"one by one:                     {alone * 1e6:7.1f} us a station: {alone / each:.0f} times as long (at least {AT_LEAST})")


def in_time() -> None:
    """One thread against two."""
    work = Work(parse_scenario(HEAD + PLAIN + IN_TIME), in_time=True)
    solver = Solver(work.stations)
    columns = solved(solver, 0, work.stations.count)
    tasks = [(work.text, (k, 1), {name: float(values[k]) for name, values in columns.items()}) for k in range(work.stations.count)]
    key_rows(*tasks[0])
    one, two = best_of(lambda: list(Threads(1).each(key_rows, tasks)), lambda: list(Threads(2).each(key_rows, tasks)))
    print(f"in time, one thread:            {one / len(tasks) * 1e3:7.2f} ms a station")
    ratio = f"{one / two:.2f} times as fast (at least {ON_TWO})"
    print(f"two threads, {os.cpu_count()} processors:     {two / len(tasks) * 1e3:7.2f} ms a station: {ratio}")


if __name__ == "__main__":
    closed_form()
    in_time()
