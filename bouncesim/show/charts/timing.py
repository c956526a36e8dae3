"""Axes of time, and the moments worth a mark on them."""

from __future__ import annotations

from bouncesim.account.run import Run
from bouncesim.show.captions import SAFETY
from bouncesim.show.charts.plot import Tick, ticks
from bouncesim.show.numbers import prefix_for

AFTER = 1.3  # of the time until all has settled
LEAST_TRIPS = 2.0  # round trips shown at least


def time_ticks(end_s: float, most: int) -> tuple[list[Tick], str]:
    """Round times (s) up to the end with their words, and the unit of the words."""
    factor, letter = prefix_for(end_s)
    return [(value * factor, words) for value, words in ticks(0.0, end_s / factor, max(most, 1))], f"{letter}s"


def is_pulse(run: Run) -> bool:
    """Whether there is no carrier, and so no steady state, but one pulse."""
    return run.scenario.keying.shape == "pulse"


def caution(run: Run) -> str:
    """What every picture of voltages says, and of a pulse that its steady state is another's; nothing where a station only receives."""
    words = "" if run.scenario.direction == "receive" else SAFETY
    return f"The steady state is that of a carrier instead of the pulse. {words}" if is_pulse(run) else words


def shown_until(run: Run) -> float:
    """Where an axis of time ends, s: a little after all has settled and the last event has passed, if the run has so much; of Morse and
    of a pulse all is shown."""
    if run.scenario.keying.shape in ("morse", "pulse"):
        return float(run.traces.time_s[-1])
    last = max([run.moments["settled"], *(event.at_s for event in run.scenario.events)])
    return min(max(AFTER * last, LEAST_TRIPS * run.moments["first echo"]), float(run.traces.time_s[-1]))


def moments(run: Run) -> list[tuple[float, str]]:
    """When the wave is at the far end, when its echo is back, each event, when all has settled."""
    found = [
        (run.moments["antenna reached"], f"at the {run.scenario.load_name}"),
        (run.moments["first echo"], "first echo"),
    ]
    found += [] if is_pulse(run) else [(run.moments["settled"], "settled")]
    found += [(event.at_s, event.happens) for event in run.scenario.events]
    return sorted(found)
