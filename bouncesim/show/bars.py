"""Bars with hatches of our own, drawn as strokes so that they stay put and clear at every size."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from matplotlib.patches import Rectangle

from bouncesim.show.blit import Pad

Stroke = tuple[float, float, float, float]  # from (x, y) to (x, y), px
STEP = 14.0  # px from stroke to stroke
WIDTHS = {  # px of each hatch's strokes
    "": 0.0,
    "level": 4.0,
    "upright": 5.0,
    "slanted": 5.0,
    "backslanted": 5.0,
    "crossed": 3.0,
    "dotted": 7.0,
    "grid": 3.0,
    "zigzag": 4.0,
}


class Bar:
    """A bar with a hatch, or without one."""

    def __init__(self, pad: Pad, x: float, y: float, h: float, color: str, ground: str, hatch: str) -> None:
        self.x, self.y, self.h, self.hatch = x, y, h, hatch
        self.body: Rectangle = pad.box(x, y, 0, h, color)
        self.strokes = pad.line([], [], ground, WIDTHS[hatch], solid_capstyle="butt")

    def show(self, a: float, b: float) -> None:
        """Draw the bar from a to b, px from its left edge."""
        self.body.set_x(self.x + a)
        self.body.set_width(max(b - a, 0.0))
        self.strokes.set_data(*cut(hatch(self.hatch, self.x, self.x + b, self.y, self.h), self.x + a, self.x + b))


def cut(strokes: Iterator[Stroke], x0: float, x1: float) -> tuple[list[float], list[float]]:
    """Strokes cut at the bar's ends, as one line with gaps (NaN)."""
    xs: list[float] = []
    ys: list[float] = []
    if x1 - x0 < 1:
        return xs, ys
    for xa, ya, xb, yb in strokes:
        lo, hi = (0.0, 1.0) if xa == xb else sorted(((x0 - xa) / (xb - xa), (x1 - xa) / (xb - xa)))
        lo, hi = max(lo, 0.0), min(hi, 1.0)
        if (x0 < xa < x1) if xa == xb else lo < hi:
            xs += [xa + lo * (xb - xa), xa + hi * (xb - xa), np.nan]
            ys += [ya + lo * (yb - ya), ya + hi * (yb - ya), np.nan]
    return xs, ys


def hatch(name: str, origin: float, end: float, y: float, h: float) -> Iterator[Stroke]:
    """The strokes of a hatch over a bar of height h at y; their places hang on `origin`, so that a growing bar keeps them."""
    feet = [float(foot) for foot in np.arange(origin + STEP / 2 - 3 * STEP, end + 3 * STEP, STEP)]
    if name in ("level", "grid"):
        for level in np.arange(y + 7, y + h - 2, 10):
            yield origin, float(level), end, float(level)
    if name in ("upright", "grid"):
        for foot in feet:
            yield foot, y + h, foot, y
    if name in ("slanted", "backslanted", "crossed"):
        slope = h * (1.0 if name == "crossed" else 0.7)
        for foot in feet:
            if name != "backslanted":
                yield foot, y + h, foot + slope, y
            if name != "slanted":
                yield foot + slope, y + h, foot, y
    if name == "dotted":
        for i, foot in enumerate(feet):
            for level in (y + 0.2 * h, y + 0.8 * h) if i % 2 else (y + 0.5 * h,):
                yield foot - 3.5, level, foot + 3.5, level
    if name == "zigzag":
        for foot in feet:
            yield foot, y + h, foot + STEP / 2, y + h / 2
            yield foot + STEP / 2, y + h / 2, foot, y
