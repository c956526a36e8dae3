"""How fast is a survey?

Closed form: whole batches of 19,200 stations against a loop over some of them, in turns, best of several; AT_LEAST times as fast. In time:
the same stations with one thread and with two, in turns, best of several (two processors that nothing else uses are needed for the ratio to
mean anything), under a key as it is and under one so short that half of a station's time goes to what surrounds its march.
"""

from __future__ import annotations

import os
import threading
from unittest import mock

import pytest

from bouncesim import perform
from bouncesim.march import loop, stepper
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
rise = "{key}"
[survey]
bands = {bands}
length = "25 m"
swr = [1.5, 4]
phases = 8
"""
SHORT, USUAL = ("4 us", '["40 m", "20 m"]', ROUNDS, 8), ("5 ms", '["40 m"]', 5, 2)  # key, bands, rounds, stations of which kernels are kept


def test_closed_form(bench) -> None:
    """Batches against a loop."""
    stations = Stations(many())
    solver = Solver(stations)
    few = [stations.station(number) for number in range(0, stations.count, 400)]
    at_once, one_by_one = bench.in_turns(
        lambda: [solved(solver, first, min(BATCH, stations.count - first)) for first in range(0, stations.count, BATCH)],
        lambda: [perform.solve_exact(station) for station in few],
        rounds=ROUNDS,
    )
    each, alone = at_once / stations.count, one_by_one / len(few)
    name = f"survey in closed form, {stations.count:,} stations"
    bench.row(f"{name}: as fast as a loop", f"{1 / each:,.0f} a second", f"{alone / each:.0f} times", f"at least {AT_LEAST}")


def kernel_calls(tasks: list[tuple]) -> list[tuple]:
    """The arguments of every call of the compiled loop by which these stations are started."""
    calls: list[tuple] = []
    with mock.patch.object(stepper, "march", lambda *arguments: (calls.append(arguments), loop.march(*arguments))):
        for task in tasks:
            key_rows(*task)
    return calls


def replay(calls: list[tuple]) -> None:
    for arguments in calls:
        loop.march(*arguments)


def side_by_side(calls: list[tuple]) -> None:
    """The same in two threads, half of the stations each."""
    threads = [threading.Thread(target=replay, args=(half,)) for half in (calls[: len(calls) // 2], calls[len(calls) // 2 :])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


@pytest.mark.parametrize(("key", "bands", "rounds", "kept"), [SHORT, USUAL])
def test_in_time(bench, key: str, bands: str, rounds: int, kept: int) -> None:
    """One thread against two; and the kernels of these stations with next to no Python between them, as the machine allows."""
    work = Work(parse_scenario(HEAD + PLAIN + IN_TIME.format(key=key, bands=bands)), in_time=True)
    solver = Solver(work.stations)
    columns = solved(solver, 0, work.stations.count)
    tasks = [(work.text, (k, 1), {name: float(values[k]) for name, values in columns.items()}) for k in range(work.stations.count)]
    calls = kernel_calls(tasks[:kept])
    one, two, alone, beside = bench.in_turns(
        lambda: list(Threads(1).each(key_rows, tasks)),
        lambda: list(Threads(2).each(key_rows, tasks)),
        lambda: replay(calls),
        lambda: side_by_side(calls),
        rounds=rounds,
    )
    name = f"survey in time, key of {key}"
    bench.row(f"{name}, one thread", f"{one / len(tasks) * 1e3:.2f} ms a station")
    asked = f"at least {ON_TWO}"
    bench.row(
        f"{name}, two threads on {os.cpu_count()} processors", f"{two / len(tasks) * 1e3:.2f} ms a station", f"{one / two:.2f} times", asked
    )
    bench.row("kernels alone, two threads", f"{beside / kept * 1e3:.2f} ms a station", f"{alone / beside:.2f} times")
