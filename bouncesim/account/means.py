"""Means over the last carrier period, from energies that are known only snapshot by snapshot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


FINE = 1 / 8  # of a period: snapshots further apart do not show the ripple between them
SAME = 1e-6  # of a period


def mean_power(time_s: NDArray[np.floating], energy_j: NDArray[np.floating], period_s: float) -> Floats:
    """Mean power (W) over the last period at every snapshot, from the energy so far; shapes (T,). Nothing has flowed before the first one.

    A period is seldom a whole number of snapshots, and the energy ripples at twice the carrier: it is taken from the cubic through four
    snapshots (Lagrange). At 32 snapshots a period that leaves 4e-4 of the ripple, where a straight line between two leaves 2e-2. Where
    periods were left out between snapshots, and there is none a whole period earlier, the mean is taken from the nearest that have one.
    """
    time, energy = np.asarray(time_s, dtype=np.float64), np.asarray(energy_j, dtype=np.float64)
    then = time - period_s
    mean = (energy - np.where(then > time[0], _cubic(time, energy, then), energy[0])) / period_s
    i = np.clip(np.searchsorted(time, then) - 1, 0, max(len(time) - 2, 0))
    ahead = np.minimum(i + 1, len(time) - 1)
    known = (then <= time[0]) | (time[ahead] - time[i] <= FINE * period_s)
    known |= (np.abs(time[ahead] - then) <= SAME * period_s) | (np.abs(time[i] - then) <= SAME * period_s)
    return np.asarray(mean if known.all() or not known[1:].any() else np.interp(time, time[known], mean[known]))


def _cubic(time: Floats, values: Floats, when: Floats) -> Floats:
    """Values at other times, by the cubic through the four nearest snapshots (a straight line if there are fewer)."""
    if len(time) < 4:
        return np.asarray(np.interp(when, time, values))
    first = np.clip(np.searchsorted(time, when, side="right") - 2, 0, len(time) - 4)
    nodes = [time[first + k] for k in range(4)]
    found = np.zeros(len(when))
    for k in range(4):
        weight = np.ones(len(when))
        for j in (j for j in range(4) if j != k):
            weight *= (when - nodes[j]) / (nodes[k] - nodes[j])
        found += weight * values[first + k]
    return found
