"""Waves between groups of snapshots: where a long story leaves out carrier periods, each group still tells amplitude and phase.

Two snapshots less than half a period apart fix a wave at the carrier: v(t) = (v0 sin w(t1 - t) + v1 sin w(t - t0))/sin w(t1 - t0).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.means import FINE

Floats = NDArray[np.float64]

PAIR = (FINE, 0.4)  # carrier periods between the first two snapshots of a group
SIZE = 3  # snapshots of a group


class Groups:
    """The groups among snapshots at `times` (s)."""

    def __init__(self, times: Floats, period: float) -> None:
        self.times, self.w = times, 2 * math.pi / period
        gaps = np.diff(times) / period
        self.loose = gaps > FINE
        self.first = np.flatnonzero((gaps > PAIR[0]) & (gaps < PAIR[1]))  # the first snapshot of each group

    def between(self, i: int) -> bool:
        """Whether what follows snapshot i shows no ripple of its own and must be told by its group."""
        return bool(self.loose[i]) and len(self.first) > 0 and i >= self.first[0]

    def wave(self, rows: NDArray[np.floating], i: int, t: float) -> Floats:
        """The rows (T, K) at t, after snapshot i: amplitude and phase of one group go over into those of the next one; shape (K,)."""
        g = int(np.searchsorted(self.first, i, side="right")) - 1
        here, after = self.first[g], self.first[g] + SIZE
        found = self._pair(rows, here, t)
        if g + 1 < len(self.first) and self.first[g + 1] == after:
            share = (t - self.times[here]) / (self.times[after] - self.times[here])
            found = found * (1 - share) + self._pair(rows, after, t) * share
        return found

    def _pair(self, rows: NDArray[np.floating], i: int, t: float) -> Floats:
        ahead, behind = self.w * (self.times[i + 1] - t), self.w * (t - self.times[i])
        return np.asarray((rows[i] * math.sin(ahead) + rows[i + 1] * math.sin(behind)) / math.sin(ahead + behind), dtype=np.float64)

    def mean_squares(self, row: Floats, means: Floats) -> Floats:
        """Means of a row's square over a period at every snapshot, (T,): those given, but in the groups what amplitude they tell."""
        if len(self.first) == 0:
            return means
        v0, v1 = row[self.first], row[self.first + 1]
        turn = self.w * (self.times[self.first + 1] - self.times[self.first])
        squares = (v0**2 + v1**2 - 2 * v0 * v1 * np.cos(turn)) / (2 * np.sin(turn) ** 2)
        found = means.copy()
        for k in range(SIZE):
            inside = self.first + k < len(found)
            found[self.first[inside] + k] = squares[inside]
        return found
