"""What a simulation would take, told before it starts; more than the usual is refused until it is allowed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bouncesim.errors import Problem, ScenarioError
from bouncesim.march.line import Section

CELLS_A_SECOND = 1e9  # that a core steps, in order of magnitude; and a step of the networks costs as much as so many cells
NETWORK_CELLS = 60
BYTES_A_CELL = 13 * 8  # state, means, largest values and sums of a lock-in
MOST_MINUTES, MOST_BYTES = 30.0, 1e9
WORTH_WAITING_FOR = 1000  # times as much as usual: some three weeks

_allowed = 1.0


def allow(times: float) -> None:
    """Let simulations take so many times the usual minutes and memory, from now on."""
    global _allowed
    _allowed = times


def check(sections: Sequence[Section], dt: float, until_s: float) -> None:
    """Raise ScenarioError if these sections, stepped by `dt` up to `until_s` at least, would take more than is allowed."""
    cells, steps = sum(section.cells for section in sections), until_s / dt
    minutes = (cells + NETWORK_CELLS) * steps / CELLS_A_SECOND / 60
    size = cells * BYTES_A_CELL
    if minutes <= MOST_MINUTES * _allowed and size <= MOST_BYTES * _allowed:
        return
    times = max(minutes / MOST_MINUTES, size / MOST_BYTES)
    reason = f"would take {cells:,} cells along its lines and {steps:.0e} steps of time: about {_time(minutes)} and {size / 1e9:.2g} GB"
    more = f", or allow more with --most-work {_round_up(times)}" if times <= WORTH_WAITING_FOR else ""
    remedy = (
        f"Allowed: {MOST_MINUTES * _allowed:g} minutes and {MOST_BYTES * _allowed / 1e9:g} GB. Shorten the line or the key, or take a "
        f"lower frequency{more}"
    )
    raise ScenarioError(Problem("scenario", reason, remedy))


def _time(minutes: float) -> str:
    """A duration in words, as roughly as it is known."""
    for unit, length in (("years", 525_600.0), ("days", 1440.0), ("hours", 60.0)):
        if minutes >= 2 * length:
            return f"{minutes / length:.2g} {unit}"
    return f"{max(minutes, 1):.2g} minutes"


def _round_up(times: float) -> str:
    """The next figure of one digit."""
    size = 10.0 ** math.floor(math.log10(times))
    return f"{math.ceil(times / size) * size:g}"
