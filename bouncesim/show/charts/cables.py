"""What each type of line loses on each band: a table with a bar in every cell, the types in order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bouncesim.account.choices import CableLoss
from bouncesim.show.bars import WIDTHS, cut, hatch
from bouncesim.show.charts.plot import CALM
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.text import own_style, shorten, width
from bouncesim.show.theme import MARKS

SIZE = (1080, 1080)
MOST_COLUMNS, MOST_ROWS = 5, 12
BAR = 10.0  # px of height of the bar under a figure


def cable_chart(
    rows: Sequence[CableLoss],
    title: str,
    subtitle: str,
    sentence: str,
    note: str = "",
    *,
    size: tuple[int, int] = SIZE,
    theme: str = "dark",
) -> Sheet:
    """One sheet of `size` px; `rows` type by type, each with the same frequencies. Of many, some are drawn. Raises OptionError for a size
    or theme that there is not."""
    types, frequencies = (
        _spread(list(dict.fromkeys(row.type for row in rows)), MOST_ROWS),
        list(dict.fromkeys(row.frequency_hz for row in rows)),
    )
    shown = _spread(frequencies, MOST_COLUMNS)
    found = {(row.type, row.frequency_hz): row for row in rows}
    with own_style():
        sheet = Sheet(size, theme)
        small, palette = sheet.type.small, sheet.palette
        sheet.heading(title, subtitle)
        sheet.closing(sentence, note)
        x, y, w, h = sheet.titled(sheet.body, "Loss in dB", "bar: what arrives")
        label = min(max(width(name, small) for name in types) + 20, 0.34 * w)
        column, tall = (w - label) / len(shown), (h - 1.7 * small) / len(types)
        for k, frequency in enumerate(shown):
            band = found[types[0], frequency].band or f"{frequency / 1e6:.3g} MHz"
            sheet.words(x + label + k * column, y + small, band, small, palette.secondary, bold=True)
        for r, name in enumerate(types):
            top = y + 1.7 * small + r * tall
            sheet.words(x, top + tall / 2 + 0.2 * small, shorten(name, label - 10, small), small)
            for k, frequency in enumerate(shown):
                _cell(sheet, (x + label + k * column, top, column, tall), found[name, frequency])
    return sheet


def _spread(values: list[Any], most: int) -> list[Any]:
    """At most so many of the values, first and last among them."""
    if len(values) <= most:
        return values
    return [values[round(k * (len(values) - 1) / (most - 1))] for k in range(most)]


def _cell(sheet: Sheet, rect: tuple[float, float, float, float], row: CableLoss) -> None:
    """A figure, and under it what arrives, as a bar on a track."""
    x, y, w, h = rect
    small, palette, pattern = sheet.type.small, sheet.palette, MARKS["antenna"].hatch
    base, room = y + h / 2 + 0.2 * small, w - 18
    sheet.words(x, base, decibels(row.most_db) + ("" if row.known else " ?"), small, bold=True)
    top = base + 8
    sheet.pad.box(x, top, room, BAR, palette.grid)
    sheet.pad.box(x, top, room * row.share, BAR, palette.antenna)
    strokes = cut(hatch(pattern, x, x + room * row.share, top, BAR), x, x + room * row.share)
    sheet.pad.line(*strokes, palette.panel, CALM * WIDTHS[pattern] / 2, solid_capstyle="butt")


def decibels(loss_db: float) -> str:
    """Two figures after the point below 1 dB, else one."""
    return f"{loss_db:.2f}" if loss_db < 0.995 else f"{loss_db:.1f}"
