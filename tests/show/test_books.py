"""What left the transmitter is all accounted for, whatever the panel has room for; and which meter it shows."""

from __future__ import annotations

import dataclasses
import re
from typing import Literal

import pytest

from bouncesim.account.run import Run
from bouncesim.scenario.model import Event, Meter, Stub
from bouncesim.scenario.vocabulary import READINGS
from bouncesim.show.books import OTHER, heat_kinds, items
from bouncesim.show.captions import number
from bouncesim.show.card import LABELS, label
from bouncesim.show.description import station_words
from bouncesim.show.live import Live
from bouncesim.show.meters import at_transmitter, meter_choice
from bouncesim.show.theme import MARKS
from bouncesim.show.words import TABLE
from tests import samples

KINDS = {"tuner": ("tuner",), "network": ("band filter",), "transformer": ("balun",), "stub": ("a", "b"), "line": ("coax", "open wire")}
HEAT = {"tuner": 3.0, "network": 1.0, "transformer": 2.0, "stub": 9.0, "line": 8.0}


def test_labels_in_full_then_in_short() -> None:
    _, full = items(KINDS, HEAT, lambda labels: True)
    assert full == [
        *("into the antenna", "heat in the tuner", "heat in the band filter", "heat in the balun"),
        *("into the stubs", "heat in the lines", "stored"),
    ]
    _, short = items(KINDS, HEAT, lambda labels: "into antenna" in labels)
    assert short == ["into antenna", "tuner heat", "band filter heat", "balun heat", "into stubs", "line heat", "stored"]


@pytest.mark.parametrize("most", [3, 4, 5, 6])
def test_the_least_heats_become_one_share(most: int) -> None:
    found, labels = items(KINDS, HEAT, lambda labels: len(labels) <= most)
    assert len(found) == len(labels) == most
    assert labels.count(OTHER) == 1
    booked = [kind for item in found for kind in item.kinds]
    assert sorted(booked) == sorted([*KINDS, "antenna", "stored"])  # every kind once: nothing lost, nothing twice
    merged = next(item for item in found if item.name == OTHER)
    alone = [kind for kind in KINDS if kind not in merged.kinds]
    assert all(HEAT[kind] >= HEAT[lesser] for kind in alone for lesser in merged.kinds)
    assert len({MARKS[item.mark].hatch for item in found}) == most


def test_shares_add_up_to_what_left_the_transmitter(stories: dict[str, Run]) -> None:
    for name, run in stories.items():
        live = Live(run)
        for most in (3, 5, 9):
            found, _ = items(live.kinds, live.account(live.end).heat, lambda labels, most=most: len(labels) <= most)  # type: ignore[misc]
            for t in (0.4 * live.end, live.end, 3 * live.end):
                account = live.account(t)
                assert sum(account.of(item.kinds) for item in found) == pytest.approx(account.left, rel=1e-9), name
        assert {name for names in heat_kinds(run.scenario).values() for name in names} == set(run.traces.heat_j)


def test_the_meter_shown_is_one_on_a_line(stories: dict[str, Run]) -> None:
    chosen = {name: meter_choice(run) for name, run in stories.items()}
    assert chosen["plain"] == ("feed line", "power_at_start")
    assert chosen["balun"] == ("coax", "power_at_start")  # the only meter stands before the tuner
    assert chosen["two tuners"][0] == "line meter"
    assert chosen["many lines"][0] == "line meter"
    run = stories["two tuners"]
    meters = tuple(dataclasses.replace(meter, reflected_w=99.0) if meter.name == "mast meter" else meter for meter in run.readings.meters)
    more = dataclasses.replace(run, readings=dataclasses.replace(run.readings, meters=meters))
    assert meter_choice(more) == ("mast meter", "power_at")


def test_meters_that_repeat_the_transmitter(stories: dict[str, Run]) -> None:
    run = stories["two tuners"]
    assert at_transmitter(run) == {"station meter"}
    path = (Meter(name="other", reference_ohm=75.0), *run.scenario.path)
    assert at_transmitter(dataclasses.replace(run, scenario=run.scenario.model_copy(update={"path": path}))) == {"station meter"}


def test_readings_of_new_parts_in_captions(stories: dict[str, Run]) -> None:
    run = stories["two tuners"]
    networks = tuple(dataclasses.replace(part, coil_a_peak=1.234, capacitor_v_peak=812.4) for part in run.readings.networks)
    live = Live(dataclasses.replace(run, readings=dataclasses.replace(run.readings, networks=networks)))
    assert number("tuner.coil_a_peak", live, live.end) == "1.23 A"
    assert number("mast tuner.capacitor_v_peak", live, live.end) == "812 V"
    assert number("line meter.swr_least", live, live.end) == "3.20"
    assert number("line meter.reflected_most_w", live, live.end) == "35.0 W"
    balun = Live(stories["balun"])
    assert number("step-up balun.heat_w", balun, balun.end).endswith(" W")
    assert number("matching stub.heat_w", balun, 0.0) == "0 W"


def test_new_parts_in_words(stories: dict[str, Run]) -> None:
    assert label("hairpin.heat_w", frozenset({"hairpin"})) == "power into the hairpin"
    assert label("balun.heat_w") == "heat in the balun"
    assert label("tuner.coil_a_peak") == "peak current in the coil of the tuner"
    words = station_words(stories["balun"])
    assert "the step-up balun (1:6.25)" in words
    assert "the matching stub (4.27 m, shorted) branching off, and an antenna" in words


@pytest.mark.parametrize("direction", ["transmit", "receive"])
def test_every_reading_that_may_fail_has_a_name_of_its_own(stories: dict[str, Run], direction: Literal["transmit", "receive"]) -> None:
    """A failing row stands on the card whichever it is: in words, no two alike, and about the part that it is about."""
    for name, run in stories.items():
        readings = dataclasses.replace(run.readings, direction=direction)
        (source, load), stubs = readings.ends, frozenset(part.name for part in run.scenario.path if isinstance(part, Stub))
        told = {quantity: label(quantity, stubs, source=source, load=load) for quantity in readings.flatten()}
        assert len(set(told.values())) == len(told), name
        for quantity, words in told.items():
            assert not re.search(r"[_.]", words), words
            assert quantity.partition(".")[0] in words


def test_every_label_of_a_reading_is_used_and_known() -> None:
    fields = {field for kind in ("transmitter", "network", "meter", "line", "antenna") for field in READINGS[kind]}
    assert fields - {"power_w"} == set(LABELS)  # which is told apart, at either end
    assert set(LABELS.values()) <= set(TABLE)


def test_heat_of_what_happens_on_the_way_is_in_the_account() -> None:
    """A connector that fails and the contact at an antenna that opens: shown, so that what is shown adds up."""
    run = samples.run()
    happenings = (
        Event(at_s=2e-7, happens="connector fails", behind="meter", resistance_ohm=20.0),
        Event(at_s=4e-7, happens="antenna opens"),
    )
    heat = {**run.traces.heat_j, "bad connector": 3 * run.traces.time_s, "switch": 2 * run.traces.time_s}
    run = dataclasses.replace(
        run,
        scenario=run.scenario.model_copy(update={"events": happenings}),
        traces=dataclasses.replace(run.traces, heat_j=heat),
    )
    live = Live(run)
    assert {name for names in heat_kinds(run.scenario).values() for name in names} == set(heat)
    found, labels = items(live.kinds, live.account(live.end).heat, lambda labels: True)
    assert {"heat in the connector", "heat in the contact"} <= set(labels)
    account = live.account(live.end)
    shown = sum(account.of(item.kinds) for item in found)
    assert shown - account.antenna - account.stored == pytest.approx(sum(energy[-1] for energy in heat.values()))
