"""Where everything stands in a wide frame (px of 1920 x 1080), and how metres along the path become px.

The lines have one scale, and each place on a line stands over its place on the axis. Parts between two lines have no length: they stand
in a gap that the drawing and the plot leave open at the same place.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bouncesim.scenario.model import Antenna, Line, Scenario, Stub
from bouncesim.show.signs import Several, What, needed, words_of
from bouncesim.show.text import shorten, width, wrap
from bouncesim.show.theme import SMALL

Rect = tuple[float, float, float, float]  # x, y, width, height

MARGIN = 48.0
EDGE = 1920.0 - MARGIN
TITLE_X = 72.0
CLOCK: Rect = (1284.0, 22.0, 588.0, 106.0)
WAVE: Rect = (MARGIN, 138.0, EDGE - MARGIN, 590.0)
METERS: Rect = (MARGIN, 744.0, 906.0, 214.0)
ACCOUNT: Rect = (970.0, 744.0, EDGE - 970.0, 214.0)
CAPTION: Rect = (MARGIN, 974.0, EDGE - MARGIN, 86.0)

LABEL_TOP = 172.0  # baseline of the names of the line sections
LABEL_LIVE = 202.0  # baseline of what changes: their SWR
RAIL_TOP, RAIL_BOTTOM, RAIL = 236.0, 304.0, 7.0
PART_LABEL = 344.0  # baseline of the names of the parts; each further line SECOND lower
SECOND = 28.0
PLOT_TOP, PLOT_BOTTOM = 364.0, 640.0
TICK_LABEL, AXIS_LABEL = 670.0, 706.0

LEFT_ROOM = (430.0, 740.0)  # least and most px before the lines
RIGHT_ROOM = (190.0, 600.0)
LEFT_EDGE, RIGHT_START, RIGHT_EDGE = 14.0, 14.0, 10.0  # px before the first thing, after the lines, after the last thing
LEAST_LINES = 460.0  # px that the lines themselves keep
LONGEST = 300  # px of a name; where room is scarce it is cut, but not below the first of the next two while networks are drawn out
SHORTEST_DRAWN_OUT, SHORTEST = 150, 130
PAD = 20.0  # px between two labels
STUB_LABEL = 20.0  # px from the middle of a stub's wires to the words beside it


@dataclass(frozen=True)
class Cell:
    """A lumped thing and the room that it takes: px, its name and figures in lines, and whether it is drawn as a plain box."""

    what: What
    w: float
    label: tuple[str, ...]
    compact: bool


@dataclass(frozen=True)
class Slot:
    """A lumped thing of the path in its place: the centre of its room, the room's width, its label in at most three lines."""

    what: What
    x: float
    w: float
    label: tuple[str, ...]
    compact: bool = False

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
    """The whole path laid out from left to right."""

    spans: tuple[Span, ...]
    rows: tuple[tuple[Slot, ...], ...]  # before the first line (transmitter first), in each gap, after the last line (antenna last)

    @property
    def slots(self) -> tuple[Slot, ...]:
        """Everything that is no line, from the transmitter to the antenna."""
        return tuple(slot for row in self.rows for slot in row)

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


def lay_out(scenario: Scenario) -> Track:
    """Lines true to scale in the middle, what comes before them on the left, what comes after on the right, the rest in gaps.

    Where room is scarce names are cut, then networks become plain boxes, then the parts at one place become one box.
    """
    rows = _rows(scenario)
    for cells in _plans(rows, scenario.antenna):
        left, right, gaps = _room(cells)
        if left <= LEFT_ROOM[1] and right <= RIGHT_ROOM[1] and _lines_px(left, right, gaps) >= LEAST_LINES:
            break
    else:  # more places than the frame can hold: narrow boxes without words
        cells = [cells[0], *([Cell(cell.what, 0.0, (), True) for cell in row] for row in cells[1:-1]), cells[-1]]
        left, right, gaps = _room(cells)
        shrink = min(1.0, (_lines_px(left, right, 0.0) - LEAST_LINES) / max(sum(1 for gap in gaps if gap) * 30.0, 1.0))
        gaps = [30.0 * shrink if cell_row else 0.0 for cell_row in cells[1:-1]]
    return _track(scenario.lines, cells, (left, right, gaps))


def _rows(scenario: Scenario) -> list[list[What]]:
    """What stands before the first line, between each two, and after the last one."""
    rows: list[list[What]] = [["transmitter"]]
    for part in scenario.path:
        if isinstance(part, Line):
            rows.append([])
        else:
            rows[-1].append(part)
    rows[-1].append("antenna")
    return rows


def _plans(rows: list[list[What]], antenna: Antenna) -> Iterator[list[list[Cell]]]:
    """Ways to draw the rows, from the roomiest to the tightest."""
    for compact, shortest in ((False, SHORTEST_DRAWN_OUT), (True, SHORTEST)):
        for longest in range(LONGEST, shortest - 1, -10):
            yield [[_cell(what, antenna, longest, compact) for what in row] for row in rows]
    cells = [[_cell(what, antenna, SHORTEST, True) for what in row] for row in rows]
    for widest in sorted(range(len(rows)), key=lambda i: -sum(cell.w for cell in cells[i])):
        cells[widest] = [_cell(what, antenna, SHORTEST, True) for what in _grouped(rows[widest])]
        yield list(cells)


def _grouped(row: list[What]) -> list[What]:
    """The row with its parts as one."""
    parts = tuple(what for what in row if not isinstance(what, str | Several))
    if len(parts) < 2:
        return row
    return [*(["transmitter"] if "transmitter" in row else []), Several(parts), *(["antenna"] if "antenna" in row else [])]


def _cell(what: What, antenna: Antenna, longest: float, compact: bool) -> Cell:
    """A thing with the px that it takes; a part's name may be cut to `longest` px, its figures never."""
    symbol = needed(what, compact)
    name, figures = words_of(what, antenna.at_carrier_ohm, compact)
    if isinstance(what, Stub):
        label = min(_stub_labels(name, figures, longest), key=_widest)
        return Cell(what, 2 * STUB_LABEL + _widest(label) + PAD, label, compact)
    fixed = isinstance(what, str | Several)  # words of our own: never cut
    goal = max(symbol, _widest((name if fixed else "", *figures)))
    label = (*_name_lines(name, max(longest, goal), goal, 3 - len(figures)), *figures)
    return Cell(what, max(symbol, _widest(label)) + PAD, label, compact)


def _stub_labels(name: str, figures: tuple[str, ...], longest: float) -> list[tuple[str, ...]]:
    """A stub's words: its name on one line above its figures, or on two above the figures side by side."""
    figures = tuple(words for words in figures if words)
    return [(shorten(name, longest, SMALL), *figures), (*_name_lines(name, longest, 0.0, 2), ", ".join(figures))]


def _widest(lines: tuple[str, ...]) -> float:
    return max(width(words, SMALL) for words in lines)


def _name_lines(name: str, room: float, goal: float, most: int) -> tuple[str, ...]:
    """A name on one line if it is hardly wider than `goal`, else on two where that many may be."""
    full = width(name, SMALL)
    lines = [name] if full <= goal or " " not in name or most < 2 else wrap(name, min(room, max(full * 0.7, goal)), SMALL)
    lines = [lines[0], " ".join(lines[1:])] if len(lines) > 2 else lines
    return tuple(shorten(words, room, SMALL) for words in lines)


def _room(cells: list[list[Cell]]) -> tuple[float, float, list[float]]:
    """px before the lines, after them, and of each gap; the tick labels of the plot keep clear of the words before the lines."""
    left = LEFT_EDGE + sum(cell.w for cell in cells[0]) + _clearance(cells[0])
    right = RIGHT_START + sum(cell.w for cell in cells[-1]) + RIGHT_EDGE
    return left, right, [sum(cell.w for cell in row) + (10 if row else 0) for row in cells[1:-1]]


def _clearance(row: list[Cell]) -> float:
    """px between what stands before the lines and their start: words below the first line keep clear of the plot's figures."""
    return 100.0 if len(row[-1].label) > 1 else 20.0


def _lines_px(left: float, right: float, gaps: float | list[float]) -> float:
    between = gaps if isinstance(gaps, float) else sum(gaps)
    return EDGE - WAVE[0] - max(left, LEFT_ROOM[0]) - max(right, RIGHT_ROOM[0]) - between


def _track(lines: Sequence[Line], cells: list[list[Cell]], room: tuple[float, float, list[float]]) -> Track:
    left, right, gaps = room
    x0, x1 = WAVE[0] + max(left, LEFT_ROOM[0]), EDGE - max(right, RIGHT_ROOM[0])
    ends = np.concatenate([[0.0], np.cumsum([line.length_m for line in lines])])
    scale = (x1 - x0 - sum(gaps)) / ends[-1]
    shifts = np.concatenate([[0.0], np.cumsum(gaps)])
    spans = tuple(
        Span(line, float(x0 + shift + a * scale), float(x0 + shift + b * scale), float(a), float(b))
        for line, a, b, shift in zip(lines, ends[:-1], ends[1:], shifts, strict=True)
    )
    between = [_spread(row, one.x1, other.x0) for row, one, other in zip(cells[1:-1], spans[:-1], spans[1:], strict=True)]
    return Track(
        spans,
        (
            _spread(cells[0], WAVE[0] + LEFT_EDGE, x0 - _clearance(cells[0])),
            *between,
            _spread(cells[-1], x1 + RIGHT_START, EDGE - RIGHT_EDGE),
        ),
    )


def _spread(row: Sequence[Cell], x0: float, x1: float) -> tuple[Slot, ...]:
    """Slots side by side from x0 to x1, what is to spare (or lacks) shared out between them."""
    if not row:
        return ()
    spare = (x1 - x0 - sum(cell.w for cell in row)) / len(row)
    slots, x = [], x0
    for cell in row:
        w = cell.w if cell.w else spare
        slots.append(Slot(cell.what, x + (cell.w + spare) / 2, w, cell.label, cell.compact))
        x += cell.w + spare
    return tuple(slots)


def place_labels(centres: list[float], widths: list[float], x0: float, x1: float, gap: float = 26.0) -> list[float] | None:
    """Centres of labels in a row, each as near its own place as the others allow; None if they do not all fit between x0 and x1."""
    if sum(widths) + gap * (len(widths) - 1) > x1 - x0:
        return None
    placed: list[float] = []
    right = x0 - gap
    for centre, w in zip(centres, widths, strict=True):
        placed.append(max(centre, right + gap + w / 2))
        right = placed[-1] + w / 2
    limit = x1
    for i in range(len(placed) - 1, -1, -1):
        placed[i] = min(placed[i], limit - widths[i] / 2)
        limit = placed[i] - widths[i] / 2 - gap
    return placed
