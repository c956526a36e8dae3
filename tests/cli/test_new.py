"""bouncesim new with options and questions, and bouncesim schema."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import jsonschema
import pytest

from bouncesim import perform
from bouncesim.compare.claims import judge
from bouncesim.scenario import Scenario, read_scenario
from bouncesim.scenario.json_schema import schema
from tests.cli.conftest import Command

OWN = ("--frequency", "7.05 MHz", "--power", "30 W", "--line", "rg58c", "--length", "75 ft", "--antenna", "110 - 45j ohm", "--tuner", "pi")


def made(command: Command, *arguments: str) -> Scenario:
    done = command("new", "mine.toml", *arguments)
    assert done.code == 0, done.err
    assert done.err == "Wrote mine.toml. Look at it, then: bouncesim run mine.toml\n"
    return read_scenario("mine.toml")


def test_options_make_ones_own_station(command: Command) -> None:
    station = made(command, *OWN, "--title", 'Mine: "short" \\ long')
    assert station.title == 'Mine: "short" \\ long'
    assert (station.transmitter.frequency_hz, station.transmitter.power_w) == (7.05e6, 30.0)
    meter, tuner, line = station.path
    assert (meter.part, tuner.shape, line.type, line.length_m) == ("meter", "pi", "rg58c", pytest.approx(75 * 0.3048))
    assert station.antenna.impedance_ohm == 110 - 45j
    assert station.keying.rise_s == pytest.approx(2 / 7.05e6, rel=5e-3), "two periods, to three figures"
    text = Path("mine.toml").read_text("utf-8")
    assert "assumed" not in text
    assert max(map(len, text.splitlines())) <= 140
    assert all(line.count("#") < 2 for line in text.splitlines())


def test_what_was_not_told_is_assumed_and_marked_so(command: Command) -> None:
    made(command, "--antenna", "SWR 2.6")
    assumed = [line.split(" =")[0] for line in Path("mine.toml").read_text("utf-8").splitlines() if "assumed: change it" in line]
    assert assumed == ["frequency", "power", "part", "length", "type"]


@pytest.mark.parametrize(
    ("words", "field", "value", "tuner"),
    [
        ("25 - j60 ohm", "impedance_ohm", 25 - 60j, "T"),
        ("25 - j60 ohm", "impedance_ohm", 25 - 60j, "none"),
        ("SWR 2.6", "swr", 2.6, "L"),
        ("swr=2.6", "swr", 2.6, "none"),
        ("dipole 10.2 m", "dipole", None, "L"),
    ],
)
def test_every_way_to_tell_the_antenna_makes_claims_that_hold(command: Command, words: str, field: str, value: object, tuner: str) -> None:
    station = made(command, "--antenna", words, "--tuner", tuner)
    told = getattr(station.antenna, field)
    assert told == value if value is not None else told is not None
    claims = judge(station, perform.solve_exact(station), antennas=perform.antenna_range(station))
    assert [claim.outcome for claim in claims] == ["holds"] * (1 if tuner == "none" else 2)
    jsonschema.validate(json.loads(json.dumps(_toml("mine.toml"))), schema())


def _toml(file: str) -> dict:
    import tomllib

    return tomllib.loads(Path(file).read_text("utf-8"))


def test_a_line_may_be_told_by_its_figures(command: Command) -> None:
    line = made(command, "--line", "450 ohm, 0.91, 0.5 dB/100 m", "--antenna", "200 ohm").lines[0]
    assert (line.impedance_ohm, line.velocity_factor, line.loss_db_per_m) == (450, 0.91, pytest.approx(0.005))


def test_an_antenna_that_takes_nothing_gets_no_claim_about_its_power(command: Command) -> None:
    assert made(command, "--antenna", "0 ohm", "--tuner", "none").claims == ()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("--frequency", "7,05 MHz"), '--frequency: "7,05 MHz" has a comma in it. Write a decimal point: "7.05 MHz"'),
        (("--power", "30"), '--power: "30" has no unit'),
        (("--line", "rg58x"), '--line: "rg58x" is not one of the words known here. Did you mean "rg8x"?'),
        (("--line", "50 ohm"), "--line: "),
        (("--line", "50 ohm, fast"), "--line: "),
        (("--length", "-3 m"), "--length: -3 m is too small"),
        (("--antenna", "SWR 0.5"), "--antenna: 0.5 is too small"),
        (("--antenna", "SWR 1.2.3"), "--antenna: "),
        (("--antenna", "-5 ohm"), "--antenna: a resistance of -5 ohm would make the antenna a source of power"),
        (("--antenna", "../x.s1p"), "leads away from the scenario's folder"),
        (("--antenna", "none.s1p"), '--antenna: "none.s1p" is not there'),
        (("--antenna", "dipole long"), "--antenna: "),
        (("--title", "two\nlines"), "--title: has a line break"),
        (("--title", " "), "--title: is empty"),
        (("--tuner", "Q"), "'--tuner': 'Q' is not one of"),
        (("--antenna", "0 ohm", "--line", "50 ohm, 0.7"), "no tuner matches"),
        (("--frequency", "1 x", "--power", "2 y"), "--power: "),
    ],
)
def test_what_will_not_do_is_told_under_its_option_and_nothing_is_written(
    command: Command, arguments: tuple[str, ...], message: str
) -> None:
    done = command("new", "mine.toml", *arguments)
    assert done.code == 2, done.err
    assert message in done.err
    assert not Path("mine.toml").exists()


def test_questions_are_asked_until_the_answer_will_do(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = ("An evening at home", "7,1 MHz", "7.1 MHz", "", "rg99", "rg213", "SWR 3", "none")
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{answer}\n" for answer in answers)))
    done = command("new", "mine.toml", "--ask", "--length", "18 m")
    assert done.code == 0, done.err
    assert '"7,1 MHz" has a comma in it' in done.err
    assert '"rg99" is not one of the words' in done.err
    assert "Length" not in done.err, "it was given"
    station = read_scenario("mine.toml")
    assert (station.title, station.transmitter.frequency_hz, station.transmitter.power_w) == ("An evening at home", 7.1e6, 35.0)
    assert (station.lines[0].type, station.lines[0].length_m, station.antenna.swr) == ("rg213", 18.0, 3.0)
    assert not any(part.part == "tuner" for part in station.path)
    assert "assumed" not in Path("mine.toml").read_text("utf-8")


def test_nobody_who_answers_is_no_traceback(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    done = command("new", "mine.toml", "--ask")
    assert done.code == 130
    assert "Traceback" not in done.err
    assert not Path("mine.toml").exists()


def test_the_schema_is_printed_or_written(command: Command) -> None:
    assert command("schema").json == schema()
    done = command("schema", "--output", "deep/scenario.json")
    assert (done.code, done.out) == (0, "")
    assert json.loads(Path("deep/scenario.json").read_text("utf-8")) == schema()
