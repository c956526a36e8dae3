"""What two stations come to, number by number: side by side, as bars on one scale, and by how much they differ."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from bouncesim.show.bars import Bar
from bouncesim.show.both import NAMES
from bouncesim.show.layout import Rect
from bouncesim.show.live import Live
from bouncesim.show.numbers import ratio, reading
from bouncesim.show.scene import Scene
from bouncesim.show.text import shorten, width
from bouncesim.show.theme import MARKS

SAMES = 0.02  # of the larger of two numbers: what differs by less is called equal
SAMPLES = 120  # instants at which the largest is looked for
WIDEST, USUAL = "888.8 mW", "88.8 mW"
Reader = Callable[[Live, float], float]


@dataclass(frozen=True)
class Item:
    """A number that both stations have: its words, how to read it, its unit, the ink of its bar and the hatch."""

    key: str
    read: Reader
    unit: str
    ink: str
    mark: str


def _forward(live: Live, t: float) -> float:
    return live.powers(main_line(live), t)[0]


def _reflected(live: Live, t: float) -> float:
    return live.powers(main_line(live), t)[1]


def _leaves(live: Live, t: float) -> float:
    forward, reflected = live.powers("transmitter", t)
    return forward - reflected


def main_line(live: Live) -> str:
    """The longest line of a station."""
    return max(live.run.scenario.lines, key=lambda line: line.length_m).name


ITEMS = (
    Item("pair_leaves", _leaves, "W", "conductor", "stored"),
    Item("pair_forward", _forward, "W", "forward", "forward"),
    Item("pair_into", Live.antenna_power, "W", "antenna", "antenna"),
    Item("pair_swr", lambda live, t: live.swr("transmitter", t), "", "", ""),
    Item("pair_reflected", _reflected, "W", "reflected", "reflected"),
    Item("pair_heat", lambda live, t: sum(live.flow(t).heat.values()), "W", "heat", "line heat"),
)


def most_different(lives: Sequence[Live], count: int) -> tuple[Item, ...]:
    """Of the items those that differ most in the end, in their order: what goes into the load always."""
    others = [item for item in ITEMS if item.unit and item.key != "pair_into"]
    chosen = sorted(others, key=lambda item: -_apart(*(item.read(live, live.end) for live in lives)))[: count - 1]
    return tuple(item for item in ITEMS if item in chosen or item.key == "pair_into")


def _apart(one: float, other: float) -> float:
    return abs(one - other) / max(abs(one), abs(other), 1e-30)


class Differences:
    """A panel of items in a grid; each with two bars on one scale, and who has more, in words."""

    def __init__(self, scenes: tuple[Scene, Scene], rect: Rect, items: tuple[Item, ...], columns: int) -> None:
        self.scenes = scenes
        x, y, w, h = rect
        unit, inset, gap = scenes[0].type.unit, 20.0, (44.0 if columns > 2 else 26.0)
        rows = (len(items) + columns - 1) // columns
        wide, high = (w - 2 * inset - gap * (columns - 1)) / columns, (h - 20 * unit) / rows
        for i, item in enumerate(items):
            at = (x + inset + (i % columns) * (wide + gap), y + 10 * unit + (i // columns) * high, wide, high)
            Cell(scenes, item, at)


class Cell:
    """One item."""

    def __init__(self, scenes: tuple[Scene, Scene], item: Item, rect: Rect) -> None:
        self.scenes, self.item = scenes, item
        scene, (x, y, w, h) = scenes[0], rect
        self.room, unit, palette, size = w, scene.type.unit, scene.palette, scene.type
        self.lives = [one.live for one in scenes]
        last = max(live.end for live in self.lives)
        times = np.linspace(0.0, last, SAMPLES)
        self.full = max((abs(item.read(live, float(t))) for live in self.lives for t in times), default=0.0) if item.unit else 0.0
        self.nothing = 1e-4 * max(live.scale_w for live in self.lives)
        names = {"source": scene.words(scene.live.run.scenario.source_name), "load": scene.words(scene.live.run.scenario.load_name)}
        note = width(f"B +{USUAL}", size.small, True) + 12
        self.name = shorten(scene.words(item.key, **names), w - note, size.small)
        pad = scene.region((x - 6, y + 2, w + 12, h - 6), self._key, self._update)
        base = y + 27 * unit
        self.names = [pad.live(x, base, size.small, color, bold) for color, bold in ((palette.secondary, False), (palette.text, True))]
        self.note = pad.live(x + w, base, size.small, palette.text, True, "right")
        value = width(WIDEST, size.body, True) + 10
        self.bar_x, self.bar_w = x + 34 * unit, w - 34 * unit - value
        self.bars, self.values = [], []
        for i, which in enumerate(NAMES):
            line = base + (i + 1) * 34 * unit
            pad.text(x, line, which, size.body, palette.text, bold=True)
            if item.unit:
                pad.box(self.bar_x, line - 22 * unit, self.bar_w, 24 * unit, palette.background, palette.axis, 1.2)
                bar = Bar(
                    pad,
                    self.bar_x + 2,
                    line - 22 * unit + 2,
                    24 * unit - 4,
                    getattr(palette, item.ink),
                    palette.panel,
                    MARKS[item.mark].hatch,
                )
                self.bars.append(bar)
            ends = (x + w, "right") if item.unit else (self.bar_x, "left")
            self.values.append(pad.live(ends[0], line, size.body, palette.text, True, ends[1]))

    def _now(self, k: int) -> list[float]:
        return [self.item.read(scene.live, scene.now(k)) for scene in self.scenes]

    def _words(self, value: float) -> str:
        return reading(value, self.item.unit, self.nothing) if self.item.unit else ratio(value)

    def note_of(self, values: list[float]) -> str:
        """Who has more, and by how much: "B +11.4 W"."""
        one, other = values
        if any(np.isnan(values)):
            return ""
        if _apart(one, other) <= SAMES or (self.item.unit and max(map(abs, values)) < self.nothing):
            return f"= {self.scenes[0].words('equal')}"
        more = NAMES[0] if one > other else NAMES[1]
        return f"{more} +{self._words(abs(one - other))}" if np.isfinite(one - other) else f"{more} ∞"

    def _key(self, k: int) -> Hashable:
        values = self._now(k)
        return (self.note_of(values), *map(self._words, values), *self._lengths(values))

    def _lengths(self, values: list[float]) -> list[int]:
        return [round(min(max(value, 0.0) / self.full, 1.0) * (self.bar_w - 4)) if self.full else 0 for value in values]

    def _update(self, k: int) -> None:
        values = self._now(k)
        note = self.note_of(values)
        differs = bool(note) and not note.startswith("=")
        self.names[0].set_text("" if differs else self.name)
        self.names[1].set_text(self.name if differs else "")
        self.note.set_text(note)
        for text, value in zip(self.values, values, strict=True):
            text.set_text(self._words(value))
        for bar, length in zip(self.bars, self._lengths(values), strict=False):
            bar.show(0, length)
