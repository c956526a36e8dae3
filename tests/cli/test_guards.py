"""Numbers that cannot be right are never printed or saved: a cause is planted in the middle of the work, and a guard notices."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bouncesim import perform
from bouncesim.account.readings import MeterReading
from bouncesim.compare.check import LEAST_ORDER, MOST_ORDER
from bouncesim.march import grid
from bouncesim.march.simulation import CHECK_POINTS
from bouncesim.march.station import Plan
from bouncesim.march.stepper import Stepper
from tests.cli.conftest import CLAIM, Command

STATION = """
title = "A short line"
[transmitter]
frequency = "10 MHz"
power = "40 W"
source_impedance = "50 ohm"
[keying]
shape = "raised-cosine"
rise = "0.3 us"
[[path]]
part = "meter"
[[path]]
part = "line"
name = "feed line"
length = "9 m"
impedance = "50 ohm"
velocity_factor = 0.66
loss = "5 dB/100 m"
dielectric_share = 0.5
[antenna]
impedance = "100 ohm"
"""
HALFWAY = 500  # steps, of the 1e4 and more that the coarsest of these runs takes
COMMANDS = (("run",), ("check",), ("claims",), ("chart", "flow"), ("film", "--draft"), ("report",))


@pytest.fixture
def short(tmp_path: Path) -> Path:
    (tmp_path / "short.toml").write_text(STATION + CLAIM.format(1).replace("[i]power[/i]", "power"), encoding="utf-8")
    return Path("short.toml")


def spoil(monkeypatch: pytest.MonkeyPatch, how: Callable[[Stepper], None], for_good: bool = False) -> None:
    """Do it to every stepper once it is halfway; once, or before every further stretch of steps."""
    arguments, done = Stepper.arguments, set()

    def spoilt(self: Stepper, *others: object) -> object:
        if self.step >= HALFWAY and (for_good or self not in done):
            done.add(self)
            how(self)
        return arguments(self, *others)

    monkeypatch.setattr(Stepper, "arguments", spoilt)


def put(array: str, value: float, at: tuple[int | slice, ...]) -> Callable[[Stepper], None]:
    return lambda stepper: getattr(stepper, array).__setitem__(at, value)


def scaled(at: tuple[int, ...], by: float) -> Callable[[Stepper], None]:
    return lambda stepper: stepper.coefficients.__setitem__(at, stepper.coefficients[at] * by)


def refused(command: Command, scenario: Path, words: str, which: tuple[tuple[str, ...], ...] = COMMANDS) -> None:
    for name, *options in which:
        done = command(name, scenario, *options)
        assert (done.code, done.out) == (3, ""), name
        assert words in done.err, done.err
        assert "Traceback" not in done.err
    assert [path.name for path in Path().iterdir()] == [scenario.name], "nothing is saved"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(("array", "at"), [("v", (3,)), ("i", (3,)), ("x", (0, 0))])
def test_a_state_that_is_no_number_stops_the_run(
    command: Command, short: Path, monkeypatch: pytest.MonkeyPatch, array: str, at: tuple[int, ...], value: float
) -> None:
    spoil(monkeypatch, lambda stepper: getattr(stepper, array).__setitem__(at[-getattr(stepper, array).ndim :], value))
    which = COMMANDS if math.isnan(value) and array == "v" else COMMANDS[:2]
    refused(command, short, "a value overflowed or stopped being a number within step", which)


def test_a_reading_that_is_no_number_is_not_printed(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The station is sound, what watches it is not: no book notices."""
    spoil(monkeypatch, put("lock_y", math.nan, (slice(None),)), for_good=True)
    refused(command, short, "no figure can be told: ")


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_nor_one_of_the_closed_form(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch, value: float) -> None:
    wrong = MeterReading("meter", value, 1.0, 1.2, 1.0, 1.0, 1.2, 1.2)
    monkeypatch.setattr(sys.modules["bouncesim.exact.solve"], "meter_reading", lambda *parts: wrong)
    refused(command, short, "no figure can be told: meter.forward_w")


@pytest.mark.parametrize("place", [0, 1, 2, 3, 4, 5], ids=["a_v", "b_v", "a_i", "b_i", "C", "L"])
def test_a_spoilt_coefficient_stops_the_run(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch, place: int) -> None:
    spoil(monkeypatch, scaled((0, place), 1 + 1e-5))
    refused(command, short, "the energy books no longer close: relative residual", COMMANDS if place == 0 else COMMANDS[:1])


def test_so_does_a_leak_too_small_to_show_in_a_step(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The dielectric's heat, booked a ten-millionth too high."""
    spoil(monkeypatch, scaled((0, 7), 1 + 1e-7))
    refused(command, short, "the energy books of the whole run do not close: relative residual", COMMANDS[:2])


@pytest.mark.parametrize("name", ["check", pytest.param("run", marks=pytest.mark.slow)])
def test_a_station_that_does_not_settle_has_no_readings(command: Command, tmp_path: Path, name: str) -> None:
    """A line without loss between nothing and next to everything."""
    ringing = STATION.replace('"50 ohm"\n[keying]', '"0 ohm"\n[keying]').replace('loss = "5 dB/100 m"\ndielectric_share = 0.5\n', "")
    (tmp_path / "ringing.toml").write_text(ringing.replace("100 ohm", "1 Mohm"), encoding="utf-8")
    refused(command, Path("ringing.toml"), "20,000 carrier periods at full power the station is still", ((name,),))


def lost_half_cell(monkeypatch: pytest.MonkeyPatch, only_on: int | None = None) -> None:
    """The planted fault of tests/faults: a whole cell's capacitance at each end of a line; on all grids, or on that of so many cells."""
    add = Plan.add

    def wrong(self: Plan, kind: str, start: object, end: object, value: float, owner: str) -> int:
        cells = [section.cells for section in self.sections if section.name == owner]
        return add(self, kind, start, end, 2 * value if kind == "C" and cells and only_on in (None, *cells) else value, owner)

    monkeypatch.setattr(Plan, "add", wrong)


def coarsest(scenario: Path) -> int:
    station = perform.load(scenario)
    return grid.section(station.lines[0], station.transmitter.frequency_hz, CHECK_POINTS, 1).cells


def test_a_grid_at_fault_makes_readings_not_proven(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the coarsest grid alone a fault moves the answer by a 45th of itself and the error bar by as much: all agrees, but the order."""
    lost_half_cell(monkeypatch, only_on=coarsest(short))
    done = command("check", short, "--json")
    assert done.code == 1
    assert (done.json["outcome"], done.json["holds"]) == ("not proven", False)
    unproven = [row for row in done.json["rows"] if row["outcome"] == "not proven"]
    assert len(unproven) >= 5
    for row in unproven:
        assert not LEAST_ORDER <= row["order"] <= MOST_ORDER
        assert row["quantity"].startswith("feed line.swr") or abs(row["simulated"] - row["exact"]) <= row["error_bar"]
    assert done.json["points_per_period"] == [160, 320, 480, 640]
    told = " ".join(command("check", short).out.split())
    assert f"{len(unproven)} of {len(done.json['rows'])} readings are NOT PROVEN, as their order is off" in told
    assert told.count("NOT PROVEN") == 1 + len(unproven)
    assert "too close to call: the check does not prove this reading" in " ".join(command("claims", short).out.split())


def test_a_film_says_so(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lost_half_cell(monkeypatch, only_on=coarsest(short))
    drawn: list[str] = []
    monkeypatch.setattr("bouncesim.show.blit.Pad.text", _noting(drawn))
    done = command("film", short, "--draft", "--fps", "5")
    assert done.code == 1
    assert "NOT PROVEN" in done.out
    told = Path("outputs/short/short.description.txt").read_text("utf-8")
    assert "readings are not proven: their error bars cannot be trusted." in told
    assert "? not proven" in drawn
    assert not any(words.startswith("All ") for words in drawn)
    saved = json.loads(Path("outputs/short/verdict.json").read_text("utf-8"))
    assert saved["outcome"] == "not proven"


@pytest.mark.slow
def test_so_does_a_report(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lost_half_cell(monkeypatch, only_on=coarsest(short))
    assert command("report", short).code == 1
    for ending in ("html", "md"):
        page = Path(f"outputs/short/short.report.{ending}").read_text("utf-8")
        assert "readings are NOT PROVEN" in page
    numbers = json.loads(Path("outputs/short/short.report.json").read_text("utf-8"))
    assert "not proven" in {row["outcome"] for row in numbers["verdict"]["rows"]}


def _noting(drawn: list[str]) -> Callable[..., None]:
    from bouncesim.show.blit import Pad

    text = Pad.text

    def noted(self: Pad, x: float, y: float, words: str, *others: object, **more: object) -> None:
        drawn.append(words)
        text(self, x, y, words, *others, **more)

    return noted


def test_a_fault_of_the_first_order_fails(command: Command, short: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On every grid: the extrapolation takes an error in h for one in h^2 and is far off."""
    lost_half_cell(monkeypatch)
    drawn: list[str] = []
    monkeypatch.setattr("bouncesim.show.blit.Pad.text", _noting(drawn))
    done = command("check", short, "--json")
    assert (done.code, done.json["outcome"]) == (1, "fails")
    failed = [row["order"] for row in done.json["rows"] if row["outcome"] == "fails" and row["order"] is not None]
    assert len(failed) >= 15
    assert sum(order == pytest.approx(1.0, abs=0.1) for order in failed) >= 3
    assert max(failed) < LEAST_ORDER
    assert command("film", short, "--draft", "--fps", "5").code == 1
    assert "readings do not agree with the closed form." in Path("outputs/short/short.description.txt").read_text("utf-8")
    assert "✗ fails" in drawn
