"""A transmitter whose drive is controlled by a reading: settings and state for the loop (the rule itself: loop.control_drive)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.loop import GAIN, HIGHEST, LOWEST, SHARE
from bouncesim.march.packing import Rows
from bouncesim.march.transmitter import Carrier
from bouncesim.scenario import Transmitter

Array = NDArray[np.float64]
Held = tuple[Array, Array, Array]  # settings, state, ring


def idle() -> Held:
    """Nothing controls the drive."""
    state = np.zeros(8)
    state[[SHARE, GAIN, LOWEST, HIGHEST]] = 1.0
    return np.zeros(7), state, np.zeros(1)


@dataclass(frozen=True)
class Control:
    """The control of a transmitter under its key."""

    transmitter: Transmitter
    carrier: Carrier
    points: int

    def arrays(self, dt: float, rows: Rows) -> Held:
        """Settings, state and ring of loop.control_drive, at full drive and with nothing read so far."""
        t = self.transmitter
        forward, reflected = t.held_weights
        least, most = t.drive_range
        lower, upper = dt / (t.held_w * t.attack_s), dt / (t.held_w * t.release_s)
        settings = np.array([rows.gauges["transmitter"], forward, reflected, least, most, lower, upper])
        return settings, idle()[1], np.zeros(self.points)

    def target(self, first: int, count: int) -> Array:
        """The reading that is aimed at in each step: a level under its key, or a threshold, which no key changes."""
        held = np.full(count, self.transmitter.held_w)
        if self.transmitter.behaviour == "fold-back" or self.carrier.is_up(first, count):
            return held
        return np.asarray(held * self.carrier.envelope(first, count, half=True) ** 2)

    @property
    def slowest_s(self) -> float:
        """The longer of its time constants."""
        return max(self.transmitter.attack_s, self.transmitter.release_s)
