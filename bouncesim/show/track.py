"""How metres along the path become px, and where the parts beside the lines stand.

The lines have one scale, and each place on a line stands over its place on the axis. Parts between two lines have no length: they stand
in a gap that the drawing and the plot leave open at the same place. In a narrow picture what comes before the first line stands in a row
of its own above the lines, and two wires lead from its end back to the start of the first line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bouncesim.scenario.model import Line, Meter, Scenario, Stub
from bouncesim.show.cells import PAD, STUB_LABEL, Cell, Hand, grouped, plans, rows_of, without_words
from bouncesim.show.layout import Layout
from bouncesim.show.signs import GAUGE, What
from bouncesim.show.words import ENGLISH, Words

LEFT_EDGE, RIGHT_START, RIGHT_EDGE = 14.0, 14.0, 10.0  # px before the first thing, after the lines, after the last thing
OVERHANG = 22.0  # px that a symbol reaches above its upper wire
STUB_DEPTH = 84.0  # px that a stub hangs below the lower wire
UNDER_LIVE = {"wide": 34.0, "tall": 38.0, "square": 30.0}  # px from the baseline of the words over the lines to the upper wire
WIRES_APART = 14.0  # px between the two wires that lead back
TURN = 40.0  # px that they take at either side


@dataclass(frozen=True)
class Room:
    """Bounds for the widths, px: least and most before and after the lines, least for the lines themselves."""

    left: tuple[float, float]
    right: tuple[float, float]
    lines: float


ROOMS = {
    "wide": Room((430.0, 740.0), (190.0, 600.0), 460.0),
    "tall": Room((136.0, 420.0), (110.0, 520.0), 300.0),
    "square": Room((124.0, 420.0), (100.0, 520.0), 270.0),
}
BESIDE = (470.0, 260.0)  # px that a legend takes beside the row above the lines, in two columns and in one


@dataclass(frozen=True)
class Slot:
    """A lumped thing of the path in its place: the centre of its room, the room's width, its label, its upper wire's y, its label's."""

    what: What
    x: float
    w: float
    label: tuple[str, ...]
    compact: bool
    top: float
    label_y: float  # baseline of the first line of the label

    @property
    def symbol_x(self) -> float:
        """Centre of the symbol: of its room, but a stub stands at the left of its words."""
        return self.x - self.w / 2 + STUB_LABEL + PAD / 2 if isinstance(self.what, Stub) else self.x

    @property
    def label_at(self) -> tuple[float, str]:
        """Where the label stands (px), and how it is aligned there."""
        return (self.symbol_x + STUB_LABEL, "left") if isinstance(self.what, Stub) else (self.x, "center")


@dataclass(frozen=True)
class Span:
    """A line section: px from `x0` to `x1`, metres from `start_m` to `end_m` along the path."""

    line: Line
    x0: float
    x1: float
    start_m: float
    end_m: float

    def px(self, x_m: ArrayLike) -> NDArray[np.float64]:
        """Metres from the section's start to px."""
        return self.x0 + np.asarray(x_m, dtype=np.float64) * ((self.x1 - self.x0) / (self.end_m - self.start_m))


@dataclass(frozen=True)
class Track:
    """The whole path laid out; y of what hangs on it: upper wire of the lines, names of the sections and their SWR, the plot."""

    spans: tuple[Span, ...]
    rows: tuple[tuple[Slot, ...], ...]  # before the first line (source first), in each gap, after the last line (load last)
    top: float
    name_y: float
    live_y: float
    plot_top: float
    folded: bool  # whether the first row stands above the others
    return_y: float  # of the wires that then lead back, the upper one

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Everything that is no line, from the source to the load."""
        return tuple(slot for row in self.rows for slot in row)

    @property
    def bottom(self) -> float:
        """Lower wire of the lines."""
        return self.top + GAUGE

    @property
    def x0(self) -> float:
        return self.spans[0].x0

    @property
    def x1(self) -> float:
        return self.spans[-1].x1

    @property
    def length_m(self) -> float:
        return self.spans[-1].end_m

    @property
    def scale(self) -> float:
        """px a metre."""
        return (self.spans[0].x1 - self.spans[0].x0) / self.spans[0].end_m

    def place(self, metres: float) -> float:
        """px of a place along the path; the near side of a gap."""
        span = next((span for span in self.spans if metres <= span.end_m), self.spans[-1])
        return float(span.px(metres - span.start_m))


class Rooms(NamedTuple):
    """px before the lines, after them, and of each gap between two."""

    left: float
    right: float
    gaps: list[float]


@dataclass(frozen=True)
class Alike:
    """What several tracks share, so that their plots can be compared: px before and after the lines, px a metre."""

    left: float
    right: float
    scale: float


def lay_out_alike(scenarios: Sequence[Scenario], layouts: Sequence[Layout], words: Words = ENGLISH) -> list[Track]:
    """Tracks of several stations on the same scale from the same start, everything in one row and without the meters."""
    bare = [s.model_copy(update={"path": tuple(part for part in s.path if not isinstance(part, Meter))}) for s in scenarios]
    plans = [_plan(scenario, layout, words, False, brief=True) for scenario, layout in zip(bare, layouts, strict=True)]
    left, right = max(rooms.left for _, rooms in plans), max(rooms.right for _, rooms in plans)
    across = min(layout.wave[2] for layout in layouts)
    rooms = [across - left - right - sum(rooms.gaps) for _, rooms in plans]
    scale = min(room / sum(line.length_m for line in scenario.lines) for room, scenario in zip(rooms, scenarios, strict=True))
    return [
        _track(s.lines, *plan, layout, False, Alike(left, right, scale)) for s, plan, layout in zip(scenarios, plans, layouts, strict=True)
    ]


def lay_out(scenario: Scenario, layout: Layout, words: Words = ENGLISH) -> Track:
    """Lines true to scale in the middle, what comes before them on the left or above, what comes after on the right, the rest in gaps."""
    folded = not layout.is_wide and len(rows_of(scenario)[0]) > 1
    return _track(scenario.lines, *_plan(scenario, layout, words, folded), layout, folded)


def _plan(scenario: Scenario, layout: Layout, words: Words, folded: bool, brief: bool = False) -> tuple[list[list[Cell]], Rooms]:
    """What stands where, and the room that it takes: where room is scarce names are cut, then networks become plain boxes, then the parts
    at one place become one box."""
    rows, room, hand = rows_of(scenario), ROOMS[layout.shape], Hand(scenario, words, layout.type.small, brief)
    across = layout.wave[2]

    def widths(cells: list[list[Cell]]) -> tuple[float, float, list[float], float]:
        """px before the lines, after them, of each gap, and of the row above."""
        first = LEFT_EDGE + sum(cell.w for cell in cells[0])
        left = 0.0 if folded else first + _clearance(cells[0], layout)
        right = RIGHT_START + sum(cell.w for cell in cells[-1]) + RIGHT_EDGE
        gaps = [sum(cell.w for cell in row) + (10 if row else 0) for row in cells[1:-1]]
        return max(left, room.left[0]), max(right, room.right[0]), gaps, first + 2 * TURN if folded else 0.0

    def fits(cells: list[list[Cell]], spare: float = 0.0) -> bool:
        left, right, gaps, above = widths(cells)
        lines = across - left - right - sum(gaps)
        return left <= room.left[1] and right <= room.right[1] and above <= across - spare and lines >= room.lines

    ways = [(cells, spare) for spare in (*(px * layout.type.unit + 22 for px in BESIDE if folded), 0.0) for cells in plans(rows, hand)]
    ways += [(cells, 0.0) for cells in grouped(rows, hand, 0 if folded else -1)]
    for cells, spare in ways:
        if fits(cells, spare):
            left, right, gaps, _ = widths(cells)
            break
    else:  # more places than the frame can hold: narrow boxes without words
        cells = [cells[0], *(without_words(row) for row in cells[1:-1]), cells[-1]]
        left, right, gaps, _ = widths(cells)
        shrink = min(1.0, (across - left - right - room.lines) / max(sum(1 for row in cells[1:-1] if row) * 30.0, 1.0))
        gaps = [30.0 * shrink if row else 0.0 for row in cells[1:-1]]
    return cells, Rooms(left, right, gaps)


def _clearance(row: Sequence[Cell], layout: Layout) -> float:
    """px between what stands before the lines and their start: words below the first line keep clear of the plot's figures."""
    return (112.0 if layout.shape == "tall" else 100.0) * layout.type.unit if len(row[-1].label) > 1 or not layout.is_wide else 20.0


def _track(lines: Sequence[Line], cells: list[list[Cell]], rooms: Rooms, layout: Layout, folded: bool, alike: Alike | None = None) -> Track:
    left, right, gaps = Rooms(alike.left, alike.right, rooms.gaps) if alike else rooms
    x, y, w, _ = layout.wave
    unit = layout.type.unit
    x0, x1 = x + left, x + w - right
    ends = np.concatenate([[0.0], np.cumsum([line.length_m for line in lines])])
    scale = alike.scale if alike else (x1 - x0 - sum(gaps)) / ends[-1]
    x1 = x0 + sum(gaps) + ends[-1] * scale if alike else x1
    shifts = np.concatenate([[0.0], np.cumsum(gaps)])
    spans = tuple(
        Span(line, float(x0 + shift + a * scale), float(x0 + shift + b * scale), float(a), float(b))
        for line, a, b, shift in zip(lines, ends[:-1], ends[1:], shifts, strict=True)
    )
    first_top = y + OVERHANG + 14
    return_y = first_top + GAUGE + _depth(cells[0], unit) if folded else y
    name_y = return_y + (WIRES_APART - 4 if folded else 0.0) + 34 * unit
    live_y = name_y + (30 if layout.is_wide else 28) * unit
    top = live_y + UNDER_LIVE[layout.shape]
    label_y = top + GAUGE + 16 + 24 * unit
    plot_top = top + GAUGE + (60 if layout.is_wide else 24)
    first = _spread(
        *(cells[0], x + LEFT_EDGE, x + LEFT_EDGE + sum(cell.w for cell in cells[0]) if folded else x0 - _clearance(cells[0], layout)),
        *((first_top, first_top + GAUGE + 16 + 24 * unit) if folded else (top, label_y)),
    )
    between = [_spread(row, a.x1, b.x0, top, label_y) for row, a, b in zip(cells[1:-1], spans[:-1], spans[1:], strict=True)]
    last = _spread(cells[-1], x1 + RIGHT_START, (x1 + right if alike else x + w) - RIGHT_EDGE, top, label_y)
    return Track(spans, (first, *between, last), top, name_y, live_y, plot_top, folded, return_y)


def _depth(row: Sequence[Cell], unit: float) -> float:
    """px from the lower wire of the first row, where it stands above, to the wires that lead back."""
    labels = 16 + 24 * unit + 28 * unit * (max(2, *(len(cell.label) for cell in row)) - 1) + 14  # under the source's name stands its SWR
    return max(labels, STUB_DEPTH + 18 if any(isinstance(cell.what, Stub) for cell in row) else 0.0)


def _spread(row: Sequence[Cell], x0: float, x1: float, top: float, label_y: float) -> tuple[Slot, ...]:
    """Slots side by side from x0 to x1, what is to spare (or lacks) shared out between them."""
    if not row:
        return ()
    spare = (x1 - x0 - sum(cell.w for cell in row)) / len(row)
    slots, x = [], x0
    for cell in row:
        w = cell.w if cell.w else spare
        slots.append(Slot(cell.what, x + (cell.w + spare) / 2, w, cell.label, cell.compact, top, label_y))
        x += cell.w + spare
    return tuple(slots)
