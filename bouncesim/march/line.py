"""The line between two networks: leapfrog of the telegrapher equations, and its energy.

dV/dx = -R I - L dI/dt, dI/dx = -G V - C dV/dt, with V on N + 1 nodes at whole steps and I in N cells at half steps (K. S. Yee, IEEE
Trans. AP-14, 1966, in one dimension; C. R. Paul, Analysis of Multiconductor Transmission Lines, ch. 8). With R, L, G, C of one cell and
loss taken at the mean of two steps,

    I+ = aI I- + bI (V_k - V_k+1),        bI = 1/(L/dt + R/2),  aI = (L/dt - R/2) bI
    V_k(n+1) = aV V_k(n) + bV (I+_k-1/2 - I+_k+1/2),   bV = 1/(C/dt + G/2),  aV = (C/dt - G/2) bV.

The end nodes belong to the networks, which hold half a cell of C and G for each line end.

Energy. Multiply the voltage equation by Vbar = (V(n+1) + V(n))/2 and sum; the current equation at n by Ibar = (I+ + I-)/2 likewise. The
mixed terms telescope when the magnetic energy is taken as 1/2 L I+ I- and corrected for the loss voltage u = R Ibar between the two half
steps:

    W_n = 1/2 sum C V^2 + sum [1/2 L I+ I- - (dt/4)(I+ - I-) u],   Q_n = sum R Ibar^2,
    W_n+1 - W_n = energy in through the ends - dt sum G Vbar^2 - (dt/2)(Q_n + Q_n+1).

Since (I+ - I-) u = (R/2)(I+^2 - I-^2), four sums a step hold everything: sum V^2, sum I+ I-, sum I+^2 and sum V(n+1) V(n), inner nodes
only. W >= 0 for dt <= sqrt(L C).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.jit import compiled, inlined

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """One line on the grid: N cells; R (ohm), L (H), G (S), C (F) of one cell; length m; Courant number nu = N dt/delay."""

    name: str
    cells: int
    resistance: float
    inductance: float
    conductance: float
    capacitance: float
    length_m: float
    delay_s: float
    nu: float
    series_branches: tuple[tuple[float, float], ...] = ()  # (R_j, L_j) of one cell: see wideband.py
    shunt_branches: tuple[tuple[float, float], ...] = ()  # (G_j, C_j) of one cell

    @property
    def reference_ohm(self) -> float:
        """sqrt(L/C), the real impedance that the line's waves refer to."""
        return float(np.sqrt(self.inductance / self.capacitance))

    def coefficients(self, dt: float) -> Array:
        """The row (aI, bI, aV, bV, C, L, R, G) that the kernels take; in a, b the branches count as what they resist within a step."""
        resistance = self.resistance + sum(r * (1 - r / 2 / (l / dt + r / 2)) for r, l in self.series_branches)
        conductance = self.conductance + sum(g * (1 - g / 2 / (c / dt + g / 2)) for g, c in self.shunt_branches)
        b_i = 1 / (self.inductance / dt + resistance / 2)
        b_v = 1 / (self.capacitance / dt + conductance / 2)
        return np.array(
            [
                (self.inductance / dt - resistance / 2) * b_i,
                b_i,
                (self.capacitance / dt - conductance / 2) * b_v,
                b_v,
                self.capacitance,
                self.inductance,
                self.resistance,
                self.conductance,
            ]
        )


def at_rest(nodes: int, cells: int) -> tuple[Array, Array]:
    """v (nodes,) and i (cells,), all 0, where memory suits the update best, or chance would decide how long a step takes (by a fifth): the
    second place of each, where the loop begins, at the start of a cache line of 64 bytes, and the two half a page of 4096 bytes apart,
    whatever whole pages lie between."""
    line, page = 8, 512  # in numbers
    apart = -(-nodes // page) * page + page // 2
    room = np.zeros(line + apart + cells)
    first = (-room.ctypes.data // 8 - 1) % line
    return room[first : first + nodes], room[first + apart : first + apart + cells]


@inlined
def advance_cells(v, i, a_i, b_i, a_v, b_v):
    """One step of one line, in place: v (N+1,) inner nodes to n+1, i (N,) to n+1/2. Returns the four sums of the module's energy.

    Each cell's current is taken from the old voltages on both its sides, then the node behind it, whose two currents are new by then.
    """
    old = i[0]
    before = a_i * old + b_i * (v[0] - v[1])
    i[0] = before
    sum_vv, sum_vw = 0.0, 0.0
    sum_ii, sum_pp = old * before, before * before
    for k in range(1, i.size):
        old = i[k]
        now = a_i * old + b_i * (v[k] - v[k + 1])
        i[k] = now
        volts = v[k]
        new = a_v * volts + b_v * (before - now)
        v[k] = new
        before = now
        sum_ii += old * now
        sum_pp += now * now
        sum_vv += volts * volts
        sum_vw += volts * new
    return sum_vv, sum_ii, sum_pp, sum_vw


@compiled
def advance_cells_bare(v, i, a_i, b_i, a_v, b_v):
    """The same update without the sums: what the benchmark measures the whole step against."""
    before = a_i * i[0] + b_i * (v[0] - v[1])
    i[0] = before
    for k in range(1, i.size):
        now = a_i * i[k] + b_i * (v[k] - v[k + 1])
        i[k] = now
        v[k] = a_v * v[k] + b_v * (before - now)
        before = now


@inlined
def midstep(v, v_old, i, v0, i0, n, capacitance, conductance, dt, mid):
    """Voltage and current at t_n+1/2 of every node of one line, whose product is the exact energy flux, into mid (2, K).

    v, v_old (K,), i (M,) of all lines; this one: first node v0, first cell i0, n cells. The voltage is the mean of two steps; the current
    the mean of the two neighbours, at an end the end cell's current, with the half cell's own current added at the near end and
    subtracted at the far end.
    """
    for k in range(n + 1):
        mid[0, v0 + k] = 0.5 * (v[v0 + k] + v_old[v0 + k])
    for k in range(1, n):
        mid[1, v0 + k] = 0.5 * (i[i0 + k - 1] + i[i0 + k])
    end = v0 + n
    mid[1, v0] = i[i0] + 0.5 * (capacitance * (v[v0] - v_old[v0]) / dt + conductance * mid[0, v0])
    mid[1, end] = i[i0 + (n - 1)] - 0.5 * (capacitance * (v[end] - v_old[end]) / dt + conductance * mid[0, end])
