"""A survey from its first station to the table: what was found is kept in a journal, and an interrupted survey goes on where it stopped."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from bouncesim import __version__, budget
from bouncesim.scenario import Scenario
from bouncesim.survey import tasks, transient
from bouncesim.survey.engines import Engine, Threads
from bouncesim.survey.journal import Journal
from bouncesim.survey.path import SOLVED
from bouncesim.survey.stations import Stations
from bouncesim.survey.table import Table, table_of
from bouncesim.survey.tasks import BATCH, Piece, Rows
from bouncesim.survey.work import estimate

Progress = Callable[[int, int], None]


class Work:
    """One survey. ScenarioError without a [survey]; TooMuchWork for one that is too much (see survey.work)."""

    def __init__(self, scenario: Scenario, *, in_time: bool = False, threads: int = 1) -> None:
        self.stations, self.in_time = Stations(scenario), in_time
        self.text = self.stations.base.model_copy(update={"survey": self.stations.survey}).to_json()
        self.columns = list(tasks.solved(tasks.solver_of(self.text), 0, 1))
        self.key_columns = transient.columns(self.stations.base) if in_time else []
        self.estimate = estimate(self.stations, len(self.columns) + len(self.key_columns), in_time, threads)
        budget.check(self.estimate)
        count = self.stations.count
        self.exact, self.key = np.full((count, len(self.columns)), np.nan), np.full((count, len(self.key_columns)), np.nan)
        self.has_exact, self.has_key = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)

    @property
    def header(self) -> dict[str, object]:
        """What a journal must say to be taken over: one of another scenario, program or machine is not."""
        digest = hashlib.sha256(self.text.encode()).hexdigest()
        return {
            "survey": digest,
            "version": __version__,
            "machine": f"{platform.system()} {platform.machine()} numpy {np.__version__}",
            "columns": self.columns,
            "key columns": self.key_columns,
        }

    @contextmanager
    def kept_in(self, folder: Path) -> Iterator[Journal]:
        """The journal in a folder, open; what it holds of this survey is taken over. Raises OutputError."""
        with Journal(folder, self.header) as journal:
            for kind, first, rows in journal.records():
                self._take(kind, first, rows)
            yield journal

    @property
    def done(self) -> int:
        """Stations that need not be worked on any more."""
        return int((self.has_key if self.in_time else self.has_exact).sum())

    def solve(self, journal: Journal, engine: Engine, progress: Progress | None = None) -> None:
        """Solve every station in closed form."""
        count = self.stations.count
        pieces = [(first, min(BATCH, count - first)) for first in range(0, count, BATCH)]
        left = [(self.text, piece) for piece in pieces if not self.has_exact[piece[0]]]
        self._work("exact", journal, engine.each(tasks.exact_rows, left), progress)

    def start(self, journal: Journal, engine: Engine, progress: Progress | None = None) -> None:
        """Start every station in time that could be solved."""
        self.has_key |= self.exact[:, self.columns.index("outcome")] != SOLVED
        left = ((self.text, (number, 1), self._steady(number)) for number in map(int, np.flatnonzero(~self.has_key)))
        self._work("key", journal, engine.each(tasks.key_rows, left), progress)

    def table(self) -> Table:
        """Everything in one table, station by station."""
        columns = dict(zip(self.columns, self.exact.T, strict=True)) | dict(zip(self.key_columns, self.key.T, strict=True))
        return table_of(self.stations, columns)

    def _steady(self, number: int) -> dict[str, float]:
        return dict(zip(self.columns, map(float, self.exact[number]), strict=True))

    def _work(self, kind: str, journal: Journal, found: Iterator[tuple[tuple[object, ...], Rows]], progress: Progress | None) -> None:
        has = self.has_exact if kind == "exact" else self.has_key
        for task, rows in found:
            piece: Piece = task[1]  # type: ignore[assignment]
            journal.add(kind, piece[0], rows)
            self._take(kind, piece[0], rows)
            if progress:
                progress(int(has.sum()), len(has))

    def _take(self, kind: str, first: int, rows: Rows) -> None:
        values, has = (self.exact, self.has_exact) if kind == "exact" else (self.key, self.has_key)
        values[first : first + len(rows)], has[first : first + len(rows)] = rows, True


def survey(scenario: Scenario, folder: Path, *, in_time: bool = False, engine: Engine | None = None) -> Table:
    """Work off a survey and write its table into `folder` (survey.csv, survey.npz, survey.json). Raises ScenarioError, TooMuchWork and
    OutputError; when it is interrupted, the same call goes on with it."""
    work, engine = Work(scenario, in_time=in_time), engine or Threads(1)
    with work.kept_in(folder) as journal:
        work.solve(journal, engine)
        if in_time:
            work.start(journal, engine)
        table = work.table()
        table.save(folder, {"in_time": in_time})
        journal.remove()
    return table
