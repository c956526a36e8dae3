"""A rule of thumb over its range: where it holds within 1 %, and how far off it is elsewhere.

Bands are told apart by their lightness and by the figures in them, which say too whether the rule gives too much or too little.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.colors import to_hex, to_rgb
from matplotlib.patheffects import withStroke

from bouncesim.account.rulemap import HOLDS_WITHIN, MapAxis, RuleMap
from bouncesim.show.charts.plot import Floats, Plot, Tick, swatch, ticks
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.text import own_style, width
from bouncesim.show.theme import Palette

SIZE = (1080, 1080)  # square: it is looked at on a phone as often as not
BORDERS = (HOLDS_WITHIN, 0.1, 1.0)  # between the bands
BANDS = ("within 1 %", "1 to 10 % off", "10 to 100 %", "more")
STRENGTH = (0.0, 0.18, 0.42, 0.8)  # of each band's colour over the panel's ground; the first has its own
LEAST = 1e-6  # what is less is drawn as this
FIGURES = (4, 5)  # across and up
BOUNDLESS = 1000.0  # times the truth: further off than anyone needs to know
ROOM_LEFT, ROOM_BELOW, ROOM_ABOVE = 86.0, 92.0, 54.0


def rule_chart(mapped: RuleMap, *, size: tuple[int, int] = SIZE, theme: str = "dark") -> Sheet:
    """The map of one rule on a sheet of `size` px. Raises OutputError for a size or theme that there is not."""
    with own_style():
        sheet = Sheet(size, theme)
        sheet.heading(mapped.says, f"The rule: {mapped.formula}")
        sheet.closing(sentence(mapped), f"Source: {mapped.source}")
        x, y, w, h = sheet.titled(sheet.body, _titled(sheet, mapped))
        foot = _legend(sheet, x, y + 8, w, bool(mapped.spots))
        plot = Plot(
            sheet,
            (x + ROOM_LEFT, foot + ROOM_ABOVE, w - ROOM_LEFT - 20, y + h - foot - ROOM_ABOVE - ROOM_BELOW),
            _span(mapped.x),
            _span(mapped.y),
        )
        _bands(plot, mapped)
        plot.frame(axis_ticks(mapped.x), axis_ticks(mapped.y))
        plot.x_name(_name(mapped.x))
        plot.y_name(_name(mapped.y))
        _figures(plot, mapped)
        _spots(plot, mapped)
    return sheet


def _titled(sheet: Sheet, mapped: RuleMap) -> str:
    """With the quantity in it, where there is room."""
    whole = f"How far off the {mapped.quantity} is, at worst"
    return whole if width(whole, sheet.type.header, bold=True) < 0.85 * sheet.body[2] else "How far off the rule is, at worst"


def sentence(mapped: RuleMap) -> str:
    """What is to be seen, in a sentence or two."""
    if mapped.everywhere:
        return "Right everywhere in this range, to rounding."
    share = 100 * mapped.share
    holds = "It holds within 1 % nowhere in this range." if share == 0 else f"It holds within 1 % in {share:.0f} % of this range."
    most, least = mapped.most.off, mapped.least.off
    worst = [f"up to {_times(1 + most)} the truth"] if most > 1 else [f"up to {_percent(most)} too much"] if most > HOLDS_WITHIN else []
    worst += [f"up to {_percent(-least)} too little"] if least < -HOLDS_WITHIN else []
    return f"{holds} Elsewhere it gives {', or '.join(worst)}." if worst else holds


def _percent(off: float) -> str:
    return f"{100 * off:.0f} %" if off >= 0.1 else f"{100 * off:.2g} %"


def _times(factor: float) -> str:
    return f"{factor:.2g} times" if factor < BOUNDLESS else f"more than {BOUNDLESS:.0f} times"


def figure(off: float) -> str:
    """How far off, short: "+4 %", "−42 %", "4.4×" for so many times the truth, "0" where the rule holds."""
    if abs(off) <= HOLDS_WITHIN:
        return "0"
    if off <= 1:
        return f"{100 * off:+.0f} %".replace("-", "−")
    return f"{1 + off:.2g}×" if 1 + off < 99.5 else ">99×"


def _name(axis: MapAxis) -> str:
    return f"{axis.label} ({axis.unit})" if axis.unit else axis.label


def _scaled(axis: MapAxis, values: Floats) -> Floats:
    return np.log10(values) if axis.log else values


def _span(axis: MapAxis) -> tuple[float, float]:
    low, high = (float(end) for end in _scaled(axis, axis.values[[0, -1]]))
    return low, high


def axis_ticks(axis: MapAxis) -> list[Tick]:
    """Ticks in the plot's own scale: 1, 2, 5, 10 ... where it is logarithmic, with its two ends where there is room."""
    if not axis.log:
        return ticks(*_span(axis), 6)
    low, high = float(axis.values[0]), float(axis.values[-1])
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    inside = [step * 10.0**decade for decade in decades for step in (1, 2, 5) if low * 1.25 < step * 10.0**decade < high / 1.25]
    return [(math.log10(value), f"{value:.6g}") for value in (low, *inside, high)]


def band_colors(palette: Palette) -> list[str]:
    """The colour of each band: the antenna's where the rule holds, else the heat's, the stronger the further off."""
    ground, hue = np.array(to_rgb(palette.panel)), np.array(to_rgb(palette.heat))
    return [to_hex(to_rgb(palette.antenna)), *(to_hex(ground + strength * (hue - ground)) for strength in STRENGTH[1:])]


def _legend(sheet: Sheet, x: float, y: float, room: float, with_spots: bool) -> float:
    """A swatch and words for every band; returns the y below them."""
    small, left = sheet.type.small, x
    for words, color in zip(BANDS, band_colors(sheet.palette), strict=True):
        if left > x and left + 44 + width(words, small) > x + room:
            left, y = x, y + 1.6 * small
        swatch(sheet, left, y, 32, color, "")
        sheet.words(left + 44, y + 26, words, small)
        left += 44 + width(words, small) + 34
    if with_spots:
        y += 1.6 * small
        _ring(sheet, x + 16, y + 16)
        sheet.words(x + 44, y + 26, "marched in time", small)
    return y + 32


def _bands(plot: Plot, mapped: RuleMap) -> None:
    """The bands and their borders, with figures on these."""
    palette, axes = plot.sheet.palette, plot.sheet.axes
    size = np.log10(np.maximum(np.abs(mapped.off), LEAST))
    x, y = plot.px(_scaled(mapped.x, mapped.x.values)), plot.py(_scaled(mapped.y, mapped.y.values))
    levels = [math.log10(border) for border in BORDERS]
    edges = [math.log10(LEAST) - 1, *levels, max(float(size.max()), levels[-1]) + 1]
    axes.contourf(x, y, size, levels=edges, colors=band_colors(palette), zorder=1.0)
    if float(size.min()) > levels[-1] or float(size.max()) < levels[0]:
        return
    axes.contour(x, y, size, levels=levels, colors=[palette.text], linewidths=2.5, linestyles="solid", zorder=1.5)


def _figures(plot: Plot, mapped: RuleMap) -> None:
    """How far off the rule is, at a few places, in ink that is clear on every band."""
    sheet = plot.sheet
    casing = [withStroke(linewidth=6, foreground=sheet.palette.panel)]
    (rows, across), (columns, up) = mapped.off.shape, FIGURES
    for row in np.linspace(0, rows - 1, 2 * up + 1)[1::2].round().astype(int):
        for column in np.linspace(0, across - 1, 2 * columns + 1)[1::2].round().astype(int):
            x = float(plot.px(_scaled(mapped.x, mapped.x.values))[column])
            y = float(plot.py(_scaled(mapped.y, mapped.y.values))[row])
            words = figure(float(mapped.off[row, column]))
            sheet.words(x, y + 9, words, sheet.type.small, ha="center", path_effects=casing, zorder=3)


def _spots(plot: Plot, mapped: RuleMap) -> None:
    """A ring at each place that was marched in time."""
    for spot in mapped.spots:
        _ring(plot.sheet, float(plot.px(_at(mapped.x, spot.x))), float(plot.py(_at(mapped.y, spot.y))))


def _ring(sheet: Sheet, x: float, y: float) -> None:
    for edge, color in ((7, sheet.palette.panel), (3.5, sheet.palette.text)):
        style: dict[str, Any] = {"marker": "o", "fillstyle": "none", "linestyle": "none"}
        sheet.axes.plot([x], [y], markersize=22, markeredgewidth=edge, markeredgecolor=color, zorder=3.1, **style)


def _at(axis: MapAxis, value: float) -> float:
    return math.log10(value) if axis.log else value
