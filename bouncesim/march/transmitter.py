"""The source's EMF against time: a carrier under the key's envelope, sampled on the grid.

Any drive gives samples at half steps, for a source with an impedance, and at whole steps, for an ideal one: across a capacitance that
needs the derivative, so its mean and its change over a step enter instead. The carrier starts at a zero crossing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bouncesim.scenario import Keying

Array = NDArray[np.floating]


def envelope(keying: Keying, t: Array) -> Array:
    """The key's envelope, 0 to 1, at times t (s): step, linear, or raised cosine 1/2 (1 - cos(pi t/rise))."""
    if keying.shape == "step" or keying.rise_s <= 0:
        return np.where(t >= 0, 1.0, 0.0)
    part = np.clip(t / keying.rise_s, 0.0, 1.0)
    return np.asarray(part if keying.shape == "linear" else 0.5 - 0.5 * np.cos(np.pi * part))


class Drive(Protocol):
    """EMF samples in V; position is counted in steps and may be half-integer."""

    def samples(self, first: int, count: int, half: bool) -> Array:
        """EMF at t_first .. (whole steps), or half a step later."""
        ...


class Carrier:
    """A keyed carrier of `points` steps a period: sin from one table a period, so that it repeats to the last bit."""

    def __init__(self, peak_v: float, keying: Keying, points: int, dt: float) -> None:
        self.peak_v, self.keying, self.points, self.dt = peak_v, keying, points, dt
        turns = 2 * np.pi * np.arange(points) / points
        self.tables = (peak_v * np.sin(turns), peak_v * np.sin(turns + np.pi / points))

    def samples(self, first: int, count: int, half: bool) -> Array:
        """See Drive."""
        table = self.tables[half]
        start = first % self.points
        wave = np.resize(np.concatenate([table[start:], table[:start]]), count)
        t_first = (first + 0.5 * half) * self.dt
        if t_first >= self.keying.rise_s:
            return wave
        return wave * envelope(self.keying, t_first + self.dt * np.arange(count))


class Waveform:
    """Any function of time, nothing before t = 0: steps and pulses."""

    def __init__(self, volts: Callable[[Array], Array], dt: float) -> None:
        self.volts, self.dt = volts, dt

    def samples(self, first: int, count: int, half: bool) -> Array:
        """See Drive. At whole steps the first sample is 0, so that an ideal source starts from rest."""
        n = first + np.arange(count)
        values = np.asarray(self.volts((n + 0.5 * half) * self.dt), dtype=np.float64)
        return values if half else np.where(n <= 0, 0.0, values)
