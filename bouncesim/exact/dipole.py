"""Feed impedance of a centre-fed straight wire in free space: Hallen's integral equation with the exact kernel and a finite gap.

The wire is a thin-walled tube of radius a along z, its ends at z = +-h and open, with a current I(z) that is even in z and zero at the
ends. The z component of its vector potential at the surface is mu/(4 pi) times

    A(z) = integral over z' of I(z') K(z - z'),    K(z) = mean over the azimuth p of exp(-j k R)/R,    R^2 = z^2 + 4 a^2 sin^2(p/2):

the exact kernel, which takes both points on the surface (source: Schelkunoff, Advanced Antenna Theory, 1952, from memory). The field of
that current must cancel the impressed one: none along the metal, V/g along the gap |z| < g/2 that the transmitter drives. From
E = -j w (1 + (1/k^2) d^2/dz^2) mu A/(4 pi) follows A'' + k^2 A = -j (4 pi k/eta) V/g in the gap and 0 elsewhere, whose even solutions are

    A(z) = C cos kz - j (4 pi/eta) (V/(g k)) p(z),    p = 1 - cos kz within the gap,    p = cos k(|z| - g/2) - cos kz beyond it

(source: Hallen 1938, as in Balanis, Antenna Theory, section 8.3, from memory, where the gap is of no length: p/(g k) -> sin(k|z|)/2). The
constant C is an unknown like the currents: it is what makes the current at the ends vanish.

The gap must have a length: with the exact kernel a gap of none has an infinite capacitance, and no mesh ever settles. The terminal current
is the mean over the gap. With it, and no other, power is kept: 1/2 Re(V I*) is what the impressed field gives to the current, and what
is radiated. (The current at the very centre, also in use, differs by some tenths of a per cent for a gap of a few wire diameters, and by
more at the second resonance or for thick wires: there the gap is part of the antenna, and published figures scatter.)

Numbers. The current is a sum of sinusoids from node to node, I_j sin k(z_j+1 - z) + I_j+1 sin k(z - z_j) over sin k(z_j+1 - z_j), which is
what a thin wire carries; the equation is held at the nodes. They stand close together, a tenth of a radius at first, where the gap and
the wire end, and spread by a constant ratio up to a twelfth of a wavelength: 40 to 70 for the usual doublet. 1/R is singular: its integral
with the straight line between nodes is taken in closed form along z, then averaged over the azimuth, and depends on no frequency. What is
left, (sinusoid exp(-j k R) - line)/R, is smooth: four points of Gauss an element, with R^2 = z^2 + 2 a^2, its mean over the azimuth; what
that neglects is of the order (ka)^2.
"""

from __future__ import annotations

import functools
import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from bouncesim import budget
from bouncesim.budget import Work
from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario.lines import SPEED_OF_LIGHT

ETA = 4e-7 * math.pi * SPEED_OF_LIGHT  # wave impedance of free space, 376.73 ohm
MU = 4e-7 * math.pi
PER_WAVELENGTH = 12  # elements, where the wire is far from its gap and ends
FEWEST = 6  # elements on half of a short wire
RATIO = 1.7  # from one element to the next
FIRST = 0.1  # the smallest element, in wire radii: the current rises as a root from the ends, and the error with it
SHARED = 1.25  # frequencies as near as that to a higher one are solved on its mesh, which is half the work
ENDS = 50  # more elements where they stand close together, about
# Of time and memory, a pair of elements (a mesh of its own takes twice that time, a shared one half); of time, the cube of their number.
PAIR_S, SOLVE_S, PAIR_BYTES = 1e-6, 4e-10, 1600.0
THICKEST = 0.01  # wavelengths of radius: the current is taken to be the same all around the wire
_X, _W = (each / 2 for each in np.polynomial.legendre.leggauss(4))
_X = _X + 0.5
_T, _V = np.polynomial.legendre.leggauss(48)  # over the azimuth, crowded where R has its minimum
_AZIMUTH = np.pi / 2 * ((_T + 1) / 2) ** 3
_AZIMUTH_WEIGHT = 1.5 * ((_T + 1) / 2) ** 2 * _V


class Feed(NamedTuple):
    """What a doublet is at its terminals; both of the shape of the frequencies, ohm."""

    impedance_ohm: Complex  # with the heat in the wire
    heat_ohm: Real  # the part of its resistance that is heat in the wire


class Current(NamedTuple):
    """The current of a doublet of no loss that is driven with 1 V, along half of it."""

    place_m: Real  # (N,) from the centre to the end
    current_a: Complex  # (N,)
    terminal_a: complex  # mean over the gap


class _Mesh(NamedTuple):
    nodes: Real  # (N+1,) from 0 to h
    static: Real  # (N+1, N+1) from the straight-line currents at the nodes to the integral of I/R, both halves of the wire
    radius: float
    half_gap: float


def dipole_impedance(frequency_hz: ArrayLike, length_m: float, radius_m: float, gap_m: float) -> Complex:
    """Feed impedance of a centre-fed straight wire without loss in free space, ohm, in the shape of `frequency_hz`.

    `length_m` is tip to tip, the gap included. Raises ScenarioError where the wire is too thick, or the gap too long, for the equation.
    """
    return dipole(frequency_hz, length_m, radius_m, gap_m).impedance_ohm


def dipole(frequency_hz: ArrayLike, length_m: float, radius_m: float, gap_m: float, conductivity_s_per_m: float = math.inf) -> Feed:
    """As `dipole_impedance`, of a round wire of this conductivity (copper: 5.8e7 S/m), with the part that is heat.

    A wire of the internal impedance Zi a metre adds Zi (integral of I^2)/I0^2 to the feed impedance (perturbation of the first order, by
    the reaction theorem: Harrington, Time-Harmonic Electromagnetic Fields, chapter 7, from memory); its heat is that of |I|^2. Raises as
    `dipole_impedance`.
    """
    f = np.asarray(frequency_hz, dtype=float)
    budget.check(*(dipole_work(float(each), length_m) for each in f.flat))
    z, heat = _fed(tuple(f.flat), length_m, radius_m, gap_m, conductivity_s_per_m)
    return Feed(z.reshape(f.shape).copy(), heat.reshape(f.shape).copy())


@functools.lru_cache(maxsize=8)  # a command asks for the same antenna several times
def _fed(frequencies: tuple[float, ...], length_m: float, radius_m: float, gap_m: float, conductivity_s_per_m: float) -> Feed:
    """`dipole`, of frequencies (N,)."""
    z, heat, shared = np.empty(len(frequencies), dtype=complex), np.zeros(len(frequencies)), math.inf
    for place in np.argsort(frequencies)[::-1]:  # the highest first: it may be refused
        each = float(frequencies[place])
        if each < shared:
            mesh, shared = _mesh_for(each, length_m, radius_m, gap_m), each / SHARED
        found = _solve(mesh, each)
        z[place] = 1 / found.terminal_a
        if math.isfinite(conductivity_s_per_m):
            metal, inner = found.place_m >= mesh.half_gap, internal_impedance(each, radius_m, conductivity_s_per_m)
            share = found.current_a[metal] / found.terminal_a
            z[place] += inner * 2 * np.trapezoid(share**2, found.place_m[metal])
            heat[place] = inner.real * 2 * np.trapezoid(np.abs(share) ** 2, found.place_m[metal])
    return Feed(z, heat)


def dipole_slope(
    frequency_hz: float, length_m: float, radius_m: float, gap_m: float, conductivity_s_per_m: float = math.inf
) -> tuple[complex, complex]:
    """(Z, dZ/dw) at a frequency, ohm and ohm s: a central difference over 0.2 %, on one mesh. Raises as `dipole_impedance`."""
    step = 1e-3 * frequency_hz
    three = np.array([frequency_hz - step, frequency_hz, frequency_hz + step])
    z = dipole(three, length_m, radius_m, gap_m, conductivity_s_per_m).impedance_ohm
    return complex(z[1]), complex((z[2] - z[0]) / (4 * math.pi * step))


def dipole_current(frequency_hz: float, length_m: float, radius_m: float, gap_m: float) -> Current:
    """The current behind `dipole_impedance`. Raises likewise."""
    return _solve(_mesh_for(frequency_hz, length_m, radius_m, gap_m), frequency_hz)


def internal_impedance(frequency_hz: float, radius_m: float, conductivity_s_per_m: float) -> complex:
    """Internal impedance of a round wire a metre, ohm: g/(2 pi a s) I0(g a)/I1(g a), g = (1 + j)/d, d the skin depth.

    Source: Ramo, Whinnery and Van Duzer, Fields and Waves in Communication Electronics, section 4.5 (from memory). The ratio of the Bessel
    functions by its continued fraction, I1(y)/I0(y) = 1/(2/y + 1/(4/y + 1/(6/y + ...))); for thick wires by its series in 1/y.
    """
    g = complex(1, 1) * math.sqrt(math.pi * frequency_hz * MU * conductivity_s_per_m)
    y = g * radius_m
    if abs(y) > 30:
        ratio = 1 + 1 / (2 * y) + 3 / (8 * y**2) + 3 / (8 * y**3)
    else:
        ratio = 0j
        for n in range(60, 0, -1):
            ratio = 1 / (2 * n / y + ratio)
        ratio = 1 / ratio
    return g * ratio / (2 * math.pi * radius_m * conductivity_s_per_m)


def _mesh_for(highest_hz: float, length_m: float, radius_m: float, gap_m: float) -> _Mesh:
    wavelength = SPEED_OF_LIGHT / highest_hz
    if radius_m > min(length_m / 20, THICKEST * wavelength):
        reason = f"a radius of {radius_m:g} m is too thick for a doublet of {length_m:g} m at {highest_hz:g} Hz"
        raise ScenarioError(Problem("antenna", reason, f"Allowed: up to a twentieth of the length and {THICKEST:g} wavelengths"))
    if not 0 < gap_m <= length_m / 10:
        raise ScenarioError(
            Problem("antenna", f"a gap of {gap_m:g} m in {length_m:g} m", "Allowed: more than 0, up to a tenth of the length")
        )
    elements = max(FEWEST, math.ceil(PER_WAVELENGTH * length_m / 2 / wavelength))
    budget.check(dipole_work(highest_hz, length_m))
    return _mesh(length_m / 2, radius_m, gap_m / 2, elements)


def dipole_work(frequency_hz: float, length_m: float) -> Work:
    """What a doublet takes at one frequency, estimated: every element acts on every other one, by way of the azimuth."""
    wavelengths = length_m * frequency_hz / SPEED_OF_LIGHT
    elements = PER_WAVELENGTH * wavelengths / 2 + ENDS
    takes = f"The doublet is {wavelengths:,.0f} wavelengths long and takes {budget.count(elements)} elements"
    return Work(takes, "Shorten it, or take a lower frequency", PAIR_S * elements**2 + SOLVE_S * elements**3, PAIR_BYTES * elements**2)


@functools.lru_cache(maxsize=16)
def _mesh(half: float, radius: float, half_gap: float, count: int) -> _Mesh:
    largest, middle = half / count, (half - half_gap) / 2
    at_gap, at_end = FIRST * min(radius, half_gap), FIRST * radius
    gap = half_gap - _graded(half_gap, at_gap, half_gap)[::-1]
    inner, outer = half_gap + _graded(middle, at_gap, largest), half - _graded(middle, at_end, largest)[::-1]
    nodes = np.concatenate([gap, inner[1:], outer[1:]])
    static = sum(_static(nodes, sign * nodes, radius) for sign in (1, -1))
    return _Mesh(nodes, np.asarray(static), radius, half_gap)


def _graded(length: float, first: float, largest: float) -> Real:
    """Nodes from 0 to `length`: steps that grow from about `first` by RATIO, up to `largest`."""
    steps: list[float] = []
    total = 0.0
    while total < length:
        steps.append(min(first * RATIO ** len(steps), largest))
        total += steps[-1]
    return np.concatenate([[0.0], np.cumsum(steps)]) * (length / total)


def _static(nodes: Real, sources: Real, radius: float) -> Real:
    """Rows: match points at `nodes`. Columns: unit currents at `sources`, falling in straight lines to their neighbours; integral of I/R.

    The antiderivatives of 1/R and d/R in d are asinh(d/b) and R, b = 2 a sin(p/2), averaged over p.
    """
    d = sources[None, :] - nodes[:, None]
    b = 2 * radius * np.sin(_AZIMUTH)
    first, distance = np.empty(d.shape), np.empty(d.shape)
    for row, size in enumerate(np.abs(d)[..., None]):  # over the azimuth row by row: all at once takes fifty times the memory
        r = np.sqrt(size**2 + b**2)
        first[row], distance[row] = (np.log(size + r) - np.log(b)) @ _AZIMUTH_WEIGHT, r @ _AZIMUTH_WEIGHT
    width = np.diff(sources)
    whole, moment = np.diff(np.sign(d) * first, axis=1), np.diff(distance, axis=1)
    rising = (moment - d[:, :-1] * whole) / width
    result = np.zeros(d.shape)
    result[:, :-1] += np.sign(width) * (whole - rising)
    result[:, 1:] += np.sign(width) * rising
    return result


def _solve(mesh: _Mesh, frequency_hz: float) -> Current:
    """The current at the nodes for 1 V: the equation at every node, for the currents at all nodes but the last, and C."""
    k, z, e = 2 * math.pi * frequency_hz / SPEED_OF_LIGHT, mesh.nodes, mesh.half_gap
    width = np.diff(z)[:, None]
    near, far = np.sin(k * width * (1 - _X)) / np.sin(k * width), np.sin(k * width * _X) / np.sin(k * width)
    places = z[:-1, None] + width * _X
    matrix = mesh.static.astype(complex)
    for sign in (1, -1):
        r = np.sqrt((sign * places - z[:, None, None]) ** 2 + 2 * mesh.radius**2)
        turn, weight = np.exp(-1j * k * r), width * _W / r
        matrix[:, :-1] += ((turn * near - (1 - _X)) * weight).sum(axis=-1)
        matrix[:, 1:] += ((turn * far - _X) * weight).sum(axis=-1)
    matrix[:, -1] = -np.cos(k * z)
    beyond = np.cos(k * np.maximum(z - e, 0)) - np.cos(k * z)
    unknown = np.linalg.solve(matrix, -1j * (4 * math.pi / ETA) / (2 * e * k) * beyond)
    current = np.append(unknown[:-1], 0)
    inside = z <= e * (1 + 1e-12)
    return Current(z, current, complex(np.trapezoid(current[inside], z[inside]) / e))
