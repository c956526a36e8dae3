"""Where the energy is that has left the transmitter: into the antenna, heat, stored. The account is net, and it closes at every instant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bouncesim.account.run import Run
from bouncesim.show.books import heat_kinds
from bouncesim.show.charts.plot import Floats, Plot, swatch, ticks, with_unit
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.charts.timing import moments, shown_until, time_ticks
from bouncesim.show.numbers import power_of_ten, prefix_for, reading
from bouncesim.show.text import shorten, width
from bouncesim.show.theme import MARKS

COLUMN = 470.0  # px of the list beside the plot
NOTHING = 1e-9  # share of the whole under which a kind of heat is left out


@dataclass(frozen=True)
class Share:
    """One share of the account: its words, its energy so far (J) at every snapshot, its colour's name and its hatch."""

    words: str
    energy_j: Floats
    color: str
    hatch: str


def shares(run: Run) -> list[Share]:
    """From the bottom of the picture up: into the antenna, each kind of heat, stored. Together what has left the transmitter."""
    traces, keep = run.traces, kept(run)
    load = run.scenario.load_name
    found = [Share(f"into the {load}", np.asarray(traces.into_antenna_j[keep], dtype=np.float64), "antenna", MARKS["antenna"].hatch)]
    booked: set[str] = set()
    whole = float(np.abs(traces.left_transmitter_j[keep]).max())
    for kind, names in heat_kinds(run.scenario).items():
        energy = np.sum([traces.heat_j[name] for name in names if name in traces.heat_j], axis=0) + np.zeros(len(traces.time_s))
        energy = energy[keep]
        booked.update(names)
        mark = "into the stub" if kind == "stub" else f"{kind} heat"
        verb = "into" if kind == "stub" else "heat in"
        if np.abs(energy).max() > NOTHING * whole:
            hatch = MARKS[mark].hatch if mark in MARKS else MARKS["other heat"].hatch
            found.append(Share(f"{verb} the {kind if len(names) == 1 else kind + 's'}", energy, "heat", hatch))
    other = [energy[keep] for name, energy in traces.heat_j.items() if name not in booked]
    if other and np.abs(sum(other)).max() > NOTHING * whole:
        found.append(Share("heat elsewhere", np.sum(other, axis=0), "heat", MARKS["other heat"].hatch))
    return [*found, Share("stored on the way", np.asarray(traces.stored_j[keep], dtype=np.float64), "stored", MARKS["stored"].hatch)]


def kept(run: Run) -> slice:
    """The snapshots that the picture shows."""
    return slice(0, int(np.searchsorted(run.traces.time_s, shown_until(run), side="right")))


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    held = shares(run)
    left_j = np.asarray(run.traces.left_transmitter_j[kept(run)], dtype=np.float64)
    time = np.asarray(run.traces.time_s[kept(run)], dtype=np.float64)
    sheet.closing(_sentence(run, held, float(left_j[-1])), _note(run))
    x, y, w, h = sheet.titled(sheet.body, f"Where is the energy that has left the {run.scenario.source_name}?")
    small = sheet.type.small
    listed = [*held[::-1]]
    row = 3.1 * small
    if sheet.is_wide:
        area = (x, y, w - COLUMN, h)
        _list(sheet, listed, left_j, (x + w - COLUMN + 50, y + 24), row, COLUMN - 50, 1)
    else:
        rows = -(-(len(listed) + 1) // 2)
        area = (x, y, w, h - rows * row)
        _list(sheet, listed, left_j, (x, y + h - rows * row + 14), row, w / 2 - 10, 2)
    end, full = float(time[-1]), 1.04 * float(left_j.max())
    factor, letter = prefix_for(full)
    found = with_unit(ticks(0, full / factor, max(int(area[3] / (3 * small)), 1)), f"{letter}J")
    y_ticks = [(value * factor, words) for value, words in found]
    margin = max(width(words, small) for _, words in y_ticks) + 26
    rect = (area[0] + margin, area[1] + 2.4 * small, area[2] - margin - 16, area[3] - 5 * small - 22)
    plot = Plot(sheet, rect, (0.0, end), (min(0.0, float(left_j.min())), full))
    x_ticks, unit = time_ticks(end, int(rect[2] / (4.5 * small)))
    plot.frame(x_ticks, y_ticks)
    plot.x_name(f"time from key-down ({unit})")
    _areas(plot, time, held)
    plot.curve(time, left_j, "total", 0.1, 6.0)
    plot.marks(moments(run))


def _areas(plot: Plot, time: Floats, held: list[Share]) -> None:
    """One area upon the other, so that the topmost edge is what has left the transmitter."""
    low = np.zeros(len(time))
    for share in held:
        high = low + share.energy_j
        plot.area(time, low, high, getattr(plot.sheet.palette, share.color), share.hatch)
        low = high


def _list(sheet: Sheet, listed: list[Share], left_j: Floats, at: tuple[float, float], row: float, room: float, columns: int) -> None:
    """The shares with their energies at the end, in the order of the picture; first of all the whole."""
    small, body, palette = sheet.type.small, sheet.type.body, sheet.palette
    for k, (words, joules, share) in enumerate(
        [("left in all", left_j[-1], None), *((one.words, one.energy_j[-1], one) for one in listed)]
    ):
        x, y = at[0] + (k % columns) * (room + 20), at[1] + (k // columns) * row
        if share is None:
            sheet.pad.line([x, x + 34], [y + 18, y + 18], palette.total, 6.0, solid_capstyle="butt")
        else:
            swatch(sheet, x, y, 34, getattr(palette, share.color), share.hatch)
        part = f"  {100 * joules / left_j[-1]:.0f} %" if share is not None and left_j[-1] > 0 else ""
        sheet.words(x + 50, y + 0.5 * small, shorten(words, room - 50, small), small, palette.secondary)
        sheet.words(
            x + 50, y + 0.5 * small + 1.2 * body, f"{reading(float(joules), 'J', 1e-9 * abs(float(left_j[-1])))}{part}", body, bold=True
        )


def _sentence(run: Run, held: list[Share], left: float) -> str:
    into, stored = float(held[0].energy_j[-1]), float(held[-1].energy_j[-1])
    heat = sum(float(share.energy_j[-1]) for share in held[1:-1])
    words = f"{reading(into, 'J')} went into the {run.scenario.load_name}"
    words += f", {reading(heat, 'J')} became heat" if heat > NOTHING * abs(left) else ""
    return f"Of {reading(left, 'J')}, {words}, {reading(stored, 'J')} are stored: nothing is missing, and nothing is counted twice."


def _note(run: Run) -> str:
    return f"Booked at every time step; the books close to {power_of_ten(max(run.ledger.accumulated, 1e-16))} of the energy."
