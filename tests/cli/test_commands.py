"""Each command: what it prints, what it leaves behind, and its exit code."""

from __future__ import annotations

import dataclasses
import io
import os
import sys
from pathlib import Path

import pytest

from bouncesim import load_run
from bouncesim.account.store import load_verdict
from bouncesim.cli.terminal import progress
from bouncesim.errors import Diverged, NotSettled, OutputError
from bouncesim.scenario import Claim
from bouncesim.scenario.reader import parse_scenario
from tests import samples
from tests.cli.conftest import CLAIM, STATION, Command

ROWS = len(samples.verdict().rows)
COMMANDS = ("run", "check", "film")


def raiser(error: BaseException):
    def fail(*_, **__):
        raise error

    return fail


def test_run_prints_the_account_and_saves_the_run(command: Command, engine, station: Path) -> None:
    done = command("run", station)
    assert done.code == 0
    lines = {line.strip().split("  ")[0]: line.split() for line in done.out.splitlines()}
    assert lines["left the transmitter"][-3:] == ["40", "40", "0"]
    assert lines["heat in tuner"][-3:] == ["1", "1", "0"]
    assert lines["heat in feed line"][-3:] == ["12.5", "12.4999", "+1.0e-04"]
    assert lines["into the antenna"][-3:] == ["26.5", "26.5001", "-1.0e-04"]
    for words in ("2.6 round trips", "10 carrier periods", "3e-09", "2e-14", "infinite", "SWR", "feed line: voltage", "140 V", "Caution:"):
        assert words in done.out
    assert "No tuner" not in done.out
    assert "round trips, with the carrier at once at full strength: 30, 45.5, 60 W" in " ".join(done.out.split())
    assert "largest coil current (A peak)" in done.out
    assert "capacitor" not in done.out, "there is none"
    assert "reflected, least it may show (W)" in done.out
    assert "reflected, most it may show (W)" not in done.out, "the same as the reading"
    assert load_run("outputs/thin").readings == samples.readings()
    assert sorted(os.listdir()) == ["outputs", "thin.toml"]
    assert done.err == "Saved in outputs/thin\n"


def test_texts_are_printed_as_they_are_and_control_characters_not_at_all(command: Command, engine, tmp_path: Path) -> None:
    claims = (Claim(says="Enough [i]power[/i] arrives", quantity="antenna.power_w", at_least=20.0),)
    run = samples.run(claims=claims)
    run = dataclasses.replace(run, scenario=run.scenario.model_copy(update={"title": "A [bold]title[/bold] \x1b[2J:smile:"}))
    engine.setattr("bouncesim.perform.simulate", lambda scenario, progress=None: run)
    (tmp_path / "a.toml").write_text(STATION + CLAIM.format(20), encoding="utf-8")
    done = command("run", "a.toml")
    assert "A [bold]title[/bold]  [2J:smile:" in done.out
    assert "Enough [i]power[/i] arrives" in done.out
    assert "\x1b" not in done.out


def test_run_saves_where_it_is_told(command: Command, engine, station: Path) -> None:
    assert command("run", station, "--output", "elsewhere/deep").code == 0
    assert load_run("elsewhere/deep").readings == samples.readings()
    assert not Path("outputs").exists()


def test_without_a_tuner_the_range_over_source_impedances_is_printed(command: Command, engine, tmp_path: Path) -> None:
    (tmp_path / "bare.toml").write_text(STATION.replace('[[path]]\npart = "tuner"\n', ""), encoding="utf-8")
    done = command("run", "bare.toml")
    assert "No tuner: power in watts by source impedance" in done.out
    assert "5 ohm" in done.out
    assert "50 ohm (its own)" in done.out
    antenna = [line.split() for line in done.out.splitlines() if line.strip().startswith("into the antenna")]
    assert antenna[1][-3:] == ["2.5", "25", "250"]
    plain = command("run", "bare.toml", "--json").json
    assert [entry["source_impedance_ohm"] for entry in plain["by_source_impedance"]] == [5, 50, 500]


def test_claims_decide_the_exit_code(command: Command, engine, tmp_path: Path) -> None:
    for bound, code, words in ((25, 0, "holds with 6 % to spare"), (53, 1, "fails by 50 %")):
        (tmp_path / "a.toml").write_text(STATION + CLAIM.format(bound), encoding="utf-8")
        for arguments in (("run", "a.toml"), ("film", "a.toml")):
            done = command(*arguments)
            assert done.code == code
            assert words in done.out
        (claim,) = command("run", "a.toml", "--json").json["claims"]
        assert claim == {
            "says": "Enough [i]power[/i] arrives",
            "quantity": "antenna.power_w",
            "at_least": bound,
            "at_most": None,
            "about": None,
            "within": None,
            "value": 26.5,
            "error_bar": pytest.approx(1e-4),  # from the closed form of the engine in its place
            "outcome": "holds" if code == 0 else "fails",
            "holds": code == 0,
            "margin": 26.5 - bound,
            "worst_with": None,
        }


def test_run_json_is_one_strict_object_with_units_in_its_keys(command: Command, engine, station: Path) -> None:
    done = command("run", station, "--json")
    assert done.code == 0
    plain = done.json
    assert plain["title"] == "A [bold]station[/bold] of \u2126"
    assert plain["readings"]["antenna"]["power_w"] == 26.5
    assert plain["exact"]["antenna"]["power_w"] == 26.5001
    assert plain["readings"]["transmitter"]["impedance_ohm"] == {"real": 50.0, "imag": -1e-9}
    assert plain["readings"]["meters"][0]["swr"] is None
    assert plain["ledger"]["heat_j"] == {"tuner": 1e-6, "feed line": 12e-6}
    assert plain["moments_s"]["first echo"] == 3e-7
    assert plain["saved"] == "outputs/thin"
    assert len(plain["cautions"]) == 4


def test_check_prints_every_reading_and_its_verdict(command: Command, engine, station: Path) -> None:
    done = command("check", station)
    assert done.code == 0
    assert "160, 320, 640" in done.out
    assert sum("holds" in line for line in done.out.splitlines()) == len(samples.verdict().rows)
    assert f"All {len(samples.verdict().rows)} readings hold." in done.out
    assert sorted(os.listdir()) == ["thin.toml"]


def test_a_failed_check_says_what_failed_and_exits_with_1(command: Command, engine, station: Path) -> None:
    engine.setattr("bouncesim.compare.check.check", lambda scenario, transient=False, progress=None: samples.verdict(holds=False))
    done = command("check", station)
    assert done.code == 1
    assert f"1 of {ROWS} readings FAIL: antenna.power_w" in " ".join(done.out.split())
    done = command("check", station, "--json")
    assert done.code == 1
    assert done.json["holds"] is False
    assert [row["quantity"] for row in done.json["rows"] if row["outcome"] == "fails"] == ["antenna.power_w"]
    done = command("film", station)
    assert done.code == 1
    assert Path("outputs/thin/thin.mp4").read_text() == "dark full False"


def test_film_is_the_main_job(command: Command, engine, station: Path) -> None:
    done = command("film", station)
    assert done.code == 0
    assert "Where the power goes" in done.out
    assert "error bar" in done.out
    assert f"All {ROWS} readings hold." in done.out
    assert sorted(os.listdir("outputs/thin")) == ["run.json", "run.npz", "thin.mp4", "verdict.json"]
    assert Path("outputs/thin/thin.mp4").read_text() == "dark full True"
    assert load_verdict("outputs/thin") == samples.verdict()


def test_film_options(command: Command, engine, station: Path) -> None:
    done = command("film", station, "--output", "clips/a.mp4", "--theme", "light", "--draft", "--no-check")
    assert done.code == 0
    assert os.listdir("clips") == ["a.mp4"]
    assert Path("clips/a.mp4").read_text() == "light draft unchecked"
    assert not Path("outputs").exists()


def test_new_writes_a_scenario_that_can_be_read_and_never_overwrites(command: Command) -> None:
    done = command("new", "mine.toml")
    assert done.code == 0
    text = Path("mine.toml").read_text(encoding="utf-8")
    assert parse_scenario(text).title
    assert text.count("#") > 10, "the starter explains itself"
    Path("mine.toml").write_text("changed")
    done = command("new", "mine.toml")
    assert done.code == 2
    assert "mine.toml exists already" in done.err
    assert Path("mine.toml").read_text() == "changed"
    assert command("new", "sub/deep/mine.toml").code == 0
    assert os.listdir("sub/deep") == ["mine.toml"]


def test_a_scenario_is_found_by_its_bare_name(command: Command, engine, tmp_path: Path) -> None:
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "thin-cable.toml").write_text(STATION, encoding="utf-8")
    assert command("run", "thin-cable").code == 0
    assert command("run", "thin-cable.toml").code == 0
    assert os.listdir("outputs") == ["thin-cable"]


@pytest.mark.parametrize("name", COMMANDS)
def test_a_scenario_that_is_not_there_is_answered_with_the_nearest_names(command: Command, tmp_path: Path, name: str) -> None:
    (tmp_path / "scenarios").mkdir()
    (tmp_path / "scenarios" / "thin-cable.toml").write_text(STATION, encoding="utf-8")
    for wrong in ("thin-cabel", "thin-cabel.toml", "scenarios/thincable.toml"):
        done = command(name, wrong)
        assert done.code == 2
        assert f"there is no file {wrong}. Nearest: scenarios/thin-cable.toml" in " ".join(done.err.split())
    assert "There are: scenarios/thin-cable.toml" in command(name, "zzz").err
    assert "scenarios is a folder" in command(name, "scenarios").err
    assert command(name, "x" * 5000).code == 2
    assert command(name, "a\0b").code == 2
    assert os.listdir() == ["scenarios"]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_problem_of_a_scenario_is_told_and_nothing_written(command: Command, tmp_path: Path, name: str) -> None:
    wrong = STATION.replace('"40 W"', '"40 V"').replace('"31 m"', "31").replace('"50 ohm"', '"7,1 ohm"')
    (tmp_path / "wrong.toml").write_text(wrong, encoding="utf-8")
    done = command(name, "wrong.toml")
    assert done.code == 2
    for place in ("transmitter.power", "path[3].length", "path[3].impedance"):
        assert f"Error: {place}: " in done.err
    assert done.out == ""
    assert os.listdir() == ["wrong.toml"]


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"title = ", b"", b"[[["])
def test_a_file_that_is_no_scenario_is_refused(command: Command, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "odd.toml").write_bytes(content)
    done = command("run", "odd.toml")
    assert done.code == 2
    assert "Traceback" not in done.err
    assert done.err.startswith("Error: ")


@pytest.mark.parametrize(
    ("error", "code"),
    [(NotSettled("still ringing"), 3), (Diverged("books do not close"), 3), (OutputError("no room"), 4), (OSError(28, "No space left"), 4)],
)
def test_each_error_has_its_exit_code(command: Command, engine, station: Path, error: Exception, code: int) -> None:
    for place, name in (
        ("bouncesim.perform.simulate", "run"),
        ("bouncesim.compare.check.check", "check"),
        ("bouncesim.show.film.film", "film"),
    ):
        with engine.context() as patch:
            patch.setattr(place, raiser(error))
            done = command(name, station, *(["--no-check"] if name == "film" else []))
        assert done.code == code
        assert done.err.startswith("Error: ")
        assert "Traceback" not in done.err
        assert len(done.err.splitlines()) == 1


def test_a_run_that_does_not_settle_leaves_nothing(command: Command, engine, station: Path) -> None:
    engine.setattr("bouncesim.perform.simulate", raiser(NotSettled("still ringing")))
    assert command("run", station).code == 3
    assert os.listdir() == ["thin.toml"]


def test_ctrl_c_is_answered_with_a_sentence(command: Command, engine, station: Path) -> None:
    engine.setattr("bouncesim.perform.simulate", raiser(KeyboardInterrupt()))
    done = command("run", station)
    assert done.code == 130
    assert done.err == "\nStopped. Nothing half-written is left behind.\n"


def test_an_error_of_our_own_making_keeps_its_traceback(command: Command, engine, station: Path) -> None:
    engine.setattr("bouncesim.perform.simulate", raiser(ZeroDivisionError("a defect")))
    with pytest.raises(ZeroDivisionError):
        command("run", station)


@pytest.mark.parametrize("folder", ["file/results", "/proc/bouncesim/results"])
def test_a_folder_that_cannot_be_written_shows_before_the_work(command: Command, engine, station: Path, folder: str) -> None:
    Path("file").write_text("in the way")  # root may write anywhere else
    engine.setattr("bouncesim.perform.simulate", raiser(AssertionError("the work has started")))
    for arguments in (("run", station, "--output", folder), ("film", station, "--output", f"{folder}/a.mp4")):
        done = command(*arguments)
        assert done.code == 4
        assert "cannot write into" in done.err
    assert command("new", f"{folder}/a.toml").code == 4
    assert sorted(os.listdir()) == ["file", "thin.toml"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["run"], "Missing argument 'SCENARIO'"),
        (["run", "thin.toml", "more.toml"], "unexpected extra argument"),
        (["run", "thin.toml", "--jsn"], "--json"),
        (["rnu", "thin.toml"], "Did you mean 'run'?"),
        (["film", "thin.toml", "--theme", "pink"], "'dark', 'light'"),
        (["film", "thin.toml", "--output", "a.avi"], "cannot be written as 'avi'; the kinds are mp4, webm, gif, png, mov"),
        (["film", "thin.toml", "--size", "641x360"], "take 642x360"),
        (["film", "thin.toml", "--size", "64x36"], "A film of 64x36 cannot be made"),
        (["film", "thin.toml", "--size", "large"], "'large' is no size"),
        (["film", "thin.toml", "--hide", "echo"], "there is no curve 'echo'"),
        (["film", "thin.toml", "--transparent"], "choose png or mov"),
        (["film", "thin.toml", "--format", "gif", "--fps", "30"], "choose 10, 20, 25 or 50"),
        (["film", "thin.toml", "--words", "thin.toml"], "is no word of the film"),
        (["film", "thin.toml", "--output", "."], "holds other things"),
        (["new"], "Missing argument 'FILE'"),
        (["new", "."], "directory"),
        ([], "Usage: bouncesim"),
    ],
)
def test_a_wrong_command_line_is_answered_with_2(command: Command, station: Path, arguments: list[str], words: str) -> None:
    done = command(*arguments)
    assert done.code == 2
    assert words in done.err
    assert done.out == ""
    assert os.listdir() == ["thin.toml"]


def test_no_bar_moves_where_there_is_no_terminal_and_one_does_where_there_is() -> None:
    for interactive in (False, True):
        stream = io.StringIO()
        stream.isatty = lambda answer=interactive: answer  # type: ignore[method-assign]
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sys, "stderr", stream)
            patch.setenv("TERM", "xterm")
            with progress("simulating") as tick:
                tick(1, 3)
        assert ("simulating" in stream.getvalue()) is interactive
