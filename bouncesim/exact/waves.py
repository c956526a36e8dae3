"""The standing wave on one line in steady state: voltage and current at any place, their largest values, and the heat.

With V(x) = f exp(-gamma x) + b exp(-gamma (l - x)) and Z0 I(x) = f exp(-gamma x) - b exp(-gamma (l - x)), x from the end nearest the
transmitter: f is the wave leaving that end, b the one leaving the far end. Both exponentials only shrink, so nothing overflows, and
both waves belong to the line's own complex Z0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.exact.phasor import Complex, Real

# Values this close, relative, are equal. A ripple no larger is rounding: the line is flat, and its largest value lies at an end.
EQUAL = 1e-12
GRID = 256  # places searched in a quarter wave, where there is one maximum at most
BISECTIONS = 60  # from a grid step to below one unit in the last place


@dataclass(frozen=True)
class Waves:
    """One line: its waves (V peak), propagation per metre, own impedance and length."""

    forward: complex  # at x = 0
    back: complex  # at x = length
    gamma: complex
    impedance: complex
    length: float

    def voltage(self, x_m: ArrayLike) -> Complex:
        """V(x), V peak, for places x of any shape."""
        forward, back = self._at(x_m)
        return forward + back

    def current(self, x_m: ArrayLike) -> Complex:
        """I(x), A peak, toward the antenna, for places x of any shape."""
        forward, back = self._at(x_m)
        return (forward - back) / self.impedance

    def largest_voltage(self) -> tuple[float, float]:
        """(V peak, place in m): the largest voltage, at the place nearest the transmitter if several are equal."""
        return self._largest(self.back)

    def largest_current(self) -> tuple[float, float]:
        """(A peak, place in m), likewise."""
        size, place = self._largest(-self.back)
        return size / abs(self.impedance), place

    def heat_w(self, resistance: float, conductance: float) -> float:
        """Heat in the line, W: the integral of (R |I|^2 + G |V|^2)/2, for R and G per metre, in closed form.

        |V|^2 and |Z0 I|^2 are |f|^2 exp(-2 alpha x) + |b|^2 exp(-2 alpha (l - x)) plus and minus
        2 Re(f b*) exp(-alpha l) cos(2 beta x - beta l) [and an odd sine that integrates to nothing].
        """
        alpha, beta, length = self.gamma.real, self.gamma.imag, self.length
        shrinks = -np.expm1(-2 * alpha * length) / (2 * alpha) if alpha * length > 1e-300 else length
        travelling = (abs(self.forward) ** 2 + abs(self.back) ** 2) * shrinks
        ripple = 2 * (self.forward * self.back.conjugate()).real * np.exp(-alpha * length) * length * np.sinc(beta * length / np.pi)
        return float(conductance * (travelling + ripple) + resistance * (travelling - ripple) / abs(self.impedance) ** 2) / 2

    def _at(self, x_m: ArrayLike) -> tuple[Complex, Complex]:
        x = np.asarray(x_m, dtype=float)
        return np.asarray(self.forward * np.exp(-self.gamma * x)), np.asarray(self.back * np.exp(-self.gamma * (self.length - x)))

    def _largest(self, back: complex) -> tuple[float, float]:
        """Largest |f exp(-gamma x) + back exp(-gamma (l - x))| and its place.

        The squared size is s(x) = p exp(-2 alpha x) + q exp(-2 alpha (l - x)) + 2 c cos(phi - 2 beta x). Places half a wave apart
        share the cosine, and over them s is a sum of two exponentials, convex: so the largest lies in the first or the last half wave.
        """
        alpha, beta, length = self.gamma.real, self.gamma.imag, self.length
        p, q = abs(self.forward) ** 2, abs(back) ** 2
        c = abs(self.forward) * abs(back) * np.exp(-alpha * length)
        if 4 * c <= EQUAL * max(p, q):
            c = 0.0
        phi = np.angle(self.forward) - np.angle(back) + beta * length

        def square(x: Real) -> Real:
            value = p * np.exp(-2 * alpha * x) + q * np.exp(-2 * alpha * (length - x)) + 2 * c * np.cos(phi - 2 * beta * x)
            return np.asarray(value, dtype=float)

        def slope(x: Real) -> Real:
            falls = alpha * (q * np.exp(-2 * alpha * (length - x)) - p * np.exp(-2 * alpha * x))
            return np.asarray(falls + 2 * beta * c * np.sin(phi - 2 * beta * x), dtype=float)

        quarter = min(length / 2, np.pi / (2 * beta)) if beta > 0 else length / 2
        grids = np.array([0.0, quarter, length - 2 * quarter, length - quarter])[:, None] + np.linspace(0.0, quarter, GRID)
        peaks = np.take_along_axis(grids, square(grids).argmax(axis=1)[:, None], axis=1)[:, 0]
        step = quarter / (GRID - 1)
        places = _climb(slope, np.maximum(peaks - step, 0.0), np.minimum(peaks + step, length))
        values = square(places)
        chosen = int(np.argmax(values >= values.max() * (1 - EQUAL)))  # the first of equals: places rise
        return float(np.sqrt(values[chosen])), float(places[chosen])


def _climb(slope: Callable[[Real], Real], low: Real, high: Real) -> Real:
    """The maximum of each bracket by bisection on its slope; where the slope never changes sign, the end that it points to."""
    falls_at_once, rises_to_the_end = slope(low) <= 0, slope(high) >= 0
    left, right = low, high
    for _ in range(BISECTIONS):
        middle = (left + right) / 2
        rises = slope(middle) > 0
        left, right = np.where(rises, middle, left), np.where(rises, right, middle)
    return np.where(falls_at_once, low, np.where(rises_to_the_end, high, (left + right) / 2))
