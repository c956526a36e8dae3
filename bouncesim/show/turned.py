"""A tuner's part on its way through its range: what captions may ask at any point of the way, and the story that a film tells of it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.turning import Turning
from bouncesim.show.story import Shot, Story, frames_of
from bouncesim.show.words import Words

WAY = (0.0, 0.5, 1.0, 0.5)  # settings as shares of the range, on a logarithmic scale: from low to set, past it to high, and back
CARRIER = 1.0  # of a story whose "time" is the way so far: nothing in it is as fast as to be a time-lapse


class Turned:
    """Readings at a point s of the way, 0 to 3."""

    def __init__(self, turning: Turning) -> None:
        self.turning = turning
        self._arrays: dict[str, NDArray[np.float64]] = {
            "forward_w": turning.forward_w,
            "echo_w": turning.echo_w,
            "back_w": turning.back_w,
            "antenna_w": turning.antenna_w,
            "accepted_w": turning.accepted_w,
        }

    @property
    def scale_w(self) -> float:
        """What a power is small against."""
        return self.turning.scenario.transmitter.power_w

    def place(self, s: float) -> float:
        """Index, with its fraction, among the settings."""
        return float(np.interp(s, range(len(WAY)), WAY)) * (len(self.turning.values) - 1)

    def setting(self, s: float) -> float:
        """The part's value, H or F."""
        return float(np.exp(np.interp(self.place(s), np.arange(len(self.turning.values)), np.log(self.turning.values))))

    def value(self, name: str, s: float) -> float:
        """A power (W) by its name; KeyError if there is none."""
        return float(np.interp(self.place(s), np.arange(len(self.turning.values)), self._arrays[name]))

    def names(self) -> list[str]:
        """What `value` knows."""
        return sorted(self._arrays)

    def wave(self, name: str, s: float) -> complex:
        """One of the turning's waves, root watts."""
        waves, at = getattr(self.turning, name), self.place(s)
        i = min(int(at), len(waves) - 2)
        return complex(waves[i] * (1 - (at - i)) + waves[i + 1] * (at - i))

    def on_line(self, s: float) -> tuple[complex, complex]:
        """What the tuner makes of the transmitter's wave, drawn to the right, and of the echo, onto the line."""
        through, again = self.wave("through", s), self.wave("sent_again", s)
        turn = through.conjugate() / abs(through) if through else 1.0
        return through * turn, again * turn

    def at_transmitter(self, s: float) -> tuple[complex, complex]:
        """The same toward the transmitter, turned so that at the setting its own wave is drawn to the right."""
        at_set = self.wave("turned_back", 1.0)
        turn = at_set.conjugate() / abs(at_set) if at_set else 1.0
        return self.wave("turned_back", s) * turn, self.wave("let_through", s) * turn

    def longest(self) -> float:
        """The longest wave of all, root watts."""
        t = self.turning
        waves = (t.through, t.sent_again, t.turned_back, t.let_through, t.through + t.sent_again, t.turned_back + t.let_through)
        return max(float(np.max(np.abs(wave))) for wave in waves)


def apart(one: complex, other: complex) -> float:
    """Degrees between two waves, 0 to 180."""
    return abs(math.degrees(float(np.angle(other * one.conjugate()))))


def story_of(turned: Turned, fps: int, closing_s: float, words: Words) -> Story:
    """From low to the setting, a rest there, past it, and back; "time" is the way so far."""
    part = turned.turning.part
    forward, back, antenna = (f"${{{name}}}" for name in ("forward_w", "back_w", "antenna_w"))
    shots = (
        Shot(0.0, 0.0, 0.0, words("turn_start", part=part), 4.0),
        Shot(0.0, 0.55, 7.0, words("turn_sum", part=part)),
        Shot(0.55, 1.0, 7.0, words("turn_near", part=part)),
        Shot(1.0, 1.0, 0.0, words("turn_set", forward=forward, back=back), 5.0),
        Shot(1.0, 2.0, 8.0, words("turn_past", part=part, back=back)),
        Shot(2.0, 3.0, 6.0, words("turn_back", part=part)),
        Shot(3.0, 3.0, 0.0, words("turn_end", forward=forward, antenna=antenna), 5.0),
    )
    return frames_of(shots, fps, closing_s, CARRIER)
