"""Axes drawn by hand on a sheet: ticks at round numbers, a quiet grid, curves that never leave the plot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.patches import Polygon
from matplotlib.transforms import Bbox, TransformedBbox
from numpy.typing import ArrayLike, NDArray

from bouncesim.show.bars import WIDTHS, cut, hatch
from bouncesim.show.charts.sheet import Rect, Sheet
from bouncesim.show.layout import place_labels
from bouncesim.show.numbers import plain
from bouncesim.show.text import width
from bouncesim.show.theme import MARKS

Floats = NDArray[np.float64]
Tick = tuple[float, str]  # value, words

MOST_POINTS = 2000  # along an edge of an area
CALM = 0.6  # of a bar's strokes: large areas hatched as boldly would flicker
STRIP = {"slanted": 40.0, "backslanted": 40.0, "crossed": 42.0, "zigzag": 42.0}  # px of height in which a hatch repeats without a seam


def ticks(low: float, high: float, most: int) -> list[Tick]:
    """At most `most` + 1 round values from low to high with their words; one at least where there is any."""
    most = max(most, 1)
    if not high > low:
        return [(low, plain(low))]
    for exponent in range(math.floor(math.log10((high - low) / most)), 20):
        for step in (1.0, 2.0, 2.5, 5.0):
            if (high - low) / (width_ := step * 10.0**exponent) <= most:
                first, last = math.ceil(low / width_ - 1e-9), math.floor(high / width_ + 1e-9)
                places = max(0, -exponent + (1 if step == 2.5 else 0))
                return [(k * width_, f"{k * width_:.{places}f}".replace("-", "−")) for k in range(first, last + 1)]
    return []


def with_unit(found: Sequence[Tick], unit: str) -> list[Tick]:
    """The ticks, the largest with the unit behind it."""
    return [*found[:-1], *((value, f"{words} {unit}") for value, words in found[-1:])]


class Plot:
    """A rectangle of a sheet with a scale in x and in y (downward where y1 < y0 is asked for)."""

    def __init__(self, sheet: Sheet, rect: Rect, x: tuple[float, float], y: tuple[float, float]) -> None:
        self.sheet, self.rect, self.x, self.y = sheet, rect, x, y

    def px(self, x: ArrayLike) -> Floats:
        """x to px."""
        left, _, w, _ = self.rect
        return np.asarray(left + (np.asarray(x, dtype=np.float64) - self.x[0]) / (self.x[1] - self.x[0]) * w)

    def py(self, y: ArrayLike) -> Floats:
        """y to px, y[0] at the bottom."""
        _, top, _, h = self.rect
        return np.asarray(top + h - (np.asarray(y, dtype=np.float64) - self.y[0]) / (self.y[1] - self.y[0]) * h)

    def clip(self, artist: Any, spare: float = 0.0) -> Any:
        """Keep an artist inside the plot, and `spare` px around it."""
        x, y, w, h = self.rect
        artist.set_clip_box(TransformedBbox(Bbox([[x - spare, y - spare], [x + w + spare, y + h + spare]]), self.sheet.axes.transData))
        artist.set_clip_on(True)
        return artist

    def curve(self, x: ArrayLike, y: ArrayLike, name: str, over: float = 0.0, thick: float | None = None) -> None:
        """A curve that looks as theme.MARKS has it, with a casing of the panel's colour."""
        mark, palette = MARKS[name], self.sheet.palette
        broad = self.sheet.stroke * (mark.width if thick is None else thick)
        at, style = (self.px(x), self.py(y)), {"linestyle": (0, mark.dashes)} if mark.dashes else {}
        if name != "total":
            self.clip(self.sheet.pad.line(*at, palette.panel, broad + 3, zorder=2.1 + over), 6)
        self.clip(self.sheet.pad.line(*at, getattr(palette, name), broad, zorder=2.2 + over, **style), 6)

    def frame(self, x_ticks: Sequence[Tick], y_ticks: Sequence[Tick], x_words: bool = True) -> None:
        """Grid, axes and their figures."""
        pad, palette, small = self.sheet.pad, self.sheet.palette, self.sheet.type.small
        left, top, w, h = self.rect
        for value, words in x_ticks:
            x = float(self.px(value))
            pad.line([x, x], [top, top + h], palette.grid, 1.5, zorder=1.05)
            if x_words:
                pad.line([x, x], [top + h, top + h + 7], palette.axis, 2)
                self.sheet.words(x, top + h + 12 + small, words, small, palette.secondary, ha="center")
        for value, words in y_ticks:
            y = float(self.py(value))
            pad.line([left, left + w], [y, y], palette.grid, 1.5, zorder=1.05)
            pad.line([left - 7, left], [y, y], palette.axis, 2)
            self.sheet.words(left - 13, y + 0.36 * small, words, small, palette.secondary, ha="right")
        for ends in (([left, left + w], [top + h, top + h]), ([left, left], [top, top + h])):
            pad.line(*ends, palette.axis, 2, zorder=2.6, solid_capstyle="butt")

    def x_name(self, words: str) -> None:
        """The name of the x axis, under its figures."""
        left, top, w, h = self.rect
        small = self.sheet.type.small
        self.sheet.words(left + w / 2, top + h + 16 + 2.2 * small, words, small, self.sheet.palette.secondary, ha="center")

    def y_name(self, words: str) -> None:
        """The name of the y axis, above its figures."""
        left, top, _, _ = self.rect
        self.sheet.words(left - 70, top - 14, words, self.sheet.type.small, self.sheet.palette.secondary)

    def marks(self, moments: Sequence[tuple[float, str]]) -> None:
        """Upright dotted lines at moments, with their words in a row above the plot as far as there is room."""
        left, top, w, _ = self.rect
        small, palette = self.sheet.type.small, self.sheet.palette
        shown = [(float(self.px(value)), words) for value, words in moments if self.x[0] < value <= self.x[1]]
        for x, _ in shown:
            self.upright(x)
        while shown:
            wide = [width(words, small) for _, words in shown]
            placed = place_labels([x for x, _ in shown], wide, left - 20, left + w + 40, 20)
            if placed:
                for (x, words), middle in zip(shown, placed, strict=True):
                    self.sheet.words(middle, top - 22, words, small, palette.secondary, ha="center")
                    self.sheet.pad.line([middle, x], [top - 15, top - 1], palette.axis, 2.5, linestyle=(0, (1.0, 1.6)), zorder=2.5)
                return
            shown.pop(-2 if len(shown) > 1 else -1)

    def upright(self, x: float) -> None:
        """A dotted line from the plot's top to its bottom."""
        _, top, _, h = self.rect
        self.sheet.pad.line([x, x], [top, top + h], self.sheet.palette.axis, 2.5, linestyle=(0, (1.0, 1.6)), zorder=2.5)

    def area(self, x: ArrayLike, low: ArrayLike, high: ArrayLike, color: str, pattern: str) -> None:
        """The area between two curves, hatched; of very many points only as many as a picture can show."""
        keep = slice(None, None, max(len(np.asarray(x)) // MOST_POINTS, 1))
        xs = self.px(np.asarray(x)[keep])
        upper, lower = (np.column_stack([xs, self.py(np.asarray(edge)[keep])]) for edge in (high, low))
        shape = Polygon(np.concatenate([upper, lower[::-1]]), closed=True, facecolor=color, edgecolor="none", zorder=1.1)
        body = self.clip(self.sheet.axes.add_artist(shape))
        if not WIDTHS[pattern]:
            return
        left, top, w, h = self.rect
        strip, xs_, ys_ = STRIP.get(pattern, 40.0), [], []
        for k in range(math.ceil(h / strip)):
            for a, b, c, d in hatch(pattern, left, left + w, top + h - (k + 1) * strip, strip):
                xs_ += [a, c, np.nan]
                ys_ += [b, d, np.nan]
        strokes = self.sheet.pad.line(xs_, ys_, self.sheet.palette.panel, CALM * WIDTHS[pattern], solid_capstyle="butt", zorder=1.15)
        strokes.set_clip_path(body)


def swatch(sheet: Sheet, x: float, y: float, side: float, color: str, pattern: str) -> None:
    """A square of an area's look; (x, y) is its top left corner."""
    sheet.pad.box(x, y, side, side, color)
    if WIDTHS[pattern]:
        sheet.pad.line(
            *cut(hatch(pattern, x, x + side, y, side), x, x + side), sheet.palette.panel, CALM * WIDTHS[pattern], solid_capstyle="butt"
        )


def sample(sheet: Sheet, x: float, y: float, long: float, name: str, thick: float | None = None) -> None:
    """A short piece of a curve for a legend, its arrow with it."""
    mark, palette = MARKS[name], sheet.palette
    style = {"linestyle": (0, mark.dashes)} if mark.dashes else {}
    broad = sheet.stroke * (mark.width if thick is None else thick)
    sheet.pad.line([x, x + long], [y, y], getattr(palette, name), broad, solid_capstyle="butt", **style)
    if mark.arrow:
        middle, reach = x + long / 2, 11.0 * mark.arrow
        points = [(middle - reach, y - 11), (middle + reach, y), (middle - reach, y + 11)]
        sheet.pad.polygon(points, getattr(palette, name), palette.panel, 2.0, zorder=2.4)


def legend(sheet: Sheet, x: float, y: float, room: float, entries: Sequence[tuple[str, str]], thick: float | None = None) -> float:
    """Samples of curves (name in theme.MARKS, words) in rows from (x, baseline y); returns the baseline after the last row."""
    small, left = sheet.type.small, x
    for name, words in entries:
        w = 72 + width(words, small) + 34
        if left > x and left + w - 34 > x + room:
            left, y = x, y + 1.5 * small
        sample(sheet, left, y - 0.36 * small, 58, name, thick if name == "total" else None)
        sheet.words(left + 70, y, words, small)
        left += w
    return y
