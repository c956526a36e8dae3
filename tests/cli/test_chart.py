"""bouncesim chart: what it draws, what it refuses, and its exit codes."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bouncesim.account.store import save_verdict
from bouncesim.errors import OutputError
from bouncesim.show.charts.kinds import KINDS
from tests import samples
from tests.cli.conftest import CLAIM, STATION, Command


@pytest.fixture
def drawn(engine: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """The calls that the drawing got, in place of the drawing."""
    calls: list[dict[str, Any]] = []

    def write(run, folder, kinds, **options) -> list[Path]:
        options.pop("progress")(1, 1)
        calls.append({"run": run, "folder": Path(folder), "kinds": tuple(kinds), **options})
        return [Path(folder) / f"{kind}.{form}" for kind in kinds for form in options["formats"]]

    engine.setattr("bouncesim.show.charts.draw.write_charts", write)
    engine.setattr("bouncesim.perform.resolve", lambda scenario: samples.scenario())
    return calls


def test_all_charts_by_default(command: Command, drawn, station: Path) -> None:
    done = command("chart", station)
    assert done.code == 0
    (call,) = drawn
    assert call["kinds"] == tuple(kind for kind in KINDS if kind != "echo")
    assert call["start_up"] == samples.start_up()
    assert (call["folder"], call["size"], call["theme"], call["formats"]) == (Path("outputs/thin"), (1920, 1080), "dark", ("png",))
    assert call["answer"].quantity == "antenna.power_w"
    assert call["answer"].words == "power into the antenna"
    assert call["answer"].question == "A [bold]station[/bold] of \u2126"
    assert call["answer"].exact == 26.5001
    assert done.out.splitlines()[0] == "outputs/thin/standing-wave.png"


def test_charts_by_name_size_and_form(command: Command, drawn, station: Path) -> None:
    options = ("--output", "pics", "--format", "png", "--format", "svg", "--size", "800x450", "--theme", "light")
    assert command("chart", station, "flow", "bounces", *options).code == 0
    (call,) = drawn
    assert call["kinds"] == ("bounces", "flow")
    assert (call["folder"], call["size"], call["theme"], call["formats"]) == (Path("pics"), (800, 450), "light", ("png", "svg"))
    assert call["answer"] is None
    for shape, size in (("tall", (1080, 1920)), ("square", (1080, 1080))):
        command("chart", station, "flow", "--shape", shape)
        assert drawn[-1]["size"] == size


def test_the_answer_says_how_to_get_it_again(command: Command, drawn, station: Path) -> None:
    question, quantity = "Is it lost; or $what's left?", "feed line.loss_db"
    assert command("chart", station, "answer", "--question", question, "--answer", quantity, "--check").code == 0
    answer = drawn[0]["answer"]
    assert (answer.question, answer.value, answer.words) == (question, 1.68, "loss of the feed line, as it is used")
    assert (answer.error_bar, answer.outcome) == (1e-9, "holds")
    again = answer.command
    assert again.startswith("bouncesim chart thin.toml answer --question ")
    import shlex

    assert shlex.split(again)[4:] == ["--question", question, "--answer", quantity, "--check"]
    for options, look in ((("--size", "800x450"), ["--size", "800x450"]), (("--shape", "tall", "--theme", "light"), None)):
        command("chart", station, "answer", *options)
        assert shlex.split(drawn[-1]["answer"].command)[4:] == (look or list(options))


def test_claims_and_checks_decide_the_exit_code(command: Command, drawn, engine, tmp_path: Path) -> None:
    for bound, code in ((25, 0), (53, 1)):
        (tmp_path / "a.toml").write_text(STATION + CLAIM.format(bound), encoding="utf-8")
        assert command("chart", "a.toml", "flow").code == code
    engine.setattr("bouncesim.compare.check.check", lambda scenario, progress=None: samples.verdict(holds=False))
    (tmp_path / "a.toml").write_text(STATION, encoding="utf-8")
    assert command("chart", "a.toml", "answer", "--check").code == 1
    assert drawn[-1]["answer"].outcome == "fails"


def test_a_range_where_there_is_no_tuner(command: Command, drawn, engine, tmp_path: Path) -> None:
    engine.setattr("bouncesim.perform.resolve", lambda scenario: samples.scenario(tuned=False))
    (tmp_path / "bare.toml").write_text(STATION.replace('[[path]]\npart = "tuner"\n', ""), encoding="utf-8")
    assert command("chart", "bare.toml", "answer").code == 0
    answer = drawn[0]["answer"]
    assert (answer.least, answer.most) == (2.5, 250)


def test_a_saved_run_is_drawn_if_it_is_that_of_the_scenario(command: Command, drawn, engine, station: Path, tmp_path: Path) -> None:
    samples.run().save(tmp_path / "saved")
    save_verdict(samples.verdict(), tmp_path / "saved")
    engine.setattr("bouncesim.perform.simulate", None)
    told = samples.scenario().model_copy(update={"title": "Another title"})
    engine.setattr("bouncesim.perform.resolve", lambda scenario: told)
    assert command("chart", station, "answer", "--run", "saved").code == 0
    (call,) = drawn
    assert call["run"].scenario.title == "Another title"
    assert call["answer"].error_bar == 1e-9
    save_verdict(samples.verdict(), tmp_path / "saved", samples.scenario())
    assert command("chart", station, "answer", "--run", "saved").code == 0
    assert drawn.pop()["answer"].error_bar == 1e-9
    longer = told.transmitter.model_copy(update={"power_w": 41.0})
    engine.setattr("bouncesim.perform.resolve", lambda scenario: told.model_copy(update={"transmitter": longer}))
    done = command("chart", station, "answer", "--run", "saved")
    assert (done.code, len(drawn)) == (2, 1)
    assert "The run in saved is that of another station than thin.toml" in done.err
    stronger = samples.scenario().model_copy(update={"transmitter": longer})
    save_verdict(samples.verdict(), tmp_path / "saved", stronger)  # left by a run that was there before
    engine.setattr("bouncesim.perform.resolve", lambda scenario: told)
    assert command("chart", station, "answer", "--run", "saved").code == 0
    assert drawn.pop()["answer"].error_bar is None


MISTAKES: dict[str, tuple[tuple[str, ...], str]] = {
    "an unknown chart": (("flows",), "there is no chart 'flows'. Nearest: flow"),
    "an unknown form": (("--format", "gif"), "'gif' is not one of"),
    "no size": (("--size", "large"), "'large' is no size"),
    "a strange size": (("--size", "4000x500"), "A chart of 4000x500 cannot be drawn"),
    "a theme that there is not": (("--theme", "pink"), "'pink' is not one of"),
    "no such run": (("--run", "nowhere"), "no run can be read from nowhere"),
    "no such reading": (("answer", "--answer", "antenna.powr_w"), 'There is no reading "antenna.powr_w". Nearest: antenna.power_w'),
    "an empty question": (("answer", "--question", "  "), "A question has 1 to 240 characters; this one has 0"),
    "a long question": (("answer", "--question", "why " * 80), "A question has 1 to 240 characters; this one has 319"),
}


@pytest.mark.parametrize(("arguments", "words"), MISTAKES.values(), ids=MISTAKES)
def test_mistakes_are_told_and_nothing_is_left(command: Command, drawn, station: Path, arguments: tuple[str, ...], words: str) -> None:
    done = command("chart", station, *arguments)
    assert done.code == 2
    assert words in " ".join(done.err.split())
    assert "Traceback" not in done.err
    assert not drawn
    assert os.listdir() == ["thin.toml"]


def test_what_cannot_be_written_is_told(command: Command, drawn, engine, station: Path) -> None:
    def full(*_: object, **__: object) -> None:
        raise OutputError("cannot write into outputs/thin: No space left on device.")

    engine.setattr("bouncesim.show.charts.draw.write_charts", full)
    done = command("chart", station, "flow")
    assert (done.code, "Traceback" in done.err) == (4, False)
    assert "No space left" in done.err
    Path("file").write_text("in the way")
    assert command("chart", station, "flow", "--output", "file/pics").code == 4


def test_the_list_of_charts(command: Command) -> None:
    done = command("chart", "--list")
    assert done.code == 0
    assert [line.split()[0] for line in done.out.splitlines()] == list(KINDS)


@pytest.mark.slow
def test_charts_of_a_real_station(command: Command, station: Path) -> None:
    answer: Callable[..., Any] = lambda *more: command("chart", station, "flow", "answer", "--size", "640x360", *more)  # noqa: E731
    assert answer("--format", "png", "--format", "svg").code == 0
    assert sorted(os.listdir("outputs/thin")) == ["answer.png", "answer.svg", "flow.png", "flow.svg"]
    first = Path("outputs/thin/flow.png").read_bytes()
    assert command("run", station).code == 0
    assert answer("--run", "outputs/thin").code == 0
    assert Path("outputs/thin/flow.png").read_bytes() == first
