"""bouncesim demonstrate and explain: the sheet, its Markdown and its data; readings, what they say, and what cannot be."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bouncesim import perform
from bouncesim.scenario.bands import edges
from tests.cli.conftest import STATION, Command

OPEN_WIRE = STATION.replace('impedance = "50 ohm"', 'impedance = "450 ohm"')


@pytest.fixture
def sheet(command: Command, station: Path) -> str:
    return command("demonstrate", station, "--band", "40 m", "--band", "20 m").out


def test_the_sheet_says_everything_that_it_should(sheet: str) -> None:
    text = " ".join(sheet.split())
    for words in (
        "Demonstration: A thin [bold]cable[/bold]",
        "40 m",
        "20 m",
        "ITU Radio Regulations, article 5",
        "your licence may allow less",
        "common practice, no source",
        "Dummy load first",
        "never move a connector, a meter or a switch under power",
        "Listen on",
        "identify",
        "Something is wrong if",
        "no tuner gives back more than it gets",
        "bouncesim explain thin.toml --at",
        "Cautions",
        "transmit only with a licence",
    ):
        assert words in text, words
    order = [text.index(words) for words in ("Dummy load first", "Listen on", "Tune up at", "Set ", "reckon forward less", "Back to")]
    assert order == sorted(order)


def test_the_command_line_on_the_sheet_works(command: Command, sheet: str) -> None:
    """The readings that it proposes to have explained are those of the station: they can all be true, and say what the scenario says."""
    found = re.search(r'bouncesim (explain) (\S+) --at "([^"]+)" --power "([^"]+)" --on-line "([^"]+)" "([^"]+)"', " ".join(sheet.split()))
    assert found
    word, file, frequency, power, forward, reflected = found.groups()
    done = command(word, file, "--at", frequency, "--power", power, "--on-line", forward, reflected, "--json")
    assert done.code == 0
    assert done.json["consistent"] is True
    for name, value in done.json["values"].items():
        assert value["least"] <= value["scenario"] * (1 + 1e-6) + 1e-9, name
        assert value["scenario"] <= value["most"] * (1 + 1e-6) + 1e-9, name


def test_the_sheet_as_data(command: Command, station: Path) -> None:
    """The best place of each band lies inside it, the numbers are those of the station there, and every true reading is inside its span."""
    options = (
        "--region",
        "2",
        "--band",
        "40 m",
        "--band",
        "30 m",
        "--power",
        "4 W",
        "--power",
        "12 W",
        "--full-scale",
        "30 W",
        "--class",
        "4",
    )
    plain = command("demonstrate", station, *options, "--directivity", "30 dB", "--json").json
    for band in plain["bands"]:
        low, high = edges(band["band"], 2)
        assert low < band["frequency_hz"] < high
    assert plain["frequency_hz"] == plain["bands"][0]["frequency_hz"]
    assert plain["meters"] == {"accuracy": 0.04, "scales_w": [30.0], "directivity_db": 30.0, "reference_ohm": 50.0}
    assert [each["power_w"] for each in plain["rounds"]] == pytest.approx([4.0, 12.0])
    for each in plain["rounds"]:
        for meter in each["meters"]:
            for name in ("forward_w", "reflected_w", "swr"):
                most = meter["shown"][name]["most"]
                assert meter["shown"][name]["least"] <= meter[name]
                assert most is None or meter[name] <= most
        first, near, far = each["meters"]
        net = [meter["forward_w"] - meter["reflected_w"] for meter in (first, near, far)]
        assert net[0] == pytest.approx(each["power_w"])
        assert net[0] - net[1] == pytest.approx(each["tuner_heat_w"]["most"], abs=1e-9)
        assert net[1] - net[2] == pytest.approx(each["line_heat_w"]["most"], abs=1e-9)
    above = next(effect for effect in plain["effects"] if effect["name"] == "above")
    assert above["second_w"] == pytest.approx(plain["rounds"][-1]["meters"][1]["forward_w"])


def test_at_the_scenarios_own_frequency_the_readings_are_its_own(command: Command, station: Path) -> None:
    plain = command("demonstrate", station, "--at", "10.12 MHz", "--power", "40 W", "--json").json
    readings = perform.solve_exact(perform.load(station))
    (near,) = [meter for meter in plain["rounds"][0]["meters"] if meter["place"] == "line"]
    assert plain["bands"] == []
    assert near["forward_w"] == pytest.approx(readings.lines[0].forward_in_w, rel=1e-9)
    assert near["swr"] == pytest.approx(readings.lines[0].swr_in, rel=1e-9)


def test_markdown_is_safe_to_publish(command: Command, tmp_path: Path) -> None:
    (tmp_path / "it.toml").write_text(STATION.replace("A thin [bold]cable[/bold]", "A | <b>thin</b> [cable](x)"), encoding="utf-8")
    out = command("demonstrate", "it.toml", "--at", "7.1 MHz", "--markdown").out
    assert out.startswith("# Demonstration: A \\| \\<b\\>thin\\</b\\> \\[cable\\](x)\n")
    assert "\n## In this order\n\n1. " in out
    assert "| power, place of the meter | scales |" in out
    assert "<b>" not in out


def test_what_is_not_known_and_what_does_not_fit(command: Command, tmp_path: Path, station: Path) -> None:
    (tmp_path / "swr.toml").write_text(STATION.replace('impedance = "25 - 60j ohm"', "swr = 3.1"), encoding="utf-8")
    out = command("demonstrate", "swr.toml", "--at", "7.1 MHz").out
    assert "the spans take in 24 that" in " ".join(out.split())
    (tmp_path / "wire.toml").write_text(OPEN_WIRE, encoding="utf-8")
    text = " ".join(command("demonstrate", "wire.toml", "--at", "7.1 MHz", "--full-scale", "2 W").out.split())
    assert "feed line is a line of 450 ohm, and the meters are made for 50 ohm" in text
    (tmp_path / "none.toml").write_text(STATION.replace('[[path]]\npart = "tuner"\n', ""), encoding="utf-8")
    text = " ".join(command("demonstrate", "none.toml", "--at", "7.1 MHz", "--effect", "above").out.split())
    assert "does not show that: there is no tuner in front of feed line" in text
    done = command("demonstrate", station, "--band", "41 m")
    assert done.code == 2
    assert "There are: 160 m" in done.err
    narrow = STATION.replace('part = "tuner"', 'part = "tuner"\nlargest_coil = "1 nH"\nlargest_capacitor = "2 pF"')
    (tmp_path / "narrow.toml").write_text(narrow, encoding="utf-8")
    done = command("demonstrate", "narrow.toml", "--band", "20 m")
    assert done.code == 2
    assert "the station works on none of these bands; on 20 m, the tuner sees" in done.err


def test_readings_without_a_scenario(command: Command) -> None:
    done = command(
        "explain", "--power", "40 W", "--on-line", "62 W", "23 W", "--full-scale", "100 W", "--class", "2", "--directivity", "30 dB"
    )
    assert done.code == 0
    text = " ".join(done.out.split())
    assert "These readings can all be true" in text
    assert "the transmitter's power is taken to be known within 5 per cent" in text.lower()
    assert "the scenario says" not in text
    options = ("--power-within", "3", "--matched-loss", "0.6 dB", "--matched-loss-within", "15", "--no-tuner", "--json")
    values = command("explain", "--power", "40 W", "--on-line", "62 W", "23 W", "--at-transmitter", "41 W", "0.1 W", *options).json[
        "values"
    ]
    assert {"transmitter.swr", "line.swr", "antenna.swr", "line.heat_w"} <= set(values)
    assert "tuner.heat_w" not in values
    assert values["line.matched_loss_db"]["least"] >= 0.6 * 0.85 - 1e-9


def test_readings_that_cannot_be_true(command: Command) -> None:
    """Exit code 1, by how much, and what to doubt."""
    told = ("explain", "--power", "50 W", "--power-within", "4", "--on-line", "70 W", "10 W", "--full-scale", "100 W", "--class", "2")
    told += ("--directivity", "99 dB")
    done = command(*told)
    assert done.code == 1
    text = " ".join(done.out.split())
    assert "every error would have to be 1.67 times as large" in text
    assert "Doubt the reading on the line or the transmitter's power: without it the rest agrees." in text
    assert "What they say" not in text
    plain = command(*told, "--json").json
    assert (plain["consistent"], plain["values"]) == (False, {})
    assert set(plain["doubt"]) == {"line", "power"}


def test_what_explain_asks_for(command: Command) -> None:
    assert "There is no reading" in command("explain", "--power", "40 W").err
    assert "--at goes with a scenario" in command("explain", "--at", "7 MHz", "--on-line", "5 W", "1 W").err
    assert "beyond the largest full scale, 20 W" in command("explain", "--on-line", "25 W", "1 W", "--full-scale", "20 W").err
    assert "no unit" in command("explain", "--on-line", "25", "1 W").err
