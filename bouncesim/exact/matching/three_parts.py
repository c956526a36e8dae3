"""Pi and T tuners with real parts: every setting matches exactly, and the one with the least heat is found among all of them.

A T has a capacitor in series, a coil in shunt, a capacitor in series. With a = qc - j (a capacitor's impedance in units of its size,
q = 1/Q) and m = ql - j (a coil's admittance, likewise), the sizes f at the load, c in the middle and n at the transmitter turn the
load U into T if

    1/(U + f a) + c m = 1/(T - n a),      f, c, n >= 0.

A pi (capacitor in shunt, coil in series, capacitor in shunt) obeys the complex conjugate of this with admittances for U and T. Two real
equations for three sizes: one is free. Any one given, the other two follow from a quadratic, as c (or f) must be real:

    f given, k = Im(m*/(U + f a)):    k |T - n a|^2 = Im(m* (T - n a)*)
    n given, k = Im(m*/(T - n a)):    k |U + f a|^2 = Im(m* (U + f a)*)
    c given, P = 1 - c m T, Q = c m a:    Im(a* (T - n a)(P + n Q)*) = Im(a* U) |P + n Q|^2.

The settings within the ranges of the parts are pieces of a curve. The least of anything on it lies either at the end of a piece, where one
part is at its limit, and these are all solved for; or between, where a scan over f finds it and a search refines it. Derived here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from bouncesim.exact.matching.l_sections import LARGEST_SHUNT_OHM, NOTHING, as_element, real_roots
from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario import Element

SCANNED = 4001  # sizes of the far capacitor, evenly spread over their orders of magnitude
REFINED = 20  # of the settings that cost less than their neighbours: usual are one to three, but rounding makes thousands of them
BEYOND = 1e4  # how far beyond the impedances of load and target the scan goes: more only heats more
SEARCH = 80  # steps of the golden section: from one step of the scan to rounding
GOLDEN = (math.sqrt(5) - 1) / 2
AT_LIMIT = 1e-12  # a part this much beyond its limit is at it


class Sizes(NamedTuple):
    """Sizes of the three parts (ohm or siemens, see above), numbers or arrays."""

    far: Real
    coil: Real
    near: Real


@dataclass(frozen=True)
class Ranges:
    """What the parts can be; None: anything."""

    largest_coil_h: float | None = None
    largest_capacitor_f: float | None = None
    smallest_capacitor_f: float | None = None


@dataclass(frozen=True)
class ThreeParts:
    """All settings of one tuner between a load and a target that is what its transmitter side is to be."""

    shape: Literal["pi", "T"]
    target_ohm: complex
    load_ohm: complex
    frequency_hz: float
    coil_q: float | None = None
    capacitor_q: float | None = None
    ranges: Ranges = Ranges()

    @property
    def load(self) -> complex:
        """U of the equations above."""
        return self.load_ohm if self.shape == "T" else (1 / self.load_ohm).conjugate()

    @property
    def target(self) -> complex:
        """T of the equations above."""
        return self.target_ohm if self.shape == "T" else (1 / self.target_ohm).conjugate()

    @property
    def capacitor(self) -> complex:
        """a of the equations above."""
        return complex(1 / self.capacitor_q if self.capacitor_q else 0.0, -1)

    @property
    def coil(self) -> complex:
        """m of the equations above."""
        return complex(1 / self.coil_q if self.coil_q else 0.0, -1)

    def limits(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and largest size of a capacitor and of the coil. What is in series in a T or a pi has a reactance for its size; what is in
        shunt has |X| (1 + q^2) for 1/size."""
        omega, r = 2 * math.pi * self.frequency_hz, self.ranges
        least_c, most_c, most_l = r.smallest_capacitor_f or 0.0, r.largest_capacitor_f or math.inf, r.largest_coil_h or math.inf
        if self.shape == "T":
            return (_over(omega * most_c), _over(omega * least_c)), (_over(omega * most_l * abs(self.coil) ** 2), math.inf)
        shunt = abs(self.capacitor) ** 2
        return (omega * least_c / shunt, omega * most_c / shunt), (0.0, omega * most_l)

    def elements(self, sizes: Sizes) -> tuple[Element, ...]:
        """The parts in order from the transmitter; one that is no more than rounding, or too small to matter, is left out."""
        found = []
        for size, unit, capacitive in (
            (sizes.near, self.capacitor, True),
            (sizes.coil, self.coil, False),
            (sizes.far, self.capacitor, True),
        ):
            series = capacitive == (self.shape == "T")
            scale = abs(self.load) + abs(self.target) if capacitive else 1 / (abs(self.load) + abs(self.target))
            if size <= NOTHING * scale or (not series and size * LARGEST_SHUNT_OHM < 1):
                continue
            reactance = float(size) if series else float(1 / (size * abs(unit) ** 2))
            place: Literal["series", "shunt"] = "series" if series else "shunt"
            found.append(as_element(place, -reactance if capacitive else reactance, reactance * unit.real, self.frequency_hz))
        return tuple(found)

    def heat(self, sizes: Sizes) -> Real:
        """Heat in the three parts, as a part of the power that enters."""
        return self._weigh(sizes, self.capacitor.real, self.coil.real)

    def reactive(self, sizes: Sizes) -> Real:
        """Reactive power in the three parts, as a multiple of the power that enters."""
        return self._weigh(sizes, 1.0, 1.0)

    def loaded_q(self, sizes: Sizes) -> Real:
        """Reactive power in the coil, as a multiple of the power that enters."""
        return self._weigh(sizes, 0.0, 1.0)

    def in_range(self, sizes: Sizes) -> np.ndarray:
        """Whether every part is within its range (and is real at all)."""
        (least, most), (least_coil, most_coil) = self.limits()
        low, high = 1 - AT_LIMIT, 1 + AT_LIMIT
        capacitors = [(size >= least * low) & (size <= most * high) for size in (sizes.far, sizes.near)]
        return np.asarray(capacitors[0] & capacitors[1] & (sizes.coil >= least_coil * low) & (sizes.coil <= most_coil * high))

    def best(self, cost: Callable[[Sizes], Real]) -> Sizes | None:
        """The setting within the ranges that costs least; None if there is none."""
        found = [*self._at_limits(), *self._between(cost)]
        prices = [float(cost(sizes)) for sizes in found]
        return found[int(np.argmin(prices))] if found else None

    def least_heat(self) -> Sizes | None:
        """The setting within the ranges with the least heat; with no loss at all, the least reactive power."""
        return self.best(self.heat if self.coil_q or self.capacitor_q else self.reactive)

    def with_loaded_q(self, loaded_q: float) -> Sizes | None:
        """Of the settings within the ranges with this loaded Q, that with the least heat; None if there is none."""
        grid = self._grid()
        found = []
        for branch in (0, 1):
            sizes = self.given_far(grid)[branch]
            off = np.where(self.in_range(sizes), self.loaded_q(sizes) - loaded_q, math.nan)
            for k in np.flatnonzero(off[:-1] * off[1:] < 0):
                low, high = grid[k], grid[k + 1]
                for _ in range(SEARCH):
                    middle = math.sqrt(low * high)
                    same = (self.loaded_q(self.given_far(middle)[branch]) - loaded_q) * off[k] > 0
                    low, high = (middle, high) if same else (low, middle)
                found.append(self.given_far(low)[branch])
        return min(found, key=self.heat) if found else None

    def given_far(self, far: float | Real) -> tuple[Sizes, Sizes]:
        """Both settings for sizes of the far capacitor (nan where there is none), the smaller near capacitor first."""
        f, a, m, t = np.asarray(far, dtype=float), self.capacitor, self.coil, self.target
        k = (m.conjugate() / (self.load + f * a)).imag
        middle = (a * m).conjugate().imag - 2 * k * (t * a.conjugate()).real
        roots = _both_roots(k * abs(a) ** 2, middle, k * abs(t) ** 2 - (m * t).conjugate().imag)
        first, second = (self._coil_for(f, near) for near in roots)
        return first, second

    def _coil_for(self, far: Real, near: Real) -> Sizes:
        with np.errstate(divide="ignore", invalid="ignore"):
            admittance = np.asarray(1 / (self.target - near * self.capacitor) - 1 / (self.load + far * self.capacitor))
        return Sizes(far, np.asarray(admittance.imag / self.coil.imag), near)

    def _at_limits(self) -> Iterator[Sizes]:
        """Every setting within the ranges with one part at a limit (none of it, where it has no limit)."""
        capacitors, coils = self.limits()
        candidates: list[Sizes] = []
        if abs(self.load - self.target) <= NOTHING * abs(self.target):
            nothing = np.asarray(0.0)  # where the quadratics would leave the root of a rounding error
            candidates.append(Sizes(nothing, nothing, nothing))
        for limit in (each for each in capacitors if math.isfinite(each)):
            candidates += self.given_far(limit)
            candidates += [self._coil_for(np.asarray(far), np.asarray(limit)) for far in self._far_for_near(limit)]
        for limit in (each for each in coils if math.isfinite(each)):
            candidates += [self._far_for(near, limit) for near in self._near_for_coil(limit)]
        yield from (sizes for sizes in candidates if self.in_range(sizes))

    def _far_for_near(self, near: float) -> list[float]:
        a, m, u = self.capacitor, self.coil, self.load
        k = (m.conjugate() / (self.target - near * a)).imag
        middle = 2 * k * (u * a.conjugate()).real - (a * m).conjugate().imag
        return real_roots(k * abs(a) ** 2, middle, k * abs(u) ** 2 - (m * u).conjugate().imag)

    def _near_for_coil(self, coil: float) -> list[float]:
        a, t = self.capacitor, self.target
        p, q = (1 - coil * self.coil * t).conjugate(), (coil * self.coil * a).conjugate()
        k = (a.conjugate() * self.load).imag
        square = -(abs(a) ** 2 * q).imag - k * abs(q) ** 2
        middle = (t * a.conjugate() * q - abs(a) ** 2 * p).imag - 2 * k * (p.conjugate() * q).real
        return real_roots(square, middle, (t * a.conjugate() * p).imag - k * abs(p) ** 2)

    def _far_for(self, near: float, coil: float) -> Sizes:
        beyond = 1 / (1 / (self.target - near * self.capacitor) - coil * self.coil) - self.load
        return Sizes(np.asarray(beyond.imag / self.capacitor.imag), np.asarray(coil), np.asarray(near))

    def _grid(self) -> Real:
        """Sizes of the far capacitor to scan."""
        (least, most), _ = self.limits()
        sizes = (abs(self.load), abs(self.target))
        low, high = max(least, min(sizes) / BEYOND), min(most, max(sizes) * BEYOND)
        return np.geomspace(low, high, SCANNED) if low < high else np.array([least])

    def _between(self, cost: Callable[[Sizes], Real]) -> Iterator[Sizes]:
        """The settings that cost less than their neighbours on the scan, refined."""
        grid = self._grid()
        for branch in (0, 1):

            def price(far: float | Real, branch: int = branch) -> Real:
                sizes = self.given_far(far)[branch]
                return np.where(self.in_range(sizes), cost(sizes), math.inf)

            prices = np.concatenate([[math.inf], price(grid), [math.inf]])
            least = (prices[1:-1] < math.inf) & (prices[1:-1] <= prices[:-2]) & (prices[1:-1] <= prices[2:])
            last = len(grid) - 1
            found = np.flatnonzero(least)
            for k in sorted(int(each) for each in found[np.argsort(prices[1:-1][found], kind="stable")[:REFINED]]):
                far = _golden(price, grid[k - 1 if k else 0], grid[k + 1 if k < last else last], grid[k])
                yield self.given_far(far)[branch]

    def _weigh(self, sizes: Sizes, capacitor: float, coil: float) -> Real:
        """Sum of |current|^2 size weight over the parts, for one watt entering (in a pi: |voltage|^2)."""
        a = self.capacitor
        entering = 1 / self.target.real
        with np.errstate(invalid="ignore", over="ignore"):  # nan and infinity stand where there is no setting
            middle = entering * np.abs(self.target - sizes.near * a) ** 2
            leaving = middle / np.abs(self.load + sizes.far * a) ** 2
            return np.asarray(entering * sizes.near * capacitor + middle * sizes.coil * coil + leaving * sizes.far * capacitor)


def _over(value: float) -> float:
    return 1 / value if value else math.inf


def _both_roots(a: Real, b: Real, c: Real) -> Complex | Real:
    """Both real roots of a x^2 + b x + c, arrays, the smaller first; nan where they are not real."""
    with np.errstate(divide="ignore", invalid="ignore"):
        half = -(b + np.copysign(np.sqrt(b * b - 4 * a * c), b)) / 2
        return np.sort(np.stack(np.broadcast_arrays(half / a, c / half)), axis=0)


def _golden(price: Callable[[float], Real], low: float, high: float, known: float) -> float:
    """Where the price is least between two sizes around a known good one, by golden section; at least as good as the known one."""
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_left, at_right = float(price(left)), float(price(right))
    for _ in range(SEARCH):
        if at_left <= at_right:
            high, right, at_right = right, left, at_left
            left = high - GOLDEN * (high - low)
            at_left = float(price(left))
        else:
            low, left, at_left = left, right, at_right
            right = low + GOLDEN * (high - low)
            at_right = float(price(right))
    best = left if at_left <= at_right else right
    return best if float(price(best)) <= float(price(known)) else known
