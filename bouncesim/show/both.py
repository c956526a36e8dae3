"""Two runs as one: what captions may ask of them, the scales that both need, and their story on one clock."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bouncesim.account.run import Run
from bouncesim.errors import OptionError
from bouncesim.scenario.model import Beat, Scenario
from bouncesim.scenario.narration import Cue
from bouncesim.show.live import Live
from bouncesim.show.pacing import paced, rooms_of
from bouncesim.show.story import Shot, Story, frames_of
from bouncesim.show.usual import LOOK
from bouncesim.show.words import Words

NAMES = ("A", "B")
SLOW = 4.0  # times the later first echo: under keys that rise more slowly the echoes do not show


@dataclass(frozen=True)
class Both:
    """Readings of two runs by the name of each: "A.antenna.power_w"."""

    lives: tuple[Live, Live]

    @property
    def scale_w(self) -> float:
        """What a power is small against."""
        return max(live.scale_w for live in self.lives)

    def value(self, name: str, t: float) -> float:
        """A quantity of either at t; KeyError if there is none."""
        if name == "time":
            return t
        which, _, rest = name.partition(".")
        if which not in NAMES:
            raise KeyError(name)
        return self.lives[NAMES.index(which)].value(rest, t)

    def names(self) -> list[str]:
        """Every path that `value` knows."""
        return [
            "time",
            *(f"{which}.{name}" for which, live in zip(NAMES, self.lives, strict=True) for name in live.names() if name != "time"),
        ]

    def full(self) -> dict[str, float]:
        """Ends of the scales that hold both: "voltage" (V), "current" (A), "power" (W)."""
        found = {quantity: max(live.largest_wave(quantity) for live in self.lives) for quantity in ("voltage", "current")}
        return found | {"power": max(live.largest_forward() for live in self.lives)}


def check_alike(scenarios: tuple[Scenario, Scenario]) -> None:
    """Raises OptionError for two stations that one clock or one scale cannot hold."""
    one, other = scenarios
    if one.direction != other.direction:
        raise OptionError("A station that transmits and one that receives have no scale in common: film them apart.")
    ratio = one.transmitter.frequency_hz / other.transmitter.frequency_hz
    if not 1 / 20 <= ratio <= 20:
        raise OptionError("The two carriers are more than 20 times apart: on one clock, one of them would stand still.")


def told_together(runs: tuple[Run, Run], words: Words) -> tuple[Beat, ...]:
    """Both keys go down at once; each moment is that of the later station. Where a carrier goes off, nothing is said to have settled after
    that: what is on its way runs out."""
    latest = {name: max(run.moments.get(name, 0.0) for run in runs) for name in ("antenna reached", "first echo", "settled")}
    names = {"source": words(runs[0].scenario.source_name), "load": words(runs[0].scenario.load_name)}
    takes = {which.lower(): f"${{{which}.{runs[0].scenario.load_name}.power_w}}" for which in NAMES}
    off = min(run.scenario.carrier_until_s for run in runs)
    plan: list[tuple[float, float, str, float]] = []
    if max(run.scenario.keying.rise_s for run in runs) < SLOW * latest["first echo"]:
        back = "both_back" if latest["first echo"] <= off else "both_turns"  # of a pulse, or a sign that is over, there is no power to tell
        plan += [(latest["antenna reached"], 6.0, "both_out", 1.0), (latest["first echo"], 6.0, back, 1.0)]
    end = min(max(latest["settled"], *(event.at_s for run in runs for event in run.scenario.events), 0.0), off)
    period = max(1 / run.scenario.transmitter.frequency_hz for run in runs)
    plan += [(end, 7.0, "both_settle", 0.0)] if latest["settled"] <= end else []
    if math.isfinite(off):
        plan += [(max(float(run.traces.time_s[-1]) for run in runs), 9.0, "both_run_out", 0.0)]
    else:
        plan += [(max(end, latest["first echo"]) + LOOK * period, 8.0, "both_steady", 0.0)]
    beats, at = list[Beat](), 0.0
    for until, lasts, key, pause in plan:
        if until > at:
            beats.append(Beat(until=until, lasts_s=lasts, pause_s=pause, caption=words(key, **names, **takes)))
            at = until
    return tuple(beats)


def stories(runs: tuple[Run, Run], fps: int, closing_s: float, words: Words, cues: tuple[Cue, ...] = ()) -> tuple[Story, Story]:
    """The story of both, each with its own carrier: the same times in every frame. ScenarioError if a narration does not go with it."""
    beats = told_together(runs, words)
    shots, start = list[Shot](), 0.0
    for i, (beat, room) in enumerate(zip(beats, rooms_of(cues, beats), strict=True), 1):
        end = float(beat.until)
        lasts, pause, _ = paced(beat, end - start, room, i)
        shots.append(Shot(start, end, lasts, beat.caption, pause))
        start = end
    one, other = (frames_of(shots, fps, closing_s, 1 / run.scenario.transmitter.frequency_hz) for run in runs)
    return one, other
