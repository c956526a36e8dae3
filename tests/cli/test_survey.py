"""bouncesim survey, bands, open-wire, which-cable, swr-limit: words, files, exit codes, figures worked by hand."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from tests.cli.conftest import Command
from tests.survey.scenarios import HEAD, PLAIN, SMALL

DOUBLET = PLAIN.replace('impedance = "25 - 60j ohm"', 'dipole = { length = "20 m", wire = "2 mm" }')


@pytest.fixture
def small(tmp_path: Path) -> Path:
    (tmp_path / "small.toml").write_text(HEAD + PLAIN + SMALL, encoding="utf-8")
    return Path("small.toml")


@pytest.fixture
def doublet(tmp_path: Path) -> Path:
    (tmp_path / "doublet.toml").write_text(HEAD.replace("Survey", "A [bold]doublet[/bold]") + DOUBLET, encoding="utf-8")
    return Path("doublet.toml")


def test_a_survey(command: Command, small: Path, tmp_path: Path) -> None:
    done = command("survey", small)
    assert done.code == 0, done.err
    assert "8 stations" in done.out
    assert "loss of the line" in done.out
    assert "Caution: " in done.out
    assert "8 stations, about a second" in done.err
    folder = tmp_path / "outputs" / "small" / "survey"
    assert sorted(path.name for path in folder.iterdir()) == ["survey.csv", "survey.json", "survey.npz"]
    with open(folder / "survey.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["station"] for row in rows] == [str(k) for k in range(1, 9)]


def test_a_survey_in_json(command: Command, small: Path) -> None:
    found = command("survey", small, "--in-time", "--threads", "2", "--output", "x", "--json").json
    assert (found["stations"], found["saved"]) == (8, "x")
    assert found["outcomes"] == {"solved": 8, "in time: solved": 8}
    least = {reading["quantity"]: reading for reading in found["readings"]}
    assert least["SWR that the transmitter sees"]["least"] == pytest.approx(1, rel=1e-9)
    assert 0 < least["settled within 1 % after"]["least"] < 10e-6
    assert "settled_s" in found["columns"]
    assert found["cautions"]


def test_a_survey_that_was_stopped_says_that_it_goes_on(command: Command, small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from bouncesim.survey import tasks

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(tasks, "key_rows", stop)
        stopped = command("survey", small, "--in-time", "--threads", "1")
        assert stopped.code == 130
        assert "the same command goes on with it" in stopped.err
    again = command("survey", small, "--in-time", "--threads", "1")
    assert again.code == 0
    assert "Going on with a survey that was interrupted: 0 of 8 are done." in again.err


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ((), "survey: is missing"),
        (("--threads", "0"), "0 is not in the range"),
    ],
)
def test_a_survey_that_cannot_be(command: Command, tmp_path: Path, small: Path, more: tuple[str, ...], told: str) -> None:
    (tmp_path / "bare.toml").write_text(HEAD + PLAIN, encoding="utf-8")
    done = command("survey", small if more else "bare.toml", *more)
    assert done.code == 2
    assert told in done.err
    assert not (tmp_path / "outputs").exists()


def test_too_large_a_survey(command: Command, small: Path) -> None:
    done = command("survey", small, "--most-work", "1e-5")
    assert done.code == 2
    assert "This survey takes 8 stations (2 frequencies × 2 antennas × 2 tuners = 8)" in " ".join(done.err.split())
    assert "or allow more with --most-work " in " ".join(done.err.split())


def test_bands(command: Command, doublet: Path, tmp_path: Path) -> None:
    done = command("bands", doublet, "--band", "80 m", "--band", "20 m", "--coil-current", "10 mA", "--format", "svg")
    assert done.code == 0, done.err
    assert "A [bold]doublet[/bold]" in done.out
    assert "Where the power goes" in done.out
    assert "coil" in done.out
    assert "> 10 mA" in " ".join(done.out.split())
    assert "No rating is given for: line voltage, line current, capacitor voltage" in done.out
    assert "Caution: " in done.out
    assert (tmp_path / "outputs" / "doublet" / "bands.svg").read_bytes().startswith(b"<?xml")


def test_bands_in_json(command: Command, doublet: Path) -> None:
    found = command("bands", doublet, "--at", "7.1 MHz", "--json").json
    (band,) = found["bands"]
    assert (band["band"], band["outcome"], found["tuner_added"]) == ("40 m", "solved", False)
    assert band["transmitter_w"] == pytest.approx(45, rel=1e-9)
    assert band["setting"].count(",") == 1
    everything = command("bands", doublet, "--json").json
    assert [one["band"] for one in everything["bands"]][::9] == ["160 m", "10 m"]


def test_an_antenna_known_at_one_frequency_is_refused(command: Command, small: Path) -> None:
    done = command("bands", small)
    assert done.code == 2
    assert "antenna: is told by its impedance, which holds at 7.1 MHz alone" in done.err


def test_open_wire(command: Command, doublet: Path, tmp_path: Path) -> None:
    done = command("open-wire", doublet, "--band", "80 m", "--theme", "light")
    assert done.code == 0, done.err
    assert "What open-wire-2mm gains over rg58c" in done.out
    assert "Not counted: the balun" in done.out
    assert (tmp_path / "outputs" / "doublet" / "open-wire.png").stat().st_size > 10_000
    found = command("open-wire", doublet, "--coax", "rg213", "--band", "80 m", "--json").json
    assert found["types"] == ["rg213", "open-wire-2mm"]
    coax, wire = found["bands"]
    (gain,) = found["gained"]
    assert gain["s_units"] == pytest.approx(10 * math.log10(wire["radiated_w"] / coax["radiated_w"]) / 6, rel=1e-9)


def test_which_cable_by_hand(command: Command) -> None:
    """RG-213 at 25 MHz, 40 m: 1.21007 dB (tests of the catalogue): 75.68 % arrive, 24.3 % are lost, 15.1 of 20 W arrive, 0.20 S-units."""
    done = command("which-cable", "rg213", "--length", "40 m", "--at", "25 MHz", "--power", "20 W")
    assert done.code == 0, done.err
    (row,) = (line for line in done.out.splitlines() if line.strip().startswith("25 MHz"))
    assert row.split() == ["25", "MHz", "1.21", "1.21", "24.3", "15.1", "W", "0.20"]
    found = command("which-cable", "rg213", "--length", "40 m", "--at", "25 MHz", "--power", "20 W", "--json").json
    (loss,) = found["losses"]
    assert loss["most_db"] == pytest.approx(1.21007, abs=5e-3)  # as used into 50 ohm, on a line whose own impedance is nearly that
    assert loss["arrives_w"] == pytest.approx(20 * 10 ** (-loss["most_db"] / 10), rel=1e-12)


def test_which_cable_of_all(command: Command) -> None:
    done = command("which-cable", "--length", "40 m", "--swr", "3", "--band", "80 m", "--band", "10 m")
    assert done.code == 0, done.err
    assert done.out.index("open-wire-2mm") < done.out.index("rg213") < done.out.index("rg178b")  # the least loss first
    assert "bouncesim which-cable TYPE TYPE" in done.out


def test_swr_limit(command: Command, tmp_path: Path) -> None:
    done = command("swr-limit", "rg58c", "--length", "30 m", "--total", "1 dB", "--band", "160 m", "--band", "10 m")
    assert done.code == 0, done.err
    (low,) = (line for line in done.out.splitlines() if line.strip().startswith("160 m"))
    (high,) = (line for line in done.out.splitlines() if line.strip().startswith("10 m"))
    assert low.split()[4:5] == ["0.57"]
    assert high.split()[4:] == ["2.41", "none", "none"]
    assert "none: the loss of the line with a matched antenna is more already." in done.out
    assert "Caution: " in done.out
    assert (tmp_path / "outputs" / "swr-limit" / "swr-limit-rg58c.png").exists()


def test_swr_limit_in_json(command: Command) -> None:
    found = command("swr-limit", "rg213", "--length", "100 ft", "--band", "20 m", "--region", "2", "--json").json
    (limit,) = found["limits"]
    assert (found["budget"], found["budget_db"], found["length_m"]) == ("added", 1.0, pytest.approx(30.48))
    assert limit["highest"] < limit["by_rule"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("swr-limit", "rg58", "--length", "3 m"), '"rg58" is not a type of line. Nearest: rg58c'),
        (("swr-limit", "rg58c"), "Missing option '--length'"),
        (("swr-limit", "rg58c", "--length", "3"), '"3" has no unit'),
        (("swr-limit", "rg58c", "--length", "3 m", "--added", "1 dB", "--total", "2 dB"), "Give --added or --total, not both"),
        (("swr-limit", "rg58c", "--length", "3 m", "--added", "0 dB"), "0 dB is too small"),
        (("swr-limit", "rg58c", "--length", "3 m", "--band", "11 m"), "'11 m' is not one of"),
        (("swr-limit", "rg58c", "--length", "3 m", "--at", "0 Hz"), "0 Hz is too small"),
        (("which-cable", "--length", "3 m", "--swr", "2", "--antenna", "50 ohm"), "Give --swr or --antenna, not both"),
        (("which-cable", "--length", "3 m", "--antenna", "50"), '"50" has no unit'),
        (("which-cable", "--length", "3 m", "--antenna", "50j ohm"), "an antenna without resistance takes no power"),
        (("which-cable", "--length", "3 m", "--swr", "0.5"), "0.5 is not in the range"),
        (("which-cable", "\x1b[2J", "--length", "3 m"), '"?[2J" is not a type of line'),
    ],
)
def test_a_mistake_is_told_plainly(command: Command, arguments: tuple[str, ...], told: str, tmp_path: Path) -> None:
    done = command(*arguments)
    assert done.code == 2
    assert told in " ".join(done.err.split())
    assert not done.out
    assert not (tmp_path / "outputs").exists()


def test_the_same_line_twice_is_no_comparison(command: Command, doublet: Path) -> None:
    done = command("open-wire", doublet, "--wire", "rg58c")
    assert done.code == 2
    assert "Both lines are rg58c" in done.err
