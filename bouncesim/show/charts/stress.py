"""What each part has to bear while the station starts up: the largest voltage and current, against those of the steady state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bouncesim.account.run import Run
from bouncesim.show.bars import Bar
from bouncesim.show.charts.plot import Floats, Plot, ticks, with_unit
from bouncesim.show.charts.sheet import GAP, Rect, Sheet
from bouncesim.show.charts.timing import caution, shown_until, time_ticks
from bouncesim.show.numbers import prefix_for, reading
from bouncesim.show.text import shorten, width

UNITS = {"voltage": "V", "current": "A"}
CYCLE = 32  # snapshots over which the phase of the carrier comes round where whole periods are left out between them
LEAST_PLOT = 230.0  # px that a history of the worst place needs
NAME = 0.7  # of a row's width that a name may take
GONE = 0.01  # of the largest, under which the steady state counts as nothing to compare with
REAL_S = 1e-3  # a rise under which a key is shorter than a real one
ABOVE = 0.005  # share by which the start must exceed the steady state to be told


@dataclass(frozen=True)
class Row:
    """The largest value at one thing: where it is, when it came about, and the steady state's largest."""

    name: str
    largest: float
    steady: float
    at_m: float | None
    at_s: float

    @property
    def where(self) -> str:
        """In words, with a comma for what follows; empty for what has no length."""
        return f"{reading(self.at_m, 'm', 1e-9)} along it, " if self.at_m is not None else ""

    @property
    def over(self) -> float:
        """How far the start goes beyond the steady state, as a share of it."""
        return self.largest / self.steady - 1 if self.steady > GONE * self.largest else 0.0


def rows(run: Run) -> dict[str, list[Row]]:
    """Under "voltage" and "current", in the order of the run; a coil's and a capacitor's own among them."""
    lines = {line.name for line in run.scenario.lines}
    found: dict[str, list[Row]] = {}
    for stress in run.stresses:
        inside, _, family = stress.quantity.rpartition(" ")
        name = f"{stress.line}: {inside}" if inside else stress.line
        at = stress.at_m if stress.line in lines and not inside else None
        found.setdefault(family, []).append(Row(name, stress.largest, stress.steady, at, stress.at_s))
    return found


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    held = rows(run)
    sheet.closing(_sentence(run, held), _note(run))
    x, y, w, h = sheet.body
    shown = [quantity for quantity in ("voltage", "current") if held.get(quantity)] or ["voltage"]
    if not sheet.is_tall and len(shown) == 2:
        wide = (w - GAP) / 2
        rects = [(x + k * (wide + GAP), y, wide, h) for k in range(2)]
    else:
        tall = (h - GAP * (len(shown) - 1)) / len(shown)
        rects = [(x, y + k * (tall + GAP), w, tall) for k in range(len(shown))]
    for quantity, rect in zip(shown, rects, strict=True):
        _panel(sheet, run, rect, quantity, held.get(quantity, []))


def _panel(sheet: Sheet, run: Run, rect: Rect, quantity: str, found: list[Row]) -> None:
    x, y, w, h = sheet.titled(rect, f"Largest {quantity}", "peak values")
    small, body, palette = sheet.type.small, sheet.type.body, sheet.palette
    key = _key(sheet, x, y + small, w)
    room, each = y + h - key - 20, 3.1 * small
    most = max(int(room / each), 1)
    left_out = max(len(found) - most, 0)
    if left_out:
        most = max(int((room - 1.5 * small) / each), 1)
        left_out = len(found) - most
        keep = sorted(found, key=lambda row: -row.largest)[:most]
        found = [row for row in found if row in keep]
    full, unit = max((row.largest for row in found), default=1.0), UNITS.get(quantity, "")
    figure = max((width(reading(row.largest, unit), body, True) for row in found), default=0.0)
    history = run_history(run, quantity, found)
    plot = room - len(found) * each if history else 0.0
    plot = plot if plot > LEAST_PLOT else 0.0
    each = min((room - plot) / max(len(found), 1), 5 * small)
    for k, row in enumerate(found):
        _row(sheet, row, unit, (x, key + 22 + k * each, w - figure - 24, each), full, x + w)
    if plot and history:
        _history(sheet, (x, y + h - plot, w, plot), history, unit, run)
    if left_out:
        sheet.words(x, y + h - 6, f"and {left_out} smaller ones", small, palette.secondary)


def _key(sheet: Sheet, x: float, y: float, room: float) -> float:
    """What the two kinds of bar stand for; returns the last baseline."""
    small, left = sheet.type.small, x
    for words, face in (("in steady state", sheet.palette.stored), ("on the way there", sheet.palette.panel)):
        wide = 60 + width(words, small)
        if left > x and left + wide > x + room:
            left, y = x, y + 1.35 * small
        sheet.pad.box(left, y - 0.8 * small, 46, 0.9 * small, face, sheet.palette.text, 2.5)
        sheet.words(left + 60, y, words, small)
        left += wide + 40
    return y


def _row(sheet: Sheet, row: Row, unit: str, rect: Rect, full: float, right: float) -> None:
    """A bar for the start, filled as far as the steady state reaches, with its words."""
    x, top, w, _ = rect
    small, body, palette, pad = sheet.type.small, sheet.type.body, sheet.palette, sheet.pad
    sheet.words(x, top + small, shorten(row.name, NAME * w, small), small)
    name = width(shorten(row.name, NAME * w, small), small)
    over = f"+{100 * row.over:.0f} %"
    long = f"{over}, {row.where}at {reading(row.at_s, 's')}" if row.over > ABOVE else "no more than in steady state"
    if row.steady <= GONE * row.largest:
        long = f"at {reading(row.at_s, 's')}, next to nothing later"
    room = right - x - name - 24
    words = next((one for one in (long, over if row.over > ABOVE else "") if width(one, small) <= room), "")
    sheet.words(right, top + small, words, small, palette.secondary, ha="right")
    y = top + 1.35 * small
    high = min(max(rect[3] - 1.9 * small, small), 1.6 * small)
    bar = Bar(pad, x, y, high, palette.stored, palette.panel, "")
    bar.show(0, w * min(row.steady, row.largest) / full)
    pad.box(x, y, w * row.largest / full, high, "none", palette.text, 2.5, zorder=2.0)
    sheet.words(right, y + high / 2 + 0.36 * body, reading(row.largest, unit), body, bold=True, ha="right")


@dataclass(frozen=True)
class History:
    """One quantity at one place against time: the place of a line where it was largest."""

    row: Row
    time_s: Floats
    values: Floats


def run_history(run: Run, quantity: str, found: list[Row]) -> History | None:
    """The history at the worst of the rows that is a line of the path; None if no row is one."""
    traces = {trace.name: trace for trace in run.traces.lines}
    lines = [row for row in found if row.name in traces and row.at_m is not None]
    if not lines:
        return None
    row = max(lines, key=lambda row: (round(row.over, 3), row.largest))
    trace = traces[row.name]
    at = int(np.argmin(np.abs(trace.x_m - (row.at_m or 0.0))))
    values = (trace.voltage_v if quantity == "voltage" else trace.current_a)[:, at]
    return History(row, np.asarray(run.traces.time_s, dtype=np.float64), np.asarray(values, dtype=np.float64))


def _history(sheet: Sheet, rect: Rect, history: History, unit: str, run: Run) -> None:
    """The oscillation at the worst place, between the levels of the steady state."""
    x, y, w, h = rect
    small, palette = sheet.type.small, sheet.palette
    end, row = shown_until(run), history.row
    full = 1.1 * max(row.largest, row.steady)
    factor, letter = prefix_for(full)
    found = with_unit(ticks(-full / factor, full / factor, max(int(h / (2.6 * small)), 2)), f"{letter}{unit}")
    y_ticks = [(value * factor, words) for value, words in found]
    margin = max(width(words, small) for _, words in y_ticks) + 22
    plot = Plot(sheet, (x + margin, y + 2.4 * small, w - margin - 12, h - 5.4 * small - 10), (0.0, end), (-full, full))
    x_ticks, time_unit = time_ticks(end, int(plot.rect[2] / (4.5 * small)))
    plot.frame(x_ticks, y_ticks)
    plot.x_name(f"time from key-down ({time_unit})")
    words = f"on the {row.name}, {row.where.rstrip(', ')}"
    sheet.words(x, y + 1.5 * small, shorten(words, w, small), small, palette.secondary)
    for level in (-row.steady, row.steady):
        sheet.pad.line(
            [plot.rect[0], plot.rect[0] + plot.rect[2]],
            [float(plot.py(level))] * 2,
            palette.axis,
            2.5,
            linestyle=(0, (4.0, 2.5)),
            zorder=2.4,
        )
    _swings(plot, history, end, 1 / run.scenario.transmitter.frequency_hz)


def _swings(plot: Plot, history: History, end: float, period: float) -> None:
    """The oscillation; where snapshots are more than half a period apart, the band within which it swings."""
    keep = history.time_s <= end
    time, values = history.time_s[keep], history.values[keep]
    if len(time) < 2 or time[1] - time[0] < period / 2:
        plot.clip(plot.sheet.pad.line(plot.px(time), plot.py(values), plot.sheet.palette.total, 3.0, zorder=2.2))
        return
    largest = np.array([np.abs(values[max(k - CYCLE, 0) : k + 1]).max() for k in range(len(values))])
    plot.area(time, -largest, largest, plot.sheet.palette.total, "")


def _sentence(run: Run, held: dict[str, list[Row]]) -> str:
    everything = [(row, UNITS.get(quantity, "")) for quantity, found in held.items() for row in found]
    if not everything:
        return "This run holds no record of what its parts had to bear."
    row, unit = max(everything, key=lambda one: one[0].over)
    if row.over <= ABOVE:
        return "On the way to its steady state, nothing has to bear more than in it."
    most, more = reading(row.largest, unit), f"{100 * row.over:.0f} %"
    return f"Worst on the way there: {most} on the {row.name} at {reading(row.at_s, 's')}, {more} more than later, when all has settled."


def _note(run: Run) -> str:
    rise = run.scenario.keying.rise_s
    short = f"Key rises in {reading(rise, 's')}; a real one takes about 5 ms. " if 0 < rise < REAL_S else ""
    source = run.scenario.source_name
    ends = any(stress.line == source for stress in run.stresses) and source == "transmitter"
    devices = "\nAt the transmitter: what its terminals bear, not the devices inside it." if ends else ""
    return f"{short}{caution(run)}{devices}".strip()
