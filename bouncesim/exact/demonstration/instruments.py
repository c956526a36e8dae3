"""What a real directional wattmeter may show, in the worst case, and what it may stand for.

A coupler of directivity D leaks: each of its two outputs gets at most d = 10^(-D/20) of the other wave, with a phase that nobody knows
(Pozar, Microwave Engineering, ch. 7, for the definition; from memory). With the true forward power F and reflection rho, the outputs are
powers |1 + d1 Gamma|^2 F and |Gamma + d2|^2 F with |d1|, |d2| <= d, so they lie anywhere in

    F (1 - d rho)^2 ... F (1 + d rho)^2      and      F max(0, rho - d)^2 ... F (rho + d)^2.

The scale then adds up to its class, in per cent of full scale, either way. Derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bouncesim.account.readings import swr_of

# Where nobody gave others: scales that wattmeters for amateur stations often have (common practice, no source).
COMMON_SCALES_W = (5.0, 20.0, 200.0, 2000.0)


@dataclass(frozen=True)
class Interval:
    """From `least` to `most`, both included; empty where least is more than most."""

    least: float
    most: float

    def __contains__(self, value: float) -> bool:
        return self.least <= value <= self.most

    @property
    def width(self) -> float:
        return self.most - self.least

    def __and__(self, other: Interval) -> Interval:
        return Interval(max(self.least, other.least), min(self.most, other.most))

    def __or__(self, other: Interval) -> Interval:
        return Interval(min(self.least, other.least), max(self.most, other.most))


@dataclass(frozen=True)
class Instrument:
    """A wattmeter: its class as a share of full scale, the full scale of each needle in W, its directivity (None: perfect)."""

    accuracy: float
    forward_scale_w: float
    reflected_scale_w: float
    directivity_db: float | None = None

    @property
    def leak(self) -> float:
        """d, the share of the other wave that either output may get."""
        return 0.0 if self.directivity_db is None else 10 ** (-self.directivity_db / 20)

    @property
    def forward_error_w(self) -> float:
        """What the class allows of the forward scale."""
        return self.accuracy * self.forward_scale_w

    @property
    def reflected_error_w(self) -> float:
        """What the class allows of the reflected scale."""
        return self.accuracy * self.reflected_scale_w

    def shows(self, forward_w: float, reflected_w: float) -> Shown:
        """What the needles may show for true powers."""
        rho = math.sqrt(reflected_w / forward_w) if forward_w > 0 else 0.0
        d = self.leak
        least = forward_w * max(0.0, 1 - d * rho) ** 2 - self.forward_error_w
        forward = Interval(max(0.0, least), forward_w * (1 + d * rho) ** 2 + self.forward_error_w)
        least = forward_w * max(0.0, rho - d) ** 2 - self.reflected_error_w
        return Shown(forward, Interval(max(0.0, least), forward_w * (rho + d) ** 2 + self.reflected_error_w))


@dataclass(frozen=True)
class Shown:
    """What both needles may show, W."""

    forward_w: Interval
    reflected_w: Interval

    @property
    def net_w(self) -> Interval:
        """Forward less reflected, as one would reckon it."""
        return Interval(self.forward_w.least - self.reflected_w.most, self.forward_w.most - self.reflected_w.least)

    @property
    def swr(self) -> Interval:
        """The SWR that one would reckon from both, from the most harmless pair of needles to the worst; infinite where they may cross."""
        least = math.sqrt(min(1.0, self.reflected_w.least / self.forward_w.most)) if self.forward_w.most > 0 else 0.0
        most = math.sqrt(self.reflected_w.most / self.forward_w.least) if self.forward_w.least > 0 else math.inf
        return Interval(swr_of(least), swr_of(most))

    def __or__(self, other: Shown) -> Shown:
        return Shown(self.forward_w | other.forward_w, self.reflected_w | other.reflected_w)


def scale_for(power_w: float, scales_w: tuple[float, ...]) -> float:
    """The smallest full scale that holds a power; the largest of all where none does."""
    return min((scale for scale in scales_w if scale >= power_w), default=max(scales_w))
