"""Texts that do not fit are told before anything is simulated."""

from __future__ import annotations

import pytest

from bouncesim.errors import ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.show.fitting import check_texts, widest
from bouncesim.show.layout import FULL, Shape
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.text import width
from tests.show.fake import BEATS, Station
from tests.show.test_stage import SIZES

LONG = "WWWW " * 58 + "${time}"  # the widest letter; a scenario allows 300 characters, and a square frame holds any that many


def test_numbers_are_taken_at_their_widest() -> None:
    told = widest("${antenna.power_w} after ${time}, SWR ${feed line.swr_in}, ${transmitter.impedance_ohm}")
    assert told.replace("\u00a0", " ") == "88.8 mW after 88.8 ms, SWR 88.8, 88.8 mΩ"
    for narrower in ("57.9 W", "1.24 W", "812 mW"):
        assert width(narrower, 24) <= width("88.8 mW", 24)


@pytest.mark.parametrize("shape", FULL)
def test_what_fits_is_let_through(shape: Shape) -> None:
    check_texts(Station(beats=BEATS).run().scenario, FULL[shape], Look())


@pytest.mark.parametrize(
    ("shape", "places"), [("wide", ["title", "beat[4].caption"]), ("tall", ["title", "beat[4].caption"]), ("square", ["title"])]
)
def test_all_that_is_too_long_is_told_at_once_and_as_the_film_tells_it(shape: Shape, places: list[str]) -> None:
    run = Station(title="WWWW " * 30, beats=(*BEATS, Beat(until="settled", lasts_s=1, caption=LONG))).run()
    with pytest.raises(ScenarioError) as caught:
        check_texts(run.scenario, FULL[shape], Look())
    assert [problem.field for problem in caught.value.problems] == places
    assert all(f"too long for a {shape} frame" in problem.reason for problem in caught.value.problems)
    with pytest.raises(ScenarioError, match=f"too long for a {shape} frame"):
        Stage(run, size=SIZES[shape])
