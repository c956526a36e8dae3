"""The comparison of a simulated station with its closed form, as everything downstream sees it."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class VerdictRow:
    """One reading: extrapolated from three grids, its error bar, and the exact answer."""

    quantity: str  # path of the reading, "antenna.power_w"
    simulated: float
    error_bar: float
    exact: float
    order: float | None  # observed order of convergence; None where it says nothing
    holds: bool


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
    def holds(self) -> bool:
        """True when every row holds, those of the transient too."""
        return all(row.holds for row in self.rows) and (self.transient is None or self.transient.holds)

    def row(self, quantity: str) -> VerdictRow:
        """The row of one reading; KeyError if there is none."""
        for row in self.rows:
            if row.quantity == quantity:
                return row
        raise KeyError(quantity)
