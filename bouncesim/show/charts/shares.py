"""Where a station's power goes on each band: one bar a band, or one a line where two are held against each other."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from bouncesim.account.choices import OnBand
from bouncesim.show.bars import WIDTHS, cut, hatch
from bouncesim.show.charts.plot import CALM, swatch
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.numbers import ratio
from bouncesim.show.text import own_style, shorten, width
from bouncesim.show.theme import MARKS

SIZE = (1080, 1080)  # square: it is looked at on a phone as often as not
PARTS = (  # field, words, colour of the palette, mark in the theme
    ("radiated_w", "radiated", "antenna", "antenna"),
    ("line_heat_w", "heat in the line", "heat", "line heat"),
    ("tuner_heat_w", "heat in the tuner", "heat", "tuner heat"),
    ("antenna_heat_w", "heat in the antenna", "heat", "other heat"),
    ("other_heat_w", "in other parts", "heat", "transformer heat"),
)
SEEN = 0.005  # of the power: what is less in every bar stays out of the legend
THICKEST, GAP = 46.0, 4.0  # px of a bar, and between two of one band
PERCENT = "100 %"


def share_chart(
    rows: Sequence[OnBand], title: str, subtitle: str, sentence: str, note: str = "", *, size: tuple[int, int] = SIZE, theme: str = "dark"
) -> Sheet:
    """One sheet of `size` px; rows in order, those of one frequency together. Raises OptionError for a size or theme that there is not."""
    with own_style():
        sheet = Sheet(size, theme)
        sheet.heading(title, subtitle)
        sheet.closing(sentence, note)
        x, y, w, h = sheet.titled(sheet.body, "Where the power goes", "" if sheet.is_tall else "share of what leaves the transmitter")
        top = _legend(sheet, x, y + 6, w, rows)
        groups = [list(group) for _, group in groupby(rows, key=lambda row: row.frequency_hz)]
        tall = (y + h - top) / len(groups)
        several = max(map(len, groups)) > 1
        for k, group in enumerate(groups):
            _group(sheet, (x, top + k * tall, w, tall), group, several)
    return sheet


def _legend(sheet: Sheet, x: float, y: float, room: float, rows: Sequence[OnBand]) -> float:
    """A swatch and words for each share; returns the y below them."""
    small, left = sheet.type.small, x
    for field, words, color, mark in PARTS:
        if field != "radiated_w" and all(getattr(row, field) <= SEEN * row.transmitter_w for row in rows if row.is_solved):
            continue
        if left > x and left + 44 + width(words, small) > x + room:
            left, y = x, y + 1.6 * small
        swatch(sheet, left, y, 30, getattr(sheet.palette, color), MARKS[mark].hatch)
        sheet.words(left + 42, y + 25, words, small)
        left += 42 + width(words, small) + 32
    return y + 40


def _group(sheet: Sheet, rect: tuple[float, float, float, float], group: Sequence[OnBand], several: bool) -> None:
    """The bars of one frequency, and what stands at either side of them."""
    x, y, w, h = rect
    small, palette = sheet.type.small, sheet.palette
    label = group[0].band or f"{group[0].frequency_hz / 1e6:.3g} MHz"
    left = x + width("160 m", small, True) + 18 if group[0].band else x + width(label, small, True) + 18
    inner = left + (max(width(row.line_type, small) for row in group) + 14 if several else 0)
    right = x + w - width(_beside_widest(), small) - 16
    thick = min((h - 10 - GAP * (len(group) - 1)) / len(group), THICKEST)
    first = y + (h - thick * len(group) - GAP * (len(group) - 1)) / 2
    sheet.words(x, y + h / 2 + 0.36 * small, label, small, bold=True)
    for k, row in enumerate(group):
        top = first + k * (thick + GAP)
        base = top + thick / 2 + 0.36 * small
        if several:
            sheet.words(left, base, shorten(row.line_type, inner - left, small), small, palette.secondary)
        if not row.is_solved:
            sheet.words(inner, base, row.outcome, small, palette.secondary)
            continue
        _bar(sheet, row, inner, top, right - inner, thick)
        sheet.words(x + w, base, _beside(row), small, ha="right")


def _beside(row: OnBand) -> str:
    percent = 100 * row.radiated_share
    told = f"{percent:.0f} %" if percent >= 9.5 else f"{percent:.1f} %" if percent >= 0.095 else "0.0 %"
    swr = row.swr_antenna
    return f"{told}, SWR {f'{swr:,.0f}' if 999 < swr < 99_999 else ratio(swr)}"


def _beside_widest() -> str:
    return "88.8 %, SWR 88.8"


def _bar(sheet: Sheet, row: OnBand, x: float, y: float, room: float, thick: float) -> None:
    """All shares end to end."""
    for field, _, color, mark in PARTS:
        wide = room * max(getattr(row, field), 0.0) / row.transmitter_w
        if wide < 0.5:
            continue
        sheet.pad.box(x, y, wide, thick, getattr(sheet.palette, color))
        pattern = MARKS[mark].hatch
        if WIDTHS[pattern]:
            strokes = cut(hatch(pattern, x, x + wide, y, thick), x, x + wide)
            sheet.pad.line(*strokes, sheet.palette.panel, CALM * WIDTHS[pattern], solid_capstyle="butt")
        x += wide
