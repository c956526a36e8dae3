"""What looks on while a station runs: snapshots for pictures, cumulative books for meters. It acts only when one is due."""

from __future__ import annotations

import math
import sys
from collections import deque
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.line import Section
from bouncesim.march.loop import BARE, LARGEST, UNREAD
from bouncesim.march.stepper import Stepper, Taper
from bouncesim.march.transmitter import Carrier
from bouncesim.scenario import Keying

Array = NDArray[np.floating]
Index = NDArray[np.int64]

SNAPSHOTS_A_PERIOD = 32
WATCHED_PERIODS = 2  # of every stretch between two snapshots that are far apart
SLOW_KEY = 100  # round trips; under a slower one nothing overshoots its steady state by as much as a part in a thousand
SPARSE = 500  # groups of snapshots before the periods left out between two of them become one more
MOST_PLACES = 800  # along one line; more than a screen can show
MOST_BYTES = 250_000_000


def has_slow_key(keying: Keying, sections: Sequence[Section]) -> bool:
    """True where the key takes so many round trips that there is nothing to see while it rises."""
    return keying.rise_s >= SLOW_KEY * 2 * sum(section.delay_s for section in sections)


def snapshot_places(sections: Sequence[Section]) -> list[Index]:
    """The nodes of every section that a snapshot holds."""
    return [np.unique(np.linspace(0, s.cells, min(s.cells, MOST_PLACES) + 1).round().astype(int)) for s in sections]


def snapshot_bytes(sections: Sequence[Section]) -> int:
    """Of one snapshot."""
    return 3 * 4 * sum(min(section.cells, MOST_PLACES) + 1 for section in sections)


def expected_snapshots(periods: float, bytes_each: int, a_period: int, fine_share: float) -> float:
    """How many a Recorder takes in so many carrier periods, about; `fine_share`: 0 under a slow key, else 1."""
    room = max(MOST_BYTES // bytes_each, 64)
    sparse = min(SPARSE, max(room // 240, 1))
    fine = min(periods * a_period, 0.75 * room * fine_share)
    late = periods - fine / a_period
    return min(room, fine + 3 * math.sqrt(2 * late * sparse) if late > sparse else fine + 3 * late)


class Recorder:
    """Advances a stepper and keeps snapshots, until the memory set aside is full.

    There are `snapshots` a carrier period until three quarters of the memory are full (not under a slow key, where there is nothing to see
    yet), and again for a while after every event. Later ones come in groups of three, a quarter period and a whole one after the first:
    enough for the waves at every phase and for a mean over the period. Between the groups whole periods are left out, the more of them the
    longer ago all that is, so that a long wait costs little.
    """

    def __init__(self, stepper: Stepper, frequency_hz: float, snapshots: int) -> None:
        self.stepper = stepper
        self.points = points = round(1 / (frequency_hz * stepper.dt))
        self.places = snapshot_places(stepper.plan.sections)
        bytes_each = snapshot_bytes(stepper.plan.sections)
        self.room = max(MOST_BYTES // bytes_each, 64)
        self.sparse = min(SPARSE, max(self.room // 240, 1))
        self.base = max(points // snapshots, 1)
        due = {step for step, _ in stepper.due}
        self.turns = deque(sorted(step for step in due if step - 1 not in due))  # where contacts begin to turn
        slow = isinstance(stepper.drive, Carrier) and has_slow_key(stepper.drive.keying, stepper.plan.sections)
        self.fine = 0 if slow else self.room * self.base * 3 // 4
        self.again = self.fine // (6 * len(self.turns)) if self.turns else 0
        self.begun, self.next, self.group = 0, self.base, 0  # of the present group, how many snapshots are taken
        # Where something turns, or controls the drive, the largest voltage may come at any time; under a slow key it grows with the key.
        self.watched = WATCHED_PERIODS * points if slow and not stepper.due and not stepper.control else sys.maxsize
        self.shares: list[float] = []  # of the drive
        self.shots: list[tuple[Array, Array, Array]] = []
        self.times: list[float] = []
        self.stored: list[float] = []
        self.booked: list[int] = []  # how many entries the stepper's books had

    def advance(self, steps: int, mode: int, taper: Taper | None) -> None:
        """Take `steps` steps, stopping where snapshots are due. Raises Diverged."""
        done = 0
        while done < steps:
            ahead = self.next - self.stepper.step if len(self.shots) < self.room else sys.maxsize
            watched = ahead <= self.watched or ahead == sys.maxsize
            count = min(ahead if watched else ahead - self.watched, steps - done)
            part = tuple(weights[done : done + count] for weights in taper) if taper is not None else None
            self.stepper.advance(count, mode & ~UNREAD | (LARGEST if watched else BARE), part)
            done += count
            if count == ahead:
                self._shoot()
                self.next += self._stride()

    def _stride(self) -> int:
        """Steps to the next snapshot."""
        step = self.stepper.step
        while self.turns and self.turns[0] <= step:
            turn = self.turns.popleft()
            self.fine = max(self.begun + self.fine - turn, self.again)
            self.begun = turn
            self.group = 0
        late = step - self.begun - self.fine
        if late < 0:
            stride = self.base
        else:
            quarter = round(self.points / 4)
            stride = (quarter, self.points - quarter, self.points * (1 + late // (self.points * self.sparse)))[self.group]
            self.group = (self.group + 1) % 3
        return max(min(stride, self.turns[0] - step), self.base) if self.turns else stride

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
