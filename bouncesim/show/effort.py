"""How much work a film or a chart is, told from its frames and their size before anything is drawn."""

from __future__ import annotations

from typing import NamedTuple

from bouncesim.budget import Work, count
from bouncesim.scenario.model import Scenario
from bouncesim.show.pacing import LONGEST_S
from bouncesim.show.story import CARD_S

USUAL_S = 60.0  # of a film without beats, about
SETTLED_TRIPS = 10  # round trips until a station is settled, about
FRAME_S = 6e-3  # to draw what changes in a frame, whatever its size
ENCODER_BYTES = 1.2e8  # of memory, whatever the size
STILL_BYTES = 24  # of memory a pixel of a chart
NEAREST = "Take a smaller frame, fewer frames a second, a shorter story, or --draft"


class Cost(NamedTuple):
    """Of a pixel of a frame: seconds, bytes of memory (here and in the encoder, which holds some frames back), bytes on disk."""

    seconds: float
    memory: float
    disk: float


# Measured on an ordinary machine of 2024, on the films of the lessons.
COSTS = {
    "mp4": Cost(6e-9, 120, 0.008),
    "webm": Cost(30e-9, 200, 0.007),
    "gif": Cost(8e-9, 150, 0.012),
    "png": Cost(17e-9, 50, 0.16),
    "mov": Cost(20e-9, 80, 0.23),
}


def film_work(frames: float, kind: str, size: tuple[int, int]) -> Work:
    """Of so many frames of this size (px), drawn and encoded."""
    cost, pixels = COSTS[kind], size[0] * size[1]
    takes = f"The film takes {count(frames)} frames of {size[0]}x{size[1]}" if frames > 1 else f"A film of {size[0]}x{size[1]} is large"
    memory = pixels * cost.memory + ENCODER_BYTES
    return Work(takes, NEAREST, frames * (FRAME_S + pixels * cost.seconds), memory, frames * pixels * cost.disk)


def chart_work(charts: int, size: tuple[int, int]) -> Work:
    """Of so many stills of this size (px), one after the other."""
    pixels = size[0] * size[1]
    takes = f"{charts} charts of {size[0]}x{size[1]} take {count(pixels)} pixels each"
    return Work(takes, "Take a smaller size", charts * (1.0 + 0.1e-6 * pixels), pixels * STILL_BYTES)


def frames_ahead(scenario: Scenario, fps: int) -> float:
    """Frames of the story of a scenario, told before its run: where a beat goes on until a moment that only the run knows, about."""
    return fps * (_told_s(scenario) + CARD_S)


def _told_s(scenario: Scenario) -> float:
    if scenario.narration:
        return scenario.narration[-1].end_s
    told, before = 0.0, 0.0
    for beat in scenario.beats:
        until = _moment_s(scenario, beat.until) if isinstance(beat.until, str) else beat.until
        own = beat.lasts_s if beat.slowed is None else max(until - before, 0.0) * beat.slowed
        told += min((own or 0.0) + beat.pause_s, LONGEST_S + beat.pause_s)
        before = max(before, until)
    return told if scenario.beats else USUAL_S


def _moment_s(scenario: Scenario, name: str) -> float:
    """When a moment of a run comes, about, s."""
    frequency = scenario.transmitter.frequency_hz
    delay = sum(line.length_m / line.constants(frequency).velocity for line in scenario.lines)
    known = {"key down": 0.0, "antenna reached": delay, "first echo": 2 * delay} | {e.happens: e.at_s for e in scenario.events}
    if name.startswith("round trip "):
        return 2 * delay * int(name.rpartition(" ")[2])
    return known.get(name, scenario.keying.rise_s + scenario.last_event_s + 2 * SETTLED_TRIPS * delay)
