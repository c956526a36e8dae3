"""Waves at a tuner as arrows: two that add up, tip to tail, and their sum."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Hashable

import numpy as np

from bouncesim.show.layout import Rect
from bouncesim.show.legend import SAMPLE
from bouncesim.show.numbers import plain
from bouncesim.show.scene import Ground
from bouncesim.show.text import shorten
from bouncesim.show.theme import MARKS
from bouncesim.show.turned import apart

RINGS = 3
HEAD_PX = 26.0  # px of an arrow's head
Pair = Callable[[float], tuple[complex, complex]]


class Phasors:
    """A plane with rings of equal power, the arrow of the transmitter's wave, that of the echo at its tip, and the sum."""

    def __init__(self, sheet: Ground, rect: Rect, pair: Pair, longest: float, heading: str, sums: str, reference: float) -> None:
        self.sheet, self.pair = sheet, pair
        x, y, w, h = rect
        pad, palette, size, unit = sheet.pad(), sheet.palette, sheet.type, sheet.type.unit
        pad.text(x + 22, y + 42 * unit, shorten(heading, w - 44, size.header, True), size.header, palette.text, bold=True)
        under = sheet.words("turn_against", impedance=f"{plain(reference, 3)} Ω")
        pad.text(x + 22, y + 74 * unit, shorten(under, w - 44, size.small), size.small, palette.secondary)
        legend = 3 * 36 * unit + 44 * unit
        top, bottom = y + 90 * unit, y + h - legend - 14
        radius = min(w / 2 - 16, (bottom - top) / 2)
        self.cx, self.cy, self.px = x + w / 2, (top + bottom) / 2, radius / (1.04 * longest)
        self._rings(longest, radius)
        self._legend(x + 24, y + h - legend + 22 * unit, w - 48, sums)
        edge = (self.cx - radius - 8, top, 2 * radius + 16, bottom - top)
        region = sheet.region(edge, self._key, self._update)
        self.sum = region.polygon(np.zeros((7, 2)), palette.total)
        self.one = region.polygon(np.zeros((7, 2)), palette.forward, palette.panel, 2)
        self.line = region.line([], [], palette.reflected, MARKS["reflected"].width + 3, linestyle=(0, (1.6, 0.8)))
        self.tip = region.polygon(np.zeros((3, 2)), palette.reflected, palette.panel, 2)
        words = (x + 24, y + h - 16, w - 48)
        sheet.number(words, self._apart, size.body, palette.text, bold=True)

    def _rings(self, longest: float, radius: float) -> None:
        pad, palette, small = self.sheet.pad(), self.sheet.palette, self.sheet.type.small
        most = longest**2
        step = next(s * 10.0**e for e in range(-13, 7) for s in (1, 2, 5) if RINGS * s * 10.0**e >= most / 1.6)
        turn = np.linspace(0, 2 * math.pi, 181)
        for n in range(1, RINGS + 2):
            r = math.sqrt(n * step) * self.px
            if r <= radius:
                pad.line(self.cx + r * np.cos(turn), self.cy + r * np.sin(turn), palette.grid, 1.5)
                if n % 2:
                    words = f"{plain(n * step)} W"
                    pad.text(self.cx, self.cy + r - 6, words, small, palette.secondary, ha="center")
        pad.line([self.cx - radius, self.cx + radius], [self.cy, self.cy], palette.grid, 1.5)
        pad.line([self.cx, self.cx], [self.cy - radius, self.cy + radius], palette.grid, 1.5)

    def _legend(self, x: float, y: float, w: float, sums: str) -> None:
        pad, palette, size, unit = self.sheet.pad(), self.sheet.palette, self.sheet.type, self.sheet.type.unit
        rows = (
            (palette.forward, 7.0, None, "turn_of_source"),
            (palette.reflected, 7.0, (1.6, 0.8), "turn_of_echo"),
            (palette.total, 13.0, None, sums),
        )
        for i, (color, thick, dashes, key) in enumerate(rows):
            base = y + i * 36 * unit
            style = {"linestyle": (0, dashes)} if dashes else {}
            pad.line([x, x + SAMPLE], [base - 8, base - 8], color, thick, solid_capstyle="butt", **style)
            pad.text(
                x + SAMPLE + 14,
                base,
                shorten(
                    self.sheet.words(key, source=self.sheet.words("transmitter")) if key == "turn_of_source" else self.sheet.words(key),
                    w - SAMPLE - 14,
                    size.small,
                ),
                size.small,
                palette.text,
            )

    def _at(self, k: int) -> tuple[complex, complex]:
        one, other = self.pair(float(self.sheet.story.time_s[k]))
        return one * self.px, other * self.px

    def _key(self, k: int) -> Hashable:
        return float(self.sheet.story.time_s[k])

    def _apart(self, k: int) -> str:
        k = self.sheet.story.clock_frame(k)
        one, other = self.pair(float(self.sheet.story.time_s[k]))
        return self.sheet.words("turn_apart", degrees=f"{apart(one, other):.0f}")

    def _update(self, k: int) -> None:
        one, other = self._at(k)
        self.sum.set_xy(self._arrow(0j, one + other, 13.0, 1.5 * HEAD_PX))
        self.one.set_xy(self._arrow(0j, one, 7.0, HEAD_PX))
        tip, size = one + other, min(HEAD_PX, abs(other))
        way = other / abs(other) if other else 1.0
        neck = tip - way * size * 0.8
        ends = np.array([one, neck])
        self.line.set_data(self.cx + ends.real, self.cy - ends.imag)
        self.tip.set_xy(self._points([tip, tip - way * size * cmath.exp(0.42j), tip - way * size * cmath.exp(-0.42j)]))

    def _arrow(self, start: complex, end: complex, thick: float, head: float) -> np.ndarray:
        along = end - start
        if abs(along) < 1:
            return self._points([start] * 7)
        way = along / abs(along)
        head = min(head, abs(along))
        side, neck = 1j * way, end - way * head * 0.9
        wide = head * 0.42
        return self._points(
            [
                start + side * thick / 2,
                neck + side * thick / 2,
                neck + side * wide,
                end,
                neck - side * wide,
                neck - side * thick / 2,
                start - side * thick / 2,
            ]
        )

    def _points(self, points: list[complex]) -> np.ndarray:
        found = np.array(points)
        return np.column_stack([self.cx + found.real, self.cy - found.imag])
