"""When the first wave and the first echo pass each place of the path."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.readings import swr_of
from bouncesim.show.live import Floats, Live
from bouncesim.show.track import Track

PRESENT = 1e-4  # share of the largest forward power under which a wave counts as gone again
ECHO_WORTH = 1.02  # antenna SWR from which there is a first echo to point out


class Fronts:
    """Delays along the path, and for each line when its forward and its reflected wave set in.

    A wave that rises softly is too small to see where its front already is, so the first wave and the first echo are timed by their
    delay; echoes from between the lines, which may come sooner, by when they can be seen.
    """

    def __init__(self, track: Track, live: Live) -> None:
        self.live, self.largest_w = live, live.largest_forward()
        frequency = live.run.scenario.transmitter.frequency_hz
        self.velocities = [span.line.constants(frequency).velocity for span in track.spans]
        delays = [span.line.length_m / v for span, v in zip(track.spans, self.velocities, strict=True)]
        self.arrival = np.concatenate([[0.0], np.cumsum(delays)])  # at the start of each line, and at the antenna
        self.one_way = float(self.arrival[-1])
        self.echo = _swr_at_first(live) > ECHO_WORTH
        scale = max(float(np.max(trace.largest_v[-1])) for trace in live.lines)
        self.seen: list[tuple[Floats, Floats]] = []
        for trace, start, v in zip(live.lines, self.arrival, self.velocities, strict=False):
            delay = start + np.asarray(trace.x_m, dtype=np.float64) / v
            forward, reflected = live.first_seen(trace, scale)
            back = 2 * self.one_way - delay if self.echo else np.inf
            self.seen.append((np.minimum(forward, delay), np.minimum(reflected, back)))

    def passing(self, i: int, x_m: Floats, t: float) -> tuple[Floats, Floats]:
        """Forward and reflected power (W) at places of line i, metres from its start."""
        trace, v = self.live.lines[i], self.velocities[i]
        return self.live.passing(trace, t, x_m / v, (float(trace.x_m[-1]) - x_m) / v)

    def here(self, i: int, t: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Where along line i (places of its trace) there is a forward and a reflected wave at t."""
        there, back = (seen <= t for seen in self.seen[i])
        if self.live.pauses:
            ahead, home = self.passing(i, np.asarray(self.live.lines[i].x_m, dtype=np.float64), t)
            there, back = there & (ahead > PRESENT * self.largest_w), back & (home > PRESENT * self.largest_w)
        return there, back

    def first(self, t: float) -> tuple[int, float, bool] | None:
        """Where the first wave or echo is at t: line, metres from its start, and whether it is the echo; None when both are home."""
        if not 0 < t < self.one_way * (2 if self.echo else 1):
            return None
        away = t <= self.one_way
        delay = t if away else 2 * self.one_way - t
        i = min(int(np.searchsorted(self.arrival, delay, side="right")) - 1, len(self.velocities) - 1)
        return i, float((delay - self.arrival[i]) * self.velocities[i]), not away


def _swr_at_first(live: Live) -> float:
    """SWR of what stands at the end of the last line before anything happens."""
    scenario = live.run.scenario
    if not any(event.happens.startswith("antenna") for event in scenario.events):
        return live.run.readings.antenna.swr
    reference = scenario.lines[-1].constants(scenario.transmitter.frequency_hz).impedance_ohm
    return swr_of(abs((scenario.load_ohm - reference) / (scenario.load_ohm + reference)))
