"""The source's EMF against time: a carrier under the key's envelope, sampled on the grid.

Any drive gives samples at half steps, for a source with an impedance, and at whole steps, for an ideal one: across a capacitance that
needs the derivative, so its mean and its change over a step enter instead. The carrier starts at a zero crossing.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bouncesim.scenario import Keying
from bouncesim.scenario.morse import marks

Array = NDArray[np.floating]

BLOCK = 4096  # steps


def _edge(part: Array, shape: str) -> Array:
    """An edge of the envelope from 0 to 1, `part` of its rise done."""
    part = np.clip(part, 0.0, 1.0)
    return np.asarray(part if shape == "linear" else np.sin(np.pi / 2 * part) ** 2)  # 1/2 (1 - cos a), but for what that cancels


def envelope(keying: Keying, t: Array, key_up_s: float = math.inf) -> Array:
    """The key's envelope, 0 to 1, at times t (s): step, linear, raised cosine 1/2 (1 - cos(pi t/rise)), or the marks of a text. From
    `key_up_s` on it falls as it rose."""
    if keying.shape == "morse":
        return _morse(keying, t)
    if keying.shape == "step" or keying.rise_s <= 0:
        return np.where((t >= 0) & (t < key_up_s), 1.0, 0.0)
    up = _edge(t / keying.rise_s, keying.shape)
    return up if math.isinf(key_up_s) else up * (1 - _edge((t - key_up_s) / keying.rise_s, keying.shape))


def _morse(keying: Keying, t: Array) -> Array:
    """Each mark rises at its beginning and falls at its end, so that half way up it is as long as it should be."""
    start, length = (np.array(column) * keying.dot_length_s for column in zip(*marks(keying.text), strict=True))
    mark = np.searchsorted(start, t, side="right") - 1
    since = t - start[mark]
    shape = _edge(since / keying.rise_s, "raised-cosine") * (1 - _edge((since - length[mark]) / keying.rise_s, "raised-cosine"))
    return np.where(mark >= 0, shape, 0.0)


def pulse(keying: Keying, peak_v: float) -> Callable[[Array], Array]:
    """One raised-cosine pulse of the EMF, 1/2 (1 - cos(2 pi t/width)), `width_s` from foot to foot."""
    width = keying.width_s or 0.0
    return lambda t: np.where((t > 0) & (t < width), peak_v * (0.5 - 0.5 * np.cos(2 * np.pi * t / width)), 0.0)


class Drive(Protocol):
    """EMF samples in V; position is counted in steps and may be half-integer."""

    def samples(self, first: int, count: int, half: bool) -> Array:
        """EMF at t_first .. (whole steps), or half a step later."""
        ...


class Carrier:
    """A keyed carrier of `points` steps a period: sin from one table a period, so that it repeats to the last bit."""

    def __init__(self, peak_v: float, keying: Keying, points: int, dt: float, key_up_s: float = math.inf) -> None:
        self.peak_v, self.keying, self.points, self.dt, self.key_up_s = peak_v, keying, points, dt, key_up_s
        turns = 2 * np.pi * np.arange(points) / points
        self.tables = [peak_v * np.sin(turns), peak_v * np.sin(turns + np.pi / points)]  # each as often as was needed so far

    def samples(self, first: int, count: int, half: bool) -> Array:
        """See Drive."""
        start = first % self.points
        if self.tables[half].size < start + count:
            self.tables[half] = np.resize(self.tables[half][: self.points], self.points + count)
        wave = self.tables[half][start : start + count]
        return wave if self.is_up(first, count) else wave * self.envelope(first, count, half)

    def is_up(self, first: int, count: int) -> bool:
        """True where the key is fully down from step `first` over `count` steps."""
        fully = self.keying.shape != "morse" and first * self.dt >= self.keying.rise_s
        return fully and (first + count + 1) * self.dt < self.key_up_s

    def envelope(self, first: int, count: int, half: bool) -> Array:
        """The key's envelope at the same times as the samples."""
        if self.keying.shape == "raised-cosine" and (first + count) * self.dt < min(self.keying.rise_s, self.key_up_s):
            return np.concatenate(list(self._rising(first, count, half)))
        return envelope(self.keying, (first + 0.5 * half + np.arange(count)) * self.dt, self.key_up_s)

    def _rising(self, first: int, count: int, half: bool) -> Iterator[Array]:
        """sin^2 a, its angle a growing evenly: by the sine of a sum, as a sine for every step took an eighth of a slow key. In blocks that
        begin where they do for everyone, or the last digit would depend on how a run is cut."""
        turn, end = self._turn, first + count
        cosines, sines = self._turned
        for begin in range(first - first % BLOCK, end, BLOCK):
            inside, angle = slice(max(first - begin, 0), end - begin), turn * (begin + 0.5 * half)
            yield (math.sin(angle) * cosines[inside] + math.cos(angle) * sines[inside]) ** 2

    @property
    def _turn(self) -> float:
        """Half the angle of the key in a step, rad."""
        return math.pi / 2 * self.dt / self.keying.rise_s

    @functools.cached_property
    def _turned(self) -> tuple[Array, Array]:
        """Cosine and sine of half a slow key's angle over a block."""
        angles = self._turn * np.arange(BLOCK)
        return np.cos(angles), np.sin(angles)


class Waveform:
    """Any function of time, nothing before t = 0: steps and pulses."""

    def __init__(self, volts: Callable[[Array], Array], dt: float) -> None:
        self.volts, self.dt = volts, dt

    def samples(self, first: int, count: int, half: bool) -> Array:
        """See Drive. At whole steps the first sample is 0, so that an ideal source starts from rest."""
        n = first + np.arange(count)
        values = np.asarray(self.volts((n + 0.5 * half) * self.dt), dtype=np.float64)
        return values if half else np.where(n <= 0, 0.0, values)
