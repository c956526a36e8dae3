"""Pulse and echo: what comes back, over the place that it comes from, and what stands there."""

from __future__ import annotations

import numpy as np

from bouncesim.account.pulse import Echo, PulseReport, pulse_report
from bouncesim.account.run import Run
from bouncesim.quantity import show
from bouncesim.show.charts.plot import Plot, ticks
from bouncesim.show.charts.sheet import GAP, Rect, Sheet, whole
from bouncesim.show.charts.strip import RAIL
from bouncesim.show.layout import place_labels
from bouncesim.show.text import shorten, width

MOST = 8  # echoes told in words
HEADROOM = 1.15
LEAST = 2.0  # per cent that the plot shows at least, up and down
ROW = 1.7  # lines of type that an echo takes in the list
SHARE = 0.62  # of the height that the plot takes


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading. Raises BouncesimError for a run without a pulse."""
    report = pulse_report(run)
    told = [echo for echo in report.echoes if not echo.is_second]
    told = [echo for echo in told if echo in sorted(told, key=lambda one: -abs(one.seen))[:MOST]]
    sheet.closing(_sentence(report, told), _note(report))
    x, y, w, h = sheet.body
    rows = max(len(told), 1) * (2 if sheet.is_tall else 1)
    below = min(rows * ROW * sheet.type.small + 2.4 * sheet.type.header, (1 - SHARE) * h + 80)
    _plot(sheet, run, (x, y, w, h - below - GAP), report, told)
    _list(sheet, (x, y + h - below, w, below), told)


def _plot(sheet: Sheet, run: Run, rect: Rect, report: PulseReport, told: list[Echo]) -> None:
    """One curve over all lines, and a pulse's length beyond their end: a pulse has its middle where it comes from."""
    x, y, w, h = sheet.titled(rect, "What comes back of the pulse", "over the place that it comes from, % of the pulse")
    small, palette, mark = sheet.type.small, sheet.palette, 1.1 * sheet.type.small
    place, values = np.array(report.place_m), 100 * np.array(report.returned)
    end = report.farthest_m + report.resolves_m
    inside = place <= end
    high, low = HEADROOM * max(float(values[inside].max()), LEAST), HEADROOM * min(float(values[inside].min()), -LEAST)
    high, low = max(high, -0.12 * low), min(low, -0.12 * high)
    rails = y + 1.5 * small
    top = rails + mark + 12
    plot = Plot(sheet, (x + 4.4 * small, top, w - 4.8 * small, y + h - 2.6 * small - 16 - top), (0.0, end), (low, high))
    x_ticks = ticks(0.0, end, max(int(plot.rect[2] / (4.5 * small)), 2))
    plot.frame(x_ticks, ticks(low, high, max(int(plot.rect[3] / (1.8 * small)), 3)))
    plot.x_name("distance along the lines (m)" if len(run.scenario.lines) > 1 else "distance along the line (m)")
    sheet.pad.line([plot.rect[0], plot.rect[0] + plot.rect[2]], [float(plot.py(0.0))] * 2, palette.axis, 2.5, zorder=2.0)
    _lines(sheet, run, plot, rails)
    plot.clip(sheet.pad.line(plot.px(place), plot.py(values), palette.panel, sheet.stroke * 5 + 3, zorder=2.25))
    plot.clip(sheet.pad.line(plot.px(place), plot.py(values), palette.reflected, sheet.stroke * 5, zorder=2.3))
    _marks(sheet, plot, told, rails, mark)


def _lines(sheet: Sheet, run: Run, plot: Plot, y: float) -> None:
    """The lines over their places, a notch at every joint, with their names as far as there is room."""
    small, start = sheet.type.small, 0.0
    for line in run.scenario.lines:
        a, b = (float(value) for value in plot.px([start, start + line.length_m]))
        sheet.pad.line([a + 2, b - 2], [y, y], sheet.palette.conductor, RAIL, solid_capstyle="butt")
        for notch in (a, b):
            sheet.pad.line([notch, notch], [y - 9, y + 9], sheet.palette.conductor, 2.5)
        name = shorten(line.name, b - a - 2.8 * small, small)
        if len(name) > 3 or name == line.name:
            sheet.words((a + b) / 2, y - 0.6 * small, name, small, ha="center")
        start += line.length_m


def _marks(sheet: Sheet, plot: Plot, told: list[Echo], rails: float, mark: float) -> None:
    """A numbered disc on the lines for every echo, and a dotted line down at its place."""
    if not told:
        return
    left, top, w, h = plot.rect
    at = [float(plot.px(echo.distance_m)) for echo in told]
    placed = place_labels(at, [2 * mark] * len(told), left - mark, left + w + mark, 6) or at
    for number, (x, middle) in enumerate(zip(at, placed, strict=True), 1):
        sheet.pad.line([middle, x, x], [rails, top, top + h], sheet.palette.axis, 2.5, linestyle=(0, (1.0, 1.6)), zorder=2.05)
        _disc(sheet, middle, rails, mark, number)


def _disc(sheet: Sheet, x: float, y: float, radius: float, number: int) -> None:
    disc = sheet.pad.circle(x, y, 0.85 * radius, sheet.palette.panel, sheet.palette.text, 3)
    disc.set_zorder(2.8)
    sheet.words(x, y + 0.36 * sheet.type.small, str(number), sheet.type.small, bold=True, ha="center", zorder=2.9)


def _list(sheet: Sheet, rect: Rect, told: list[Echo]) -> None:
    x, y, w, h = sheet.titled(rect, "Most likely")
    small, palette = sheet.type.small, sheet.palette
    step = min(ROW * small * (2 if sheet.is_tall else 1), h / max(len(told), 1))
    base = y + small
    for number, echo in enumerate(told, 1):
        _disc(sheet, x + 0.9 * small, base - 0.36 * small, 0.85 * small, number)
        words, sizes = _words(echo), _sizes(echo)
        if sheet.is_wide:
            right = width(sizes, small) + 30
            sheet.words(x + 2.4 * small, base, shorten(words, w - 2.4 * small - right, small), small)
            sheet.words(x + w, base, sizes, small, palette.secondary, ha="right")
        else:
            sheet.words(x + 2.4 * small, base, whole(words, w - 2.4 * small, small, 1)[0], small)
        if sheet.is_tall:
            sheet.words(x + 2.4 * small, base + 1.2 * small, whole(sizes, w - 2.4 * small, small, 1)[0], small, palette.secondary)
        base += step
    if not told:
        sheet.words(x, base, "Nothing comes back.", small)


def _words(echo: Echo) -> str:
    value = f", {show(echo.value, echo.unit, 2).replace('ohm', 'Ω')}" if echo.value is not None else ""
    return f"{echo.distance_m:.2f} ± {echo.within_m:.2f} m: {echo.kind}{value}"


def _sizes(echo: Echo) -> str:
    then = f", then {_percent(echo.then)}" if echo.then else ""
    return f"{_percent(echo.seen)}{then} as it comes; {_percent(echo.size)} there"


def _percent(share: float) -> str:
    return f"{100 * share:+.0f} %".replace("-", "−")


def _sentence(report: PulseReport, told: list[Echo]) -> str:
    if not told:
        return "Nothing comes back: the lines are whole, and their end is matched."
    if len(told) == 1:
        return f"One echo comes back, from {_place(told[0])}: {_article(told[0])}."
    most = max(told, key=lambda echo: max(abs(echo.seen), abs(echo.then)))
    return f"{len(told)} echoes come back. The largest comes from {_place(most)}: {_article(most)}."


def _article(echo: Echo) -> str:
    """Its kind, as it stands in a sentence."""
    kind = echo.kind
    return kind if kind.startswith(("resistance", "not")) else f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def _place(echo: Echo) -> str:
    return f"{echo.distance_m:.1f} m away"


def _note(report: PulseReport) -> str:
    words = f"Pulse {show(report.width_s, 's')} wide: faults closer together than {show(report.resolves_m, 'm', 2)} may show as one."
    if report.smear_s > 0:
        words += f" The line's loss holds the end's echo back by {show(report.smear_s, 's', 2)}; that is taken out of the distances."
    return words + " Earth a line before you connect to it."
