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

from bouncesim.march.graph import KINDS, Circuit, loops, normal_tree, paths_to_ground

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
        tree, links = normal_tree(circuit)
        self.reach = paths_to_ground(circuit, tree)
        self.matrix = loops(circuit, self.reach, tree, links)
        self._twigs, self._chords = self._by_kind(tree), self._by_kind(links)
        if self.chords("E"):
            raise ValueError("a loop of voltage sources and branches of no resistance")
        if self.block("R", "J").any() or self.block("L", "J").any():
            raise ValueError("a port needs a capacitance across it")
        self.n_c, self.n_l, self.n_j = len(self.twigs("C")), len(self.chords("L")), len(self.chords("J"))
        self.n_z = self.n_c + self.n_l

    def _by_kind(self, among: list[int]) -> dict[str, tuple[list[int], slice]]:
        """Indices of the branches of each kind, and where they stand: a normal tree has all of a kind together."""
        found, begin = {}, 0
        for kind in KINDS:
            indices = self.circuit.indices(kind, among)
            found[kind] = indices, slice(begin, begin + len(indices))
            begin += len(indices)
        return found

    def block(self, twig: str, link: str) -> Array:
        return self.matrix[self._twigs[twig][1], self._chords[link][1]]

    def emf_in(self, link: str) -> Array:
        """How the EMF enters the loops of the links of this kind."""
        return self.block("E", link)[self.twigs("E").index(self.emf)] if self.emf is not None else np.zeros(len(self.chords(link)))

    def twigs(self, kind: str) -> list[int]:
        return self._twigs[kind][0]

    def chords(self, kind: str) -> list[int]:
        return self._chords[kind][0]

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


def _midpoint(split: _Split, storage: _Storage, dt: float) -> tuple[Array, Array, Array]:
    """Mean states zbar, mean currents i of the link resistors and mean voltages v of the tree's over a step, rows over the inputs
    (z, j, s mean, s change/dt):

        (2/dt)(zbar - z) = N^-1 (A xbar - F_CR i + F_RL^T v + B_j j + B_s sbar),     xbar = N^-T zbar - M^-1 m sbar,
        R_l i = F_CR^T v_C + F_RR^T v + F_ER^T sbar,          v/R_t = -(F_RR i + F_RL i_L).

    Each i is an unknown of its own, in units of sqrt(2/(R dt)), and each v in units of sqrt(2 R/dt): the current in a milliohm, as a
    difference of voltages times 1/R, would lose five digits, and so would the voltage across a gigohm between two coils, as R times a
    difference of their currents; and the books with them. In these units the matrix is the identity and a skew one: nothing in it is
    near to singular, whatever the values.
    """
    n_c, n_z, n_j = split.n_c, split.n_z, split.n_j
    r_t, r_l = split.values(split.twigs("R")), split.values(split.chords("R"))
    f_cl, f_cr, f_rl, u = split.block("C", "L"), split.block("C", "R"), split.block("R", "L"), storage.unroot
    unit = np.concatenate([np.sqrt(2 / dt / r_l), np.sqrt(2 / dt * r_t)])
    a = np.zeros((n_z, n_z))
    a[:n_c, n_c:], a[n_c:, :n_c] = -f_cl, f_cl.T
    d = np.zeros((n_z, len(unit)))  # how i and v drive the states
    d[:n_c, : len(r_l)], d[n_c:, len(r_l) :] = -f_cr, f_rl.T
    between = np.zeros((len(unit), len(unit)))  # and each other
    between[: len(r_l), len(r_l) :] = split.block("R", "R").T
    between -= between.T
    drive = np.concatenate([np.zeros(n_c), split.emf_in("L")])
    drop = np.concatenate([split.emf_in("R"), np.zeros(len(r_t))])

    to_states, row = dt / 2 * (u @ d) * unit, dt / 2 * unit
    left = np.eye(n_z + len(unit))
    left[:n_z, :n_z] -= dt / 2 * (u @ a @ u.T)
    left[n_z:, n_z:] -= row[:, None] * between * unit
    left[:n_z, n_z:], left[n_z:, :n_z] = -to_states, to_states.T
    right = np.zeros((len(left), n_z + n_j + 2))
    right[:n_z, :n_z] = np.eye(n_z)
    right[:n_z, n_z : n_z + n_j] = -dt / 2 * u[:, :n_c] @ split.block("C", "J")
    right[:n_z, -2] = dt / 2 * u @ (drive - a @ storage.shift)
    right[n_z:, -2] = row * (drop + d.T @ storage.shift)
    z_mean, i_link, v_tree = np.split(np.linalg.solve(left, right), [n_z, n_z + len(r_l)])
    return z_mean, unit[: len(r_l), None] * i_link, unit[len(r_l) :, None] * v_tree


def discretise(circuit: Circuit, dt: float, emf: int | None) -> Discrete:
    """Turn a circuit into its one-step rows.

    dt in s; emf: index of the branch that is the EMF, or None. Raises ValueError for a loop of voltage sources, a port without a
    capacitance across it, or a node that hangs on nothing.
    """
    split = _Split(circuit, emf)
    n_c, n_z, n_j = split.n_c, split.n_z, split.n_j
    storage = _storage(split)
    z_mean, i_link, v_tree = _midpoint(split, storage, dt)
    inputs = np.eye(n_z + n_j + 2)
    z_now, j, s_mean, s_change = inputs[:n_z], inputs[n_z : n_z + n_j], inputs[-2], inputs[-1]
    z_next, s_next = 2 * z_mean - z_now, s_mean + dt / 2 * s_change
    x_mean = storage.unroot.T @ z_mean - np.outer(storage.shift, s_mean)
    x_next = storage.unroot.T @ z_next - np.outer(storage.shift, s_next)
    x_rate = storage.unroot.T @ (2 / dt * (z_mean - z_now)) - np.outer(storage.shift, s_change)

    f_cc, f_ll = split.block("C", "C"), split.block("L", "L")
    current = np.zeros((len(circuit.branches), len(inputs)))
    current[split.chords("C")] = split.values(split.chords("C"))[:, None] * (f_cc.T @ x_rate[:n_c] + np.outer(split.emf_in("C"), s_change))
    current[split.twigs("C")] = split.values(split.twigs("C"))[:, None] * x_rate[:n_c]
    current[split.chords("R")] = i_link
    current[split.twigs("R")] = v_tree / split.values(split.twigs("R"))[:, None]
    current[split.chords("L")], current[split.twigs("L")] = x_mean[n_c:], -f_ll @ x_mean[n_c:]
    current[split.chords("J")] = j
    current[split.twigs("E")] = -sum(split.block("E", kind) @ current[split.chords(kind)] for kind in "CRLJ")

    mean, after = np.zeros_like(current), np.zeros_like(current)  # voltages of the tree's branches
    mean[split.twigs("C")], after[split.twigs("C")] = x_mean[:n_c], x_next[:n_c]
    mean[split.twigs("R")] = v_tree
    mean[split.twigs("L")] = split.values(split.twigs("L"))[:, None] * (-f_ll @ x_rate[n_c:])
    if emf is not None:
        mean[emf], after[emf] = s_mean, s_next
    return Discrete(n_z, n_j, z_next, split.reach @ mean, split.reach @ after, current, storage.emf_energy)
