"""The command line with a quick engine in its place: these tests are about words, files and exit codes, not about physics."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from bouncesim.cli.main import main
from tests import samples

STATION = """
title = "A thin [bold]cable[/bold]"
[transmitter]
frequency = "10.12 MHz"
power = "40 W"
[keying]
shape = "step"
[[path]]
part = "tuner"
[[path]]
part = "meter"
[[path]]
part = "line"
name = "feed line"
length = "31 m"
impedance = "50 ohm"
velocity_factor = 0.66
[antenna]
impedance = "25 - 60j ohm"
"""
CLAIM = """
[[claim]]
says = "Enough [i]power[/i] arrives"
quantity = "antenna.power_w"
at_least = "{} W"
"""


@dataclass
class Outcome:
    """Exit code and both streams of one command line."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The one object on stdout, read strictly."""

        def refuse(word: str) -> None:
            raise AssertionError(f"{word} is not JSON")

        return json.loads(self.out, parse_constant=refuse)


Command = Callable[..., Outcome]


@pytest.fixture
def command(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Command:
    """Run a command line in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "120")

    def run(*arguments: str | Path) -> Outcome:
        code = main([str(argument) for argument in arguments])
        out, err = capfd.readouterr()
        return Outcome(code, out, err)

    return run


@pytest.fixture
def engine(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Invented results at once; returns the patcher, to make something fail."""

    def film(run, path, verdict=None, *, theme="dark", draft=False, progress=None, **others) -> None:
        progress(1, 2)
        Path(path).parent.mkdir(parents=True, exist_ok=True)
        Path(path).write_text(f"{theme} {'draft' if draft else 'full'} {verdict.holds if verdict else 'unchecked'}")

    def simulate(scenario, progress=None):
        progress(0.5)
        return samples.run(tuned=any(part.part == "tuner" for part in scenario.path), claims=scenario.claims)

    monkeypatch.setattr("bouncesim.perform.simulate", simulate)
    monkeypatch.setattr("bouncesim.perform.start_up.start_up", lambda scenario, progress=None: samples.start_up())
    monkeypatch.setattr("bouncesim.perform.solve_exact", lambda scenario: samples.readings(26.5001))
    monkeypatch.setattr("bouncesim.perform.source_range", lambda scenario: {z: samples.readings(z / 2) for z in (5.0, 50.0, 500.0)})
    monkeypatch.setattr("bouncesim.compare.check.check", lambda scenario, transient=False, progress=None: samples.verdict())
    monkeypatch.setattr("bouncesim.show.film.film", film)
    return monkeypatch


@pytest.fixture
def station(tmp_path: Path) -> Path:
    """A scenario file in the folder where the commands run."""
    (tmp_path / "thin.toml").write_text(STATION, encoding="utf-8")
    return Path("thin.toml")
