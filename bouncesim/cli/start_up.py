"""The start-up of a station under several keys, in tables."""

from __future__ import annotations

from collections.abc import Iterator

from rich.table import Table

from bouncesim.account.run import Stress
from bouncesim.account.startup import OVER, KeyStart, StartUp
from bouncesim.cli.terminal import table
from bouncesim.cli.text import clean, number
from bouncesim.quantity import show

SAME = "no more"
NOTHING = 2e-3  # of the largest reflected reading


def start_up_tables(start: StartUp) -> Iterator[Table | str]:
    """What the transmitter sees, what each part has to bear, and how far both can be trusted."""
    yield seen_table(start)
    yield bearing_table(start)
    yield " ".join(_remarks(start)) + "\n"


def seen_table(start: StartUp) -> Table:
    """One column a key: how long it takes, and what a meter at the transmitter's terminals would show."""
    made = table("What the transmitter sees from key-down on (its terminals alone)", "", *(clean(key.key) for key in start.keys))
    made.add_row("settled to within 1 %", *(show(key.settled_s, "s") for key in start.keys))
    made.add_row("  in round trips", *(number(key.round_trips, 3) for key in start.keys))
    made.add_row("largest reflected reading", *(_power(key.seen.reflected_w, start) for key in start.keys))
    made.add_row("  at", *(show(key.seen.at_s, "s") for key in start.keys))
    made.add_row("  in steady state", *(_power(key.seen.steady_reflected_w, start) for key in start.keys))
    made.add_row("largest share of forward", *(f"{100 * key.seen.share:.1f} %" for key in start.keys))
    made.add_row("SWR, range", *(f"{key.seen.swr_least:.2f} to {_swr(key.seen.swr_most)}" for key in start.keys))
    return made


def _power(value: float, start: StartUp) -> str:
    """A reading, unless it is below what the grid of a slow key can tell."""
    least = NOTHING * max(key.seen.reflected_w for key in start.keys)
    return show(value, "W") if value > least else f"under {show(least, 'W', 1)}"


def _swr(value: float) -> str:
    return f"{value:.2f}" if value < 100 else "over 100"


def bearing_table(start: StartUp) -> Table:
    """One column a key: the largest voltage or current of every part, and where it goes beyond the steady state how far, where and when."""
    made = table("Largest while starting up (peak values)", "", "steady", *(clean(key.key) for key in start.keys))
    for row, stress in enumerate(start.keys[0].stresses):
        unit = "V" if stress.quantity.endswith("voltage") else "A"
        cells = (_cell(key.stresses[row], unit) for key in start.keys)
        made.add_row(f"{clean(stress.line)}: {stress.quantity}", show(stress.steady, unit), *cells)
    return made


def _cell(stress: Stress, unit: str) -> str:
    if not is_over(stress):
        return SAME
    place = f"{show(stress.at_m, 'm')}, " if stress.at_m else ""
    return f"{show(stress.largest, unit)} ({how_much(stress)})\n{place}{show(stress.at_s, 's')}"


def is_over(stress: Stress) -> bool:
    """True where the start asks more of a place than the steady state does."""
    return stress.largest > stress.steady * (1 + OVER)


def how_much(stress: Stress) -> str:
    """By how much, in words: per cent, or times where that says more."""
    if stress.steady <= 1e-6 * stress.largest:
        return "from nothing"
    return f"+{100 * stress.overshoot:.0f} %" if stress.overshoot < 10 else f"{number(1 + stress.overshoot, 2)} times"


def _remarks(start: StartUp) -> Iterator[str]:
    step = next((key for key in start.keys if key.rise_s == 0), None)
    if step is not None:
        yield _trust(step)
    if start.left_out:
        yield f"Left out, as it would take long: {clean(', '.join(start.left_out))}."
    slow = max(start.keys, key=lambda key: key.rise_s)
    if slow.rise_s > 0 and not any(is_over(stress) for stress in slow.stresses):
        rise = show(slow.rise_s, "s")
        yield f"Under a key of {rise} the station follows all the way up, and nothing has to bear more than in steady state."
    yield (
        "The key stays down here, and nothing happens to the station on the way. Readings are means over a carrier period. They tell of "
        "the transmitter's terminals, not of the stress on the devices inside it."
    )


def _trust(step: KeyStart) -> str:
    if step.is_exact:
        degrees = 360 * step.trimmed
        return (
            f"For the step every line is a whole number of cells ({step.points} steps a carrier period), so that its front stays sharp; no "
            f"line was changed by more than {number(max(degrees, 1e-6), 1)} degrees of the carrier for that."
        )
    return (
        "No grid holds all of these lines in whole numbers of cells: the front of the step rings a little, and its overshoot may be a few "
        "per cent too high."
    )
