"""bouncesim match: every network with the figures of the closed form; what cannot be matched; and a copy of the scenario with one in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim import perform
from bouncesim.cli.match_write import write_match
from bouncesim.exact.matching.networks import every_match
from bouncesim.scenario.rewrite import with_part
from tests.cli.conftest import CLAIM, STATION, Command

WITHOUT = STATION.replace('[[path]]\npart = "tuner"\n', "")
TUNER = """# of the shack
[[path]]   # the [[path]] of the tuner
part = "tuner"
shape = "T"  # not "L"
coil_q = 150

# next comes the meter"""
ABOUT = 'about = """\n[[path]]\n# no remark\n"""\ntitle = "A thin'
REMARKS = STATION.replace('[[path]]\npart = "tuner"', TUNER).replace('title = "A thin', ABOUT)


def written(tmp_path: Path, text: str, name: str = "it.toml") -> str:
    (tmp_path / name).write_text(text, encoding="utf-8")
    return name


def networks(command: Command, *arguments: str) -> list[dict]:
    (tuner,) = command("match", *arguments, "--json").json["tuners"]
    return tuner["networks"]


def test_every_network_and_the_one_that_is_set(command: Command, station: Path) -> None:
    done = command("match", station)
    assert done.code == 0
    assert done.out.startswith("A thin [bold]cable[/bold]")
    for words in (
        "tuner: sees",
        "presents 50 ohm",
        "L, shunt at",
        "pi, ",
        "T, ",
        "stub, open",
        "stub, short",
        "quarter wave, of",
        "--confirm",
    ):
        assert words in done.out
    assert done.out.count("the scenario's tuner takes this") == 1
    assert "Caution:" in done.out
    plain = command("match", station, "--json").json
    (tuner,) = plain["tuners"]
    assert plain["has_tuner"] is True
    assert tuner["load_ohm"]["imag"] != 0
    (own,) = [network for network in tuner["networks"] if network["is_set"]]
    resolved = perform.resolve(perform.load(station))
    network = next(part for part in resolved.path if part.name == "tuner")
    assert [e["value"] for e in own["parts"][0]["elements"]] == [element.value for element in network.elements]
    assert {network["kind"] for network in tuner["networks"]} == {"L", "pi", "T", "stub", "quarter wave"}
    assert all(band["low_hz"] < 10.12e6 < band["high_hz"] for network in tuner["networks"] for band in network["bandwidths"])


def test_options_stand_in_for_the_scenarios_ranges(command: Command, tmp_path: Path) -> None:
    file = written(tmp_path, STATION.replace('part = "tuner"', 'part = "tuner"\nshape = "T"'))
    options = ("--coil-q", "150", "--capacitor-q", "900", "--largest-capacitor", "240 pF", "--largest-coil", "20 uH", "--all")
    found = networks(command, file, *options, "--smallest-capacitor", "12 pF")
    can = [network for network in found if not network["obstacle"]]
    values = [e["value"] for n in can for part in n["parts"] for e in part.get("elements", []) if e["kind"] == "capacitor"]
    assert values
    assert all(12e-12 * (1 - 1e-9) <= value <= 240e-12 * (1 + 1e-9) for value in values)
    heats = [network["heat_w"] for network in can]
    assert heats == pytest.approx(sorted(heats), rel=1e-8)
    assert sum(network["kind"] == "T" for network in found) > 1
    assert command("match", file, "--smallest-capacitor", "1 nF", "--largest-capacitor", "12 pF").code == 2
    moved = command("match", file, "--at", "7.05 MHz", "--json").json
    assert moved["frequency_hz"] == 7.05e6
    assert "7,05" in command("match", file, "--at", "7,05 MHz").err


@pytest.mark.slow
def test_several_tuners(command: Command, tmp_path: Path) -> None:
    file = written(tmp_path, STATION.replace("[antenna]", '[[path]]\npart = "tuner"\n[antenna]'))
    tuners = command("match", file, "--json").json["tuners"]
    assert [tuner["name"] for tuner in tuners] == ["tuner", "tuner 2"]
    assert tuners[1]["load_ohm"] == {"real": 25.0, "imag": -60.0}
    assert tuners[0]["networks"][0]["kind"] == "nothing"
    assert [tuner["name"] for tuner in command("match", file, "--tuner", "tuner 2", "--json").json["tuners"]] == ["tuner 2"]
    assert "tuner, tuner 2" in command("match", file, "--tuner", "tuner 3").err
    assert "say which one with --tuner" in command("match", file, "--write", "new.toml").err
    assert "nothing to write" in command("match", file, "--tuner", "tuner", "--take", "1", "--write", "new.toml").err
    assert command("match", file, "--tuner", "tuner 2", "--write", "new.toml").code == 0
    assert command("match", "new.toml", "--json").json["tuners"][0]["load_ohm"]["real"] == pytest.approx(50, rel=1e-6)


def test_without_a_tuner_there_is_a_place_for_one(command: Command, tmp_path: Path) -> None:
    file = written(tmp_path, WITHOUT)
    assert "There is no tuner in the path" in command("match", file).out
    plain = command("match", file, "--json").json
    assert plain["has_tuner"] is False
    assert not any(network["is_set"] for network in plain["tuners"][0]["networks"])
    flat = command("match", written(tmp_path, WITHOUT.replace("25 - 60j ohm", "50 ohm")))
    assert flat.code == 0
    assert "nothing is left to match" in flat.out


def test_where_the_tuner_itself_cannot_the_nearest_is_told(command: Command, tmp_path: Path) -> None:
    file = written(
        tmp_path, STATION.replace('part = "tuner"', 'part = "tuner"\nshape = "T"\nlargest_capacitor = "12 pF"\nlargest_coil = "3 uH"')
    )
    done = command("match", file)
    assert done.code == 0
    told = " ".join(done.out.split())
    assert "tuner itself (T) cannot make this match: no T setting is within its range" in told
    assert "a capacitor of at least" in told
    assert "The nearest that" in done.out
    (tuner,) = command("match", file, "--json").json["tuners"]
    assert tuner["nearest"]["swr"] > 1.2
    assert next(network for network in tuner["networks"] if network["is_best"])["kind"] == "stub"


def test_where_nothing_matches_the_scenario_is_at_fault(command: Command, tmp_path: Path) -> None:
    done = command("match", written(tmp_path, STATION.replace("25 - 60j ohm", "-60j ohm")))
    assert (done.code, done.out) == (2, "")
    assert "path[1]" in done.err
    assert "no tuner matches" in done.err


@pytest.mark.parametrize("text", [REMARKS, WITHOUT], ids=["a tuner", "none"])
def test_each_network_written_is_that_match(command: Command, tmp_path: Path, text: str) -> None:
    """Every one of them, with the remarks where they were: the file that is read again is the station that was told of."""
    file, new = Path(written(tmp_path, text)), Path("new.toml")
    (found,) = every_match(perform.load(file), assumed={"coil_q": 200.0, "capacitor_q": 1000.0})
    for number, match in enumerate(found.matches, 1):
        write_match(file, found, number, new)
        readings = perform.solve_exact(perform.load(new))
        assert readings.transmitter.swr == pytest.approx(1.0, abs=1e-5)  # values to nine digits, a loaded Q of up to a hundred
        names = {part.name for part in match.candidate.parts}
        heat = sum(part.heat_w for part in (*readings.networks, *readings.lines) if part.name in names)
        assert heat == pytest.approx(match.heat_w, rel=1e-5, abs=1e-9)
        rows = new.read_text().splitlines()
        assert [row for row in text.splitlines() if row not in rows and f"# {row}" not in rows] == []


def test_writing_is_careful(command: Command, tmp_path: Path, station: Path) -> None:
    (tmp_path / "new.toml").write_text("mine")
    done = command("match", station, "--write", "new.toml")
    assert (done.code, (tmp_path / "new.toml").read_text()) == (2, "mine")
    assert "add --force" in done.err
    assert "go with --write" in command("match", station, "--take", "1").err
    assert "--write keeps the scenario's carrier" in command("match", station, "--write", "other.toml", "--at", "7 MHz").err
    assert "there are" in command("match", station, "--write", "other.toml", "--take", "99").err
    claim = CLAIM.format(1).replace("antenna.power_w", "tuner.coil_a_peak").replace("1 W", "1 A")
    file = written(tmp_path, STATION + claim)
    stub = next(network["number"] for network in networks(command, file) if network["kind"] == "quarter wave")
    refused = command("match", file, "--take", str(stub), "--write", "other.toml")
    assert refused.code == 2
    assert "claim[1].quantity" in refused.err
    inline = written(tmp_path, WITHOUT.replace("[[path]]\n", "").split("[transmitter]")[0] + INLINE, "inline.toml")
    assert "cannot be edited safely" in command("match", inline, "--write", "other.toml").err
    assert not (tmp_path / "other.toml").exists()
    limited = written(tmp_path, STATION.replace('part = "tuner"', 'part = "tuner"\nlargest_coil = "10 nH"'))
    short = next(network["number"] for network in networks(command, limited) if network["obstacle"])
    assert "cannot be had" in command("match", limited, "--take", str(short), "--write", "other.toml").err


INLINE = """path = [ { part = "line", length = "31 m", impedance = "50 ohm", velocity_factor = 0.66 } ]
[transmitter]
frequency = "10.12 MHz"
power = "40 W"
[antenna]
impedance = "25 - 60j ohm"
"""


def test_a_path_inside_a_text_or_a_list_is_not_touched() -> None:
    text = "about = '''\n[[path]]\n'''\nlist = [\n  \"[[path]]\", # ]\n  { a = \"\\\"]\" },\n]\n# mine\n[[path]] # here\npart = 'line'"
    assert with_part(text, None, (), None, None) == text
    assert with_part(text, 0, (), None, None).endswith("# mine\n# [[path]] # here\n# part = 'line'")


@pytest.mark.slow
def test_the_simulation_confirms_and_what_was_written_checks(command: Command, tmp_path: Path) -> None:
    """Every network of a station with loss everywhere, on three grids; and bouncesim check agrees on one that was written."""
    lossy = (
        STATION.replace('part = "tuner"', 'part = "tuner"\ncoil_q = 150')
        .replace("31 m", "9 m")
        .replace("0.66", '0.66\nloss = "3 dB/100 m"')
    )
    file = written(tmp_path, lossy)
    (tuner,) = command("match", file, "--confirm", "--json").json["tuners"]
    assert [network["confirmed"] for network in tuner["networks"]] == [True] * len(tuner["networks"])
    stub = next(network["number"] for network in tuner["networks"] if network["kind"] == "stub")
    assert command("match", file, "--take", str(stub), "--write", "new.toml").code == 0
    assert command("check", "new.toml").code == 0
