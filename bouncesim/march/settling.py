"""When has a station come to rest, and what does it read then?

A lock-in at the carrier over 8 whole periods under a Hann taper gives the phasor of every node and every network row; reactive ends ring
at other frequencies, which leak into short plain windows. Windows stand one round trip of the whole path apart (in whole periods, at
least 8): between two echoes the ends stand still, and a rule that looks sooner stops with nothing in the antenna. With d the relative
change from window to window and r the worst of the last three ratios of d, what is still to come is at most about d r/(1 - r), the rest
of a geometric series. Two windows in a row must say so: a slow ringing may hide under a faster one, and shows once that has died.

One thing would escape: a direct current that dies away very slowly (an antenna or a stub that is a short circuit to it). A constant one
leaves the lock-in alone, but a slope leaks into it, the same in every window and so without any change d. So the change of the mean from
window to window is watched too, and what a slope of that size leaks counts as still to come.

The first windows look at every fourth step, which says the same of a carrier and costs a third. What rings at tens of
times the carrier folds down in them: a station that is not at rest after some windows is looked at in every step.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim import budget
from bouncesim.errors import NotSettled
from bouncesim.march.budget import march_work
from bouncesim.march.loop import LOCK_IN, UNREAD
from bouncesim.march.stepper import Stepper, Taper

Phasors = NDArray[np.complex128]

WINDOW_PERIODS = 8
EVERY, LOOKS, FIRST = 4, 40, 24  # the lock-in looks at one step of four, where that leaves so many a period, in so many windows
RATIOS = 3
STANDSTILL = 1e-13  # a change this small, twice, is rounding
MOST_PERIODS, MOST_ROUND_TRIPS = 20_000, 60  # the larger of the two
MANY_STEPS = 1e12  # by which the cost of one is found
CONTROL_TIMES = 60  # time constants that a control of the drive is given to come to rest
HUNTING_WINDOWS, HUNTING_TIMES, HUNTING_SWING = 40, 40, 1e-3  # windows and time constants to wait for, and share of the drive that counts
SLOPE_LEAK = 6.32e-4  # what the lock-in makes of a slope of 1 a window: the tapered sum of a ramp, computed

Advance = Callable[[int, int, Taper | None], None]
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Steady:
    """Peak phasors X of x(t) = Re(X exp(jwt)): V and I of every node (K,), rows of the networks (Y,); and how they were reached."""

    voltage: Phasors
    current: Phasors
    rows: Phasors
    periods: int
    estimate: float


@dataclass(frozen=True)
class Window:
    """One lock-in: phasors of V and I of every node (K,) and of the rows (Y,), and the means of all of these."""

    voltage: Phasors
    current: Phasors
    rows: Phasors
    mean_voltage: NDArray[np.float64]
    mean_current: NDArray[np.float64]
    mean_rows: NDArray[np.float64]


@functools.lru_cache(maxsize=4)  # the windows of a run begin at the same phase, mostly
def taper(first: int, points: int, every: int) -> Taper:
    """Hann-tapered cosine, sine and constant, (8 points,) each, for samples at half steps from step `first`; scaled so that sums are peak
    values, and a mean. Only one of `every` steps (1, 2, 4 or 8) has a weight."""
    count = WINDOW_PERIODS * points // every
    hann = np.zeros((count, every))
    hann[:, 0] = 1 - np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)
    tapered = hann.ravel()
    turns = 2 * np.pi * (((first + np.arange(tapered.size)) % points) + 0.5) / points
    return 2 / count * tapered * np.cos(turns), -2 / count * tapered * np.sin(turns), tapered / count


def lock_in(stepper: Stepper, points: int, advance: Advance, every: int) -> Window:
    """Run one window, and look at one of `every` steps."""
    stepper.lock[:] = 0.0
    stepper.lock_y[:] = 0.0
    advance(WINDOW_PERIODS * points, LOCK_IN, taper(stepper.step % points, points, every))
    lock, rows = stepper.lock, stepper.lock_y
    return Window(lock[0] + 1j * lock[1], lock[2] + 1j * lock[3], rows[0] + 1j * rows[1], lock[4].copy(), lock[5].copy(), rows[2].copy())


def change(stepper: Stepper, new: Window, old: Window) -> tuple[float, float]:
    """The largest relative change of phasors, and of means, over all nodes of all lines and all gauges; current counts as sqrt(L/C) I.

    The gauges add what no line sees, such as a current that goes round between the source and a coil in front of the first line.
    """
    moved = drift = 0.0

    def compare(size: float, phasors: float, means: float) -> None:
        nonlocal moved, drift
        if size > 0:
            moved, drift = max(moved, phasors / size), max(drift, means / size)

    def largest(voltage: NDArray[Any], current: NDArray[Any], reference: float) -> float:
        return max(float(np.abs(voltage).max()), reference * float(np.abs(current).max()))

    for s, section in enumerate(stepper.plan.sections):
        at, z = stepper.nodes_of(s), section.reference_ohm
        compare(
            largest(new.voltage[at], new.current[at], z),
            largest(new.voltage[at] - old.voltage[at], new.current[at] - old.current[at], z),
            largest(new.mean_voltage[at] - old.mean_voltage[at], new.mean_current[at] - old.mean_current[at], z),
        )
    rows = [row + wave for row in stepper.rows.gauges.values() for wave in (0, 1)]
    compare(*(float(np.abs(x[rows]).max()) for x in (new.rows, new.rows - old.rows, new.mean_rows - old.mean_rows)))
    return moved, drift


class Rule:
    """Feed it the changes d one by one; it says when the rest is below the tolerance."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self.changes: list[float] = []
        self.rests: list[float] = []  # what is still to come, as each window sees it

    def estimate(self) -> float:
        """What is still to come, relative, by the worse of the last two windows; infinite while nothing can be said."""
        return max(self.rests[-2:]) if len(self.rests) >= 2 else math.inf

    def _series(self) -> float:
        d = self.changes
        if len(d) >= 2 and max(d[-2:]) < STANDSTILL:
            return max(d[-2:])
        if len(d) <= RATIOS:
            return math.inf
        recent = d[-RATIOS - 1 :]
        if min(recent[:-1]) == 0:
            return math.inf
        ratio = max(b / a for a, b in itertools.pairwise(recent))
        return d[-1] * ratio / (1 - ratio) if ratio < 1 else math.inf

    def at_rest(self, moved: float, drift: float) -> bool:
        """Take the next changes of phasors and of means; True when the station is at rest."""
        self.changes.append(moved)
        self.rests.append(max(self._series(), SLOPE_LEAK * drift))
        return self.estimate() < self.tolerance


class Swings:
    """Feed it the range of the drive in each window; it tells a control that hunts from one that comes to rest."""

    def __init__(self, slowest_periods: float) -> None:
        self.slowest_periods = slowest_periods  # time constant of the control, in carrier periods
        self.ranges: list[tuple[float, float, float]] = []  # least, most, periods run by then

    def _swing(self, since: float, until: float) -> tuple[float, float]:
        inside = [(least, most) for least, most, at in self.ranges if since < at <= until]
        return min((least for least, _ in inside), default=1.0), max((most for _, most in inside), default=1.0)

    def take(self, least: float, most: float, periods: float) -> float:
        """The drive's range in the last window, and the carrier periods run so far; returns the swing, as a share. Raises NotSettled
        once it swings without end: as far in the last quarter of the time as in the quarter before."""
        self.ranges.append((least, most, periods))
        swing = (most - least) / most
        if len(self.ranges) < HUNTING_WINDOWS or periods < HUNTING_TIMES * self.slowest_periods:
            return swing
        (low, high), (low_before, high_before) = self._swing(0.75 * periods, periods), self._swing(0.5 * periods, 0.75 * periods)
        if high - low > HUNTING_SWING * high and high - low >= 0.95 * (high_before - low_before):
            raise NotSettled(
                f"the transmitter hunts: its control swings the drive between {100 * low:.0f} % and {100 * high:.0f} % of full power "
                "without coming to rest, as it acts sooner than its reading follows. Give it a longer attack and release"
            )
        return swing


def settle(
    stepper: Stepper, points: int, not_before_s: float, tolerance: float, advance: Advance, progress: Progress | None = None
) -> Steady:
    """Run until the station is at rest, judged only after `not_before_s` (key fully up, front at every end).

    advance(steps, mode, taper) moves the stepper. Raises NotSettled, saying what to change, Diverged, and
    TooMuchWork once it has taken more than is allowed.
    """
    if stepper.lossless():
        raise NotSettled(
            "nothing in this station takes energy: it would ring for ever and has no steady state. Give the transmitter a source "
            "impedance, the antenna a resistance, or a line its loss"
        )
    round_trip = 2 * stepper.plan.delay_s
    period = points * stepper.dt
    most = max(MOST_PERIODS, math.ceil(MOST_ROUND_TRIPS * round_trip / period))
    affordable = budget.affordable(march_work(stepper.plan, MANY_STEPS, "")) * MANY_STEPS
    swings = Swings(stepper.control.slowest_s / period) if stepper.control else None
    if swings:
        most += math.ceil(CONTROL_TIMES * swings.slowest_periods)
    pause = max(WINDOW_PERIODS, math.ceil(round_trip / period - 1e-9)) - WINDOW_PERIODS
    first = math.ceil(not_before_s / stepper.dt)
    advance(first - stepper.step, UNREAD, None)
    rule = Rule(tolerance)
    every = EVERY if points >= EVERY * LOOKS else 1
    old = lock_in(stepper, points, advance, every)
    while (stepper.step - first) / points < most:
        if stepper.step > affordable:
            budget.check(march_work(stepper.plan, stepper.step, "The simulation rings longer than expected, and"))
        advance(pause * points, UNREAD, None)
        new = lock_in(stepper, points, advance, every if len(rule.changes) < FIRST else 1)
        moved, drift = change(stepper, new, old)
        done = rule.at_rest(moved, drift)
        if progress:
            reach = math.log(max(moved, tolerance)) / math.log(tolerance)
            progress(round(100 * min(max(reach, 0.0), 1.0)), 100)
        if swings:
            done &= swings.take(*stepper.share_range(), (stepper.step - first) / points) < tolerance
        if done:
            return Steady(new.voltage, new.current, new.rows, periods=round(stepper.step / points), estimate=rule.estimate())
        old = new
    how_far = f"about {rule.estimate():.1e} away from" if math.isfinite(rule.estimate()) else "nowhere near"
    raise NotSettled(
        f"after {most:,} carrier periods at full power the station is still {how_far} its steady state "
        f"(sought: {tolerance:.0e}). It rings with almost no loss: give the transmitter a source impedance nearer its rated load, "
        "the line its loss, or the tuner a coil Q"
    )
