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

    @property
    def holds(self) -> bool:
        """True when every row holds."""
        return all(row.holds for row in self.rows)

    def row(self, quantity: str) -> VerdictRow:
        """The row of one reading; KeyError if there is none."""
        for row in self.rows:
            if row.quantity == quantity:
                return row
        raise KeyError(quantity)
