"""The time loop, and nothing else: lines, energy, networks, in that order, many steps a call.

The books run one step behind on purpose: the energy at t_n needs the currents at n - 1/2 and at n + 1/2, so what the networks booked
between n - 1 and n is closed when the lines have moved on.
"""

from __future__ import annotations

import math

from bouncesim.march.jit import compiled, inlined
from bouncesim.march.line import advance_cells, midstep
from bouncesim.march.wideband import advance_cells_wideband, correct_ends

# Places in `scalars`.
ENERGY, EMF_POWER, NET, WORST, EMF_J, SCALE = 0, 1, 2, 3, 4, 5
# Places in the state of a control of the drive; GAIN is the root of SHARE, and 1 where there is none.
SHARE, GAIN, SUM, FRESH, AT, LOWEST, HIGHEST = 0, 1, 2, 3, 4, 5, 6
# Columns of a section's memory.
SUM_PP, SUM_VV, SUM_VW, LOSS = 0, 1, 2, 3
SHUNT = 0  # of a wideband line, in place of the sums
# What a stretch of steps also watches; the two add up.
BARE, LARGEST, LOCK_IN = 0, 1, 2  # the last in those steps only that have a weight
UNREAD = 4  # nobody looks at gauges, coils and capacitors: their rows are left out, and stay 0
AT_ONCE = 5  # inputs of a network that are taken in one pass over its rows: most have no more


@inlined
def wide_line(s, v, i, v0, i0, n, coefficients, branches, memory, dt):
    """Move the line s, whose loss depends on frequency, one step: its energy at t_n and its heat since t_n-1.

    branches: counts (S, 2) of series and shunt branches, their rows (S, J, 5) and (S, K, 5) (wideband.branch_row), and their states
    (cells, J) and (nodes, K).
    """
    counts, series, shunt, i_branch, v_branch = branches
    energy, loss, shunt_heat = advance_cells_wideband(
        v[v0 : v0 + (n + 1)],
        i[i0 : i0 + n],
        i_branch[i0 : i0 + n],
        v_branch[v0 : v0 + (n + 1)],
        coefficients[s],
        series[s, : counts[s, 0]],
        shunt[s, : counts[s, 1]],
        dt,
    )
    heat = 0.5 * dt * (loss + memory[s, LOSS]) + dt * memory[s, SHUNT]
    memory[s, LOSS], memory[s, SHUNT] = loss, shunt_heat
    return energy, heat


@inlined
def advance_lines(v, i, bounds, coefficients, branches, memory, line_heat_j, dt):
    """Move every line one step; return the energy on the lines at t_n and the heat made in them since t_n-1.

    bounds (S, 3): first node, first cell, cells. coefficients (S, 8): Section.coefficients. branches: of lines with a wideband loss, see
    `wide_line`; None where there is none, and nothing for such lines is compiled. memory (S, 4): sums of the step before.
    """
    energy, heat_now = 0.0, 0.0
    for s in range(bounds.shape[0]):
        v0, i0, n = bounds[s, 0], bounds[s, 1], bounds[s, 2]
        if branches is not None:
            counts = branches[0]
            if counts[s, 0] + counts[s, 1] > 0:
                wide_energy, heat = wide_line(s, v, i, v0, i0, n, coefficients, branches, memory, dt)
                energy += wide_energy
                line_heat_j[s] += heat
                heat_now += heat
                continue
        vv, ii, pp, vw = advance_cells(
            v[v0 : v0 + (n + 1)], i[i0 : i0 + n], coefficients[s, 0], coefficients[s, 1], coefficients[s, 2], coefficients[s, 3]
        )
        c, l, r, g = coefficients[s, 4], coefficients[s, 5], coefficients[s, 6], coefficients[s, 7]
        loss = 0.25 * r * (pp + memory[s, SUM_PP] + 2.0 * ii)
        energy += 0.5 * c * vv + 0.5 * l * ii - 0.125 * dt * r * (pp - memory[s, SUM_PP])
        heat = 0.5 * dt * (loss + memory[s, LOSS]) + 0.25 * dt * g * (vv + memory[s, SUM_VV] + 2.0 * memory[s, SUM_VW])
        line_heat_j[s] += heat
        heat_now += heat
        memory[s, SUM_PP], memory[s, SUM_VV], memory[s, SUM_VW], memory[s, LOSS] = pp, vv, vw, loss
    return energy, heat_now


@inlined
def close_books(energy, line_heat, y, states, heat_rows, books, scalars, dt):
    """Compare the energy found at t_n with what was booked since t_n-1, keep the worst residual, then book it.

    energy: of lines and EMF. y (Y,): rows of the step from t_n-1 to t_n, each the root of a power, or a state of the networks, the root of
    twice its energy. states: see step_networks. heat_rows (H, 2): a row that is heat, and 1 if it is heat inside the source. The residual
    is measured against the largest energy so far, stored or net: where a station gives all its energy back, what is left for a moment is
    the rounding of what was there.
    """
    for r in range(y.size):
        books[r] += dt * (y[r] * y[r])
    heat, inside = 0.0, 0.0
    for h in range(heat_rows.shape[0]):
        power = y[heat_rows[h, 0]] * y[heat_rows[h, 0]]
        heat += power
        inside += heat_rows[h, 1] * power
    for z in range(states.shape[0]):
        energy += 0.5 * y[states[z, 1]] * y[states[z, 1]]
    expected = scalars[ENERGY] + dt * (scalars[EMF_POWER] - heat) - line_heat
    scalars[NET] += dt * (scalars[EMF_POWER] - inside)
    scalars[EMF_J] += dt * scalars[EMF_POWER]
    scalars[ENERGY] = energy
    scale = max(scalars[SCALE], energy, scalars[NET])
    scalars[SCALE] = scale
    # Written so that a NaN ends up in WORST instead of slipping through.
    if scale > 0.0 and not abs(energy - expected) <= scalars[WORST] * scale:
        scalars[WORST] = abs(energy - expected) / scale
    elif not scale >= 0.0:
        scalars[WORST] = scale


@inlined
def step_networks(v, i, matrices, blocks, busy, x, y, ports, states, signs):
    """Move every network one step: its states and its port nodes to n + 1, its rows y to this step.

    x (X,): states, port currents and source samples, network by network, at least AT_ONCE each. y (Y,): of each network its new states, its
    new port voltages, the other rows that are booked, then those that are read. matrices (C, Y): what each of a network's inputs adds to
    its rows. blocks (N, 5): first row, end of the rows that every step needs (the only ones if `busy`), end of all, first input, inputs.
    ports (P, 4): node in v, cell in i, place in x, place in y; signs (P,): +1 where the line starts, -1 where it ends, times the turns.
    states (Z, 2): place in x, in y.
    """
    for p in range(ports.shape[0]):
        x[ports[p, 2]] = signs[p] * i[ports[p, 1]]
    for b in range(blocks.shape[0]):
        at, first = blocks[b, 0], blocks[b, 3]
        end = blocks[b, 1] if busy else blocks[b, 2]
        m0, m1, m2, m3, m4 = matrices[0], matrices[1], matrices[2], matrices[3], matrices[4]
        x0, x1, x2, x3, x4 = x[first], x[first + 1], x[first + 2], x[first + 3], x[first + 4]
        for r in range(at, end):
            y[r] = m0[r] * x0 + m1[r] * x1 + m2[r] * x2 + m3[r] * x3 + m4[r] * x4
        for k in range(AT_ONCE, blocks[b, 4]):
            value = x[first + k]
            for r in range(at, end):
                y[r] += matrices[k, r] * value
    for z in range(states.shape[0]):
        x[states[z, 0]] = y[states[z, 1]]
    for p in range(ports.shape[0]):
        v[ports[p, 0]] = y[ports[p, 3]]


@inlined
def control_drive(y, control, target):
    """After a step: the share of the full drive power that the transmitter gives in the next one.

    A detector takes the mean of the held reading over the last carrier period; the drive p follows it within its range by

        dp/dt = p (target - reading)/(held tau),

    with one tau for lowering and one for raising it. The reading is in proportion to p, so near rest the drive comes nearer by a factor e
    in tau, whatever the station makes of it. control: settings (7,): row of the forward wave in y, weights
    of forward and reflected power, least, most, dt/(held tau) for lowering and raising; state (8,): see the names; ring (P,): the reading
    in each step of the last period.
    """
    settings, state, ring = control
    row = int(settings[0])
    reading = settings[1] * y[row] * y[row] + settings[2] * y[row + 1] * y[row + 1]
    at = int(state[AT])
    state[SUM] += reading - ring[at]
    state[FRESH] += reading
    ring[at] = reading
    at += 1
    if at == ring.size:  # a sum of differences loses digits; once a period there is a fresh one
        state[SUM], state[FRESH], at = state[FRESH], 0.0, 0
    state[AT] = at
    off = target - state[SUM] / ring.size
    share = state[SHARE] * (1.0 + off * (settings[5] if off < 0.0 else settings[6]))
    share = min(max(share, settings[3]), settings[4])
    state[SHARE], state[GAIN] = share, math.sqrt(share)
    state[LOWEST], state[HIGHEST] = min(state[LOWEST], share), max(state[HIGHEST], share)


@inlined
def watch_places(y, place_rows, place_weights, peaks, time):
    """After a step: the largest size so far of every watched voltage or current of the networks, and when.

    place_rows, place_weights (W, 2): two rows of y, and the weights in which they make it up; peaks (W, 2): largest size, its time (s).
    """
    for w in range(place_rows.shape[0]):
        size = abs(place_weights[w, 0] * y[place_rows[w, 0]] + place_weights[w, 1] * y[place_rows[w, 1]])
        if size > peaks[w, 0]:
            peaks[w, 0], peaks[w, 1] = size, time


@inlined
def halfway(v, v_old, i, bounds, coefficients, branches, dt, mid):
    """V and I of every node of every line at t_n+1/2, into mid (2, K); the other arguments are those of `advance_lines`."""
    for s in range(bounds.shape[0]):
        v0, i0, n = bounds[s, 0], bounds[s, 1], bounds[s, 2]
        midstep(v, v_old, i, v0, i0, n, coefficients[s, 4], coefficients[s, 7], dt, mid)
        if branches is not None:
            counts = branches[0]
            if counts[s, 1] > 0:
                correct_ends(v, v_old, i, v0, i0, n, coefficients[s, 4], coefficients[s, 7], dt, mid)


@inlined
def watch(look, mid, largest, lock, y, lock_y, cosine, sine, mean):
    """After a step: the largest |V| and |I| so far on every node, or the running sums of a lock-in at the carrier, as `look` says.

    mid, largest (2, K): V and I of every node at t_n+1/2, and their largest size. lock (6, K): V cos, V sin, I cos, I sin, V mean,
    I mean. lock_y (3, Y): cos, sin and mean of the network rows.
    """
    if look & LARGEST:
        for q in range(2):
            for k in range(mid.shape[1]):
                largest[q, k] = max(largest[q, k], abs(mid[q, k]))
    if look & LOCK_IN:
        for q in range(2):
            for k in range(mid.shape[1]):
                lock[2 * q, k] += cosine * mid[q, k]
                lock[2 * q + 1, k] += sine * mid[q, k]
                lock[4 + q, k] += mean * mid[q, k]
        for r in range(y.size):
            lock_y[0, r] += cosine * y[r]
            lock_y[1, r] += sine * y[r]
            lock_y[2, r] += mean * y[r]


@compiled
def march(steps, mode, first, dt, grid, branches, nets, memory, drive, control, eyes):
    """Take `steps` steps from step `first` on. Each argument is a tuple of arrays, so that one place (stepper.py) names
    them; see the functions above.

    books (pieces, Y), ends (pieces,): what is booked under each row, piece by piece, and before which of these steps each piece ends.
    emf (3,): places of s mean and s change/dt in x, and of the EMF's current in y. drive: (s at t_n, mean, change/dt), each (steps,), at
    full drive, and c of the EMF's own energy 1/2 c s^2. control: see control_drive, and its target (steps,), empty where nothing controls
    the drive. In `mid` stays what `halfway` makes of the last step.
    """
    v, v_old, i, bounds, coefficients = grid
    matrices, blocks, x, y, ports, states, signs, heat_rows, emf = nets
    line_memory, line_heat_j, books, ends, scalars = memory
    s_now, s_mean, s_change, emf_energy = drive
    mid, largest, lock, lock_y, place_rows, place_weights, peaks, cosine, sine, mean = eyes
    settings, state, ring, target = control
    controlled = target.size > 0
    busy = mode & UNREAD != 0
    if busy:
        for b in range(blocks.shape[0]):
            for r in range(blocks[b, 1], blocks[b, 2]):
                y[r] = 0.0
    piece = 0
    for n in range(steps):
        if n == ends[piece]:
            piece += 1
        look = mode & LARGEST
        if mode & LOCK_IN and (cosine[n] != 0.0 or sine[n] != 0.0 or mean[n] != 0.0):
            look |= LOCK_IN
        is_seen = look or n == steps - 1
        if is_seen:
            for k in range(v.size):  # as a slice it would bring in numba's strings, for a message: a third more to compile
                v_old[k] = v[k]
        energy, line_heat = advance_lines(v, i, bounds, coefficients, branches, line_memory, line_heat_j, dt)
        energy += 0.5 * emf_energy * s_now[n] * s_now[n]
        close_books(energy, line_heat, y, states, heat_rows, books[piece], scalars, dt)
        now = s_mean[n] * state[GAIN]
        x[emf[0]], x[emf[1]] = now, s_change[n]
        step_networks(v, i, matrices, blocks, busy, x, y, ports, states, signs)
        scalars[EMF_POWER] = now * y[emf[2]]
        if controlled:
            control_drive(y, (settings, state, ring), target[n])
        if look & LARGEST:
            watch_places(y, place_rows, place_weights, peaks, (first + n + 0.5) * dt)
        if is_seen:
            halfway(v, v_old, i, bounds, coefficients, branches, dt, mid)
        if look:
            watch(look, mid, largest, lock, y, lock_y, cosine[n], sine[n], mean[n])
