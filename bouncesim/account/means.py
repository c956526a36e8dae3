"""Means over the last carrier period, from energies that are known only snapshot by snapshot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def mean_power(time_s: NDArray[np.floating], energy_j: NDArray[np.floating], period_s: float) -> Floats:
    """Mean power (W) over the last period at every snapshot, from the energy so far; shapes (T,). Nothing has flowed before the first one.

    A period is seldom a whole number of snapshots, and the energy ripples at twice the carrier: it is taken from the cubic through four
    snapshots (Lagrange). At 32 snapshots a period that leaves 4e-4 of the ripple, where a straight line between two leaves 2e-2.
    """
    time, energy = np.asarray(time_s, dtype=np.float64), np.asarray(energy_j, dtype=np.float64)
    then = time - period_s
    return np.asarray((energy - np.where(then > time[0], _cubic(time, energy, then), energy[0])) / period_s)


def _cubic(time: Floats, values: Floats, when: Floats) -> Floats:
    """Values at other times, by the cubic through the four nearest of evenly spaced snapshots (a straight line if there are fewer)."""
    if len(time) < 4:
        return np.asarray(np.interp(when, time, values))
    place = (when - time[0]) / (time[-1] - time[0]) * (len(time) - 1)
    i = np.clip(np.floor(place).astype(np.int64), 1, len(time) - 3)
    u = place - i
    before, here, next_, after = (values[i + shift] for shift in (-1, 0, 1, 2))
    return np.asarray(
        -before * u * (u - 1) * (u - 2) / 6
        + here * (u + 1) * (u - 1) * (u - 2) / 2
        - next_ * (u + 1) * u * (u - 2) / 2
        + after * (u + 1) * u * (u - 1) / 6
    )
