"""Standing wave: voltage and current along every line in steady state, where they are largest, and the two waves that make them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bouncesim.account.run import LineTrace, Run
from bouncesim.show.charts.plot import Floats, legend, ticks
from bouncesim.show.charts.sheet import Rect, Sheet
from bouncesim.show.charts.steady import reading_of, waves
from bouncesim.show.charts.strip import Strip, px_ticks
from bouncesim.show.charts.timing import caution
from bouncesim.show.layout import place_labels
from bouncesim.show.numbers import prefix_for, reading
from bouncesim.show.text import width
from bouncesim.show.theme import MARKS

THICK = 9.0  # px of the total here, where three curves share a plot
LEFT = 4.6  # sizes of type that the words of the y axis begin left of it
NAMES = {"V": "voltage ({}V peak)", "A": "current ({}A peak)"}
HEADROOM = 1.06
AGREE = 0.01  # the two waves agree where their sizes add up to the total within this share
LABELLED = 60.0  # px that a section must have for its largest value to be written, unless it is the largest of all


@dataclass(frozen=True)
class Envelope:
    """One quantity along one line: its size and that of its two waves, its largest value and place by the readings."""

    trace: LineTrace
    total: Floats
    forward: Floats
    reflected: Floats
    largest: float
    at_m: float


def envelopes(run: Run, quantity: str) -> list[Envelope]:
    """Of "voltage" (V peak) or "current" (A peak), every line of the path in its order."""
    found = []
    for trace in run.traces.lines:
        ahead, back = (np.abs(wave) for wave in waves(trace))
        line = reading_of(run, trace.name)
        if quantity == "voltage":
            found.append(Envelope(trace, np.abs(trace.steady_v), ahead, back, line.largest_v_peak, line.largest_v_at_m))
        else:
            z = trace.reference_ohm
            found.append(Envelope(trace, np.abs(trace.steady_a), ahead / z, back / z, line.largest_a_peak, line.largest_a_at_m))
    return found


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    volts, amps = envelopes(run, "voltage"), envelopes(run, "current")
    sheet.closing(_sentence(run, volts), caution(run))
    title = "Voltage and current along the line, in steady state"
    x, y, w, h = sheet.titled(sheet.body, title if sheet.is_wide else "Voltage and current, settled")
    small = sheet.type.small
    strip = Strip(sheet, run.scenario, x, x + w, left=(LEFT + 0.4) * small)
    strip.draw(y)
    entries = [("total", "total"), ("forward", "forward wave"), ("reflected", "reflected wave")]
    if sheet.is_wide:
        head = x + width(title, sheet.type.header, True) + 60
        legend(sheet, head, y - 0.5 * sheet.type.header, x + w - head, entries, THICK)
        top = y + strip.height - 6
    else:
        top = legend(sheet, x, y + strip.height + 1.2 * small, w, entries, THICK) + 4
    labels, axis = 1.6 * small + 22, 16 + 2.6 * small  # px above each plot for its name and largest values; below for the axis
    room = y + h - axis - top
    each = (room - 2 * labels) / 2
    for k, (held, unit) in enumerate(((volts, "V"), (amps, "A"))):
        rect = (strip.x0, top + (k + 1) * labels + k * each, strip.x1 - strip.x0, each)
        _plot(sheet, strip, rect, held, unit, x_words=k == 1)


def _plot(sheet: Sheet, strip: Strip, rect: Rect, held: list[Envelope], unit: str, x_words: bool) -> None:
    left, top, _, h = rect
    full = HEADROOM * max(max(float(one.total.max()), float(one.forward.max()), one.largest) for one in held)
    bottom, scale = top + h, h / full
    factor, letter = prefix_for(full)
    found = ticks(0.0, full / factor, int(h / (1.25 * sheet.type.small)))
    strip.axis(rect, px_ticks(found, bottom, scale * factor), x_words)
    name = NAMES[unit].format(letter)
    sheet.words(left - LEFT * sheet.type.small, top - 16, name, sheet.type.small, sheet.palette.secondary)
    pad, palette = sheet.pad, sheet.palette
    for one, reach in zip(held, strip.reaches, strict=True):
        px = reach.px(one.trace.x_m)
        for curve, values, order in (("total", one.total, 0.0), ("forward", one.forward, 0.1), ("reflected", one.reflected, 0.2)):
            mark = MARKS[curve]
            broad = sheet.stroke * (THICK if curve == "total" else mark.width)
            style = {"linestyle": (0, mark.dashes)} if mark.dashes else {}
            if curve != "total":
                pad.line(px, bottom - scale * values, palette.panel, broad + 3, zorder=2.1 + order, solid_capstyle="butt")
            pad.line(px, bottom - scale * values, getattr(palette, curve), broad, zorder=2.15 + order, solid_capstyle="butt", **style)
    _largest(sheet, strip, held, unit, (top, bottom, scale))


def _largest(sheet: Sheet, strip: Strip, held: list[Envelope], unit: str, frame: tuple[float, float, float]) -> None:
    """A dot at the largest value of every section, its figure above the plot, the largest of all in bold."""
    top, bottom, scale = frame
    small, palette = sheet.type.small, sheet.palette
    most = max(range(len(held)), key=lambda k: held[k].largest)
    kept = [k for k, reach in enumerate(strip.reaches) if k == most or reach.x1 - reach.x0 >= LABELLED]
    left = strip.x0 - LEFT * small + width(NAMES[unit].format("m"), small) + 20
    while True:
        at = [float(strip.reaches[k].px(held[k].at_m)) for k in kept]
        words = [f"{'largest ' if k == most else ''}{reading(held[k].largest, unit)}" for k in kept]
        wide = [width(one, small, bold=k == most) for k, one in zip(kept, words, strict=True)]
        placed = place_labels(at, wide, left, strip.x1 + 60, 22)
        if placed or len(kept) == 1:
            break
        kept.remove(min((k for k in kept if k != most), key=lambda k: strip.reaches[k].x1 - strip.reaches[k].x0))
    for k, x, label, middle in zip(kept, at, words, placed or at, strict=True):
        y = bottom - scale * held[k].largest
        sheet.words(middle, top - 20, label, small, bold=k == most, ha="center")
        sheet.pad.line([middle, x, x], [top - 12, top - 2, y], palette.axis, 2, linestyle=(0, (1.0, 1.6)), zorder=2.5)
        dot = sheet.pad.circle(x, y, 9, palette.panel, palette.text, 4)
        dot.set_zorder(2.9)


def _sentence(run: Run, volts: list[Envelope]) -> str:
    one = max(volts, key=lambda one: one.largest)
    k = int(np.argmax(one.total))
    ahead, back, total = float(one.forward[k]), float(one.reflected[k]), one.largest
    place = (
        f"on the {one.trace.name}, {reading(one.at_m, 'm')} from its start"
        if len(volts) > 1
        else f"{reading(one.at_m, 'm')} from the start of the line"
    )
    if one.at_m == 0:
        place = f"at the start of the {one.trace.name}"
    elif one.at_m >= one.trace.x_m[-1] * (1 - 1e-9):
        place = f"at the end of the {one.trace.name}"
    most = f"The voltage is largest {place}: {reading(total, 'V')} peak."
    if back < 0.02 * ahead:
        return f"{most} Hardly anything comes back, so that it stands nearly as high all along the line."
    if ahead + back - total <= AGREE * total:
        return f"{most} There the two waves agree, {reading(ahead, 'V')} forward and {reading(back, 'V')} reflected, and add up."
    return f"{most} The line is too short for the two waves ({reading(ahead, 'V')} and {reading(back, 'V')}) to agree fully anywhere."
