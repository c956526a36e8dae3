"""bouncesim rules: tables, pictures and JSON."""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim.account.rulemap import Spot
from bouncesim.exact.formulas.rules import RULES
from tests.cli.conftest import Command


def test_one_rule_in_detail(command: Command) -> None:
    done = command("rules", "one-echo", "--format", "svg", "-o", "here")
    assert done.code == 0
    for words in (
        "common practice, no source",
        "It takes for granted: no loss in the line",
        "where it holds within 1 %",
        "Furthest below: -67 %",
    ):
        assert words in done.out
    assert Path("here/one-echo.svg").read_text(encoding="utf-8").startswith("<?xml")
    assert "1 picture in here" in done.err


def test_a_table_of_all(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bouncesim.show.charts.rules.rule_chart", lambda one, theme: type("Sheet", (), {"png": lambda self, file: None})())
    done = command("rules")
    assert done.code == 0
    for rule in RULES:
        assert rule.name in done.out
    assert len(list(Path("outputs/rules").glob("*.png"))) == len(RULES)


@pytest.mark.parametrize(("simulated", "code", "word"), [(1.0, 0, "agrees"), (1.1, 1, "DIFFERS")])
def test_a_march_that_differs_is_a_failure(
    command: Command, monkeypatch: pytest.MonkeyPatch, simulated: float, code: int, word: str
) -> None:
    monkeypatch.setattr("bouncesim.compare.spots.spots", lambda rule: (Spot(3.0, 5.0, "power", simulated, 1.0, 1e-6),))
    done = command("rules", "untuned-power", "--spots", "-o", ".")
    assert done.code == code
    assert word in done.out


def test_json(command: Command) -> None:
    (plain,) = command("rules", "half-an-s-unit", "--json").json["rules"]
    assert plain["name"] == "half-an-s-unit"
    assert plain["assumes"] == ["the meter has 6 dB an S-unit"]
    assert len(plain["off"]) == len(plain["y"]["values"])
    assert plain["rows"][-1]["everywhere"] is True
    assert plain["most_too_little"]["off"] == pytest.approx(-0.5, abs=0.01)


def test_an_unknown_rule(command: Command) -> None:
    done = command("rules", "added-los")
    assert done.code == 2
    assert '"added-los" is not a rule. Nearest: added-loss' in done.err
