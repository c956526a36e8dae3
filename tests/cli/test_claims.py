"""bouncesim claims: outcomes, exit codes and JSON, with a quick engine in the place of the check."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import CLAIM, STATION, Command


@pytest.fixture
def files(tmp_path: Path) -> Path:
    """A claim that holds, one that fails, one within the error bar of 1e-9, and a station that claims nothing."""
    for name, bound in (("good", 25), ("bad", 53), ("close", 26.5 - 1e-10)):
        (tmp_path / f"{name}.toml").write_text(STATION + CLAIM.format(bound), encoding="utf-8")
    (tmp_path / "silent.toml").write_text(STATION, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("names", "code", "words"),
    [
        (["good"], 0, "Of 1 claims 1 hold, 0 fail."),
        (["bad"], 1, "fails by 50 %"),
        (["good", "bad"], 1, "Of 2 claims 1 hold, 1 fail."),
        (["close"], 0, "1 are too close to call."),
        (["silent"], 0, "It claims nothing."),
    ],
)
def test_outcomes_decide_the_exit_code(command: Command, engine, files: Path, names: list[str], code: int, words: str) -> None:
    done = command("claims", *(f"{name}.toml" for name in names))
    assert done.code == code
    assert words in done.out


def test_json(command: Command, engine, files: Path) -> None:
    plain = command("claims", "good.toml", "close.toml", "--json").json
    assert [one["file"] for one in plain["scenarios"]] == ["good.toml", "close.toml"]
    assert [claim["outcome"] for one in plain["scenarios"] for claim in one["claims"]] == ["holds", "too close to call"]
    (claim,) = plain["scenarios"][0]["claims"]
    assert (claim["at_least"], claim["value"], claim["error_bar"], claim["margin"]) == (25, 26.5, 1e-9, 1.5)


def test_nothing_to_judge_and_a_file_that_is_not_there(command: Command) -> None:
    assert command("claims").code == 2
    done = command("claims", "no-such.toml")
    assert done.code == 2
    assert "no-such.toml" in done.err
