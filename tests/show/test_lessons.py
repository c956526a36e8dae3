"""Lessons as they are filmed: real runs, in every shape of frame."""

from __future__ import annotations

from pathlib import Path

import pytest

import bouncesim
from bouncesim.show.layout import Shape
from bouncesim.show.stage import Stage
from tests.show.test_stage import SIZES, check_words

SCENARIOS = Path(__file__).parents[2] / "scenarios"
# one of each kind: plain, several lines, stub, meters, catalogue, receiving, a pulse, a controlled transmitter, an event
LESSONS = (
    *("one-echo-or-all", "balun-open-wire", "stub-match", "meters-along-the-line", "a-keys-edge-through-cable", "both-ways-receive"),
    *("pulse-finds-two-faults", "what-comes-back-fold-back", "antenna-opens"),
)


@pytest.mark.slow
@pytest.mark.parametrize("name", LESSONS)
def test_words_are_whole_and_apart(name: str) -> None:
    run = bouncesim.simulate(bouncesim.load(SCENARIOS / f"{name}.toml"))
    shapes: tuple[Shape, ...] = ("wide", "tall", "square")
    for shape in shapes:
        check_words(Stage(run, size=SIZES[shape]))
