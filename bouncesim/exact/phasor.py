"""Steady state of a chain of two-ports at one frequency, over arrays of stations.

Phasors are peak values with exp(+j w t). A two-port between two places of the path is its chain matrix

    [V1]   [A B] [V2]
    [I1] = [C D] [I2]      currents positive toward the antenna (Pozar, Microwave Engineering, section 4.4),

and an array of stations is an array of matrices of shape (..., 2, 2): every argument here may be a number or an array, and they
broadcast. A line multiplies its phasors by up to exp(alpha l), so a two-port is kept as (matrix, nepers): the matrix without that growth,
and the growth's logarithm. Nothing overflows, however long and lossy the line. A station is solved by walking the pair (V, I) from the
antenna back to the transmitter, the direction in which errors shrink; a product of chain matrices would lose AD - BC = 1 on a lossy line.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]
Branches = Sequence[tuple[ArrayLike, ArrayLike]]  # of a line's wideband law: (R_j, L_j) in series, or (G_j, C_j) in shunt, a metre


class Constants(Protocol):
    """A line's constants a metre in SI (ohm, H, S, F): scenario.lines.LineConstants, or `PerMetre` for arrays of lines."""

    @property
    def resistance(self) -> ArrayLike: ...
    @property
    def inductance(self) -> ArrayLike: ...
    @property
    def conductance(self) -> ArrayLike: ...
    @property
    def capacitance(self) -> ArrayLike: ...
    @property
    def series_branches(self) -> Branches: ...
    @property
    def shunt_branches(self) -> Branches: ...


class PerMetre(NamedTuple):
    """Constants of many lines, any shapes that broadcast; branches as those of scenario.lines.LineConstants."""

    resistance: ArrayLike
    inductance: ArrayLike
    conductance: ArrayLike
    capacitance: ArrayLike
    series_branches: Branches = ()
    shunt_branches: Branches = ()


class Chain(NamedTuple):
    """A two-port: chain matrix = matrix * exp(nepers)."""

    matrix: Complex  # (..., 2, 2)
    nepers: Real  # (...)

    def full(self) -> Complex:
        """The plain chain matrix, shape (..., 2, 2); overflows beyond 700 nepers."""
        return self.matrix * np.exp(self.nepers)[..., None, None]


class Walk(NamedTuple):
    """Peak phasors at every place of the path: place 0 is the transmitter's terminals, the last one the antenna's."""

    voltage: Complex  # (places, ...) V
    current: Complex  # (places, ...) A, toward the antenna
    power: Real  # (places, ...) W, 1/2 Re(V I*), taken before the common factor is applied so that a pure reactance takes exactly none


def _matrix(a: ArrayLike, b: ArrayLike, c: ArrayLike, d: ArrayLike) -> Complex:
    entries = np.broadcast_arrays(*(np.asarray(e, dtype=complex) for e in (a, b, c, d)))
    return np.stack(entries, axis=-1).reshape(*entries[0].shape, 2, 2)


def _with_branches(loss: ArrayLike, store: ArrayLike, branches: Branches, omega: Real) -> Complex:
    """loss + j w store + sum of j w s_j r_j/(r_j + j w s_j), each term split into its real and imaginary part, both positive."""
    real, imag = np.asarray(loss, dtype=float), omega * np.asarray(store, dtype=float)
    for size, stores in branches:
        r, x = np.asarray(size, dtype=float), omega * np.asarray(stores, dtype=float)
        real, imag = real + r * x**2 / (r**2 + x**2), imag + x * r**2 / (r**2 + x**2)
    return np.asarray(real + 1j * imag)


def series_impedance(constants: Constants, frequency_hz: ArrayLike) -> Complex:
    """Z = R + j w L + sum j w L_j R_j/(R_j + j w L_j), ohm/m: a line's series impedance; its real part makes the heat of the current."""
    omega = 2 * np.pi * np.asarray(frequency_hz, dtype=float)
    return _with_branches(constants.resistance, constants.inductance, constants.series_branches, omega)


def shunt_admittance(constants: Constants, frequency_hz: ArrayLike) -> Complex:
    """Y = G + j w C + sum j w C_j G_j/(G_j + j w C_j), S/m: a line's shunt admittance; its real part makes the heat of the voltage."""
    omega = 2 * np.pi * np.asarray(frequency_hz, dtype=float)
    return _with_branches(constants.conductance, constants.capacitance, constants.shunt_branches, omega)


def _plain(matrix: Complex) -> Chain:
    return Chain(matrix, np.zeros(matrix.shape[:-2]))


def series(impedance_ohm: ArrayLike) -> Chain:
    """An impedance in series with the path."""
    return _plain(_matrix(1, impedance_ohm, 0, 1))


def shunt(admittance_s: ArrayLike) -> Chain:
    """An admittance across the path."""
    return _plain(_matrix(1, 0, admittance_s, 1))


def ratio(impedance_ratio: ArrayLike) -> Chain:
    """An ideal transformer: an impedance Z at its antenna side looks like Z/impedance_ratio at the transmitter's."""
    turns = np.sqrt(np.asarray(impedance_ratio, dtype=float))
    return _plain(_matrix(1 / turns, 0, 0, turns))


def through() -> Chain:
    """Nothing: what a meter is to the path."""
    return series(0.0)


def inductor(inductance_h: ArrayLike, frequency_hz: ArrayLike, loss_ohm: ArrayLike = 0.0) -> Complex:
    """Impedance (ohm) of a coil with its loss resistance in series."""
    return np.asarray(np.asarray(loss_ohm) + 2j * np.pi * np.asarray(frequency_hz) * np.asarray(inductance_h))


def capacitor(capacitance_f: ArrayLike, frequency_hz: ArrayLike, loss_ohm: ArrayLike = 0.0) -> Complex:
    """Impedance (ohm) of a capacitor with its loss resistance in series."""
    return np.asarray(np.asarray(loss_ohm) - 1j / (2 * np.pi * np.asarray(frequency_hz) * np.asarray(capacitance_f)))


def propagation(constants: Constants, frequency_hz: ArrayLike) -> Complex:
    """gamma = alpha + j beta = sqrt(Z Y), per metre, with Z = R + j X and Y = G + j B the line's own at this frequency.

    The root is taken from |ZY|, Re(ZY) and Im(ZY) = R B + X G, whose terms are all positive: a small alpha comes out to full relative
    accuracy, and exactly zero without loss.
    """
    z, y = series_impedance(constants, frequency_hz), shunt_admittance(constants, frequency_hz)
    real = np.asarray(z.real * y.real - z.imag * y.imag)
    imag = np.asarray(z.real * y.imag + z.imag * y.real)
    larger = np.sqrt((np.hypot(real, imag) + np.abs(real)) / 2)
    smaller = np.divide(imag, 2 * larger, out=np.zeros_like(larger), where=larger > 0)
    oscillates = real < 0
    return np.asarray(np.where(oscillates, smaller, larger) + 1j * np.where(oscillates, larger, smaller))


def characteristic(constants: Constants, frequency_hz: ArrayLike) -> Complex:
    """Z0 = Z/gamma, ohm: complex on a line with loss. Where gamma is nothing (direct current, no loss): sqrt(L/C)."""
    gamma = propagation(constants, frequency_hz)
    reference = np.sqrt(np.asarray(constants.inductance, dtype=float) / np.asarray(constants.capacitance, dtype=float))
    out = np.broadcast_to(reference, gamma.shape).astype(complex)
    return np.asarray(np.divide(series_impedance(constants, frequency_hz), gamma, out=out, where=gamma != 0))


def line(constants: Constants, length_m: ArrayLike, frequency_hz: ArrayLike) -> Chain:
    """A uniform line: A = D = cosh(gamma l), B = Z l s, C = Y l s with s = sinh(gamma l)/(gamma l).

    Source: the telegrapher's equations (Pozar, section 2.1). Written with s, the matrix needs no Z0 and holds at direct current too.
    """
    length = np.asarray(length_m, dtype=float)
    gl = propagation(constants, frequency_hz) * length
    shrink = np.exp(-2 * gl.real)
    less = -np.expm1(-2 * gl.real)
    cosine, sine = np.cos(gl.imag), np.sin(gl.imag)
    cosh = ((1 + shrink) * cosine + 1j * less * sine) / 2  # times exp(-alpha l)
    sinh = (less * cosine + 1j * (1 + shrink) * sine) / 2
    s = np.divide(sinh, gl, out=np.ones_like(sinh), where=gl != 0)
    z, y = series_impedance(constants, frequency_hz), shunt_admittance(constants, frequency_hz)
    matrix = _matrix(cosh, z * length * s, y * length * s, cosh)
    return Chain(matrix, np.broadcast_to(gl.real, matrix.shape[:-2]))


def cascade(chains: Sequence[Chain]) -> Chain:
    """The whole path in one two-port, in order from the transmitter."""
    total = through()
    for chain in chains:
        total = Chain(total.matrix @ chain.matrix, total.nepers + chain.nepers)
    return total


def load_pair(impedance_ohm: ArrayLike) -> tuple[Complex, Complex]:
    """A pair (V, I) in the ratio of a load: (Z, 1), or (1, 0) where it is open (infinite)."""
    z = np.asarray(impedance_ohm, dtype=complex)
    is_open = ~np.isfinite(z)
    return np.where(is_open, 1.0, z), np.where(is_open, 0.0, 1.0).astype(complex)


def step_back(chain: Chain, voltage: ArrayLike, current: ArrayLike) -> tuple[Complex, Complex]:
    """The pair (V, I) at a two-port's transmitter side from that at its antenna side, without the growth exp(nepers)."""
    m, v, i = chain.matrix, np.asarray(voltage), np.asarray(current)
    return m[..., 0, 0] * v + m[..., 0, 1] * i, m[..., 1, 0] * v + m[..., 1, 1] * i


def walk(chains: Sequence[Chain], emf_v_peak: ArrayLike, source_ohm: ArrayLike, load_ohm: ArrayLike) -> Walk:
    """Peak phasors at every place between `chains`, for an EMF behind `source_ohm` and a load `load_ohm` (infinite: open).

    Shapes: whatever broadcasts; the result has one more axis in front, len(chains) + 1 places. A station whose current would be
    infinite (an ideal source on a short) gives infinities or nan, as numpy does.
    """
    v, i = load_pair(load_ohm)
    grown = np.zeros(v.shape)
    pairs = [(v, i, grown)]
    for chain in reversed(chains):
        v, i = step_back(chain, v, i)
        grown = grown + chain.nepers
        pairs.append((v, i, grown))
    factor = np.asarray(emf_v_peak) / (v + np.asarray(source_ohm) * i)
    size = np.abs(factor)
    places = []
    for v, i, so_far in reversed(pairs):
        decay = np.exp(so_far - grown)
        places.append((v * factor * decay, i * factor * decay, (v * np.conj(i)).real * (size * decay) ** 2 / 2))
    voltage, current, power = (np.stack(np.broadcast_arrays(*column)) for column in zip(*places, strict=True))
    return Walk(voltage, current, power)


def looking_back(chains: Sequence[Chain], source_ohm: ArrayLike) -> tuple[Complex, Complex, Real]:
    """What the end of `chains` sees toward the transmitter: (n, d, nepers) with output impedance n/d and open-circuit voltage
    EMF exp(-nepers)/d. From [V1; I1] = M [V2; I2] and V1 = EMF - Zs I1: n = B + Zs D, d = A + Zs C. Kept apart, neither overflows.
    """
    total = cascade(chains)
    m, zs = total.matrix, np.asarray(source_ohm)
    return m[..., 0, 1] + zs * m[..., 1, 1], m[..., 0, 0] + zs * m[..., 1, 0], total.nepers
