"""The comparison of a simulated station with its closed form, as everything downstream sees it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Outcome = Literal["holds", "not proven", "fails"]


@dataclass(frozen=True)
class VerdictRow:
    """One reading: extrapolated from three grids, its error bar, and the exact answer.

    It `fails` where the two are further apart than the error bar. It is `not proven` where they are not, but the grids do not converge as
    the extrapolation takes for granted: then the error bar itself cannot be trusted.
    """

    quantity: str  # path of the reading, "antenna.power_w"
    simulated: float
    error_bar: float
    exact: float
    order: float | None  # observed order of convergence, 0 where successive grids do not even approach; None where it says nothing
    outcome: Outcome

    @property
    def holds(self) -> bool:
        """True where simulated and exact agree, and the error bar can be trusted."""
        return self.outcome == "holds"


@dataclass(frozen=True)
class TransientRow:
    """One end of a line, from key-down on: how far the two answers ever are apart there."""

    place: str  # "feed line, near end"
    quantity: str  # "voltage" or "current"
    largest: float  # V or A, in the stretch that was compared
    difference: float  # the largest, relative to the largest wave at that place


@dataclass(frozen=True)
class Transient:
    """The simulated start of a station against another way to the same answer, or why there is none."""

    method: str = ""  # what it was compared with
    key: str = ""  # how the carrier was keyed
    span_s: float = 0.0  # from key-down
    instants: int = 0
    bar: float = 0.0  # the largest difference that still holds
    rows: tuple[TransientRow, ...] = ()
    not_compared: str = ""  # the reason, where it was not compared

    @property
    def largest(self) -> float:
        """The largest difference of all rows."""
        return max((row.difference for row in self.rows), default=0.0)

    @property
    def holds(self) -> bool:
        """False where a row differs by more than the bar; what was not compared is not judged."""
        return all(row.difference <= self.bar for row in self.rows)


@dataclass(frozen=True)
class Verdict:
    """All rows, and what the refinement itself showed."""

    rows: tuple[VerdictRow, ...]
    points_per_period: tuple[int, ...]
    order: float | None  # smallest judged order
    ledger_residual: float  # largest accumulated residual of the runs
    transmitter_power_w: float  # scale for the powers
    fit_errors: dict[str, float] = field(
        default_factory=dict
    )  # of each wideband line: how far its fitted loss may be from the law, relative
    transient: Transient | None = None  # None where only readings were asked for

    @property
    def outcome(self) -> Outcome:
        """The worst of all rows, those of the transient too."""
        if self.of("fails") or (self.transient is not None and not self.transient.holds):
            return "fails"
        return "not proven" if self.of("not proven") else "holds"

    @property
    def holds(self) -> bool:
        """True when every row holds, those of the transient too."""
        return self.outcome == "holds"

    def of(self, outcome: Outcome) -> list[VerdictRow]:
        """The rows with this outcome."""
        return [row for row in self.rows if row.outcome == outcome]

    def row(self, quantity: str) -> VerdictRow:
        """The row of one reading; KeyError if there is none."""
        for row in self.rows:
            if row.quantity == quantity:
                return row
        raise KeyError(quantity)
