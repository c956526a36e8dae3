"""The station in one strip above a plot: the lines true to scale, so that each place on a line stands over its place on the axis.

Parts have no length; they stand in gaps that the strip and every plot under it leave open. Where there are more of them than room, those
of one place become one box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bouncesim.scenario.model import Line, Meter, Network, Scenario, Transformer
from bouncesim.show.charts.plot import Tick, ticks
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.layout import place_labels
from bouncesim.show.numbers import plain
from bouncesim.show.signs import letters, turns
from bouncesim.show.text import shorten, width, wrap

SYMBOL = 78.0  # px that a symbol takes along the path
HALF = 29.0  # px from the middle of a box to its side
TALL = 66.0  # px between the two wires
BARE_GAP, BARE_END = 14.0, 26.0  # px of a gap, and after the lines, where only lines are drawn
MOST_LEFT, MOST_RIGHT, MOST_GAPS = 0.36, 0.28, 0.3  # shares of the width that what is no line may take
ABOVE = 8.0  # px between the names of the lines and the boxes
NARROW = 0.26, 0.22, 0.16  # the same shares on a sheet that is not wide
WIRE, RAIL = 3.5, 7.0
TICK_APART = 96.0  # px between two figures on the axis


@dataclass(frozen=True)
class Reach:
    """A line section in the strip: px from x0 to x1, metres from start_m along all lines."""

    line: Line
    x0: float
    x1: float
    start_m: float

    def px(self, x_m: ArrayLike) -> NDArray[np.float64]:
        """Metres from the section's start to px."""
        return self.x0 + np.asarray(x_m, dtype=np.float64) / self.line.length_m * (self.x1 - self.x0)


@dataclass(frozen=True)
class Box:
    """What stands between lines, its centre, and the room it has: px."""

    what: Any  # "transmitter", "antenna", a part, or a tuple of parts
    x: float
    room: float


class Strip:
    """The station laid out from x0 to x1; `left` px at least stay free before the first line. `bare` leaves out all that is no line."""

    def __init__(self, sheet: Sheet, scenario: Scenario, x0: float, x1: float, left: float = 0.0, bare: bool = False) -> None:
        self.sheet, self.bare = sheet, bare
        self.ends = (scenario.source_name, scenario.load_name)
        rows: list[list[Any]] = [[self.ends[0]]]
        for part in scenario.path:
            if isinstance(part, Line):
                rows.append([])
            else:
                rows[-1].append(part)
        rows[-1].append(self.ends[1])
        whole = x1 - x0
        rows, room = self._grouped(rows, whole)
        if bare:
            room = [0.0, *(BARE_GAP if row else 0.0 for row in rows[1:-1]), BARE_END]
        start, end, gaps = x0 + max(left, room[0] + 8), x1 - room[-1] - 8, room[1:-1]
        scale = (end - start - sum(gaps)) / sum(line.length_m for line in scenario.lines)
        self.reaches: list[Reach] = []
        self.boxes = self._spread(rows[0], x0, x0 + room[0] if room[0] else start)
        at, metres = start, 0.0
        for line, row, gap in zip(scenario.lines, [*rows[1:-1], []], [*gaps, 0.0], strict=True):
            self.reaches.append(Reach(line, at, at + line.length_m * scale, metres))
            at, metres = at + line.length_m * scale, metres + line.length_m
            self.boxes += self._spread(row, at, at + gap)
            at += gap
        self.boxes += self._spread(rows[-1], end, x1)
        self.x0, self.x1, self.length_m = start, end, metres

    def _grouped(self, rows: list[list[Any]], whole: float) -> tuple[list[list[Any]], list[float]]:
        """Rows, and px for each: as much as the names want, or the symbols, or with the parts of one place as one box."""
        between = sum(bool(row) for row in rows[1:-1])
        left, right, gaps = (MOST_LEFT, MOST_RIGHT, MOST_GAPS) if self.sheet.is_wide else NARROW
        most = [left * whole, *([gaps * whole / max(between, 1)] * (len(rows) - 2)), right * whole]
        found, room = [], []
        for row, limit in zip(rows, most, strict=True):
            parts = tuple(what for what in row if not isinstance(what, str))
            if len(parts) > 1 and len(row) * SYMBOL * (1.0 if self.sheet.is_wide else 1.3) > limit:
                row = [parts, *row[-1:]] if row[-1:] == [self.ends[1]] else [*row[: len(row) - len(parts)], parts]
            wanted = sum(self._wanted(what) for what in row)
            found.append(row)
            room.append(wanted if wanted <= limit else min(len(row) * SYMBOL, limit))
        return found, room

    def _wanted(self, what: Any) -> float:
        """px with which a thing's name has room under its symbol."""
        small = self.sheet.type.small
        return max(SYMBOL, max(width(line, small) for line in _two_lines(_name(what), 400.0, small)) + 16)

    @staticmethod
    def _spread(row: Sequence[Any], x0: float, x1: float) -> list[Box]:
        """Boxes evenly from x0 to x1."""
        each = (x1 - x0) / max(len(row), 1)
        return [Box(what, x0 + (k + 0.5) * each, each) for k, what in enumerate(row)]

    @property
    def height(self) -> float:
        """px from the top of the names to the foot of the names of the parts."""
        small = self.sheet.type.small
        if self.bare:
            return 1.4 * small + 10 + 1.5 * small
        lines = max((len(_two_lines(_name(box.what), 400.0, small)) for box in self.boxes), default=1)
        return 1.4 * small + ABOVE + TALL + 20 + (0.2 + 1.15 * lines) * small

    def draw(self, y: float) -> None:
        """Draw the strip; y is its top."""
        sheet, pad, palette = self.sheet, self.sheet.pad, self.sheet.palette
        small = sheet.type.small
        top = y + 1.4 * small + ABOVE
        if self.bare:
            self._bare(y)
            return
        for wire in (top, top + TALL):
            pad.line([self.boxes[0].x, self.boxes[-1].x], [wire, wire], palette.conductor, WIRE)
            for reach in self.reaches:
                pad.line([reach.x0, reach.x1], [wire, wire], palette.conductor, RAIL, solid_capstyle="butt")
                for x in (reach.x0, reach.x1):
                    pad.line([x, x], [wire - 8, wire + 8], palette.conductor, 2.5)
        for box in self.boxes:
            self._symbol(box, top)
        left, right = self.boxes[0].x - self.boxes[0].room / 2, self.boxes[-1].x + self.boxes[-1].room / 2
        self._line_names(y + small, left, right)
        self._part_names(top + TALL + 14 + small, left, right)

    def _bare(self, y: float) -> None:
        """Only the lines, and which end is which."""
        sheet, small = self.sheet, self.sheet.type.small
        self._line_names(y + small, self.x0, self.x1)
        wire = y + 1.4 * small + 5
        for reach in self.reaches:
            sheet.pad.line([reach.x0, reach.x1], [wire, wire], sheet.palette.conductor, RAIL, solid_capstyle="butt")
        start = min(self.x0, self.x1 + BARE_END - width("".join(self.ends), small) - 24)
        sheet.words(start, wire + 10 + small, self.ends[0], small, sheet.palette.secondary)
        sheet.words(self.x1 + BARE_END, wire + 10 + small, self.ends[1], small, sheet.palette.secondary, ha="right")

    def _symbol(self, box: Box, top: float) -> None:
        pad, palette, what = self.sheet.pad, self.sheet.palette, box.what
        x, middle = box.x, top + TALL / 2
        half = min(HALF, box.room / 2 - 2)
        if what == "antenna":
            pad.line([x, x], [top, top + TALL], palette.conductor, WIRE)
            pad.box(x - 13, middle - 22, 26, 44, palette.panel, palette.conductor, WIRE, zorder=2.3)
        elif what == self.ends[0]:
            pad.line([x, x], [top, top + TALL], palette.conductor, WIRE)
            circle = pad.circle(x, middle, min(27.0, half), palette.panel, palette.conductor, WIRE)
            circle.set_zorder(2.3)
            u = np.linspace(-1, 1, 41)
            pad.line(x + 15 * u, middle - 9 * np.sin(np.pi * u), palette.text, WIRE, zorder=2.4)
        else:
            pad.box(x - half, top - 12, 2 * half, TALL + 24, palette.panel, palette.conductor, WIRE, zorder=2.3)
            if isinstance(what, Meter) and half >= HALF:
                angle = np.radians(np.linspace(215, 325, 25))
                pad.line(x + 20 * np.cos(angle), middle + 14 + 22 * np.sin(angle), palette.text, WIRE, zorder=2.4)
                pad.line([x, x + 10], [middle + 14, middle - 6], palette.text, WIRE, zorder=2.4)
            elif width(words := _inside(what), self.sheet.type.small, True) <= 2 * half - 6:
                self.sheet.words(x, middle + 0.36 * self.sheet.type.small, words, self.sheet.type.small, bold=True, ha="center")

    def _line_names(self, above: float, left: float, right: float) -> None:
        """Sections named over themselves; what there is no room for goes without, the shortest first."""
        small = self.sheet.type.small
        longest = sorted(self.reaches, key=lambda reach: reach.x0 - reach.x1)
        full = [f"{reach.line.name} · {plain(_ohms(reach.line), 3)} Ω" for reach in self.reaches]
        for words in (full, [reach.line.name for reach in self.reaches]):
            for count in range(len(longest), 0, -1):
                kept = [k for k, reach in enumerate(self.reaches) if reach in longest[:count]]
                shown = [shorten(words[k], (0.9 if self.bare else 0.7) * (self.x1 - self.x0), small) for k in kept]
                if words is full and count < len(longest):
                    break
                middles = [(self.reaches[k].x0 + self.reaches[k].x1) / 2 for k in kept]
                wide = [width(name, small) for name in shown]
                placed = place_labels(middles, wide, left, right, 20) or []
                reach_of = [max(w, self.reaches[k].x1 - self.reaches[k].x0) / 2 for k, w in zip(kept, wide, strict=True)]
                if placed and all(abs(a - b) < most for a, b, most in zip(placed, middles, reach_of, strict=True)):
                    for x, name in zip(placed, shown, strict=True):
                        self.sheet.words(x, above, name, small, ha="center")
                    return

    def _part_names(self, y: float, left: float, right: float) -> None:
        small = self.sheet.type.small
        ends = [self.boxes[0], self.boxes[-1]]
        for boxes, room in ((self.boxes, 400.0), (self.boxes, 150.0), (ends, 400.0)):
            lines = [_two_lines(_name(box.what), 400.0 if isinstance(box.what, str) else room, small) for box in boxes]
            wide = [max(width(line, small) for line in label) for label in lines]
            placed = place_labels([box.x for box in boxes], wide, left, right, 14)
            if placed and all(abs(a - box.x) <= max(w / 2, 44) for a, box, w in zip(placed, boxes, wide, strict=True)):
                for x, label in zip(placed, lines, strict=True):
                    for k, line in enumerate(label):
                        self.sheet.words(x, y + 1.15 * k * small, line, small, self.sheet.palette.secondary, ha="center")
                return

    def x_ticks(self) -> list[tuple[float, str]]:
        """(px, words) of round distances along the lines, none of them in the way of another."""
        scale = (self.reaches[0].x1 - self.reaches[0].x0) / self.reaches[0].line.length_m
        most = max(int(self.length_m * scale / TICK_APART), 1)
        found: list[tuple[float, str]] = []
        for value, words in ticks(0.0, self.length_m, most):
            x = self.place(value)
            if not found or x - found[-1][0] > (width(words, self.sheet.type.small) + width(found[-1][1], self.sheet.type.small)) / 2 + 14:
                found.append((x, words))
        return found

    def place(self, metres: float) -> float:
        """px of a place along all lines; of the near side of a gap."""
        for reach in self.reaches:
            if metres <= reach.start_m + reach.line.length_m + 1e-9 * self.length_m:
                return float(reach.px(metres - reach.start_m))
        return self.x1

    def axis(self, rect: tuple[float, float, float, float], y_ticks: Sequence[tuple[float, str]], x_words: bool = True) -> None:
        """Grid and axes of a plot under the strip, left open at the gaps; `rect` is the plot, y_ticks are (px, words)."""
        pad, palette, small = self.sheet.pad, self.sheet.palette, self.sheet.type.small
        _, top, _, h = rect
        for x, words in self.x_ticks():
            pad.line([x, x], [top, top + h], palette.grid, 1.5, zorder=1.05)
            if x_words:
                pad.line([x, x], [top + h, top + h + 7], palette.axis, 2)
                self.sheet.words(x, top + h + 12 + small, words, small, palette.secondary, ha="center")
        for y, words in y_ticks:
            for reach in self.reaches:
                pad.line([reach.x0, reach.x1], [y, y], palette.grid, 1.5, zorder=1.05)
            pad.line([self.x0 - 7, self.x0], [y, y], palette.axis, 2)
            self.sheet.words(self.x0 - 13, y + 0.36 * small, words, small, palette.secondary, ha="right")
        for reach in self.reaches:
            pad.line([reach.x0, reach.x1], [top + h, top + h], palette.axis, 2, zorder=2.6, solid_capstyle="butt")
            for x in {reach.x0, reach.x1} if len(self.reaches) > 1 else {reach.x0}:
                pad.line([x, x], [top, top + h], palette.axis, 2, zorder=1.06, solid_capstyle="butt")
        if x_words:
            middle = (self.x0 + self.x1) / 2
            words = "distance along the line (m)" if len(self.reaches) == 1 else "distance along the lines (m)"
            self.sheet.words(middle, top + h + 16 + 2.2 * small, words, small, palette.secondary, ha="center")


def px_ticks(values: Sequence[Tick], bottom: float, scale: float) -> list[tuple[float, str]]:
    """Ticks as (px, words): y = bottom - value * scale."""
    return [(bottom - value * scale, words) for value, words in values]


def _ohms(line: Line) -> float:
    """sqrt(L/C) of a line; it hardly depends on the frequency that it is asked at."""
    return line.constants(line.loss_at_hz or 10e6).impedance_ohm


def _inside(what: Any) -> str:
    """What is written in a part's box."""
    if isinstance(what, tuple):
        return "…"
    if isinstance(what, Transformer):
        return turns(what.impedance_ratio)
    return letters(what) if isinstance(what, Network) else ""


def _name(what: Any) -> str:
    if isinstance(what, tuple):
        return f"{len(what)} parts"
    return what if isinstance(what, str) else str(what.name)


def _two_lines(name: str, room: float, size: float) -> list[str]:
    """A name on one line, or broken in two where it has a space and is long."""
    lines = [name] if " " not in name or width(name, size) < 90 else wrap(name, max(width(name, size) * 0.62, 60.0), size)
    lines = [lines[0], " ".join(lines[1:])] if len(lines) > 2 else lines
    return [shorten(line, room, size) for line in lines]
