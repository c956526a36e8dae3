"""Lessons as they are filmed: real runs, in every shape of frame, and words that are true when they are shown."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

import bouncesim
from bouncesim import exact, perform
from bouncesim.account.run import Run
from bouncesim.show.layout import Shape
from bouncesim.show.live import Live
from bouncesim.show.stage import Stage
from bouncesim.show.story import shots_of
from tests.show.test_stage import SIZES, check_words

SCENARIOS = Path(__file__).parents[2] / "scenarios"
# one of each kind: plain, several lines, stub, meters, catalogue, receiving, a pulse, a controlled transmitter, an event
LESSONS = (
    *("one-echo-or-all", "balun-open-wire", "stub-match", "meters-along-the-line", "a-keys-edge-through-cable", "both-ways-receive"),
    *("pulse-finds-two-faults", "what-comes-back-fold-back", "antenna-opens"),
)
ALL = {path.stem for path in SCENARIOS.glob("*.toml")}


@pytest.mark.slow
@pytest.mark.parametrize("name", LESSONS)
def test_words_are_whole_and_apart(name: str) -> None:
    run = bouncesim.simulate(bouncesim.load(SCENARIOS / f"{name}.toml"))
    shapes: tuple[Shape, ...] = ("wide", "tall", "square")
    for shape in shapes:
        check_words(Stage(run, size=SIZES[shape]))


IS_SETTLED = re.compile(r"(?:All is )?(?:[Ss]ettled|[Aa]t rest)\b")  # as a caption begins: true from its first frame on
SETTLES = re.compile(r"It (?:settles|comes to rest)\b(?! anew)")  # true when it ends
WITHIN = 0.01  # of the largest power in the steady state: what the README says that "settled" means
GRID = 0.001  # of the same, by which the march is off on its one grid
SHORT_ONES = ("balun-open-wire", "key-goes-up", "many-cables", "bad-connector", "what-comes-back-fold-back")


@pytest.mark.parametrize("name", [*SHORT_ONES, *(pytest.param(one, marks=pytest.mark.slow) for one in sorted(ALL - set(SHORT_ONES)))])
def test_a_caption_says_settled_when_it_is(name: str) -> None:
    """Told by its own beats, and by the story that it would have without them. The closed form knows where it settles."""
    run = bouncesim.simulate(bouncesim.load(SCENARIOS / f"{name}.toml"))
    for told in (run, dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": (), "narration": ()}))):
        for shot in shots_of(told):
            for words, t in ((IS_SETTLED, shot.start_s), (SETTLES, shot.end_s)):
                if words.match(shot.caption):
                    assert off(run, t) < WITHIN + GRID, shot.caption


def off(run: Run, t: float) -> float:
    """How far the powers at t are from the steady state of the station as it is then, relative to the largest of them."""
    scenario = run.scenario
    before = scenario.model_copy(update={"events": tuple(event for event in scenario.events if event.at_s < t * (1 - 1e-9))})
    finals, live = exact.solve(perform.resolve(before.at_end())).numbers(), Live(run)
    powers = [f"{scenario.load_name}.power_w"]
    powers += [
        name for name in live.names() if name in finals and name.endswith(("forward_in_w", "reflected_in_w", ".forward_w", ".reflected_w"))
    ]
    return max(abs(live.value(name, t) - finals[name]) for name in powers) / max(abs(finals[name]) for name in powers)
