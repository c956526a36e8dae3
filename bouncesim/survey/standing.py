"""The largest voltage and current along many lines at once: what exact.waves finds on one.

The squared size along a line is s(x) = p exp(-2 a x) + q exp(-2 a (l - x)) + 2 c cos(phi - 2 b x). Places half a wave apart share the
cosine, and over them s is convex, so the largest lies at an end or in the first or last half wave. There a maximum has its cosine within a
quarter turn of its own top (s'' <= 0 needs cos > 0), so each window of that size around a top is searched, by Newton steps that are kept
inside a bracket. Derived in exact.waves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bouncesim.exact.phasor import Complex, Real
from bouncesim.exact.waves import EQUAL

STEPS = 60  # Newton, or halving where Newton leaves the bracket; a dozen are rarely needed
NEAR = 1e-9  # of the line's length, or half a wavelength: a Newton step this small leaves an error of its square, and is the last


@dataclass(frozen=True)
class Standing:
    """The waves on many lines, shape (n,): V peak leaving each end, propagation per metre, own impedance, length in m."""

    forward: Complex
    back: Complex
    gamma: Complex
    impedance: Complex
    length: Real

    def largest_voltage(self) -> tuple[Real, Real]:
        """(V peak, place in m), each (n,); the place nearest the transmitter if several are equal."""
        return self._largest(self.back)

    def largest_current(self) -> tuple[Real, Real]:
        """(A peak, place in m), likewise."""
        size, place = self._largest(-self.back)
        return size / np.abs(self.impedance), place

    def heat_w(self, resistance: Real, conductance: Real) -> Real:
        """Heat in each line, W (n,), for R and G a metre: exact.waves.Waves.heat_w."""
        alpha, beta, length = self.gamma.real, self.gamma.imag, self.length
        lossy = alpha * length > 1e-300
        shrinks = np.where(lossy, -np.expm1(-2 * alpha * length) / np.where(lossy, 2 * alpha, 1.0), length)
        travelling = (np.abs(self.forward) ** 2 + np.abs(self.back) ** 2) * shrinks
        ripple = 2 * (self.forward * self.back.conj()).real * np.exp(-alpha * length) * length * np.sinc(beta * length / np.pi)
        return np.asarray(conductance * (travelling + ripple) + resistance * (travelling - ripple) / np.abs(self.impedance) ** 2) / 2

    def _largest(self, back: Complex) -> tuple[Real, Real]:
        alpha, beta, length = self.gamma.real, self.gamma.imag, self.length
        p, q = np.abs(self.forward) ** 2, np.abs(back) ** 2
        c = np.abs(self.forward) * np.abs(back) * np.exp(-alpha * length)
        c = np.where(4 * c <= EQUAL * np.maximum(p, q), 0.0, c)
        phi = np.angle(self.forward) - np.angle(back) + beta * length

        def square(x: Real) -> Real:
            return np.asarray(p * np.exp(-2 * alpha * x) + q * np.exp(-2 * alpha * (length - x)) + 2 * c * np.cos(phi - 2 * beta * x))

        def slopes(x: Real) -> tuple[Real, Real]:
            near, far, u = p * np.exp(-2 * alpha * x), q * np.exp(-2 * alpha * (length - x)), phi - 2 * beta * x
            first = alpha * (far - near) + 2 * beta * c * np.sin(u)
            return np.asarray(first), np.asarray(2 * alpha**2 * (far + near) - 4 * beta**2 * c * np.cos(u))

        quarter = np.pi / (4 * beta)
        first, last = np.floor(phi / (2 * np.pi)), np.ceil((phi - 2 * beta * length) / (2 * np.pi))
        places = [np.zeros_like(length)]
        for turn in (first + 1, first, last, last - 1):
            top = (phi - 2 * np.pi * turn) / (2 * beta)
            low, high = np.clip(top - quarter, 0.0, length), np.clip(top + quarter, 0.0, length)
            places.append(_climb(slopes, low, high, np.clip(top, low, high), np.minimum(length, 4 * quarter)))
        found = np.sort(np.stack([*places, length]), axis=0)
        values = np.stack([square(x) for x in found])
        chosen = np.argmax(values >= values.max(axis=0) * (1 - EQUAL), axis=0)[None]
        return np.sqrt(np.take_along_axis(values, chosen, axis=0)[0]), np.take_along_axis(found, chosen, axis=0)[0]


def _climb(slopes: Callable[[Real], tuple[Real, Real]], low: Real, high: Real, start: Real, scale: Real) -> Real:
    """Where the first of the two slopes falls through nothing inside each bracket; the end that it points to where it does not."""
    falls_at_once, rises_to_the_end = slopes(low)[0] <= 0, slopes(high)[0] >= 0
    left, right, x = low, high, start
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(STEPS):
            slope, bend = slopes(x)
            left, right = np.where(slope > 0, x, left), np.where(slope > 0, right, x)
            step = x - slope / bend
            new = np.where((step > left) & (step < right), step, (left + right) / 2)
            moved, x = np.abs(new - x), new
            if not np.any((moved > NEAR * scale) & ~falls_at_once & ~rises_to_the_end):
                break
    return np.where(falls_at_once, low, np.where(rises_to_the_end, high, x))
