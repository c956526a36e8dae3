"""Lumped networks by the implicit midpoint rule, constraints removed, energy exact at every step.

States x = (voltages of the tree's capacitors, currents of the link inductors). With F the fundamental loop matrix of the normal tree,
v_link = F^T v_tree, i_tree = -F i_link, and s the EMF, the circuit is

    M x' + m s' = -K x + B_j j + B_s s,     M = diag(C_t + F_CC C_l F_CC^T, L_l + F_LL^T L_t F_LL),

where j are the currents into the lines at the ports, and m couples the EMF through capacitors that close a loop with an ideal source.
M is symmetric and positive. With M = N N^T and z = N^T (x + M^-1 m s) this is N z' = -K x + B_j j + B_s s: no derivative of the EMF is left,
and the stored energy is 1/2 |z|^2 + 1/2 c s^2. The midpoint rule, (z+ - z)/dt taken at the mean of old and new, keeps the balance

    change of stored energy = dt (EMF power - sum R i_R^2 - port powers)

exactly, since Tellegen's theorem holds for the mean voltages and currents of a step. Everything else (branch currents, node voltages) is linear in
(z, j, s mean, s change/dt) and becomes a row of one precomputed matrix.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.graph import Circuit, loops, normal_tree, paths_to_ground

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Discrete:
    """One network, ready to step: rows over the inputs (z, j, s mean, s change/dt).

    step: (states, inputs) gives z at the next step; voltage: (nodes, inputs) mean node voltages over the step; voltage_next: (nodes, inputs) node voltages
    at its end; current: (branches, inputs) mean branch currents. emf_energy: c of the stored energy 1/2 |z|^2 + 1/2 c s^2.
    """

    states: int
    ports: int
    step: Array
    voltage: Array
    voltage_next: Array
    current: Array
    emf_energy: float


class _Split:
    """Loop matrix, cut into blocks by kind: block("C", "R") has the tree's capacitors against the link resistors."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.tree, self.links = normal_tree(circuit)
        self.reach = paths_to_ground(circuit, self.tree)
        self.matrix = loops(circuit, self.tree, self.links)
        if self._row("E", self.links).size:
            raise ValueError("a loop of voltage sources and branches of no resistance")
        if self.block("R", "J").any() or self.block("L", "J").any():
            raise ValueError("a port needs a capacitance across it")

    def _row(self, kind: str, among: list[int]) -> NDArray[np.intp]:
        return np.array([n for n, k in enumerate(among) if self.circuit.branches[k].kind == kind], dtype=np.intp)

    def block(self, twig: str, link: str) -> Array:
        return self.matrix[np.ix_(self._row(twig, self.tree), self._row(link, self.links))]

    def twigs(self, kind: str) -> list[int]:
        return self.circuit.indices(kind, self.tree)

    def chords(self, kind: str) -> list[int]:
        return self.circuit.indices(kind, self.links)

    def values(self, indices: list[int]) -> Array:
        return np.array([self.circuit.branches[k].value for k in indices], dtype=np.float64)


def discretise(circuit: Circuit, dt: float, emf: int | None) -> Discrete:
    """Turn a circuit into its one-step matrices.

    dt in s; emf: index of the branch that is the EMF, or None. Raises ValueError for a loop of voltage sources, a port without a capacitance
    across it, or a node that hangs on nothing.
    """
    split = _Split(circuit)
    c_twigs, l_chords, ports = split.twigs("C"), split.chords("L"), split.chords("J")
    n_c, n_l, n_j = len(c_twigs), len(l_chords), len(ports)
    n_z = n_c + n_l
    n_in = n_z + n_j + 2
    emf_row = split.twigs("E").index(emf) if emf is not None else None

    def emf_of(kind: str) -> Array:
        """How the EMF enters the loops of links of this kind."""
        return split.block("E", kind)[emf_row] if emf_row is not None else np.zeros(len(split.chords(kind)))

    # Storage: M x' + m s'
    c_l, c_t = split.values(split.chords("C")), split.values(c_twigs)
    l_l, l_t = split.values(l_chords), split.values(split.twigs("L"))
    f_cc, f_ll = split.block("C", "C"), split.block("L", "L")
    mass = np.zeros((n_z, n_z))
    mass[:n_c, :n_c] = np.diag(c_t) + f_cc * c_l @ f_cc.T
    mass[n_c:, n_c:] = np.diag(l_l) + f_ll.T * l_t @ f_ll
    drive_mass = np.concatenate([f_cc * c_l @ emf_of("C"), np.zeros(n_l)])
    # A unit of scale a state keeps the factorisation well conditioned: capacitances are 1e-12 where inductances are 1e-6.
    scale = np.sqrt(np.diag(mass))
    root = scale[:, None] * np.linalg.cholesky(mass / np.outer(scale, scale)) if n_z else np.zeros((0, 0))
    emf_shift = np.linalg.solve(root @ root.T, drive_mass) if n_z else np.zeros(0)
    emf_energy = float(c_l @ emf_of("C") ** 2 - drive_mass @ emf_shift)

    # Resistors, as rows over (x, j, s): i_link = A (F_ER^T s + F_CR^T v_C - F_RR^T R_t F_RL i_L), v_twig = -R_t (F_RR i_link + F_RL i_L).
    width = n_z + n_j + 1
    r_t, g_l = split.values(split.twigs("R")), 1.0 / split.values(split.chords("R"))
    f_rr, f_rl, f_cr = split.block("R", "R"), split.block("R", "L"), split.block("C", "R")
    pull = np.zeros((len(g_l), width))
    pull[:, :n_c] = f_cr.T
    pull[:, n_c:n_z] = -f_rr.T * r_t @ f_rl
    pull[:, -1] = emf_of("R")
    i_rl = np.linalg.solve(np.eye(len(g_l)) + (g_l[:, None] * f_rr.T * r_t) @ f_rr, g_l[:, None] * pull)
    i_l = np.eye(n_z, width)[n_c:]
    i_rt = -(f_rr @ i_rl + f_rl @ i_l)
    v_rt = r_t[:, None] * i_rt

    # Forces: M x' + m s' = push (x, j, s)
    push = np.zeros((n_z, width))
    push[:n_c] = -(f_cr @ i_rl + split.block("C", "L") @ i_l)
    push[:n_c, n_z : n_z + n_j] -= split.block("C", "J")
    push[n_c:, :n_c] += split.block("C", "L").T
    push[n_c:] += f_rl.T @ v_rt
    push[n_c:, -1] += emf_of("L")

    # Midpoint rule in z: (2/dt)(zbar - z) = N^-1 push (xbar, j, sbar), xbar = N^-T zbar - M^-1 m sbar.
    unroot = np.linalg.inv(root) if n_z else np.zeros((0, 0))
    force = unroot @ push
    by_s = force[:, -1] - force[:, :n_z] @ emf_shift
    system = 2 / dt * np.eye(n_z) - force[:, :n_z] @ unroot.T
    right = np.zeros((n_z, n_in))
    right[:, :n_z] = 2 / dt * np.eye(n_z)
    right[:, n_z : n_z + n_j] = force[:, n_z : n_z + n_j]
    right[:, -2] = by_s
    z_mean = np.linalg.solve(system, right)
    z_now = np.eye(n_z, n_in)
    z_next = 2 * z_mean - z_now

    # Rows over (z, j, s mean, s change/dt) for everything that can be read.
    s_mean, s_change = np.eye(n_in)[-2], np.eye(n_in)[-1]
    x_mean = unroot.T @ z_mean - np.outer(emf_shift, s_mean)
    x_next = unroot.T @ z_next - np.outer(emf_shift, s_mean + dt / 2 * s_change)
    x_rate = unroot.T @ (z_next - z_now) / dt - np.outer(emf_shift, s_change)
    j = np.eye(n_in)[n_z : n_z + n_j]
    from_state = np.vstack([x_mean, j, s_mean])
    rate_cl = f_cc.T @ x_rate[:n_c] + np.outer(emf_of("C"), s_change)
    current = np.zeros((len(circuit.branches), n_in))
    current[split.chords("C")] = c_l[:, None] * rate_cl
    current[c_twigs] = c_t[:, None] * x_rate[:n_c]
    current[split.chords("R")] = i_rl @ from_state
    current[split.twigs("R")] = i_rt @ from_state
    current[l_chords] = x_mean[n_c:]
    current[split.twigs("L")] = -f_ll @ x_mean[n_c:]
    current[ports] = j
    current[split.twigs("E")] = -sum(split.block("E", kind) @ current[split.chords(kind)] for kind in "CRLJ")

    def node_voltages(x: Array, rate: Array, resistive: Array, s: Array) -> Array:
        v_tree = np.zeros((len(circuit.branches), n_in))
        v_tree[c_twigs] = x[:n_c]
        v_tree[split.twigs("R")] = resistive
        v_tree[split.twigs("L")] = l_t[:, None] * (-f_ll @ rate[n_c:])
        if emf is not None:
            v_tree[emf] = s
        return split.reach @ v_tree

    mean = node_voltages(x_mean, x_rate, v_rt @ from_state, s_mean)
    # Only port nodes are asked for at whole steps, and those hang on capacitors and sources alone.
    after = node_voltages(x_next, 0 * x_rate, 0 * (v_rt @ from_state), s_mean + dt / 2 * s_change)
    return Discrete(n_z, n_j, z_next, mean, after, current, emf_energy)
