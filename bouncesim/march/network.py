"""Lumped networks by the implicit midpoint rule, constraints removed, energy exact at every step.

States x = (voltages of the tree's capacitors, currents of the link inductors). With F the fundamental loop matrix of the normal tree,
v_link = F^T v_tree, i_tree = -F i_link, and s the EMF, the circuit is

    M x' + m s' = -K x + B_j j + B_s s,     M = diag(C_t + F_CC C_l F_CC^T, L_l + F_LL^T L_t F_LL),

where j are the currents into the lines at the ports, and m couples the EMF through capacitors that close a loop with an ideal source. M
is symmetric and positive. With M = N N^T and z = N^T (x + M^-1 m s) this is N z' = -K x + B_j j + B_s s: no derivative of the EMF is
left, and the stored energy is 1/2 |z|^2 + 1/2 c s^2. The midpoint rule, (z+ - z)/dt taken at the mean of old and new, keeps the balance

    change of stored energy = dt (EMF power - sum R i_R^2 - port powers)

exactly, since Tellegen's theorem holds for the mean voltages and currents of a step. Everything else (branch currents, node voltages) is
linear in (z, j, s mean, s change/dt) and becomes a row over these inputs. Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.graph import Circuit, loops, normal_tree, paths_to_ground

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Discrete:
    """One network, ready to step. Rows over the inputs (z, j, s mean, s change/dt).

    step: (states, inputs), z at the next step. voltage: (nodes, inputs), mean node voltages over the step. voltage_next: (nodes, inputs),
    node voltages at its end, for nodes that hang on capacitors and sources alone, as ports do. current: (branches, inputs), mean branch
    currents. emf_energy: c of the stored energy 1/2 |z|^2 + 1/2 c s^2."""

    states: int
    ports: int
    step: Array
    voltage: Array
    voltage_next: Array
    current: Array
    emf_energy: float


class _Split:
    """A circuit cut by tree and kind: block("C", "R") of the loop matrix has the tree's capacitors against the link resistors."""

    def __init__(self, circuit: Circuit, emf: int | None) -> None:
        self.circuit, self.emf = circuit, emf
        self.tree, self.links = normal_tree(circuit)
        self.reach = paths_to_ground(circuit, self.tree)
        self.matrix = loops(circuit, self.tree, self.links)
        if self.chords("E"):
            raise ValueError("a loop of voltage sources and branches of no resistance")
        if self.block("R", "J").any() or self.block("L", "J").any():
            raise ValueError("a port needs a capacitance across it")
        self.n_c, self.n_l, self.n_j = len(self.twigs("C")), len(self.chords("L")), len(self.chords("J"))
        self.n_z = self.n_c + self.n_l

    def _row(self, kind: str, among: list[int]) -> NDArray[np.intp]:
        return np.array([n for n, k in enumerate(among) if self.circuit.branches[k].kind == kind], dtype=np.intp)

    def block(self, twig: str, link: str) -> Array:
        return self.matrix[np.ix_(self._row(twig, self.tree), self._row(link, self.links))]

    def emf_in(self, link: str) -> Array:
        """How the EMF enters the loops of the links of this kind."""
        return self.block("E", link)[self.twigs("E").index(self.emf)] if self.emf is not None else np.zeros(len(self.chords(link)))

    def twigs(self, kind: str) -> list[int]:
        return self.circuit.indices(kind, self.tree)

    def chords(self, kind: str) -> list[int]:
        return self.circuit.indices(kind, self.links)

    def values(self, indices: list[int]) -> Array:
        return np.array([self.circuit.branches[k].value for k in indices], dtype=np.float64)


@dataclass(frozen=True)
class _Storage:
    """N^-1 of M = N N^T, the shift M^-1 m of the states by the EMF, and the EMF's own energy c."""

    unroot: Array
    shift: Array
    emf_energy: float


def _storage(split: _Split) -> _Storage:
    c_l, l_t = split.values(split.chords("C")), split.values(split.twigs("L"))
    f_cc, f_ll, emf_c = split.block("C", "C"), split.block("L", "L"), split.emf_in("C")
    mass = np.zeros((split.n_z, split.n_z))
    mass[: split.n_c, : split.n_c] = np.diag(split.values(split.twigs("C"))) + f_cc * c_l @ f_cc.T
    mass[split.n_c :, split.n_c :] = np.diag(split.values(split.chords("L"))) + f_ll.T * l_t @ f_ll
    drive = np.concatenate([f_cc * c_l @ emf_c, np.zeros(split.n_l)])
    # Each state gets its own unit first: capacitances are 1e-12 where inductances are 1e-6.
    unit = np.sqrt(np.diag(mass))
    unroot = np.linalg.inv(np.linalg.cholesky(mass / np.outer(unit, unit))) / unit
    shift = unroot.T @ (unroot @ drive)
    return _Storage(unroot, shift, float(c_l @ emf_c**2 - drive @ shift))


def _resistors(split: _Split) -> tuple[Array, Array]:
    """Currents of the link resistors and of the tree's resistors, rows over (x, j, s).

    i_link = (1 + G_l F_RR^T R_t F_RR)^-1 G_l (F_ER^T s + F_CR^T v_C - F_RR^T R_t F_RL i_L), i_twig = -(F_RR i_link + F_RL i_L).
    """
    width = split.n_z + split.n_j + 1
    r_t, g_l = split.values(split.twigs("R")), 1.0 / split.values(split.chords("R"))
    f_rr, f_rl = split.block("R", "R"), split.block("R", "L")
    pull = np.zeros((len(g_l), width))
    pull[:, : split.n_c] = split.block("C", "R").T
    pull[:, split.n_c : split.n_z] = -f_rr.T * r_t @ f_rl
    pull[:, -1] = split.emf_in("R")
    link = np.linalg.solve(np.eye(len(g_l)) + (g_l[:, None] * f_rr.T * r_t) @ f_rr, g_l[:, None] * pull)
    return link, -(f_rr @ link + f_rl @ np.eye(split.n_z, width)[split.n_c :])


def _forces(split: _Split, i_link: Array, i_twig: Array) -> Array:
    """Right-hand side of M x' + m s' = ..., rows over (x, j, s): currents into the capacitors, voltages across the inductors."""
    n_c, n_z = split.n_c, split.n_z
    width = n_z + split.n_j + 1
    push = np.zeros((n_z, width))
    push[:n_c] = -(split.block("C", "R") @ i_link + split.block("C", "L") @ np.eye(n_z, width)[n_c:])
    push[:n_c, n_z : n_z + split.n_j] -= split.block("C", "J")
    push[n_c:, :n_c] += split.block("C", "L").T
    push[n_c:] += split.block("R", "L").T @ (split.values(split.twigs("R"))[:, None] * i_twig)
    push[n_c:, -1] += split.emf_in("L")
    return push


def _midpoint(split: _Split, storage: _Storage, push: Array, dt: float) -> Array:
    """zbar, rows over the inputs: (2/dt)(zbar - z) = N^-1 push (xbar, j, sbar), xbar = N^-T zbar - M^-1 m sbar."""
    n_z, n_j = split.n_z, split.n_j
    force = storage.unroot @ push
    right = np.zeros((n_z, n_z + n_j + 2))
    right[:, :n_z] = 2 / dt * np.eye(n_z)
    right[:, n_z : n_z + n_j] = force[:, n_z : n_z + n_j]
    right[:, -2] = force[:, -1] - force[:, :n_z] @ storage.shift
    return np.linalg.solve(2 / dt * np.eye(n_z) - force[:, :n_z] @ storage.unroot.T, right)


def discretise(circuit: Circuit, dt: float, emf: int | None) -> Discrete:
    """Turn a circuit into its one-step rows.

    dt in s; emf: index of the branch that is the EMF, or None. Raises ValueError for a loop of voltage sources, a port without a
    capacitance across it, or a node that hangs on nothing.
    """
    split = _Split(circuit, emf)
    n_c, n_z, n_j = split.n_c, split.n_z, split.n_j
    storage = _storage(split)
    i_link, i_twig = _resistors(split)
    z_mean = _midpoint(split, storage, _forces(split, i_link, i_twig), dt)
    inputs = np.eye(n_z + n_j + 2)
    z_now, j, s_mean, s_change = inputs[:n_z], inputs[n_z : n_z + n_j], inputs[-2], inputs[-1]
    z_next, s_next = 2 * z_mean - z_now, s_mean + dt / 2 * s_change
    x_mean = storage.unroot.T @ z_mean - np.outer(storage.shift, s_mean)
    x_next = storage.unroot.T @ z_next - np.outer(storage.shift, s_next)
    x_rate = storage.unroot.T @ (2 / dt * (z_mean - z_now)) - np.outer(storage.shift, s_change)

    given = np.vstack([x_mean, j, s_mean])
    f_cc, f_ll = split.block("C", "C"), split.block("L", "L")
    current = np.zeros((len(circuit.branches), len(inputs)))
    current[split.chords("C")] = split.values(split.chords("C"))[:, None] * (f_cc.T @ x_rate[:n_c] + np.outer(split.emf_in("C"), s_change))
    current[split.twigs("C")] = split.values(split.twigs("C"))[:, None] * x_rate[:n_c]
    current[split.chords("R")], current[split.twigs("R")] = i_link @ given, i_twig @ given
    current[split.chords("L")], current[split.twigs("L")] = x_mean[n_c:], -f_ll @ x_mean[n_c:]
    current[split.chords("J")] = j
    current[split.twigs("E")] = -sum(split.block("E", kind) @ current[split.chords(kind)] for kind in "CRLJ")

    mean, after = np.zeros_like(current), np.zeros_like(current)  # voltages of the tree's branches
    mean[split.twigs("C")], after[split.twigs("C")] = x_mean[:n_c], x_next[:n_c]
    mean[split.twigs("R")] = split.values(split.twigs("R"))[:, None] * current[split.twigs("R")]
    mean[split.twigs("L")] = split.values(split.twigs("L"))[:, None] * (-f_ll @ x_rate[n_c:])
    if emf is not None:
        mean[emf], after[emf] = s_mean, s_next
    return Discrete(n_z, n_j, z_next, split.reach @ mean, split.reach @ after, current, storage.emf_energy)
