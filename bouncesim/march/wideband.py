"""The leapfrog of a line whose loss depends on frequency: branches in every cell, and their energy.

In series with each cell's R and L stand pairs of a resistor R_j and an inductor L_j in parallel, currents i_j in the inductors at half
steps; across each node's G and C stand pairs of a resistor G_j and a capacitor C_j in series, voltages v_j across the capacitors at whole
steps. Both by the midpoint rule:

    L_j (i_j+ - i_j-)/dt = R_j (Ibar - ibar_j),     u = R Ibar + sum R_j (Ibar - ibar_j)
    C_j (v_j(n+1) - v_j(n))/dt = G_j (Vbar - vbar_j),

solved for i_j+ and v_j(n+1), which leaves the plain update of line.py with R + sum R_j (1 - c_j), G + sum G_j (1 - d_j) and what the
branches remember. The energy follows as there, u being the whole loss voltage: Ibar R_j (Ibar - ibar_j) is the heat of the pair and,
since R_j (Ibar - ibar_j) ibar_j = L_j (i_j+^2 - i_j-^2)/(2 dt), a change of what it stores. So

    W_n gains 1/4 sum L_j (i_j+^2 + i_j-^2) + 1/2 sum C_j v_j^2,   Q_n gains sum R_j (Ibar - ibar_j)^2,   and each step's heat sum G_j
    (Vbar - vbar_j)^2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.jit import inlined

Array = NDArray[np.float64]

# Columns of a branch: its resistance or conductance, its inductance or capacitance, what stays of its state in a step, what a step adds of
# the sum of old and new drive, and what its memory pushes back.
SIZE, STORE, STAYS, ADDS, PUSHES = 0, 1, 2, 3, 4


def branch_row(size: float, store: float, dt: float) -> list[float]:
    """(R_j, L_j) or (G_j, C_j) of a cell, and its midpoint step: state+ = stays state + adds (drive + drive+)."""
    stays = (store / dt - size / 2) / (store / dt + size / 2)
    adds = size / 2 / (store / dt + size / 2)
    return [size, store, stays, adds, size * (1 + stays) / 2]


@inlined
def advance_cells_wideband(v, i, i_branch, v_branch, coefficients, series, shunt, dt):
    """One step of one line, in place: v (N+1,), i (N,), i_branch (N, J), v_branch (N+1, K); the end nodes belong to the networks.

    coefficients (8,): aI, bI, aV, bV with the branches' part in, then C, L, R, G. series (J, 5), shunt (K, 5). Returns the energy at t_n,
    the loss Q_n of the series side, and the heat (W) of the shunt side over this step.
    """
    a_i, b_i, a_v, b_v = coefficients[0], coefficients[1], coefficients[2], coefficients[3]
    c, l, r, g = coefficients[4], coefficients[5], coefficients[6], coefficients[7]
    energy, loss, heat = 0.0, 0.0, 0.0
    before = 0.0
    for k in range(i.size):
        old = i[k]
        memory = 0.0
        for j in range(series.shape[0]):
            memory += series[j, PUSHES] * i_branch[k, j]
        now = a_i * old + b_i * (v[k] - v[k + 1] + memory)
        i[k] = now
        mean = 0.5 * (now + old)
        volts = r * mean
        loss += r * mean * mean
        for j in range(series.shape[0]):
            past = i_branch[k, j]
            new = series[j, STAYS] * past + series[j, ADDS] * (now + old)
            i_branch[k, j] = new
            drop = mean - 0.5 * (new + past)
            volts += series[j, SIZE] * drop
            loss += series[j, SIZE] * drop * drop
            energy += 0.25 * series[j, STORE] * (new * new + past * past)
        energy += 0.5 * l * old * now - 0.25 * dt * (now - old) * volts
        if k > 0:
            v_old = v[k]
            memory = 0.0
            for j in range(shunt.shape[0]):
                memory += shunt[j, PUSHES] * v_branch[k, j]
            v_new = a_v * v_old + b_v * (before - now + memory)
            v[k] = v_new
            mean = 0.5 * (v_new + v_old)
            heat += g * mean * mean
            energy += 0.5 * c * v_old * v_old
            for j in range(shunt.shape[0]):
                past = v_branch[k, j]
                new = shunt[j, STAYS] * past + shunt[j, ADDS] * (v_new + v_old)
                v_branch[k, j] = new
                drop = mean - 0.5 * (new + past)
                heat += shunt[j, SIZE] * drop * drop
                energy += 0.5 * shunt[j, STORE] * past * past
        before = now
    return energy, loss, heat


@inlined
def correct_ends(v, v_old, i, v0, i0, n, capacitance, conductance, dt, mid):
    """Add to line.midstep's end currents what the half cell's own shunt branches take there, carried on from the two nodes beside it.

    Inside the line what a node's branches take is the difference of its two currents less that of C and G; along the line it changes as
    smoothly as the voltage, so that a straight line through two nodes is as good as the grid. The arguments are those of midstep.
    """
    if n >= 3:
        for end in range(2):
            near, beyond = (1, 2) if end == 0 else (n - 1, n - 2)
            taken = 0.0
            for k, weight in ((near, 2.0), (beyond, -1.0)):
                node, cell = v0 + k, i0 + k
                through = capacitance * (v[node] - v_old[node]) / dt + conductance * mid[0, node]
                taken += weight * (i[cell - 1] - i[cell] - through)
            if end == 0:
                mid[1, v0] += 0.5 * taken
            else:
                mid[1, v0 + n] -= 0.5 * taken
