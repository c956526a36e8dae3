"""Type that fits."""

from __future__ import annotations

import dataclasses

import pytest

from bouncesim.account.run import Run
from bouncesim.errors import ScenarioError
from bouncesim.show.letters import missing
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.text import fit, set_in, shorten, width, wrap


def test_one_line_is_as_large_as_it_may_be() -> None:
    assert fit("A short caption", 1000, (38, 34), (30, 26)) == (["A short caption"], 38)
    assert fit("Two lines\nthat fit on one", 1000, (38, 34), (30, 26)) == (["Two lines that fit on one"], 38)


def test_two_lines_keep_the_author_s_break_or_are_even() -> None:
    first, second = "A first sentence that is rather long.", "A second one that is just as long as it."
    lines, size = fit(f"{first}\n{second}", 700, (38, 34), (30, 26))
    assert (lines, size) == ([first, second], 30)
    lines, _ = fit(f"{first} {second}", 700, (38, 34), (30, 26))
    assert len(lines) == 2
    assert abs(width(lines[0], 30) - width(lines[1], 30)) < 200


def test_what_cannot_fit_is_shortened() -> None:
    lines, size = fit("word " * 200, 500, (38,), (30, 24))
    assert size == 24
    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert all(width(line, 24) <= 500 for line in lines)
    assert shorten("unbreakableunbreakable", 100, 24).endswith("…")
    assert wrap("a b", 1000, 24) == ["a b"]


def test_letters_that_the_typeface_lacks_are_refused(run: Run) -> None:
    assert missing("√(L/C) Ω µ – … ▶ ◀ ✓ ✗ ⁻¹² Größe Ж λ\u00a0\n") == ""
    assert missing("短波 antenna 短") == "短波"
    wrong = dataclasses.replace(run, scenario=run.scenario.model_copy(update={"title": "短波"}))
    with pytest.raises(ScenarioError) as caught:
        Stage(wrong, size=(640, 360), look=Look())
    assert caught.value.problems[0].field == "title"
    assert caught.value.problems[0].reason == "cannot show 短, 波"


def test_a_setting_keeps_to_its_room() -> None:
    plan = ((1, 40.0), (2, 30.0), (3, 24.0))
    assert set_in("short", 300, plan) == (["short"], 40.0)
    assert set_in("a longer line of words", 300, plan) == (["a longer line", "of words"], 30.0)
    assert set_in("one\ntwo", 100, ((1, 40.0), (2, 30.0))) == (["one", "two"], 30.0)
    assert set_in("word " * 40, 300, plan) is None
    assert set_in("unbreakable" * 5, 300, plan) is None
    tied = set_in("12\u00a0345\u00a0678 W and more", 200, ((2, 24.0),))
    assert tied is not None
    assert tied[0] == ["12\u00a0345\u00a0678", "W and more"]
