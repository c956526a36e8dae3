"""Story time: which instant of the station each frame of the film shows, and at what pace.

A beat maps the station's time from the end of the one before it to its own `until` onto `lasts` seconds of film. Inside a beat the pace
is steady, but for a short ramp at each end to the slower of the two paces that meet there, so that the clock never jumps. Where a
carrier period would pass in fewer than 12 frames the eye would see it strobe: there the frame shows a time-lapse. Envelope, meters and
account follow the true time, and the wave is taken from within the last carrier period at a phase that advances at a watchable pace.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.run import Run
from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario.model import Beat, Line, Network
from bouncesim.show.words import ENGLISH, Words

Floats = NDArray[np.float64]

RAMP_S = 0.6  # s of film for a change of pace
FEWEST_FRAMES = 12.0  # frames a carrier period under which the wave would strobe
LAPSE_FRAMES = 30.0  # frames a carrier period toward which a time-lapse slows the drawn wave
CATCH_UP = 0.1  # share of the true advance by which the drawn wave makes up its lag after a time-lapse
CLOSING_S = 4.0  # the last frames: cautions
CARD_S = 8.0  # the same where a verdict is shown


@dataclass(frozen=True)
class Shot:
    """A stretch of the story: station time (s) from `start_s` to `end_s` in `lasts_s` seconds of film."""

    start_s: float
    end_s: float
    lasts_s: float
    caption: str

    @property
    def pace(self) -> float:
        """Station seconds a second of film, on average."""
        return (self.end_s - self.start_s) / self.lasts_s


@dataclass(frozen=True)
class Story:
    """The film's frames; every array has one entry a frame."""

    shots: tuple[Shot, ...]
    fps: int
    time_s: Floats  # the station's time
    wave_time_s: Floats  # the instant at which the wave is drawn: time_s but for a time-lapse, where it lags by less than a period
    phase: Floats  # carrier periods that the drawn wave has advanced
    pace: Floats  # station seconds a second of film
    lapse: NDArray[np.bool_]
    shot: NDArray[np.int64]  # index into shots
    closing: int  # first frame of the closing

    def __len__(self) -> int:
        return len(self.time_s)

    def clock_frame(self, k: int) -> int:
        """The frame whose numbers frame k shows: they change ten times a second of film."""
        step = max(1, round(self.fps / 10))
        return k - k % step


def tell(run: Run, fps: int, closing_s: float, words: Words = ENGLISH) -> Story:
    """The story of a run: its scenario's beats, or a default one; then `closing_s` seconds more at the last pace.

    Raises ScenarioError, naming every beat whose moment is unknown or out of order.
    """
    shots = shots_of(run, words)
    frames = [max(1, round(shot.lasts_s * fps)) for shot in shots]
    closing = sum(frames)
    total = closing + round(closing_s * fps)
    time_s = np.concatenate([_times(shots, i, frames[i]) for i in range(len(shots))])
    pace_end = shots[-1].pace
    time_s = np.concatenate([time_s, shots[-1].end_s + pace_end / fps * np.arange(total - closing)])
    pace = np.diff(time_s, append=time_s[-1] + pace_end / fps) * fps
    index = np.minimum(np.repeat(np.arange(len(shots) + 1), [*frames, total - closing]), len(shots) - 1)
    period = 1 / run.scenario.transmitter.frequency_hz
    lag, phase, lapse = _drawn_wave(time_s / period, pace / fps / period)
    return Story(shots, fps, time_s, np.maximum(time_s - lag * period, 0.0), phase, pace, lapse, index, closing)


def shots_of(run: Run, words: Words = ENGLISH) -> tuple[Shot, ...]:
    """The scenario's beats (or the default ones) with their moments looked up; ScenarioError if one is unknown or out of order."""
    beats = run.scenario.beats or default_beats(run, words)
    problems: list[Problem] = []
    shots: list[Shot] = []
    start = run.moments.get("key down", 0.0)
    for i, beat in enumerate(beats, 1):
        end = run.moments.get(beat.until) if isinstance(beat.until, str) else float(beat.until)
        place = f"beat[{i}].until"
        if end is None:
            known = ", ".join(f'"{name}"' for name in _shown(run.moments))
            problems.append(Problem(place, f'"{beat.until}" is no moment of this run', f"Known moments: {known}; or give a time"))
        elif end < start * (1 - 1e-12):
            reason = f"it comes at {end * 1e6:.4g} us, before the previous beat ends at {start * 1e6:.4g} us"
            problems.append(Problem(place, reason, "Beats must follow one another in time"))
        else:
            shots.append(Shot(start, end, beat.lasts_s, beat.caption))
            start = end
    if problems:
        raise ScenarioError(problems)
    return tuple(shots)


def _shown(moments: dict[str, float]) -> list[str]:
    """Names of moments for a message: all, but of a long row of round trips only the first three and the last."""
    trips = [name for name in moments if name.startswith("round trip ")]
    hidden = set(trips[3:-1])
    return [name for name in moments if name not in hidden]


def default_beats(run: Run, words: Words = ENGLISH) -> tuple[Beat, ...]:
    """Key down, the antenna reached, the first echo, a few round trips, settled, and a look at the steady state.

    Moments that a station has not, or that come out of order, are left out; where the key rises much more slowly than the wave travels,
    the echoes hide under its rise and the story goes straight to the steady state.
    """
    period = 1 / run.scenario.transmitter.frequency_hz
    moments = run.moments
    reached, echo = moments.get("antenna reached", 0.0), moments.get("first echo", math.inf)
    settled = moments.get("settled", run.settling.settled_s)
    rise = run.scenario.keying.rise_s
    before_lines = takewhile(lambda part: not isinstance(part, Line), run.scenario.path)
    tuned = any(isinstance(part, Network) and part.is_tuner for part in before_lines)
    way = "" if run.scenario.direction == "transmit" else "_in"
    plan: list[tuple[str | float, float, str]] = []
    if math.isfinite(echo) and rise < 4 * echo:
        plan += [("antenna reached", 5.0, words(f"beat_out{way}"))]
        plan += [("first echo", 5.0, words(f"beat_back{way}"))]
        trips = [f"round trip {n}" for n in (4, 3, 2) if echo < moments.get(f"round trip {n}", -1.0) < settled]
        if trips:
            plan += [(trips[0], 6.0, words("beat_tuner" if tuned else f"beat_end{way}"))]
    if settled > max((moments[until] for until, _, _ in plan if isinstance(until, str)), default=reached):
        plan += [(settled, 5.0, words("beat_settle"))]
    last = settled if plan and plan[-1][0] == settled else max([moments[u] for u, _, _ in plan if isinstance(u, str)], default=reached)
    plan += [(last + 3 * period, 5.0, words(f"beat_steady{way}"))]
    return tuple(Beat(until=until, lasts_s=lasts, caption=caption) for until, lasts, caption in plan)


def _times(shots: Sequence[Shot], i: int, frames: int) -> Floats:
    """Station times of the frames of shot i: ramp up, steady, ramp down; exact at both ends."""
    shot, length = shots[i], shots[i].lasts_s
    before = shots[i - 1].pace if i else shot.pace
    after = shots[i + 1].pace if i + 1 < len(shots) else shot.pace
    first, last = min(shot.pace, before), min(shot.pace, after)
    ramp = min(RAMP_S, length / 3)
    steady = (shot.end_s - shot.start_s - ramp * (first + last) / 2) / (length - ramp)
    u = np.arange(frames) * (length / frames)
    rising = np.minimum(u, ramp)
    falling = np.maximum(u - (length - ramp), 0.0)
    travelled = steady * u + (first - steady) * (rising - rising**2 / (2 * ramp)) + (last - steady) * falling**2 / (2 * ramp)
    return np.asarray(shot.start_s + travelled, dtype=np.float64)


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
