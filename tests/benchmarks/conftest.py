"""One table of all that is measured, printed at the end, and works timed in turns so that ratios hold on a busy machine too."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import pytest

TABLE = pytest.StashKey[list[tuple[str, str, str, str]]]()
MOST_NAMES = 62

Work = Callable[[], object]


class Bench:
    """What a benchmark is given: `in_turns` times, `row` writes a line of the table."""

    def __init__(self, benchmark, table: list[tuple[str, str, str, str]]) -> None:
        self.benchmark, self.table = benchmark, table

    def in_turns(self, *works: Work, rounds: int) -> list[float]:
        """The shortest time of each work, s. They take turns, so that all meet the same disturbances; the first is what pytest-benchmark
        reports. Where the works take less than a millisecond each, some rounds fit between two interruptions even on a busy machine."""
        best = [math.inf] * len(works)

        def timed(k: int) -> None:
            begin = time.perf_counter()
            works[k]()
            best[k] = min(best[k], time.perf_counter() - begin)

        def baselines() -> None:
            for k in range(1, len(works)):
                timed(k)

        for work in works:  # compiled, and in the cache
            work()
        self.benchmark.pedantic(timed, args=(0,), setup=baselines, rounds=rounds)
        return best

    def row(self, what: str, figure: str, found: str = "", asked: str = "") -> None:
        """A line: what was measured, the absolute figure, the ratio found, and what it should be."""
        self.table.append((what, figure, found, asked))
        self.benchmark.extra_info[what] = f"{figure}; {found}; {asked}"


def pytest_configure(config: pytest.Config) -> None:
    config.stash[TABLE] = []


@pytest.fixture
def bench(benchmark, pytestconfig: pytest.Config) -> Bench:
    return Bench(benchmark, pytestconfig.stash[TABLE])


def pytest_terminal_summary(terminalreporter, config: pytest.Config) -> None:
    rows = config.stash[TABLE]
    if rows:
        terminalreporter.section("measured")
        for what, figure, found, asked in [("", "absolute", "ratio", "asked"), *rows]:
            terminalreporter.write_line(f"{what:{MOST_NAMES}}{figure:>22}{found:>12}  {asked}")
