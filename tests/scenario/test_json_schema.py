"""The JSON schema: every scenario that the reader takes passes, and what it can see of the bad ones does not."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from bouncesim.scenario.json_schema import schema
from tests.scenario.test_reader import CASES, GOOD
from tests.scenario.test_scenarios import PATHS, STARTER

VALIDATOR = jsonschema.Draft202012Validator(schema())
# What the reader says of mistakes that lie in one place alone, so that a schema can see them.
IN_ONE_PLACE = ("is not a key of", "is a bare number", "has no unit", "has a comma", "is not one of the words", "capitals matter")


def faults(text: str) -> list[str]:
    return [f"{error.json_path}: {error.message[:80]}" for error in VALIDATOR.iter_errors(tomllib.loads(text))]


def cases() -> list[Any]:
    """Every malformed scenario that the reader's tests have: its text, and what the reader says of it."""
    texts = [(GOOD.replace(case["old"], case["new"], 1), " ".join(case["says"]), case["new"][:50]) for case in CASES]
    return [pytest.param(text, says, id=repr(name)) for text, says, name in texts if parsed(text)]


def parsed(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return False
    return True


SEEN = [case for case in cases() if any(words in case.values[1] for words in IN_ONE_PLACE)]


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_lesson_passes(path: Path) -> None:
    assert faults(path.read_text("utf-8")) == []


def test_the_starter_passes_and_its_remarks_are_help() -> None:
    assert faults(STARTER) == []
    found = schema()
    power = found["properties"]["transmitter"]["properties"]["power"]["description"]
    assert power == 'key-down carrier power that it delivers into its rated load. A power with its unit, such as "40 W"; from 0 to 1 GW.'
    assert "never rounded" in found["$defs"]["line"]["properties"]["length"]["description"]
    assert "of impedances" in found["$defs"]["transformer"]["properties"]["ratio"]["description"]


def test_the_good_scenario_of_the_readers_tests_passes() -> None:
    assert faults(GOOD) == []


def test_there_are_bad_ones_to_try() -> None:
    assert len(SEEN) >= 40


@pytest.mark.parametrize(("text", "told"), SEEN)
def test_mistakes_in_one_place_are_seen(text: str, told: str) -> None:
    assert faults(text) != [], told


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (("50 ohm", "50 Ohm"), "rated_load"),
        (('"14.1 MHz"', "14.1"), "frequency"),
        (('"14.1 MHz"', '"14,1 MHz"'), "frequency"),
        (("velocity_factor = 0.82", "velocity_factor = 1.2"), "path"),
        (("velocity_factor = 0.82", 'velocity_factor = "0.82"'), "path"),
        (('part = "tuner"', 'part = "coupler"'), "path"),
        (('loss = "2.4 dB/100 m"', 'loss = "2.4 dB"'), "path"),
        (('impedance = "75 + 58j ohm"', 'impedance = "75 + 58i ohm"'), "antenna"),
        (('impedance = "75 + 58j ohm"', ""), "antenna"),
        (('impedance = "75 + 58j ohm"', 'impedance = "75 ohm"\nswr = 2.0'), "antenna"),
        (("within = 0.01", ""), "claim"),
        (('directivity = "30 dB"', 'directivety = "30 dB"'), "path"),
    ],
)
def test_bad_ones_of_every_sort_are_refused(change: tuple[str, str], place: str) -> None:
    assert change[0] in STARTER
    found = faults(STARTER.replace(*change))
    assert found
    assert any(place in fault for fault in found), found
