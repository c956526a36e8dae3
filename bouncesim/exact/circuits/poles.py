"""Resonances of a one-port from its admittance over a band: vector fitting.

Y(s) is approximated by g + s c + sum r_k/(s - a_k) with poles that are moved until they stay: with a weight function sigma = 1 + sum
q_k/(s - a_k) the fit of sigma Y and of sigma on the same poles is linear, and the zeros of sigma are better poles. Source: Gustavsen and
Semlyen, IEEE Trans. Power Delivery 14(3):1052-1061 (1999), from memory.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bouncesim.exact.phasor import Complex, Real

ROUNDS = 10
DAMPED = 0.02  # of the first poles, relative to their frequency
ABOVE = 1.1  # the last of them, above the band
REAL = 1e-9  # an imaginary part smaller than that, relative to the pole, is none


class Resonance(NamedTuple):
    """A pair of poles of the admittance: that of L, C and R in series, in the units of the data."""

    inductance: float
    capacitance: float
    resistance: float


class Found(NamedTuple):
    """What a fit with so many pairs of poles has found."""

    resonances: tuple[Resonance, ...]
    capacitance: float  # of the term s c; may be negative
    rms: float  # relative error


def resonances(s: Complex, admittance: Complex, pairs: int) -> Found:
    """The best of a few rounds of vector fitting with `pairs` pairs of poles; s = j w (N,), Y (N,). A pair may come apart into real poles,
    and a pole may have no positive inductance: such are left out."""
    w, weight = s.imag, 1 / np.abs(admittance)
    centres = np.linspace(w[0], ABOVE * w[-1], pairs) if pairs > 1 else w[-1:]
    poles: Complex = np.asarray((-DAMPED + 1j) * centres, dtype=np.complex128)
    wanted = _stacked(admittance * weight)
    best = Found((), 0.0, np.inf)
    for _ in range(ROUNDS):
        terms = _terms(s, poles)
        basis = np.column_stack([terms, np.ones(len(s)), s])
        fitted = _least_squares(_stacked(basis * weight[:, None]), wanted)
        rms = float(np.linalg.norm(_stacked(basis * weight[:, None]) @ fitted - wanted) / np.sqrt(len(s)))
        if rms < best.rms:
            best = Found(_resonances(poles, fitted), float(fitted[-1]), rms)
        both = np.column_stack([basis, -admittance[:, None] * terms]) * weight[:, None]
        poles = _moved(poles, _least_squares(_stacked(both), wanted)[basis.shape[1] :])
    return best


def _terms(s: Complex, poles: Complex) -> Complex:
    """Real coefficients suffice: 1/(s - a) of a real pole; of a pair the sum of both, and j times their difference."""
    columns = []
    for pole in poles:
        if pole.imag == 0:
            columns.append(1 / (s - pole))
        else:
            one, other = 1 / (s - pole), 1 / (s - pole.conjugate())
            columns += [one + other, 1j * (one - other)]
    return np.array(columns).T


def _moved(poles: Complex, coefficients: Real) -> Complex:
    """The zeros of sigma: eigenvalues of A - b c; folded into the left half-plane, and of each pair the upper one."""
    size = len(coefficients)
    matrix, source, place = np.zeros((size, size)), np.zeros(size), 0
    for pole in poles:
        if pole.imag == 0:
            matrix[place, place], source[place], place = pole.real, 1, place + 1
        else:
            matrix[place : place + 2, place : place + 2] = [[pole.real, pole.imag], [-pole.imag, pole.real]]
            source[place], place = 2, place + 2
    found = np.linalg.eigvals(matrix - np.outer(source, coefficients)).astype(complex)
    found = -np.abs(found.real) + 1j * found.imag
    single = np.abs(found.imag) <= REAL * np.abs(found)
    return np.concatenate([found[~single & (found.imag > 0)], found[single].real.astype(complex)])


def _resonances(poles: Complex, fitted: Real) -> tuple[Resonance, ...]:
    """Near its pole a pair is 2 Re(r) s/(s^2 - 2 Re(a) s + |a|^2): that of L = 1/(2 Re r), R = -2 Re(a) L, C = 1/(|a|^2 L)."""
    found, place = [], 0
    for pole in poles:
        if pole.imag > 0 and fitted[place] > 0:
            inductance = 1 / (2 * float(fitted[place]))
            found.append(Resonance(inductance, 1 / (abs(pole) ** 2 * inductance), -2 * float(pole.real) * inductance))
        place += 2 if pole.imag > 0 else 1
    return tuple(found)


def _stacked(values: NDArray[Any]) -> Real:
    return np.concatenate([values.real, values.imag])


def _least_squares(matrix: Real, wanted: Real) -> Real:
    norms = np.linalg.norm(matrix, axis=0)
    return np.asarray(np.linalg.lstsq(matrix / norms, wanted, rcond=None)[0] / norms)
