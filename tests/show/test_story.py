"""The clock of a film never jumps, and meets every moment on time."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from bouncesim.account.run import Run
from bouncesim.errors import ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.show.story import FEWEST_FRAMES, LAPSE_FRAMES, RAMP_S, tell

FPS = 30


def with_beats(run: Run, *beats: tuple[str | float, float]) -> Run:
    told = tuple(Beat(until=until, lasts_s=lasts, caption="x") for until, lasts in beats)
    return dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": told}))


def test_moments_fall_on_their_frames(run: Run) -> None:
    story = tell(with_beats(run, ("antenna reached", 2), ("first echo", 3), ("settled", 4)), FPS, 2.0)
    assert len(story) == FPS * 11
    assert story.closing == FPS * 9
    starts = [0, 2 * FPS, 5 * FPS, 9 * FPS]
    told = [0.0, run.moments["antenna reached"], run.moments["first echo"], run.moments["settled"]]
    assert story.time_s[starts] == pytest.approx(told, rel=1e-12, abs=1e-18)


def test_clock_moves_on_smoothly(run: Run) -> None:
    story = tell(with_beats(run, ("antenna reached", 2), (1e-4, 3), (1.0001e-4, 3)), FPS, 1.0)
    steps = np.diff(story.time_s)
    assert (steps > 0).all()
    fastest = steps.max()
    assert np.abs(np.diff(steps)).max() <= 1.3 * fastest / (RAMP_S * FPS)  # never more than one ramp's share from frame to frame


def test_slow_beats_are_not_time_lapse(run: Run) -> None:
    story = tell(with_beats(run, ("antenna reached", 4)), FPS, 1.0)
    assert not story.lapse.any()
    assert story.wave_time_s == pytest.approx(story.time_s, rel=0, abs=0)


def test_time_lapse_advances_the_wave_watchably(run: Run) -> None:
    period = 1 / run.scenario.transmitter.frequency_hz
    story = tell(with_beats(run, ("first echo", 3), (2e-3, 4), (2e-3 + 3 * period, 4)), FPS, 1.0)
    assert story.lapse.any()
    assert not story.lapse[-FPS * 4 :].any()
    advance = np.diff(story.phase)
    assert advance.max() <= 1.1 / FEWEST_FRAMES + 1e-9
    assert advance[story.lapse[:-1]].min() >= 1 / LAPSE_FRAMES - 1e-9
    lag = (story.time_s - story.wave_time_s) / period
    assert (lag >= -1e-9).all()
    assert (lag < 1).all()
    assert lag[-1] < lag[-4 * FPS]  # the drawn wave catches up
    phase = (story.wave_time_s / period - story.phase) % 1
    assert np.minimum(phase, 1 - phase).max() < 1e-6  # the instant drawn has the phase told


def test_default_story(run: Run) -> None:
    story = tell(dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": ()})), FPS, 4.0)
    ends = [shot.end_s for shot in story.shots]
    assert ends == sorted(ends)
    assert ends[0] == run.moments["antenna reached"]
    assert ends[1] == run.moments["first echo"]
    assert ends[-1] > run.moments["settled"]
    assert not story.lapse[story.closing :].any()


def test_default_story_under_a_slow_key(run: Run) -> None:
    slow = run.scenario.model_copy(update={"beats": (), "keying": run.scenario.keying.model_copy(update={"rise_s": 5e-3})})
    story = tell(dataclasses.replace(run, scenario=slow), FPS, 4.0)
    assert story.shots[0].end_s == run.moments["settled"]


def test_every_beat_at_fault_is_named(run: Run) -> None:
    with pytest.raises(ScenarioError) as caught:
        tell(with_beats(run, ("first eco", 2), ("first echo", 2), ("antenna reached", 2)), FPS, 1.0)
    unknown, early = caught.value.problems
    assert unknown.field == "beat[1].until"
    assert unknown.reason == '"first eco" is no moment of this run'
    assert '"first echo"' in unknown.remedy
    assert early.field == "beat[3].until"
    assert "before the previous beat ends" in early.reason
