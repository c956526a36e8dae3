"""The story of a scenario without one fits what the station is, and can be told."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from bouncesim import perform
from bouncesim.account.run import Run
from bouncesim.scenario import Event, Keying, parse_scenario
from bouncesim.show.captions import check_captions, fill
from bouncesim.show.live import Live
from bouncesim.show.story import Story, tell
from tests.show.fake import Station


def changed(run: Run, **change: Any) -> Run:
    return dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": (), **change}))


def told(run: Run) -> list[str]:
    """The captions, after what every story must have: moments in order, captions that can be filled in."""
    story: Story = tell(run, 30, 4.0)
    live = Live(run)
    check_captions(story.shots, live)
    ends = [shot.end_s for shot in story.shots]
    assert ends == sorted(set(ends))
    assert 15 < story.closing / story.fps < 60
    return [fill(shot.caption, live, shot.end_s) for shot in story.shots]


def test_a_station_with_a_tuner(run: Run) -> None:
    captions = told(changed(run))
    assert captions[0].startswith("Key down: the wave sets out.")
    assert "the rest turns back" in captions[1]
    assert captions[2].startswith("At the tuner the echo meets the new wave")
    assert captions[3].startswith("Echo upon echo")
    assert "What flows is the difference." in captions[-2]
    assert captions[-1].startswith("Settled: ")
    assert captions[-1].endswith("The rest is heat.")


def test_a_matched_antenna_sends_nothing_back() -> None:
    run = Station(antenna=50.0).run()
    captions = told(run)
    assert "takes the whole wave" in captions[1]
    assert not any("echo" in caption.lower() or "What flows" in caption for caption in captions)


def test_a_slow_key_hides_the_echoes(run: Run) -> None:
    captions = told(changed(run, keying=Keying(rise_s=5e-3)))
    assert captions[0].startswith("The key rises so slowly")
    assert captions[-1].startswith("Settled: ")


def test_a_very_short_line() -> None:
    captions = told(Station(wavelengths=0.03, before=(), round_trips=60.0).run())
    assert captions[0].startswith("On so short a line")


@pytest.mark.parametrize(("behaviour", "says"), [("isolated", "the dump load"), ("linear", "At the near end the echo meets")])
def test_without_a_tuner_it_matters_what_drives_the_line(behaviour: str, says: str) -> None:
    run = Station(before=()).run()
    captions = told(changed(run, transmitter=run.scenario.transmitter.model_copy(update={"behaviour": behaviour})))
    assert says in captions[2]


def test_a_pulse(run: Run) -> None:
    captions = told(changed(run, keying=Keying(shape="pulse", width_s=2e-8)))
    assert captions[0].startswith("A short pulse sets out")
    assert not any("Settled" in caption for caption in captions)


def test_a_text(run: Run) -> None:
    dot = float(run.traces.time_s[-1]) / 8
    captions = told(changed(run, keying=Keying(shape="morse", text="ee", dot_s=dot, rise_s=dot / 50)))
    assert captions[-3].startswith("The first sign")
    assert captions[-1].startswith("Sign upon sign")


@pytest.mark.parametrize(
    ("event", "says", "last"),
    [
        (Event(at_s=9e-7, happens="antenna opens"), "The antenna comes off!", "Settled: "),
        (Event(at_s=9e-7, happens="antenna shorts"), "The antenna is shorted!", "Settled: "),
        (Event(at_s=9e-7, happens="antenna changes", impedance_ohm=20 + 5j), "The antenna changes.", "Settled: "),
        (
            Event(at_s=9e-7, happens="connector fails", behind="feed line", resistance_ohm=20.0),
            "The connector behind the feed line",
            "Settled",
        ),
        (Event(at_s=9e-7, happens="key up"), "Key up: no new wave", "What was stored runs out"),
    ],
)
def test_events(run: Run, event: Event, says: str, last: str) -> None:
    captions = told(changed(run, events=(event,)))
    at = next(i for i, caption in enumerate(captions) if caption.startswith(says))
    assert "until something happens" in captions[at - 1]
    assert captions[-1].startswith(last)


RECEIVES = """
title = "The other way"
direction = "receive"
transmitter = { frequency = "10.12 MHz", power = "35 W" }
keying = { shape = "raised-cosine", rise = "0.2 us" }
path = [
  { part = "tuner" },
  { part = "line", name = "feed line", length = "41 m", impedance = "50 ohm", velocity_factor = 0.8, loss = "1.1 dB/100 m" },
]
antenna = { impedance = "28 - 55j ohm" }
"""


@pytest.mark.slow
def test_a_station_that_receives() -> None:
    captions = told(perform.simulate(parse_scenario(RECEIVES)))
    assert captions[0].startswith("A signal comes in")
    assert captions[-1].startswith("Settled: 48.4 pW leave the antenna, 39.6 pW go into the receiver.")
    assert not any("transmitter" in caption for caption in captions)


def test_a_pulse_that_ends_at_home() -> None:
    run = Station(before=(), source_reflection=0.0).run()
    width = 2e-8
    stored = run.traces.stored_j * (run.traces.time_s < run.moments["first echo"] + width / 2)
    ended = dataclasses.replace(run, traces=dataclasses.replace(run.traces, stored_j=stored))
    assert told(changed(ended, keying=Keying(shape="pulse", width_s=width)))[-1].startswith("Home again, it ends")
    assert told(changed(run, keying=Keying(shape="pulse", width_s=width)))[-1].startswith("Every later echo")
