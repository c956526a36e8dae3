"""How high an SWR a line allows at each frequency, for a given loss: one bar a band, on a scale of equal ratios."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bouncesim.account.choices import SwrLimit
from bouncesim.show.bars import WIDTHS, cut, hatch
from bouncesim.show.charts.plot import CALM, Plot
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.numbers import ratio
from bouncesim.show.text import own_style, width
from bouncesim.show.theme import MARKS

SIZE = (1080, 1080)
THICKEST = 46.0  # px of a bar
TICKS = (1, 1.5, 2, 3, 5, 10, 20, 50, 100, 200, 500, 1000)
LEAST_TOP, TOP_SHARE = 3.0, 1.3  # where the scale ends at least; and how far beyond the highest limit


def limit_chart(
    rows: Sequence[SwrLimit], title: str, subtitle: str, sentence: str, note: str = "", *, size: tuple[int, int] = SIZE, theme: str = "dark"
) -> Sheet:
    """One sheet of `size` px. Raises OptionError for a size or theme that there is not."""
    with own_style():
        sheet = Sheet(size, theme)
        small = sheet.type.small
        sheet.heading(title, subtitle)
        sheet.closing(sentence, note)
        x, y, w, h = sheet.titled(sheet.body, "Highest SWR at the antenna")
        labels = [row.band or f"{row.frequency_hz / 1e6:.4g} MHz" for row in rows]
        left = x + max(width(label, small, True) for label in labels) + 18
        finite = [row.highest for row in rows if math.isfinite(row.highest)]
        top = max([LEAST_TOP, *(TOP_SHARE * one for one in finite)])
        room = width("88.8", small, True) + 24
        plot = Plot(sheet, (left, y + 4, x + w - left - room, h - 1.9 * small), (0.0, math.log(top)), (float(len(rows)), 0.0))
        inside = [tick for tick in TICKS if tick <= top]
        spaced = [tick for k, tick in enumerate(inside) if len(inside) <= 7 or k % 2 == 0]
        plot.frame([(math.log(tick), f"{tick:g}") for tick in spaced], [])
        for k, (row, label) in enumerate(zip(rows, labels, strict=True)):
            _row(plot, k, row, label, x)
    return sheet


def _row(plot: Plot, k: int, row: SwrLimit, label: str, x: float) -> None:
    """One bar from SWR 1 to the limit, with its figure."""
    sheet, (left, _, w, _) = plot.sheet, plot.rect
    small, palette = sheet.type.small, sheet.palette
    middle = float(plot.py(k + 0.5))
    thick = min(0.72 * abs(float(plot.py(1) - plot.py(0))), THICKEST)
    base = middle + 0.36 * small
    sheet.words(x, base, label, small, bold=True)
    if math.isnan(row.highest):
        sheet.words(left + 12, base, "not even matched", small, palette.secondary)
        return
    end = float(plot.px(math.log(row.highest))) if math.isfinite(row.highest) else left + w
    pattern = MARKS["antenna"].hatch
    sheet.pad.box(left, middle - thick / 2, end - left, thick, palette.antenna, zorder=2)
    strokes = cut(hatch(pattern, left, end, middle - thick / 2, thick), left, end)
    sheet.pad.line(*strokes, palette.panel, CALM * WIDTHS[pattern], solid_capstyle="butt", zorder=2.1)
    words = "any" if math.isinf(row.highest) else ratio(row.highest)
    sheet.words(end + 12, base, words, small, bold=True, zorder=3)
