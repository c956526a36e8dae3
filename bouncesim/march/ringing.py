"""How a planned station rings, from its own parts and before it has made a step.

It may swing with no source at complex frequencies s where its nodal equations M(s) x = b have a pole: each is a mode that dies away as
exp(Re(s) t). M holds the networks as they are and, between their ports, the lines as a whole (telegrapher's equations; of the half cells
at their ends the networks have those already). Near a pole p the answer is x = a/(s - p), so that s + <x', x>/<x', x'> is nearer to it:
Newton's way for an eigenvalue problem that is not linear, from many places at once. What a mode is when a step of the carrier sets it
off is |a|/|jw - p|, against the steady state of the same place.

Only estimates of how long a run will take rest on this; it is the grid that is followed until it is at rest.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.graph import GROUND
from bouncesim.march.line import Section
from bouncesim.march.station import Plan

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

MOST_UNKNOWNS = 80  # larger networks are not looked into: that would take as long as a run
ROOM = 400_000  # numbers in all matrices at once
HIGHEST = 2.0  # carrier frequencies up to which modes are looked for; windows of the lock-in see little of what is further off
STARTS, A_MODE, MOST_STARTS = 96, 6, 256  # places to look from: so many at least, so many a mode of the lines, so many at most
LOWEST, SLOW_STARTS = 1e-4, 12  # and below all these, where coils and capacitors swing with one another
ROUNDS = 16  # of Newton's
FOUND = 1e-3  # a last step of less than that, of the distance from the axis, has come to a pole
ALIKE = 1e-3  # poles nearer to each other than that, relative, are one
DEAD = 1e-3  # of what is at the liveliest probe: a place with less counts as if it had so much
STILL = 1e-9  # of the carrier frequency: what dies away more slowly stands still, as a direct current in coils without loss
STEP = 1e-6  # of the carrier frequency, to differentiate by
OHM = 50.0  # a current counts as the voltage that it makes across it
NUDGE = 1e-14  # of a matrix that is singular to the last bit


class Modes(NamedTuple):
    """The modes of a station (m,): poles, 1/s, in the upper half-plane, and sizes: the largest at any probe, relative to the steady state
    there, under a step of the carrier. And voltage and current behind the EMF in that steady state, peak values for an EMF of 1 V."""

    poles: Complex
    sizes: Real
    voltage: complex
    current: complex


def modes(plan: Plan) -> Modes | None:
    """The modes that windows of the lock-in may see; None for networks so large that looking would take as long as a run, and where the
    numbers are beyond all arithmetic."""
    equations = _Equations(plan)
    if equations.size > MOST_UNKNOWNS:
        return None
    w = plan.omega
    count = int(min(max(STARTS, A_MODE * HIGHEST * w * plan.delay_s / math.pi), MOST_STARTS, ROOM / equations.size**2))
    even = HIGHEST * (np.arange(count) + 0.51) / count
    furthest = min(math.pi / plan.delay_s, w) / A_MODE
    s = 1j * w * np.concatenate([np.geomspace(LOWEST, even[0], SLOW_STARTS), even])
    with np.errstate(all="ignore"):  # what goes astray, and is left out
        found: Complex = np.zeros(0, dtype=complex)
        for _ in range(ROUNDS):
            move = equations.moves(s)
            s = s + move * np.minimum(1, furthest / np.abs(move))
            there = np.abs(move) < FOUND * np.abs(s.real)
            found = np.append(found, s[there])
            s = s[~there & (np.abs(s.imag) < (HIGHEST + 1) * w)]
        s = _different(found[found.real < -STILL * w])
        off = np.abs(s.real) / 4
        around = (equations.answers(s + off) - equations.answers(s - off)) / 2
        steady = equations.answers(np.array([1j * w]))
        still = equations.at_probes(steady)
        shares = np.nan_to_num(equations.at_probes(around) / np.maximum(still, DEAD * still.max()))
        sizes = shares.max(axis=1, initial=0.0) * off / np.abs(1j * w - s)
    if not np.isfinite(steady).all():
        return None
    return Modes(s, sizes, *equations.behind_the_emf(steady[0]))


def _different(s: Complex) -> Complex:
    """Each of these once; of a pair the upper one."""
    kept: list[complex] = []
    for each in np.where(s.imag < 0, s.conj(), s):
        if all(abs(each - other) > ALIKE * abs(each) for other in kept):
            kept.append(complex(each))
    return np.array(kept, dtype=complex)


class _Equations:
    """M(s) of a station: the nodes of all networks, then the currents of branches without resistance, of which the EMF is the first and
    the probe behind it the second."""

    def __init__(self, plan: Plan) -> None:
        firsts = np.cumsum([0, *(circuit.nodes - 1 for circuit in plan.circuits)])

        def row(c: int, node: int) -> int:
            return -1 if node == GROUND else int(firsts[c]) + node - 1

        branches = [(b.kind, row(c, b.start), row(c, b.end), b.value) for c, circuit in enumerate(plan.circuits) for b in circuit.branches]
        self.sources = [(a, b) for kind, a, b, _ in branches if kind == "E"]
        self.nodes = int(firsts[-1])
        self.size = self.nodes + len(self.sources)
        if self.size > MOST_UNKNOWNS:
            return
        self.resistors, self.coils, self.capacitors = (
            self._stamped([(a, b, v**power) for k, a, b, v in branches if k == kind], self.sources if kind == "R" else [])
            for kind, power in (("R", -1), ("L", -1), ("C", 1))
        )
        self.lines: list[tuple[Section, list[tuple[int, float]]]] = [(section, []) for section in plan.sections]
        for c, ports in enumerate(plan.ports):
            for port in ports:
                self.lines[port.section][1].append((row(c, port.spot.node), port.spot.turns))
        self.step = STEP * plan.omega
        self.unit = np.where(np.arange(self.size) < self.nodes, 1.0, OHM)

    def _stamped(self, branches: list[tuple[int, int, float]], sources: list[tuple[int, int]]) -> Real:
        """The nodal matrix of branches (from, to, admittance) of one kind; with the rows and columns of currents without resistance."""
        matrix = np.zeros((self.size + 1, self.size + 1))  # the last row and column take what hangs on the return conductor
        for a, b, value in branches:
            np.add.at(matrix, ([a, b, a, b], [a, b, b, a]), [value, value, -value, -value])
        for current, (a, b) in enumerate(sources, self.nodes):
            matrix[a, current] = matrix[current, a] = 1.0
            matrix[b, current] = matrix[current, b] = -1.0
        return matrix[:-1, :-1]

    def _with_lines(self, m: Complex, admittances: Callable[[Section], tuple[Complex, Complex]]) -> Complex:
        """The matrices m (m, size, size), with what every line adds at its own end, and from end to end."""
        for section, ((a, t), (b, u)) in self.lines:
            own, mutual = admittances(section)
            m[:, a, a] += t * t * own
            m[:, b, b] += u * u * own
            m[:, a, b] += t * u * mutual
            m[:, b, a] += t * u * mutual
        return m

    def _matrices(self, s: Complex) -> Complex:
        """M at the complex frequencies s (m,): (m, size, size)."""
        at = s[:, None, None]
        return self._with_lines(self.resistors + at * self.capacitors + self.coils / at, lambda section: _line(section, s))

    def _slopes(self, s: Complex) -> Complex:
        """dM/ds; of the lines alone by differences, which a large capacitor beside them would swallow."""

        def slope(section: Section) -> tuple[Complex, Complex]:
            (own, mutual), (own_below, mutual_below) = _line(section, s + self.step), _line(section, s - self.step)
            return (own - own_below) / (2 * self.step), (mutual - mutual_below) / (2 * self.step)

        return self._with_lines(self.capacitors - self.coils / s[:, None, None] ** 2, slope)

    def answers(self, s: Complex) -> Complex:
        """x for an EMF of 1 V, (m, size); currents as voltages across OHM."""
        wanted = np.zeros((len(s), self.size, 1), dtype=complex)
        wanted[:, self.nodes] = 1.0
        return np.asarray(_solved(self._matrices(s), wanted)[..., 0] * self.unit)

    def moves(self, s: Complex) -> Complex:
        """From each of these places to the pole nearby, about, (m,). It is asked with something of everything, as some modes hardly answer
        to the EMF: a direct current that goes round in coils."""
        m = self._matrices(s)
        wanted = (np.cos(np.arange(self.size) ** 2) / self.unit)[None, :, None].repeat(len(s), axis=0)
        x = _solved(m, wanted)
        turned = -_solved(m, self._slopes(s) @ x) * self.unit[:, None]
        return np.asarray((turned.conj() * x * self.unit[:, None]).sum(axis=(1, 2)) / (np.abs(turned) ** 2).sum(axis=(1, 2)))

    def at_probes(self, x: Complex) -> Real:
        """Voltage and current together at every probe, (m, probes); the return conductor has no voltage."""
        nodes = np.array([a for a, _ in self.sources[1:]])
        return np.hypot(np.abs(np.where(nodes < 0, 0, x[:, nodes])), np.abs(x[:, self.nodes + 1 :]))

    def behind_the_emf(self, x: Complex) -> tuple[complex, complex]:
        """Voltage and current of the first probe, x (size,)."""
        return complex(x[self.sources[1][0]]), complex(x[self.nodes + 1]) / OHM


def _solved(m: Complex, wanted: Any) -> Complex:
    """The solutions, also where a place lies on a pole to the last bit."""
    try:
        return np.asarray(np.linalg.solve(m, wanted))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.solve(m + NUDGE * np.abs(m).max(axis=(1, 2), keepdims=True) * np.eye(m.shape[1]), wanted))


def _line(section: Section, s: Complex) -> tuple[Complex, Complex]:
    """Admittances of a line at its own end, and from end to end, less the half cells that stand in the networks: those of a two-port of
    the propagation g and the impedance Z, coth(g)/Z and -1/(Z sinh(g)), either sign of the root."""
    z = section.resistance + s * section.inductance + sum(r * s * l / (r + s * l) for r, l in section.series_branches)
    y = section.conductance + s * section.capacitance + sum(g * s * c / (g + s * c) for g, c in section.shunt_branches)
    angle = section.cells * np.sqrt(z * y)
    angle = np.where(angle.real < 0, -angle, angle)
    once = np.exp(-angle)
    over = angle / (section.cells * z) / (1 - once**2)
    return (1 + once**2) * over - y / 2, -2 * once * over
