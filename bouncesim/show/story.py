"""Story time: which instant of the station each frame of the film shows, and at what pace.

A beat maps the station's time from the end of the one before it to its own `until` onto `lasts` seconds of film. Inside a beat the pace
is steady, but for a short ramp at each end to the slower of the two paces that meet there, so that the clock never jumps. Where a
carrier period would pass in fewer than 12 frames the eye would see it strobe: there the frame shows a time-lapse. Envelope, meters and
account follow the true time, and the wave is taken from within the last carrier period at a phase that advances at a watchable pace.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bouncesim import budget
from bouncesim.account.run import Run
from bouncesim.budget import Work, count
from bouncesim.errors import Problem, ScenarioError
from bouncesim.show.pacing import paced, rooms_of
from bouncesim.show.usual import default_beats
from bouncesim.show.words import ENGLISH, Words

Floats = NDArray[np.float64]

LEAST_S = 2e-3  # that a frame takes to draw, however small
RAMP_S = 0.6  # s of film for a change of pace
FEWEST_FRAMES = 12.0  # frames a carrier period under which the wave would strobe
LAPSE_FRAMES = 30.0  # frames a carrier period toward which a time-lapse slows the drawn wave
CATCH_UP = 0.1  # share of the true advance by which the drawn wave makes up its lag after a time-lapse
CLOSING_S = 4.0  # the last frames: cautions
CARD_S = 8.0  # the same where a verdict is shown


@dataclass(frozen=True)
class Shot:
    """A stretch of the story: station time (s) from `start_s` to `end_s` in `lasts_s` seconds of film, then a pause of `pause_s`."""

    start_s: float
    end_s: float
    lasts_s: float
    caption: str
    pause_s: float = 0.0

    @property
    def pace(self) -> float:
        """Station seconds a second of film, on average, while it runs."""
        return (self.end_s - self.start_s) / self.lasts_s if self.lasts_s > 0 else 0.0

    @property
    def whole_s(self) -> float:
        """Of film, the pause included."""
        return self.lasts_s + self.pause_s


@dataclass(frozen=True)
class Story:
    """The film's frames; every array has one entry a frame."""

    shots: tuple[Shot, ...]
    fps: int
    time_s: Floats  # the station's time
    wave_time_s: Floats  # the instant at which the wave is drawn: time_s but for a time-lapse, where it lags by less than a period
    phase: Floats  # carrier periods that the drawn wave has advanced
    pace: Floats  # station seconds a second of film, as the clock tells it: 0 in a pause
    lapse: NDArray[np.bool_]
    shot: NDArray[np.int64]  # index into shots
    closing: int  # first frame of the closing

    def __len__(self) -> int:
        return len(self.time_s)

    def clock_frame(self, k: int) -> int:
        """The frame whose numbers frame k shows: they change ten times a second of film, and are exact in a pause."""
        step = max(1, round(self.fps / 10))
        first = k - k % step
        return k if self.pace[k] == 0 < self.pace[first] else first


def tell(run: Run, fps: int, closing_s: float, words: Words = ENGLISH) -> Story:
    """The story of a run: its scenario's beats, or a default one in `words`; then `closing_s` seconds more at the last pace.

    Raises ScenarioError, naming every beat whose moment is unknown or out of order, or for which a narration leaves no room.
    """
    return frames_of(shots_of(run, words), fps, closing_s, 1 / run.scenario.transmitter.frequency_hz)


def frames_of(shots: Sequence[Shot], fps: int, closing_s: float, period: float) -> Story:
    """The frames of a film of these shots; `period` (s) is that of the carrier. TooMuchWork for more of them than
    can be drawn in the smallest size."""
    ends = np.cumsum([shot.whole_s for shot in shots])
    frames = float(ends[-1] + closing_s) * fps
    budget.check(Work(f"The film takes {count(frames)} frames", "Take fewer frames a second, or a shorter story", LEAST_S * frames))
    edges = [0, *(max(1, round(end * fps)) for end in ends)]  # whole frames of the sum, so that no error adds up
    closing = edges[-1]
    total = closing + round(closing_s * fps)
    parts = [_times(shots, i, np.arange(a, b) / fps - (ends[i - 1] if i else 0.0)) for i, (a, b) in enumerate(pairwise(edges))]
    last = 0.0 if shots[-1].pause_s else shots[-1].pace
    after = np.arange(total - closing)
    time_s = np.concatenate([*(times for times, _ in parts), shots[-1].end_s + last / fps * after])
    told = np.concatenate([*(pace for _, pace in parts), np.full(len(after), last)])
    index = np.minimum(np.repeat(np.arange(len(shots) + 1), [*np.diff(edges), total - closing]), len(shots) - 1)
    advance = np.diff(time_s, append=time_s[-1] + last / fps) / period
    lag, phase, lapse = _drawn_wave(time_s / period, advance)
    return Story(tuple(shots), fps, time_s, np.maximum(time_s - lag * period, 0.0), phase, told, lapse, index, closing)


def shots_of(run: Run, words: Words = ENGLISH) -> tuple[Shot, ...]:
    """The scenario's beats (or the default ones) with their moments looked up and their pace; ScenarioError names all that are at fault."""
    beats = run.scenario.beats or default_beats(run, words)
    rooms = rooms_of(run.scenario.narration, beats)
    problems: list[Problem] = []
    shots: list[Shot] = []
    start = run.moments.get("key down", 0.0)
    for i, (beat, room) in enumerate(zip(beats, rooms, strict=True), 1):
        end = run.moments.get(beat.until) if isinstance(beat.until, str) else float(beat.until)
        place = f"beat[{i}].until"
        if end is None:
            known = ", ".join(f'"{name}"' for name in _shown(run.moments))
            problems.append(Problem(place, f'"{beat.until}" is no moment of this run', f"Known moments: {known}; or give a time"))
        elif end < start * (1 - 1e-12):
            reason = f"it comes at {end * 1e6:.4g} us, before the previous beat ends at {start * 1e6:.4g} us"
            problems.append(Problem(place, reason, "Beats must follow one another in time"))
        else:
            lasts, pause, wrong = paced(beat, max(end - start, 0.0), room, i)
            problems += wrong
            shots.append(Shot(start, max(end, start), lasts, beat.caption, pause))
            start = max(end, start)
    if problems:
        raise ScenarioError(problems)
    return tuple(shots)


def _shown(moments: dict[str, float]) -> list[str]:
    """Names of moments for a message: all, but of a long row of round trips only the first three and the last."""
    trips = [name for name in moments if name.startswith("round trip ")]
    hidden = set(trips[3:-1])
    return [name for name in moments if name not in hidden]


def _times(shots: Sequence[Shot], i: int, u: Floats) -> tuple[Floats, Floats]:
    """Station times at the film seconds u of shot i, and the pace that the clock tells: ramp up, steady, ramp down, pause."""
    shot, length = shots[i], shots[i].lasts_s
    if length <= 0:
        return np.full(len(u), shot.end_s), np.zeros(len(u))
    before, after = (shots[j].pace if 0 <= j < len(shots) else shot.pace for j in (i - 1, i + 1))
    first, last = (0.0 if i and shots[i - 1].pause_s else min(shot.pace, before)), (0.0 if shot.pause_s else min(shot.pace, after))
    ramp = min(RAMP_S, length / 3)
    steady = (shot.end_s - shot.start_s - ramp * (first + last) / 2) / (length - ramp)
    u = np.maximum(u, 0.0)
    rising, falling = np.minimum(u, ramp), np.maximum(u - (length - ramp), 0.0)
    travelled = steady * u + (first - steady) * (rising - rising**2 / (2 * ramp)) + (last - steady) * falling**2 / (2 * ramp)
    # While the picture comes to rest, or sets out from it, the clock tells the pace between: all the paces on the way would only flicker.
    told_first, told_last = first or steady, last or steady
    told = steady + (told_first - steady) * (1 - rising / ramp) + (told_last - steady) * falling / ramp
    held = u >= length
    return np.where(held, shot.end_s, shot.start_s + travelled), np.where(held, 0.0, told)


def _drawn_wave(periods: Floats, advance: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Lag of the drawn wave (periods, 0 <= lag < 1), its phase so far (periods) and where it is a time-lapse.

    Let d be the carrier periods a frame. The drawn wave advances d itself up to 1/12, and above that (1/12)^2/d, but never less than 1/30.
    """
    limit = 1 / FEWEST_FRAMES
    lapse = advance > limit * (1 + 1e-9)
    drawn = np.where(lapse, np.maximum(limit**2 / np.maximum(advance, limit), 1 / LAPSE_FRAMES), advance)
    lag, phase = np.zeros_like(periods), np.zeros_like(periods)
    phase[0] = periods[0]
    for k in range(1, len(periods)):
        gain = drawn[k - 1] if lapse[k - 1] else advance[k - 1] + min(CATCH_UP * advance[k - 1], lag[k - 1])
        lag[k] = (lag[k - 1] + advance[k - 1] - gain) % 1.0 if lapse[k - 1] else lag[k - 1] + advance[k - 1] - gain
        phase[k] = phase[k - 1] + gain
    return np.maximum(lag, 0.0), phase, lapse
