"""What events leave at the end of the path, and what is drawn of a carrier that goes off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bouncesim.account.run import Run
from bouncesim.scenario.model import Event, Keying
from bouncesim.show.energy import signed
from bouncesim.show.live import Live
from bouncesim.show.signs import load_states
from bouncesim.show.stage import Stage
from tests.show.fake import Station
from tests.show.test_stage import SIZES, check_words

HAPPENS = (
    Event(at_s=0.9e-6, happens="antenna changes", impedance_ohm=1200 - 2400j),
    Event(at_s=0.4e-6, happens="antenna shorts"),
    Event(at_s=1.3e-6, happens="antenna opens"),
)
FIGURES = ["370 Ω", "now shorted", "now 1200 − j2400 Ω", "now open"]


@pytest.fixture(scope="module")
def struck() -> Run:
    """A station whose antenna is told to change (its waves know nothing of it)."""
    run = Station().run()
    return replace(run, scenario=run.scenario.model_copy(update={"events": HAPPENS}))


@pytest.fixture(scope="module")
def marked() -> Run:
    """A station told to be keyed in Morse, a mark on its way: from 100 to 200 ns at the near end."""
    run = Station(wavelengths=6.0).run()
    scenario = run.scenario.model_copy(update={"keying": Keying(rise_s=1e-8, shape="morse", text="E", dot_s=1e-7)})
    up = ((run.traces.time_s > 100e-9) & (run.traces.time_s < 200e-9)).astype(float)
    forward = run.traces.forward_w | {"feed line": 60 * up}
    return replace(run, scenario=scenario, traces=replace(run.traces, forward_w=forward))


def test_states_come_in_order_of_time(struck: Run) -> None:
    assert [state.figure for state in load_states(struck.scenario)] == FIGURES
    assert [(state.is_open, state.is_short) for state in load_states(struck.scenario)] == [(0, 0), (0, 1), (0, 0), (1, 0)]


@pytest.mark.parametrize("shape", ["wide", pytest.param("tall", marks=pytest.mark.slow), pytest.param("square", marks=pytest.mark.slow)])
def test_the_end_is_drawn_as_it_is(shape: str, struck: Run) -> None:
    """Figure and symbol change with the events, and the widest figure has room."""
    stage = Stage(struck, size=SIZES[shape])  # type: ignore[index]
    check_words(stage)
    told: dict[str, float] = {}
    for k in range(0, stage.story.closing, 25):
        stage.draw(k)
        shown = [text.get_text() for text in stage.frame.axes.texts if text.get_text() in FIGURES]
        assert len(shown) == 1
        told.setdefault(shown[0], stage.picture.scene.now(k))
    assert list(told) == FIGURES[: len(told)]
    for figure, state in zip(told, load_states(struck.scenario), strict=False):
        assert told[figure] >= state.since_s
    assert len(told) > 2
    assert "antenna 370 Ω at first" in " ".join(text.get_text() for text in stage.frame.axes.texts)


def test_a_frame_with_events_alone_is_the_frame_in_sequence(struck: Run) -> None:
    walked = Stage(struck, size=SIZES["wide"])
    last = walked.story.closing - 1
    for k in range(0, last + 1, 20):
        walked.draw(k)
    walked.draw(last)
    alone = Stage(struck, size=SIZES["wide"])
    alone.draw(last)
    assert np.array_equal(walked.frame.pixels, alone.frame.pixels)


def test_where_a_mark_is_on_its_way(marked: Run) -> None:
    """100 ns of it, from v (t - 200 ns) to v (t - 100 ns); nothing in front of it and nothing behind."""
    fronts = Stage(marked, size=SIZES["wide"]).picture.scene.fronts
    x = np.linspace(0, float(marked.traces.lines[0].x_m[-1]), 2000)
    t, v = 300e-9, fronts.velocities[0]
    forward, _ = fronts.passing(0, x, t)
    there = x[forward > 1.0]
    step = v * float(marked.traces.time_s[1])  # of the traces
    assert there.min() == pytest.approx(v * (t - 200e-9), abs=step)
    assert there.max() == pytest.approx(v * (t - 100e-9), abs=step)
    here, _ = fronts.here(0, t)
    places = marked.traces.lines[0].x_m[here]
    assert places.min() >= v * (t - 200e-9) - step
    assert places.max() <= v * (t - 100e-9) + step


def test_flows_have_a_figure_where_there_is_one() -> None:
    told = [signed(watts, 1e-4) for watts in (57.91, 0.0203, -3.3e-3, 4e-5, -4e-5, 0.0)]
    assert told == ["+57.9 W", "+20.3 mW", "−3.30 mW", "≈ 0 W", "≈ 0 W", "0 W"]


def test_captions_of_a_pulse_tell_what_a_carrier_reads() -> None:
    """Its own means over a period of the carrier say nothing."""
    run = Station().run()
    pulse = replace(run, scenario=run.scenario.model_copy(update={"keying": Keying(shape="pulse", width_s=3e-8)}))
    for name in ("feed line.swr_in", "antenna.power_w", "tuner.heat_w"):
        assert Live(pulse).value(name, 1e-8) == run.readings.numbers()[name]
    assert Live(run).value("antenna.power_w", 1e-8) == 0.0


@pytest.mark.parametrize("behind", ["feed line", "open wire", "tuner"])
def test_a_bad_connector_is_marked_from_its_moment_on(behind: str) -> None:
    station = Station(sections=(("feed line", 0.4, 50.0), ("open wire", 0.6, 50.0)))
    run = station.run()
    event = Event(at_s=4e-7, happens="connector fails", behind=behind, resistance_ohm=20.0)
    stage = Stage(replace(run, scenario=run.scenario.model_copy(update={"events": (event,)})), size=SIZES["wide"])
    check_words(stage)
    scene = stage.picture.scene
    first = next(k for k in range(len(stage)) if scene.now(k) > event.at_s)
    told = []
    for k in (first - 1, first):
        stage.draw(k)
        told.append("bad connector" in [text.get_text() for text in stage.frame.axes.texts])
    assert told == [False, behind == "feed line"]  # behind the others there is no room for words
    stage.draw(first - 1)
    before = stage.frame.pixels.copy()
    stage.draw(first)
    place = next((span.x1 for span in stage.track.spans if span.line.name == behind), None)
    if place is not None:
        x, y = (int(px * stage.frame.scale) for px in (place, stage.track.top - 6))
        assert (stage.frame.pixels[y - 2 : y + 3, x - 5 : x + 6] != before[y - 2 : y + 3, x - 5 : x + 6]).any()
