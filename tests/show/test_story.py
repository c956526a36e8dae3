"""The clock of a film never jumps, and meets every moment on time."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from bouncesim.account.run import Run
from bouncesim.errors import ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.scenario.narration import Cue
from bouncesim.show.captions import webvtt
from bouncesim.show.live import Live
from bouncesim.show.story import FEWEST_FRAMES, LAPSE_FRAMES, RAMP_S, tell

FPS = 30


def replaced(run: Run, beats: tuple[Beat, ...]) -> Run:
    return dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": beats}))


def with_beats(run: Run, *beats: tuple[str | float, float]) -> Run:
    told = tuple(Beat(until=until, lasts_s=lasts, caption="x") for until, lasts in beats)
    return replaced(run, told)


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


def test_a_beat_may_say_how_much_slower_than_life_it_runs(run: Run) -> None:
    echo = run.moments["first echo"]
    beats = (Beat(until="first echo", slowed=2 / echo, caption="x"), Beat(until="settled", lasts_s=3, caption="y"))
    story = tell(replaced(run, beats), FPS, 1.0)
    assert story.shots[0].lasts_s == pytest.approx(2.0)
    assert story.time_s[2 * FPS] == pytest.approx(echo)
    assert story.pace[5] == pytest.approx(echo / 2)


def test_the_picture_stands_still_in_a_pause(run: Run) -> None:
    echo = run.moments["first echo"]
    beats = (Beat(until="first echo", lasts_s=2, pause_s=1, caption="x"), Beat(until="settled", lasts_s=3, caption="y"))
    story = tell(replaced(run, beats), FPS, 1.0)
    held = slice(2 * FPS, 3 * FPS)
    assert set(story.time_s[held]) == {echo}
    assert len(set(story.wave_time_s[held])) == len(set(story.phase[held])) == 1
    assert (story.pace[held] == 0).all()
    assert {float(story.time_s[story.clock_frame(k)]) for k in range(2 * FPS, 3 * FPS)} == {echo}  # numbers of the very moment
    before, after = np.diff(story.time_s)[2 * FPS - 4 : 2 * FPS], np.diff(story.time_s)[3 * FPS : 3 * FPS + 4]
    assert (np.diff(before) < 0).all()  # it comes to rest softly, and sets out so
    assert (np.diff(after) > 0).all()
    assert (story.pace[: 2 * FPS] >= 0.9 * echo / 2).all()  # the clock does not tell every pace on the way down
    (cue, *_) = webvtt(story, Live(run)).split("\n\n")[1:]
    assert cue.startswith("00:00:00.000 --> 00:00:03.000")


def test_a_beat_of_rest_alone(run: Run) -> None:
    story = tell(replaced(run, (Beat(until="key down", lasts_s=2, caption="x"), Beat(until="settled", lasts_s=3, caption="y"))), FPS, 1.0)
    assert (story.time_s[: 2 * FPS] == 0).all()
    assert (story.pace[: 2 * FPS] == 0).all()
    assert story.time_s[2 * FPS + 1] > 0


def test_no_error_adds_up(run: Run) -> None:
    """Beats of a length that is no whole number of frames still end at their time, to the nearest frame."""
    echo = run.moments["first echo"]
    beats = tuple(Beat(until=echo * n, lasts_s=1.2345, caption="x") for n in range(1, 41))
    story = tell(replaced(run, beats), FPS, 1.0)
    assert story.closing == round(40 * 1.2345 * FPS)
    for n in range(1, 40):
        k = round(n * 1.2345 * FPS)
        assert abs(story.time_s[k] - n * echo) <= 0.6 / FPS * echo / 1.2345 * 1.5


def narrated(run: Run, cues: tuple[tuple[float, float], ...], *beats: Beat) -> Run:
    told = tuple(Cue(start_s=start, end_s=end) for start, end in cues)
    return dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": beats, "narration": told}))


def test_a_narration_times_the_beats(run: Run) -> None:
    echo = run.moments["first echo"]
    beats = (
        Beat(until="first echo", lasts_s=99, caption="x"),
        Beat(until=2 * echo, pause_s=1.5, caption="y"),
        Beat(until="settled", slowed=2 / (run.moments["settled"] - 2 * echo), caption="z"),
    )
    story = tell(narrated(run, ((0.5, 3.0), (4.0, 6.0), (7.5, 10.0)), *beats), FPS, 1.0)
    assert [(shot.lasts_s, shot.pause_s) for shot in story.shots] == [(4.0, 0.0), (2.0, 1.5), (pytest.approx(2.0), pytest.approx(0.5))]
    assert story.closing == 10 * FPS
    assert story.time_s[[4 * FPS, 6 * FPS, 7 * FPS]] == pytest.approx([echo, 2 * echo, 2 * echo])


@pytest.mark.parametrize(
    ("cues", "beats", "says"),
    [
        (((0, 3), (3, 6)), (Beat(until="settled", caption="x"),), 'narration: it has 2 cues, and the story 1 beat (until "settled")'),
        (((0, 3),), (Beat(until="settled", pause_s=4, caption="x"),), "beat[1]: it pauses for 4 s, and cue 1 of the narration leaves 3 s"),
        (((0, 3),), (Beat(until=1e-6, slowed=5e6, caption="x"),), "beat[1]: it runs for 5 s, and cue 1 of the narration leaves 3 s"),
    ],
)
def test_a_narration_that_does_not_go_with_the_story(run: Run, cues: tuple, beats: tuple[Beat, ...], says: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        tell(narrated(run, cues, *beats), FPS, 1.0)
    assert str(caught.value).startswith(says)


def test_a_pace_that_makes_no_film(run: Run) -> None:
    with pytest.raises(ScenarioError, match=r"beat\[1\].slowed: at this pace it takes 5e\+03 s of film. Allowed: 0.2 s to 600 s"):
        tell(replaced(run, (Beat(until=1e-6, slowed=5e9, caption="x"),)), FPS, 1.0)
