"""Every command that may take long says so at once, with the reason, the way round and exit code 2, and leaves nothing behind."""

import io
import os
import sys
from pathlib import Path

import pytest

from bouncesim import __main__ as program
from bouncesim import budget, perform
from bouncesim.cli.main import COMMANDS, commands
from bouncesim.cli.work import check_ahead
from tests.cli.conftest import CLAIM, STATION, Command

LONG = STATION.replace('"31 m"', '"40 km"').replace('part = "tuner"\n[[path]]\n', "") + CLAIM.format(1)
DOUBLET = STATION.replace('impedance = "25 - 60j ohm"', 'dipole = { length = "2 km", wire = "1 mm" }').replace("10.12 MHz", "29 MHz")
STORY = '[[beat]]\nuntil = "{} us"\nlasts = "600 s"\npause = "60 s"\ncaption = "c"\n'
FILM = STATION + "".join(STORY.format(k) for k in range(1, 61))
SURVEY = (
    STATION
    + '[survey]\nfrequency = { from = "2 MHz", to = "30 MHz", count = 2000 }\nlength = { from = "3 m", to = "60 m", count = 2000 }\n'
)
REFUSED = [
    (("run",), LONG, "cells along the lines"),
    (("run", "--json"), LONG, "cells along the lines"),
    (("check", "--json"), LONG, "The check, on its grid of 640 steps a period, takes"),
    (("claims", "--json"), LONG, "The check, on its grid of 640 steps a period, takes"),
    (("report",), LONG, "The check, on its grid of 640 steps a period, takes"),
    (("film",), LONG, "The check, on its grid of 640 steps a period, takes"),
    (("film", "--no-check"), LONG, "cells along the lines"),
    (("film", "--no-check"), FILM, "The film takes 1,188,240 frames of 1920x1080"),
    (("film", "--no-check", "--format", "png", "--draft"), FILM, "GB on disk"),
    (("film", "--size", "4320x4320"), STATION, "A film of 4320x4320 is large"),
    (("film", "--turn", "coil", "--size", "4320x2160"), STATION, "A film of 4320x2160 is large"),
    (("film", "--no-check", "--beside", "other.toml"), LONG, "cells along the lines"),
    (("chart",), LONG, "cells along the lines"),
    (("chart", "--size", "7680x7680"), STATION, "charts of 7680x7680"),
    (("match", "--confirm"), LONG.replace("40 km", "8 km"), "The check, on its grid of 640 steps a period, takes"),
    (("survey",), SURVEY, "This survey takes 4,000,000 stations"),
    *(((name,), DOUBLET, "The doublet is 1") for name in ("run", "match", "demonstrate", "bands", "open-wire")),
    (("explain", "--on-line", "70 W", "30 W"), DOUBLET, "The doublet is 1"),
]


@pytest.fixture(autouse=True)
def usual(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(budget, "memory_bytes", lambda: 64e9)
    yield
    budget.allow_work(1)


@pytest.mark.parametrize(("words", "scenario", "told"), REFUSED, ids=lambda value: " ".join(value) if isinstance(value, tuple) else "")
def test_too_much_is_refused(command: Command, tmp_path: Path, words: tuple[str, ...], scenario: str, told: str) -> None:
    (tmp_path / "station.toml").write_text(scenario, encoding="utf-8")
    (tmp_path / "other.toml").write_text(STATION, encoding="utf-8")
    name, *options = words
    done = command(name, "station.toml", *options)
    assert done.code == 2
    assert done.out == ""
    assert told in done.err
    assert "Allowed: 30 minutes, 1 GB of memory and 10 GB on disk" in done.err
    assert "--most-work " in done.err or "years" in done.err
    assert not (tmp_path / "outputs").exists()


def test_more_is_allowed_for_one_command_line_alone(command: Command, tmp_path: Path) -> None:
    """Twice the memory lets a doublet through that is refused otherwise; the next command line has the usual limits again."""
    (tmp_path / "station.toml").write_text(DOUBLET.replace("2 km", "1.2 km"), encoding="utf-8")
    assert command("explain", "station.toml", "--on-line", "70 W", "30 W").code == 2
    assert command("explain", "station.toml", "--on-line", "70 W", "30 W", "--most-work", "2").code in (0, 1)
    assert command("explain", "station.toml", "--on-line", "70 W", "30 W").code == 2


def test_the_flag_is_on_every_command_that_can_refuse() -> None:
    with_flag = {name for name in COMMANDS for option in commands.get_command(None, name).params if "--most-work" in option.opts}
    assert {words[0] for words, *_ in REFUSED} == with_flag


PULSE = STATION.replace('shape = "step"', 'shape = "pulse"\nwidth = "60 ns"')


@pytest.mark.parametrize(
    ("antenna", "told"),
    [
        ('dipole = { length = "14 m", wire = "2 mm" }', "fitting a circuit to the antenna"),
        ('impedance = "25 - 60j ohm"', "looking ahead"),
    ],
)
def test_a_terminal_tells_what_is_done_before_there_is_an_estimate(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, antenna: str, told: str
) -> None:
    (tmp_path / "station.toml").write_text(PULSE.replace('impedance = "25 - 60j ohm"', antenna), encoding="utf-8")
    loaded, stream, seen = perform.load(tmp_path / "station.toml"), io.StringIO(), []
    resolve = perform.resolve

    def watched(scenario):
        seen.append(stream.getvalue())
        return resolve(scenario)

    stream.isatty = lambda: True  # type: ignore[method-assign]
    monkeypatch.setattr(perform, "resolve", watched)
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    check_ahead(loaded, checked=False, started=False)
    assert told in seen[0]  # already when the work begins


def test_a_command_has_one_thread_of_linear_algebra_unless_told_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    first, *others = program.ONE_THREAD
    monkeypatch.setenv(first, "3")
    for variable in others:
        monkeypatch.setenv(variable, "")  # so that what is set now is taken back afterwards
        monkeypatch.delenv(variable)
    for name in ("listen", "leave"):  # the signals of the tests stay as they are
        monkeypatch.setattr(program, name, lambda: None)
    seen = []
    monkeypatch.setattr("bouncesim.cli.main.main", lambda: seen.append(dict(os.environ)) or 0)
    assert program.program() == 0
    assert [seen[0][variable] for variable in program.ONE_THREAD] == ["3", *("1" for _ in others)]
