"""A rule of thumb laid over its range and held against the exact answer, as everything downstream sees it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]

HOLDS_WITHIN = 0.01  # of the exact answer
ROUNDING = 1e-9  # a rule no further off is right: what is left is arithmetic


@dataclass(frozen=True)
class MapAxis:
    """One axis of the range: its values, in even ratios if `log`."""

    label: str
    unit: str
    log: bool
    values: Real  # (n,)


@dataclass(frozen=True)
class Point:
    """One place of the range: where, what the rule gives there, and what is so; complex where the rule gives an impedance."""

    x: float
    y: float
    by_rule: complex
    exact: complex
    off: float  # relative, positive where the rule gives too much

    @property
    def real(self) -> bool:
        """True where both values are plain numbers."""
        return self.by_rule.imag == 0 and self.exact.imag == 0


@dataclass(frozen=True)
class Spot:
    """One place of the range marched in time: what was read there, simulated and in closed form."""

    x: float
    y: float
    reading: str
    simulated: float
    exact: float
    tolerance: float  # relative

    @property
    def holds(self) -> bool:
        """True where the two agree."""
        return abs(self.simulated - self.exact) <= self.tolerance * abs(self.exact)


@dataclass(frozen=True)
class RuleMap:
    """A rule over its range. `off` is (rule - exact)/exact at each place, (y, x), the worst of what else the range holds."""

    name: str
    says: str
    formula: str
    quantity: str
    unit: str
    source: str
    assumes: tuple[str, ...]
    held: str
    x: MapAxis
    y: MapAxis
    off: Real  # (ny, nx)
    most: Point  # where it gives most too much, or least too little
    least: Point  # where it gives most too little
    spots: tuple[Spot, ...] = ()

    @property
    def holding(self) -> NDArray[np.bool_]:
        """Where the rule holds within 1 %, (ny, nx)."""
        return np.asarray(np.abs(self.off) <= HOLDS_WITHIN)

    @property
    def share(self) -> float:
        """Part of the range in which it holds."""
        return float(np.mean(self.holding))

    @property
    def worst(self) -> Point:
        """Where it is furthest off."""
        return max(self.most, self.least, key=lambda point: abs(point.off))

    @property
    def everywhere(self) -> bool:
        """True for a rule that is right to rounding in all of its range."""
        return bool(np.abs(self.off).max() <= ROUNDING)

    @property
    def typical(self) -> float:
        """The median over the range of how far it is off, relative."""
        return float(np.median(np.abs(self.off)))
