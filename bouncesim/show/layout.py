"""Where everything stands in a wide frame (px of 1920 x 1080), and how metres along the path become px."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bouncesim.scenario.model import Line, Meter, Network, Part, Scenario, Tuner
from bouncesim.show.text import shorten, width, wrap
from bouncesim.show.theme import SMALL

Rect = tuple[float, float, float, float]  # x, y, width, height
What = str | Meter | Network

MARGIN = 48.0
EDGE = 1920.0 - MARGIN
TITLE_X = 72.0
CLOCK: Rect = (1340.0, 22.0, 532.0, 106.0)
WAVE: Rect = (MARGIN, 138.0, EDGE - MARGIN, 590.0)
METERS: Rect = (MARGIN, 744.0, 906.0, 214.0)
ACCOUNT: Rect = (970.0, 744.0, EDGE - 970.0, 214.0)
CAPTION: Rect = (MARGIN, 974.0, EDGE - MARGIN, 86.0)

LABEL_TOP = 172.0  # baseline of the names of the line sections
LABEL_LIVE = 202.0  # baseline of what changes: their SWR
RAIL_TOP, RAIL_BOTTOM, RAIL = 236.0, 304.0, 7.0
PART_LABEL = 344.0  # baseline of the names of the parts; their second lines SECOND lower
SECOND = 28.0
PLOT_TOP, PLOT_BOTTOM = 364.0, 640.0
TICK_LABEL, AXIS_LABEL = 670.0, 706.0

SYMBOL = 84.0  # px of the path that a transmitter, a meter or an antenna takes
ELEMENT = 56.0  # px for each lumped element
LEFT_ROOM = (430.0, 680.0)  # least and most px before the line
RIGHT_ROOM = (190.0, 470.0)


@dataclass(frozen=True)
class Slot:
    """A lumped thing of the path ("transmitter", "antenna" or the part itself): its centre, its width, its label in at most two lines."""

    what: What
    x: float
    w: float
    label: tuple[str, ...]


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
    slots: tuple[Slot, ...]  # transmitter, parts and antenna outside the lines
    joints: tuple[Slot, ...]  # parts between two lines: drawn over their place, which has no length

    @property
    def x0(self) -> float:
        return self.spans[0].x0

    @property
    def x1(self) -> float:
        return self.spans[-1].x1

    @property
    def length_m(self) -> float:
        return self.spans[-1].end_m


def lay_out(scenario: Scenario) -> Track:
    """Lines true to scale in the middle, what comes before them on the left, what comes after on the right."""
    at = [i for i, part in enumerate(scenario.path) if isinstance(part, Line)]
    lumped = (Meter, Network)
    before = [part for part in scenario.path[: at[0]] if isinstance(part, lumped)]
    after = [part for part in scenario.path[at[-1] + 1 :] if isinstance(part, lumped)]
    left, right = _row(["transmitter", *before], LEFT_ROOM), _row([*after, "antenna"], RIGHT_ROOM)
    x0 = WAVE[0] + max(sum(w for _, w, _ in left) + 30, LEFT_ROOM[0])
    x1 = EDGE - max(sum(w for _, w, _ in right) + 24, RIGHT_ROOM[0])
    slots = _spread(left, WAVE[0] + 14, x0 - 20) + _spread(right, x1 + 14, EDGE - 10)
    lines = [part for part in scenario.path if isinstance(part, Line)]
    ends = np.concatenate([[0.0], np.cumsum([line.length_m for line in lines])])
    px = x0 + ends / ends[-1] * (x1 - x0)
    spans = tuple(
        Span(line, float(a), float(b), float(s), float(e))
        for line, a, b, s, e in zip(lines, px[:-1], px[1:], ends[:-1], ends[1:], strict=True)
    )
    return Track(spans, slots, _joints(scenario.path[at[0] : at[-1] + 1], spans))


def network_width(network: Network) -> float:
    """Width of the box around a network's elements."""
    return 20 + ELEMENT * max(len(network.elements), 1)


def _needed(what: What) -> float:
    if isinstance(what, Network):
        return network_width(what)
    return SYMBOL


def _name(what: What) -> str:
    return what if isinstance(what, str) else what.name


def _row(parts: Sequence[What], room: tuple[float, float]) -> list[tuple[What, float, tuple[str, ...]]]:
    """Things with the px that each takes and its label, labels shortened until all fit the most room there is."""
    longest = 300.0
    while True:
        row = []
        for what in parts:
            label = _label(_name(what), max(longest, _needed(what)))
            row.append((what, max(_needed(what), *(width(words, SMALL) for words in label)) + 14, label))
        if sum(w for _, w, _ in row) <= room[1] or longest < 60:
            return row
        longest -= 10


def _label(name: str, room: float) -> tuple[str, ...]:
    """A name on one line if it is short, else on two."""
    lines = (
        [name] if width(name, SMALL) <= SYMBOL or " " not in name else wrap(name, min(room, max(width(name, SMALL) * 0.7, SYMBOL)), SMALL)
    )
    lines = [lines[0], " ".join(lines[1:])] if len(lines) > 2 else lines
    return tuple(shorten(words, room, SMALL) for words in lines)


def _spread(row: Sequence[tuple[What, float, tuple[str, ...]]], x0: float, x1: float) -> tuple[Slot, ...]:
    spare = (x1 - x0 - sum(w for _, w, _ in row)) / len(row)
    slots, x = [], x0
    for what, w, label in row:
        slots.append(Slot(what, x + (w + spare) / 2, w, label))
        x += w + spare
    return tuple(slots)


def _joints(path: tuple[Part, ...], spans: tuple[Span, ...]) -> tuple[Slot, ...]:
    joints, lines = [], 0
    for part in path:
        if isinstance(part, Line):
            lines += 1
        elif not isinstance(part, Tuner):
            joints.append(Slot(part, spans[lines - 1].x1, 44.0, (part.name,)))
    return tuple(joints)


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
