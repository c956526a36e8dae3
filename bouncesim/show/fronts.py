"""When the first wave and the first echo pass each place of the path."""

from __future__ import annotations

import numpy as np

from bouncesim.show.live import Floats, Live
from bouncesim.show.track import Track

ECHO_WORTH = 1.02  # antenna SWR from which there is a first echo to point out


class Fronts:
    """Delays along the path, and for each line when its forward and its reflected wave set in.

    A wave that rises softly is too small to see where its front already is, so the first wave and the first echo are timed by their
    delay; echoes from between the lines, which may come sooner, by when they can be seen.
    """

    def __init__(self, track: Track, live: Live) -> None:
        frequency = live.run.scenario.transmitter.frequency_hz
        self.velocities = [span.line.constants(frequency).velocity for span in track.spans]
        delays = [span.line.length_m / v for span, v in zip(track.spans, self.velocities, strict=True)]
        self.arrival = np.concatenate([[0.0], np.cumsum(delays)])  # at the start of each line, and at the antenna
        self.one_way = float(self.arrival[-1])
        self.echo = live.run.readings.antenna.swr > ECHO_WORTH
        scale = max(float(np.max(trace.largest_v[-1])) for trace in live.lines)
        self.seen: list[tuple[Floats, Floats]] = []
        for trace, start, v in zip(live.lines, self.arrival, self.velocities, strict=False):
            delay = start + np.asarray(trace.x_m, dtype=np.float64) / v
            forward, reflected = live.first_seen(trace, scale)
            back = 2 * self.one_way - delay if self.echo else np.inf
            self.seen.append((np.minimum(forward, delay), np.minimum(reflected, back)))

    def first(self, t: float) -> tuple[int, float, bool] | None:
        """Where the first wave or echo is at t: line, metres from its start, and whether it is the echo; None when both are home."""
        if not 0 < t < self.one_way * (2 if self.echo else 1):
            return None
        away = t <= self.one_way
        delay = t if away else 2 * self.one_way - t
        i = min(int(np.searchsorted(self.arrival, delay, side="right")) - 1, len(self.velocities) - 1)
        return i, float((delay - self.arrival[i]) * self.velocities[i]), not away
