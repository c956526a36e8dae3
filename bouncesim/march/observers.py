"""What looks on while a station runs: snapshots for pictures, cumulative books for meters. It acts only when one is due."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.loop import BARE, LARGEST, UNREAD
from bouncesim.march.stepper import Stepper, Taper
from bouncesim.march.transmitter import Carrier

Array = NDArray[np.floating]

SNAPSHOTS_A_PERIOD = 32
WATCHED_PERIODS = 2  # of every stretch between two snapshots that are far apart
SLOW_KEY = 100  # round trips; under a slower one nothing overshoots its steady state by as much as a part in a thousand
MOST_PLACES = 800  # along one line; more than a screen can show
MOST_BYTES = 400_000_000


def _has_a_slow_key(stepper: Stepper) -> bool:
    round_trip = 2 * sum(section.delay_s for section in stepper.plan.sections)
    return isinstance(stepper.drive, Carrier) and stepper.drive.keying.rise_s >= SLOW_KEY * round_trip


class Recorder:
    """Advances a stepper and keeps `snapshots` a carrier period, one every `stride` steps, until the memory set aside is full.

    A story of very many periods is strobed: whole periods are left out between snapshots, so that the wave still seems to move smoothly.
    """

    def __init__(self, stepper: Stepper, frequency_hz: float, snapshots: int, span_periods: float) -> None:
        self.stepper = stepper
        points = round(1 / (frequency_hz * stepper.dt))
        self.places = [np.unique(np.linspace(0, s.cells, min(s.cells, MOST_PLACES) + 1).round().astype(int)) for s in stepper.plan.sections]
        bytes_each = 3 * 4 * sum(len(place) for place in self.places)
        self.room = max(MOST_BYTES // bytes_each, 64)
        skipped = int(snapshots * span_periods / self.room)
        self.stride = max(points // snapshots, 1) + skipped * points
        # Where something turns, or controls the drive, the largest voltage may come at any time; under a slow key it grows with the key.
        is_steady = not stepper.due and not stepper.control and _has_a_slow_key(stepper)
        self.unwatched = max(self.stride - WATCHED_PERIODS * points, 0) if is_steady else 0
        self.shares: list[float] = []  # of the drive
        self.shots: list[tuple[Array, Array, Array]] = []
        self.times: list[float] = []
        self.stored: list[float] = []
        self.booked: list[int] = []  # how many entries the stepper's books had

    def advance(self, steps: int, mode: int, taper: Taper | None) -> None:
        """Take `steps` steps, stopping where snapshots are due. Raises Diverged."""
        done = 0
        while done < steps:
            since = self.stepper.step % self.stride
            full = len(self.shots) >= self.room
            watched = full or since >= self.unwatched
            due = (self.stride if watched else self.unwatched) - since
            count = min(steps if full else due, steps - done)
            part = tuple(weights[done : done + count] for weights in taper) if taper is not None else None
            self.stepper.advance(count, mode & ~UNREAD | (LARGEST if watched else BARE), part)
            done += count
            if self.stepper.step % self.stride == 0 and not full:
                self._shoot()

    def _shoot(self) -> None:
        v, i = self.stepper.waves_now()
        nodes = np.concatenate([self.stepper.bounds[s, 0] + place for s, place in enumerate(self.places)])
        self.shots.append((v[nodes].astype(np.float32), i[nodes].astype(np.float32), self.stepper.largest[0, nodes].astype(np.float32)))
        self.times.append((self.stepper.step - 0.5) * self.stepper.dt)
        self.stored.append(self.stepper.stored)
        self.shares.append(self.stepper.share)
        self.booked.append(len(self.stepper.emf_j))

    def line(self, section: int) -> slice:
        """Where the places of one section stand among those of all."""
        starts = np.concatenate([[0], np.cumsum([len(place) for place in self.places])])
        return slice(int(starts[section]), int(starts[section + 1]))

    def cumulative(self, entries: Sequence[Array] | Sequence[float]) -> Array:
        """Running totals of one of the stepper's books at every snapshot: (T,) or (T, n)."""
        totals = np.cumsum(np.array(entries), axis=0)
        return np.asarray(totals[np.array(self.booked) - 1])
