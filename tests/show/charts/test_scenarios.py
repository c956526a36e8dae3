"""Every chart of every lesson, whatever it is made of: pulses, events, receivers, antennas of any kind."""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim import perform
from bouncesim.show.charts.draw import draw_chart
from bouncesim.show.charts.kinds import KINDS, applies
from tests.show.charts.stations import start_like
from tests.show.charts.test_sheets import check_words

SCENARIOS = sorted((Path(__file__).parents[3] / "scenarios").glob("*.toml"))


@pytest.mark.slow
@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_charts_of_a_lesson(path: Path) -> None:
    run = perform.simulate(perform.load(path))
    key, direction = run.scenario.keying.shape, run.scenario.direction
    for kind in (kind for kind in KINDS if kind != "answer" and applies(kind, key, direction)):
        check_words(draw_chart(kind, run, start_up=start_like(run) if kind == "start-up" else None))
