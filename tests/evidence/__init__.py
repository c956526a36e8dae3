"""The table of evidence: every check against a figure from outside, recorded where it is made, and shown in tests/EVIDENCE.md.

A test that compares with a figure from outside calls `record` (`tests.reference.case(...).check` does so), and the test that runs every
lesson calls `record_books`. At the end of a session tests/test_evidence.py holds what was recorded against the page;
`python -m tests.evidence` renews it.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass


@dataclass(frozen=True)
class Record:
    """One figure and ours. `value` and `tolerance` in `unit`; `origin`: as in tests/reference/cases.toml; `test`: file of the check."""

    case: str
    name: str  # what the case is about
    quantity: str
    value: float
    tolerance: float
    unit: str
    source: str
    origin: str
    ours: float
    test: str

    @property
    def miss(self) -> float:
        """How far off, in tolerances; a figure without one must be met exactly."""
        if self.ours == self.value:
            return 0.0
        return abs(self.ours - self.value) / self.tolerance if self.tolerance else math.inf


RECORDS: dict[tuple[str, str, str], Record] = {}
BOOKS: dict[str, tuple[float, float]] = {}  # lesson -> largest residual of a step, and of the whole run


def record(
    case: str, name: str, quantity: str, value: float, tolerance: float, ours: float, *, unit: str, source: str, origin: str
) -> None:
    """Keep a check for the page; of several of one figure in one test file, the one that is farthest off. Fields: see Record."""
    test = os.environ.get("PYTEST_CURRENT_TEST", "").split("::")[0]
    made = Record(case, name, quantity, value, tolerance, unit, source, origin, ours, test)
    key = (case, quantity, test)
    if key not in RECORDS or made.miss > RECORDS[key].miss:
        RECORDS[key] = made


def record_books(lesson: str, worst_step: float, accumulated: float) -> None:
    """Keep the ledger residuals of a whole run."""
    BOOKS[lesson] = (worst_step, accumulated)
