"""What looks on while a station runs: snapshots for pictures, cumulative books for meters. It acts only when one is due."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.loop import LARGEST, UNREAD
from bouncesim.march.stepper import Stepper, Taper

Array = NDArray[np.floating]

SNAPSHOTS_A_PERIOD = 32
MOST_PLACES = 800  # along one line; more than a screen can show
MOST_BYTES = 400_000_000


class Recorder:
    """Advances a stepper and keeps a snapshot every `stride` steps, until the memory set aside is full.

    A story of very many periods is strobed: whole periods are left out between snapshots, so that the wave still seems to move smoothly.
    """

    def __init__(self, stepper: Stepper, points: int, span_periods: float) -> None:
        self.stepper = stepper
        self.places = [np.unique(np.linspace(0, s.cells, min(s.cells, MOST_PLACES) + 1).round().astype(int)) for s in stepper.plan.sections]
        bytes_each = 3 * 4 * sum(len(place) for place in self.places)
        self.room = max(MOST_BYTES // bytes_each, 64)
        skipped = int(SNAPSHOTS_A_PERIOD * span_periods / self.room)
        self.stride = max(points // SNAPSHOTS_A_PERIOD, 1) + skipped * points
        self.shots: list[tuple[Array, Array, Array]] = []
        self.times: list[float] = []
        self.stored: list[float] = []
        self.booked: list[int] = []  # how many entries the stepper's books had

    def advance(self, steps: int, mode: int, taper: Taper | None) -> None:
        """Take `steps` steps, stopping where snapshots are due. Raises Diverged."""
        done = 0
        while done < steps:
            due = self.stride - self.stepper.step % self.stride if len(self.shots) < self.room else steps
            count = min(due, steps - done)
            part = tuple(weights[done : done + count] for weights in taper) if taper is not None else None
            self.stepper.advance(count, mode & ~UNREAD | LARGEST, part)
            done += count
            if self.stepper.step % self.stride == 0 and len(self.shots) < self.room:
                self._shoot()

    def _shoot(self) -> None:
        v, i = self.stepper.waves_now()
        nodes = np.concatenate([self.stepper.bounds[s, 0] + place for s, place in enumerate(self.places)])
        self.shots.append((v[nodes].astype(np.float32), i[nodes].astype(np.float32), self.stepper.largest[0, nodes].astype(np.float32)))
        self.times.append((self.stepper.step - 0.5) * self.stepper.dt)
        self.stored.append(self.stepper.stored)
        self.booked.append(len(self.stepper.emf_j))

    def line(self, section: int) -> slice:
        """Where the places of one section stand among those of all."""
        starts = np.concatenate([[0], np.cumsum([len(place) for place in self.places])])
        return slice(int(starts[section]), int(starts[section + 1]))

    def cumulative(self, entries: Sequence[Array] | Sequence[float]) -> Array:
        """Running totals of one of the stepper's books at every snapshot: (T,) or (T, n)."""
        totals = np.cumsum(np.array(entries), axis=0)
        return np.asarray(totals[np.array(self.booked) - 1])
