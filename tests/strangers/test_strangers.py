"""Scenarios, measurements and narrations as strangers may write them: many of them, and those that went wrong once."""

from __future__ import annotations

import contextlib
import math
import os
import random
import tracemalloc
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bouncesim import perform
from bouncesim.errors import ScenarioError
from bouncesim.exact.retuned import at_frequency
from bouncesim.scenario.json_schema import schema
from bouncesim.scenario.narration import decode_narration
from bouncesim.scenario.reader import parse_scenario, read_scenario, read_tables
from bouncesim.scenario.touchstone import read_touchstone
from bouncesim.survey.stations import Stations
from tests.strangers.drive import drive, lay_traps, told
from tests.strangers.kinds import KINDS, LONGEST_FILE, _blocks, input_of
from tests.strangers.words import MARKS, NUMBERS, WORDS

STATION = """
title = "A station"
{more}
[transmitter]
frequency = "7.1 MHz"
power = "40 W"
[keying]
shape = "step"
[[path]]
part = "line"
length = "31 m"
impedance = "50 ohm"
velocity_factor = 0.66
[antenna]
{antenna}
"""


def keys(found: Any) -> set[str]:
    """Every key that a schema knows."""
    if isinstance(found, list):
        return set().union(*map(keys, found))
    return set(found.get("properties", ())).union(*map(keys, found.values())) if isinstance(found, dict) else set()


KEYS = st.one_of(st.sampled_from(sorted(keys(schema()))), st.text(max_size=5))
ODD = st.one_of(
    *(st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.sampled_from(WORDS), st.sampled_from(NUMBERS)),
    st.sampled_from(("line", "stub", "tuner", "network", "open", "series", "inductor", "50 ohm", "1 us", "pulse", "morse", "dipole")),
)
VALUES = st.recursive(ODD, lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(KEYS, inner, max_size=5)), max_leaves=30)
TABLES = {"transmitter": VALUES, "keying": VALUES, "path": st.one_of(VALUES, st.lists(st.dictionaries(KEYS, VALUES))), "antenna": VALUES}


@given(st.one_of(st.dictionaries(KEYS, VALUES), st.fixed_dictionaries({"title": st.text()}, optional=TABLES)))
def test_any_tables_are_a_scenario_or_problems(data: dict[str, Any]) -> None:
    with contextlib.suppress(ScenarioError):
        read_tables(data)


@given(
    st.one_of(
        st.binary(), st.text().map(str.encode), st.text(alphabet="\n0123456789.:-> WEBVTNO").map(lambda text: f"WEBVTT\n\n{text}".encode())
    )
)
def test_any_bytes_are_a_narration_or_a_problem(content: bytes) -> None:
    with contextlib.suppress(ScenarioError):
        decode_narration(content, "talk.vtt")


@given(st.one_of(st.text(), st.text(alphabet="\n0123456789.eE+-! []#").map("# MHz S MA R 50\n{}".format)))
@settings(max_examples=300)
def test_any_text_is_a_measurement_or_a_problem(text: str) -> None:
    with contextlib.suppress(ScenarioError):
        read_touchstone(text)


@pytest.mark.parametrize("mark", [mark for mark in MARKS if mark != "\n"], ids=ascii)
@pytest.mark.parametrize("key", ["title", "about"])
def test_no_text_holds_what_cannot_be_seen(mark: str, key: str) -> None:
    told = "".join(f"\\U{ord(letter):08x}" for letter in mark)
    text = STATION.format(more="", antenna="swr = 2").replace('title = "A station"', 'title = "A station"\nabout = ""')
    text = text.replace(f'{key} = "', f'{key} = "words{told}')
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    assert all(problem.field == key and str(problem).isprintable() for problem in caught.value.problems)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes that have a name")
@pytest.mark.parametrize(
    "name", ["pipe", "out-of-here", "zero", ".", "folder", "a\\u0000b", "big", "/dev/zero", "/dev/stdin", "~", "$HOME"]
)
@pytest.mark.parametrize(("more", "antenna"), [("", "touchstone = {}"), ("narration = {}", "swr = 2")], ids=["measurement", "narration"])
def test_a_name_leads_to_a_plain_file_of_the_folder_or_nowhere(tmp_path: Path, name: str, more: str, antenna: str) -> None:
    lay_traps(tmp_path)
    (tmp_path / "folder").mkdir()
    with open(tmp_path / "big", "wb") as big:
        big.truncate(20_000_000_000)  # nothing but a hole
    scenario = tmp_path / "station.toml"
    scenario.write_text(STATION.format(more=more.format(f'"{name}"'), antenna=antenna.format(f'"{name}"')), "utf-8")
    with pytest.raises(ScenarioError):
        read_scenario(scenario)


def test_a_keyword_of_millions_of_letters_is_not_compared_at_length() -> None:
    text = f"# MHz S RI R 50\n[{'antenna.' * 500_000}]"
    tracemalloc.start()
    try:
        with pytest.raises(ScenarioError, match="is not a keyword of a one-port file"):
            read_touchstone(text)
        assert tracemalloc.get_traced_memory()[1] < 10 * len(text)
    finally:
        tracemalloc.stop()


def test_what_is_worked_out_may_be_beyond_what_may_be_typed() -> None:
    """An SWR of 1000 on a line of 10 Mohm, told by its constants, is an antenna of 10 Gohm; 0.1 pF at 100 Hz is one of 16 Gohm."""
    line = 'impedance = "50 ohm"\nvelocity_factor = 0.66'
    high = STATION.format(more="", antenna="swr = 1000").replace(line, 'inductance = "0.1 H/m"\ncapacitance = "0.001 pF/m"')
    station = parse_scenario(high + '[survey]\nfrequency = ["7 MHz", "7.1 MHz"]\nswr = [1, 1000]\n')
    assert perform.solve_exact(station).antenna.swr == pytest.approx(1000, rel=1e-6)
    assert len(perform.antenna_range(station)) == 24
    assert max(abs(Stations(station).station(k).antenna.at_carrier_ohm) for k in range(Stations(station).count)) == pytest.approx(
        1e10, rel=1e-6
    )
    small = parse_scenario(STATION.format(more="", antenna='elements = [{ shunt = "capacitor", value = "0.1 pF" }]'))
    assert abs(at_frequency(small, 100.0).antenna.at_carrier_ohm) == pytest.approx(1 / (2 * math.pi * 100 * 0.1e-12), rel=1e-9)


def test_tables_copied_by_the_thousand_again_and_again_stay_a_file() -> None:
    """An input may be too large for what reads it, not for the machine."""
    text, chance = b"[a]\n" + 1000 * b"1 2 3\n", random.Random(1)
    for _ in range(30):
        text = _blocks(text, chance)
    assert len(text) <= LONGEST_FILE


def test_the_same_number_is_the_same_input() -> None:
    made = [input_of(3, number) for number in range(200)]
    assert made == [input_of(3, number) for number in range(200)]
    assert {one.kind for one in made} == set(KINDS)


def test_some_hundred_strangers(tmp_path: Path) -> None:
    seen = drive(2, range(300), tmp_path, deep=0)
    assert not seen.defects, told(seen)
    assert sum(seen.valid.values()) > 30, "of scenarios that can be read some must be driven further"


@pytest.mark.slow
def test_some_thousand_strangers(tmp_path: Path) -> None:
    seen = drive(4, range(2000), tmp_path, deep=0.03)
    assert not seen.defects, told(seen)
