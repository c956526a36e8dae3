"""What run tells besides the readings: the start-up under several keys, and the echoes of a pulse."""

from __future__ import annotations

import pytest

from bouncesim.account.pulse import Echo, PulseReport
from bouncesim.account.startup import StartUp
from bouncesim.cli.echoes import echo_tables
from bouncesim.cli.start_up import start_up_tables
from bouncesim.cli.terminal import Terminal
from tests import samples
from tests.cli.conftest import STATION, Command


def echo(kind: str, at_s: float, seen: float, *, value: float | None = None, unit: str = "", second: bool = False) -> Echo:
    place = "at the end of the feed line" if kind == "open end" else "between the others" if second else "on the feed line"
    return Echo(at_s, 12.0, 0.15, "feed line", 12.0, place, seen, 0.0, seen, kind, value, unit, "a note" if value else "", second)


def told(*echoes: Echo, overlaps: bool = False, smear_s: float = 0.0) -> PulseReport:
    return PulseReport(3e-8, 3.0, 31.0, overlaps, smear_s, echoes, (), 0.004, (0.0, 10.0), (0.0, 0.1))


def printed(pieces) -> str:
    console = Terminal(record=True, width=100, markup=False, emoji=False, highlight=False, file=open("/dev/null", "w"))  # noqa: SIM115
    for piece in pieces:
        console.print(piece)
    return " ".join(console.export_text().split())


def test_run_tells_of_three_keys(command: Command, engine, station) -> None:
    done = command("run", station)
    assert done.code == 0
    words = " ".join(done.out.split())
    for part in (
        "What the transmitter sees from key-down on",
        "195 V (+50 %)",
        "4.5 m, 220 ns",
        "1.00 to 5.10",
        "no more",
        "its terminals alone",
    ):
        assert part in words
    assert "not of the stress on the devices inside it" in words
    assert "Under a key of 5 ms the station follows all the way up" in words


def test_json_holds_the_start_up(command: Command, engine, station) -> None:
    start = command("run", station, "--json").json["start_up"]
    assert [key["key"] for key in start["keys"]] == ["step", "5 ms"]
    assert start["keys"][0]["stresses"][0]["overshoot"] == pytest.approx(0.5)
    assert start["keys"][0]["seen"]["reflected_w"] == 20.0


def test_without_it_the_run_has_its_own_table(command: Command, engine, station) -> None:
    done = command("run", station, "--no-start-up")
    assert "What the transmitter sees from key-down on" not in done.out
    assert "Largest while starting up" in done.out
    assert command("run", station, "--no-start-up", "--json").json["start_up"] is None


def test_a_pulse_has_echoes_and_no_start_up(command: Command, engine, station) -> None:
    station.write_text(STATION.replace('shape = "step"', 'shape = "pulse"\nwidth = "30 ns"'), encoding="utf-8")
    engine.setattr("bouncesim.cli.extras.pulse_report", lambda run: told(echo("open end", 1.2e-7, 0.86)))
    out = " ".join(command("run", station).out.split())
    assert "What comes back of the pulse" in out
    assert "12.00 m ± 0.15 m" in out
    assert "What the transmitter sees" not in out
    found = command("run", station, "--json").json
    assert (found["start_up"], found["pulse"]["echoes"][0]["kind"]) == (None, "open end")


def test_the_table_of_echoes() -> None:
    resistance = echo("resistance in series", 1.2e-7, 0.15, value=20.0, unit="ohm")
    seconds = [echo("second round", (5 + k) * 1e-7, size, second=True) for k, size in enumerate((0.05, 0.01, -0.004))]
    words = printed(echo_tables(told(resistance, echo("open end", 3e-7, 0.5), *seconds)))
    assert "resistance in series, 20 ohm" in words
    assert "a note" in words
    assert words.count("second round") == 2  # one row, and the remark
    assert "2 more, below 2 %, are not shown" in words
    assert "Nothing comes back" not in words
    assert "smears" not in words
    words = printed(echo_tables(told(resistance, overlaps=True, smear_s=9e-9)))
    assert "Nothing comes back from the end, 31 m away" in words
    assert "before the pulse has gone out" in words
    assert "holds the peak of an echo from the end back by 9 ns" in words
    assert "the lines are whole, and their end is matched" in printed(echo_tables(told()))


def test_a_step_that_rings_is_told_of() -> None:
    from dataclasses import replace

    start = samples.start_up()
    rough = StartUp((replace(start.keys[0], is_exact=False), start.keys[1]), start.round_trip_s)
    assert "the front of the step rings a little" in printed(start_up_tables(rough))
    assert "rings" not in printed(start_up_tables(start))
