"""bouncesim match: every setting of a tuner, or what one would do, with the figures of the closed form."""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim import perform
from tests.cli.conftest import STATION, Command

WITHOUT = STATION.replace('[[path]]\npart = "tuner"\n', "")


def written(tmp_path: Path, text: str) -> str:
    (tmp_path / "it.toml").write_text(text, encoding="utf-8")
    return "it.toml"


def test_every_setting_of_an_l_and_the_one_that_is_taken(command: Command, station: Path) -> None:
    done = command("match", station)
    assert done.code == 0
    assert done.out.startswith("A thin [bold]cable[/bold]")
    assert "tuner (L): sees" in done.out
    assert "presents 50 ohm" in done.out
    assert done.out.count("taken:") == 1
    assert "stub" not in done.out
    assert "Caution:" in done.out
    plain = command("match", station, "--json").json
    (tuner,) = plain["tuners"]
    assert plain["has_tuner"] is True
    assert plain["stubs"] == []
    assert [setting["chosen"] for setting in tuner["settings"]] == [True] + [False] * (len(tuner["settings"]) - 1)
    assert len(tuner["settings"]) >= 2
    resolved = perform.resolve(perform.load(station))
    network = next(part for part in resolved.path if part.name == "tuner")
    assert tuner["settings"][0]["elements"] == [element.model_dump() for element in network.elements]


def test_heat_current_and_voltage_are_those_of_the_station(command: Command, tmp_path: Path) -> None:
    lossy = 'part = "tuner"\nshape = "T"\ncoil_q = 150\ncapacitor_q = 900\nlargest_capacitor = "240 pF"\nlargest_coil = "20 uH"'
    file = written(tmp_path, STATION.replace('part = "tuner"', lossy))
    chosen, *others = command("match", file, "--json").json["tuners"][0]["settings"]
    reading = next(part for part in perform.solve_exact(perform.load(file)).networks if part.name == "tuner")
    for name in ("heat_w", "coil_a_peak", "capacitor_v_peak"):
        assert chosen[name] == pytest.approx(getattr(reading, name), rel=1e-12)
    assert others
    assert all(other["heat_w"] >= chosen["heat_w"] and other["why"] == "more heat" for other in others)
    assert all(element["value"] <= 240.001e-12 for other in others for element in other["elements"] if element["kind"] == "capacitor")


def test_two_tuners_are_told_in_the_order_of_the_path(command: Command, tmp_path: Path) -> None:
    file = written(tmp_path, STATION.replace("[antenna]", '[[path]]\npart = "tuner"\n[antenna]'))
    tuners = command("match", file, "--json").json["tuners"]
    assert [tuner["name"] for tuner in tuners] == ["tuner", "tuner 2"]
    assert tuners[1]["load_ohm"] == {"real": 25.0, "imag": -60.0}
    assert tuners[0]["settings"][0]["why"] == "nothing is left to match"


def test_without_a_tuner_all_shapes_and_stubs_are_shown(command: Command, tmp_path: Path) -> None:
    file = written(tmp_path, WITHOUT)
    done = command("match", file)
    assert done.code == 0
    for words in ("There is no tuner in the path", "(L)", "(pi)", "(T)", "A stub", "open", "short", "wavelengths"):
        assert words in done.out
    plain = command("match", file, "--json").json
    assert plain["has_tuner"] is False
    assert [tuner["shape"] for tuner in plain["tuners"]] == ["L", "pi", "T"]
    assert len(plain["stubs"]) == 4


def test_a_flat_station_needs_nothing(command: Command, tmp_path: Path) -> None:
    done = command("match", written(tmp_path, WITHOUT.replace("25 - 60j ohm", "50 ohm")))
    assert done.code == 0
    assert "A stub: none is needed." in done.out
    assert "nothing is left to match" in done.out


@pytest.mark.parametrize(
    ("tuner", "antenna", "words"),
    [
        ('part = "tuner"\nlargest_coil = "10 nH"\nlargest_capacitor = "10 pF"', "25 - 60j ohm", "no L setting is within its range"),
        ('part = "tuner"\nshape = "T"\nlargest_capacitor = "12 pF"\nlargest_coil = "3 uH"', "25 - 60j ohm", "a capacitor of at least"),
        ('part = "tuner"', "-60j ohm", "no tuner matches"),
    ],
)
def test_what_cannot_be_matched_is_the_scenarios_fault(command: Command, tmp_path: Path, tuner: str, antenna: str, words: str) -> None:
    done = command("match", written(tmp_path, STATION.replace('part = "tuner"', tuner).replace("25 - 60j ohm", antenna)))
    assert (done.code, done.out) == (2, "")
    assert words in done.err
    assert "path[1]" in done.err
