"""What lies ahead, told before it begins; more than the usual is refused until it is allowed.

Whoever may take long estimates its `Work` from counts (cells, steps, frames, stations), and calls `check` before anything large is made. An
estimate is right within a factor of three or so; the seconds are those of one core of an ordinary machine of 2024.
"""

from __future__ import annotations

import functools
import math
import os
from dataclasses import dataclass

from bouncesim.errors import TooMuchWork

MOST_MINUTES, MOST_BYTES, MOST_DISK = 30.0, 1e9, 1e10
PROGRAM_BYTES = 2.5e8  # what the program takes before it has begun
WORTH_WAITING_FOR = 1000  # times as much as usual: some three weeks

_allowed = 1.0


@dataclass(frozen=True)
class Work:
    """One piece of work: how much of what it takes ("the simulation takes 300 cells and 2e+09 steps"), the nearest that would take less
    ("Shorten the line"), its time (s), and the bytes of memory and of disk that it needs."""

    takes: str
    nearest: str
    seconds: float = 0.0
    memory: float = 0.0
    disk: float = 0.0

    @property
    def times(self) -> float:
        """How many times the usual limits."""
        return max(self.seconds / 60 / MOST_MINUTES, self.memory / (MOST_BYTES - PROGRAM_BYTES), self.disk / MOST_DISK)

    @property
    def told(self) -> str:
        """Time, memory and disk in words; of the last two what is worth telling."""
        sizes = [(self.memory + PROGRAM_BYTES, " of memory", 0.5e9), (self.disk, " on disk", 0.1e9)]
        parts = [duration(self.seconds), *(f"{size(found)}{of}" for found, of, least in sizes if found >= least)]
        return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def allow_work(times: float) -> None:
    """Let everything that is estimated first take so many times the usual 30 minutes, 1 GB of memory and 10 GB of disk, from now on."""
    global _allowed
    if not times > 0:
        raise ValueError(f"allowed work is a number of times above 0, not {times}")
    _allowed = times


def together(*works: Work) -> Work:
    """Several, one after the other: their times and files add up, memory is used again. Told by the words of the largest."""
    largest = max(works, key=lambda work: work.times)
    seconds, memory, disk = sum(w.seconds for w in works), max(w.memory for w in works), sum(w.disk for w in works)
    return Work(largest.takes, largest.nearest, seconds, memory, disk)


def check(*works: Work) -> None:
    """Raise TooMuchWork if these, one after the other, take more than is allowed, or more memory than this machine has."""
    whole, has = together(*works), memory_bytes()
    fits = whole.memory + PROGRAM_BYTES <= has
    if whole.times <= _allowed and fits:
        return
    limits = f"{duration(60 * MOST_MINUTES * _allowed)}, {size(MOST_BYTES * _allowed)} of memory and {size(MOST_DISK * _allowed)} on disk"
    allowed = f"Allowed: {limits}" if fits else f"This machine has {size(has)} of memory"
    times = _round_up(whole.times)
    more = f", or allow more with --most-work {times} (in Python: bouncesim.allow_work({times}))"
    worth = fits and whole.times <= WORTH_WAITING_FOR
    raise TooMuchWork(f"{whole.takes}: in all about {whole.told}. {allowed}. {whole.nearest}{more if worth else ''}.")


def affordable(work: Work) -> float:
    """How many times this work is allowed."""
    return _allowed / work.times


@functools.cache
def memory_bytes() -> float:
    """Of this machine; without bound where it cannot be told."""
    try:
        return float(os.sysconf("SC_PAGE_SIZE")) * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):
        return math.inf


def duration(seconds: float) -> str:
    """A time in words, as roughly as it is known."""
    if seconds < 1.5:
        return "a second"
    for length, unit in ((31_557_600.0, "years"), (86_400.0, "days"), (3600.0, "hours"), (60.0, "minutes")):
        if seconds >= 1.5 * length:
            return f"{seconds / length:.2g} {unit}" if seconds < 100 * length else f"{count(seconds / length)} {unit}"
    return f"{seconds:.0f} seconds"


def size(found: float) -> str:
    """Bytes in words."""
    return f"{found / 1e9:.2g} GB" if found < 1e11 else f"{count(found / 1e9)} GB"


def count(number: float) -> str:
    """A number of things: all its digits, or its magnitude where there are too many."""
    return f"{number:,.0f}" if number < 1e7 else f"{number:.0e}".replace("e+0", "e").replace("e+", "e")


def _round_up(times: float) -> str:
    """The next figure of one digit; at least 1e-300, so that it can be asked for."""
    magnitude = 10.0 ** math.floor(math.log10(max(times, 1e-300)))
    return f"{math.ceil(times / magnitude * (1 - 1e-12)) * magnitude:g}"
