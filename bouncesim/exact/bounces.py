"""The lattice (bounce) series: lines without distortion between two resistances, for any drive, to the sample.

An EMF e(t) behind the resistance Rs drives a line of real impedance Z0 and one-way delay T that ends in RL. With the reflection
coefficients gs = (Rs - Z0)/(Rs + Z0) and gl = (RL - Z0)/(RL + Z0) and the factor m of one transit (1 without loss; exp(-alpha l) on
the line without distortion, R/L = G/C), the wave that leaves the input is

    a(t) = Z0/(Rs + Z0) * sum over k >= 0 of (gs gl m^2)^k e(t - 2 k T),

and with u = x/l: V(u, t) = m^u a(t - u T) + gl m^(2 - u) a(t - (2 - u) T), Z0 I the same with a minus. Source: the lattice diagram, as in
any text on travelling waves (Gonen, Electric Power Transmission System Engineering, chapter 7).

Several lines in cascade (`Cascade`) have no such short series, but the same lattice sample by sample: where Z1 meets Z2, the wave f that
arrives on Z1 and the wave g that arrives on Z2 leave as g' = r f + (1 - r) g on Z1 and f' = (1 + r) f - r g on Z2, r = (Z2 - Z1)/(Z2 + Z1).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.exact.phasor import Real


@dataclass(frozen=True)
class Bounces:
    """One line between resistances; `source_ohm` may be 0, `load_ohm` 0 or infinite."""

    impedance_ohm: float
    delay_s: float
    source_ohm: float
    load_ohm: float
    transit: float = 1.0  # what one transit leaves of a wave

    @property
    def at_source(self) -> float:
        """Reflection coefficient for voltage at the source."""
        return (self.source_ohm - self.impedance_ohm) / (self.source_ohm + self.impedance_ohm)

    @property
    def at_load(self) -> float:
        """Reflection coefficient for voltage at the load."""
        return 1.0 if math.isinf(self.load_ohm) else (self.load_ohm - self.impedance_ohm) / (self.load_ohm + self.impedance_ohm)

    @property
    def round_trip(self) -> float:
        """What a wave has become when it leaves the input again, one round trip later."""
        return self.at_source * self.at_load * self.transit**2

    @property
    def entry(self) -> float:
        """Part of the EMF that first enters the line."""
        return self.impedance_ohm / (self.source_ohm + self.impedance_ohm)

    def waves(self, drive: Callable[[Real], ArrayLike], place: ArrayLike, time_s: ArrayLike) -> tuple[Real, Real]:
        """Forward and reflected voltage wave (V) at places u = x/l in 0..1 from the transmitter's end and times in s.

        `drive` is e(t) in V for an array of times; it counts as 0 for t <= 0. Shapes: place and time broadcast.
        """
        u, t = (np.asarray(value, dtype=float) for value in (place, time_s))
        forward, reflected = np.zeros(np.broadcast_shapes(u.shape, t.shape)), np.zeros(np.broadcast_shapes(u.shape, t.shape))
        latest = float(t.max(initial=0.0))
        gain = self.entry
        for k in range(int(latest / (2 * self.delay_s)) + 1):
            forward += gain * self.transit**u * _started(drive, t - (2 * k + u) * self.delay_s)
            reflected += gain * self.at_load * self.transit ** (2 - u) * _started(drive, t - (2 * k + 2 - u) * self.delay_s)
            gain *= self.round_trip
        return forward, reflected

    def solve(self, drive: Callable[[Real], ArrayLike], place: ArrayLike, time_s: ArrayLike) -> tuple[Real, Real]:
        """V (V) and I (A, toward the load) at places and times as in `waves`."""
        forward, reflected = self.waves(drive, place, time_s)
        return forward + reflected, (forward - reflected) / self.impedance_ohm

    def solve_samples(self, drive_v: ArrayLike, cells: int) -> tuple[Real, Real]:
        """V and I, shape (samples, cells + 1), where each of `cells` equal cells delays by exactly one sample.

        drive_v, shape (samples,): the EMF at equal intervals delay_s/cells, 0 before the first; whether they are taken at whole or at
        half intervals is the caller's choice, and holds for the result. No interpolation: for a time-domain solver at Courant number 1.
        """
        e = np.asarray(drive_v, dtype=float)
        count = len(e)
        leaving = self.entry * e
        for start in range(2 * cells, count, 2 * cells):  # a round trip at a time: each feeds on the one before
            stop = min(start + 2 * cells, count)
            leaving[start:stop] += self.round_trip * leaving[start - 2 * cells : stop - 2 * cells]
        node = np.arange(cells + 1)
        padded = np.concatenate([np.zeros(2 * cells), leaving])
        now = np.arange(count)[:, None] + 2 * cells
        forward = self.transit ** (node / cells) * padded[now - node]
        reflected = self.at_load * self.transit ** (2 - node / cells) * padded[now - 2 * cells + node]
        return forward + reflected, (forward - reflected) / self.impedance_ohm


@dataclass(frozen=True)
class Cascade:
    """Lines without loss in cascade between resistances: impedance (ohm) and delay (whole samples) of each, from the source."""

    lines: tuple[tuple[float, int], ...]
    source_ohm: float
    load_ohm: float

    def solve_samples(self, drive_v: ArrayLike) -> tuple[tuple[Real, Real], ...]:
        """V and I of each line, shape (samples, cells + 1), each cell a delay of one sample; drive_v as for `Bounces.solve_samples`."""
        e = np.asarray(drive_v, dtype=float)
        ends = [Bounces(z, 1.0, self.source_ohm, self.load_ohm) for z, _ in (self.lines[0], self.lines[-1])]
        # what leaves the near end of each line (forward) and its far end (back), with room for what was there before the start
        forward, back = ([np.zeros(len(e) + cells) for _, cells in self.lines] for _ in range(2))
        for n in range(len(e)):
            at_far, at_near = [wave[n] for wave in forward], [wave[n] for wave in back]  # left one transit ago
            for k, (_, cells) in enumerate(self.lines):
                if k == 0:
                    forward[k][n + cells] = ends[0].entry * e[n] + ends[0].at_source * at_near[0]
                else:
                    r = self._reflection(k)
                    forward[k][n + cells] = (1 + r) * at_far[k - 1] - r * at_near[k]
                if k == len(self.lines) - 1:
                    back[k][n + cells] = ends[1].at_load * at_far[k]
                else:
                    r = self._reflection(k + 1)
                    back[k][n + cells] = r * at_far[k] + (1 - r) * at_near[k + 1]
        return tuple(_along(*line, f, b) for line, f, b in zip(self.lines, forward, back, strict=True))

    def _reflection(self, junction: int) -> float:
        """Of the junction in front of line `junction`, from its transmitter side."""
        before, behind = self.lines[junction - 1][0], self.lines[junction][0]
        return (behind - before) / (behind + before)


def _along(impedance_ohm: float, cells: int, forward: Real, back: Real) -> tuple[Real, Real]:
    """V and I at every node of a line, from the waves that leave its two ends, `cells` samples of nothing in front of each."""
    node, now = np.arange(cells + 1), np.arange(cells, len(forward))[:, None]
    f, b = forward[now - node], back[now - cells + node]
    return f + b, (f - b) / impedance_ohm


def _started(drive: Callable[[Real], ArrayLike], time_s: Real) -> Real:
    """The drive at each time, 0 until it starts; times before the start are shown to it as 0."""
    return np.where(time_s > 0, drive(np.maximum(time_s, 0.0)), 0.0)
