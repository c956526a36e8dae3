"""bouncesim lines: words, files and exit codes, and figures worked by hand."""

from __future__ import annotations

import pytest

from bouncesim.scenario.catalogue import catalogue
from tests.cli.conftest import Command


def test_every_type_is_listed_whole(command: Command) -> None:
    done = command("lines")
    assert done.code == 0
    assert done.out.startswith("30 m of line at 14.2 MHz, matched")
    for name in catalogue():
        assert f" {name} " in done.out
    assert "…" not in done.out
    assert "?" not in done.out
    assert max(map(len, done.out.splitlines())) <= 100


def test_a_comparison_by_hand(command: Command) -> None:
    """RG-213 at 25 MHz: (0.56587 * 5 + 0.007833 * 25)/100 * 40 m = 1.21007 dB, +-10 %; 75.7 % arrive, 73.6 to 77.8."""
    done = command("lines", "rg213", "rg58c", "--at", "25 MHz", "--length", "40 m")
    assert done.out.startswith("40 m of line at 25 MHz, matched")
    (row,) = (line for line in done.out.splitlines() if " rg213 " in line)
    assert row.split() == ["rg213", "50", "±", "2", "0.66", "1.21", "±", "0.12", "76", "(74–78)", "3700", "13", "%"]
    assert "rg8x" not in done.out
    assert "Source 1" not in done.out


def test_one_type_shows_its_sources_and_how_far_they_differ(command: Command) -> None:
    out = command("lines", "rg58c").out
    (row,) = (line for line in out.splitlines() if line.strip().startswith("435 MHz"))
    assert row.split()[2:6] == ["35", "39.31", "+12", "%"]  # by hand: 1.36027 sqrt(435) + 0.025158 * 435 = 39.314; /35 = 1.123
    assert "(from memory)" in out
    assert "12db.de" in out
    assert "uncertain by 13 %" in out
    assert "1.36 √f + 0.02516 f dB/100 m" in out


def test_what_is_not_known_is_said(command: Command) -> None:
    window = " ".join(command("lines", "window-line").out.split())
    assert "360 to 410 ohm as measured" in window
    assert "Wet or dirty line loses more, by how much is not known" in window
    assert "170 % *" in window
    assert "There is no published figure" in command("lines", "open-wire-1.6mm").out
    outside = command("lines", "--at", "500 MHz").out
    assert "?: outside the range in which the loss of this type is known; a guess." in outside
    assert "500 MHz is outside the range" in command("lines", "rg58c", "--at", "500 MHz").out


def test_the_same_in_json(command: Command) -> None:
    found = command("lines", "rg174", "rg174", "--at", "4 MHz", "--length", "50 m", "--json").json
    assert (found["frequency_hz"], found["length_m"]) == (4e6, 50)
    (kind,) = found["types"]
    assert kind["matched_loss_db"] == pytest.approx(4.088112, rel=1e-9)  # by hand: 8.176224 dB/100 m (tests of the catalogue)
    assert kind["matched_loss_most_db"] == pytest.approx(4.088112 * 1.15, rel=1e-9)
    assert kind["arrives_percent"] == pytest.approx(100 * 10**-0.4088112, rel=1e-9)
    assert kind["loss_is_known_here"] is True
    assert {figure["seen"] for figure in kind["figures"]} > {"from memory"}
    everything = command("lines", "--json").json["types"]
    assert [entry["name"] for entry in everything] == list(catalogue())


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("rg58",), '"rg58" is not a type of line. Nearest: rg58c'),
        (("zzzz",), '"zzzz" is not a type of line. There are: rg58c, '),
        (("\x1b[2J",), '"?[2J" is not a type of line'),
        (("--at", "14.2"), '"14.2" has no unit'),
        (("--at", "14,2 MHz"), 'has a comma in it. Write a decimal point: "14.2 MHz"'),
        (("--length", "-3 m"), "-3 m is too small"),
        (("--length", "nan m"), "is not a finite number"),
        (("--at", "0 Hz"), "0 Hz is too small"),
    ],
)
def test_a_mistake_is_told_plainly(command: Command, arguments: tuple[str, ...], message: str) -> None:
    done = command("lines", *arguments)
    assert done.code == 2
    assert message in done.err
    assert not done.out
