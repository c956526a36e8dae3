"""What changed since an earlier report: numbers beyond their error bars, verdicts of claims, inputs and programs."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from bouncesim.show.report.since import since

NOW: dict[str, Any] = {
    "made_at": "Made 2026-01-02 03:04 UTC",
    "scenario": {"path": [{"part": "line", "length_m": 31.0}], "transmitter": {"power_w": 40.0}},
    "versions": {"bouncesim": "2", "numpy": "2.0"},
    "numbers": {
        "antenna.power_w": {"value": 26.5, "error_bar": 1e-3, "exact": 26.5},
        "line.swr_out": {"value": None, "error_bar": 0.0, "exact": None},
        "line.loss_db": {"value": 1.5, "error_bar": 0.0, "exact": 1.5},
    },
    "claims": [{"says": "More than half arrives", "outcome": "holds"}, {"says": "It is cool", "outcome": "fails"}],
}


def earlier(**numbers: float | None) -> dict[str, Any]:
    made = copy.deepcopy(NOW)
    for name, value in numbers.items():
        made["numbers"][name.replace("__", ".")]["value"] = value
    return made


def test_nothing_changed() -> None:
    found = since(earlier(), NOW)
    assert found.stands
    assert (found.compared, found.moved, found.turned, found.inputs, found.versions) == (3, (), (), (), ())


@pytest.mark.parametrize(("before", "moved"), [(26.5015, False), (26.5021, True), (26.4979, True), (None, True)])
def test_a_number_changes_where_it_moves_by_more_than_both_error_bars(before: float | None, moved: bool) -> None:
    found = since(earlier(antenna__power_w=before), NOW)
    assert [(one.quantity, one.before, one.after) for one in found.moved] == ([("antenna.power_w", before, 26.5)] if moved else [])
    assert found.stands != moved


def test_numbers_without_an_error_bar_may_differ_by_rounding_only() -> None:
    assert since(earlier(line__loss_db=1.5 * (1 + 1e-12)), NOW).stands
    assert not since(earlier(line__loss_db=1.5 * (1 + 1e-6)), NOW).stands


def test_an_infinite_number_stays_one_and_numbers_come_in_the_order_of_how_far_they_moved() -> None:
    found = since(earlier(antenna__power_w=26.0, line__loss_db=3.0, line__swr_out=9.0), NOW)
    assert [one.quantity for one in found.moved] == ["line.swr_out", "line.loss_db", "antenna.power_w"]
    assert found.moved[1].bar == 0
    assert found.moved[2].bar == pytest.approx(2e-3)


def test_claims_whose_verdict_changed_are_told() -> None:
    before = earlier()
    before["claims"] = [{"says": "More than half arrives", "outcome": "too close to call"}, {"says": "Old", "outcome": "holds"}]
    found = since(before, NOW)
    assert [(one.says, one.before, one.after) for one in found.turned] == [
        ("More than half arrives", "too close to call", "holds"),
        ("Old", "holds", ""),
        ("It is cool", "", "fails"),
    ]
    assert not found.stands


def test_inputs_and_programs_that_changed_are_told_with_their_place() -> None:
    before = earlier()
    before["scenario"]["path"][0]["length_m"] = 30.0
    before["scenario"]["path"].append({"part": "meter"})
    before["versions"]["bouncesim"] = "1"
    found = since(before, NOW)
    assert found.inputs == (("path[1].length_m", "30.0", "31.0"), ("path[2]", "{'part': 'meter'}", "nothing"))
    assert found.versions == (("bouncesim", "1", "2"),)


def test_numbers_that_came_and_went_are_named() -> None:
    before = earlier()
    before["numbers"]["gone.power_w"] = before["numbers"].pop("line.loss_db")
    found = since(before, NOW)
    assert (found.gone, found.new) == (("gone.power_w",), ("line.loss_db",))


@pytest.mark.parametrize("key", ["numbers", "claims", "scenario", "versions", "made_at"])
def test_data_of_another_form_are_refused(key: str) -> None:
    before = earlier()
    del before[key]
    with pytest.raises(KeyError):
        since(before, NOW)
