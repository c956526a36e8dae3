"""The energy panel: where the energy is that has left the transmitter."""

from __future__ import annotations

from functools import partial

import numpy as np

from bouncesim.show.bars import Bar
from bouncesim.show.books import Account, Item, items
from bouncesim.show.numbers import reading
from bouncesim.show.scene import Scene
from bouncesim.show.text import width
from bouncesim.show.theme import INSET, MARKS, Palette

LEAST_FLOW = 1e-5  # share of the power that is small against, under which a flow is told as about nothing
NOTHING = 1e-8  # of the energy of a period under which there is none
APART = 18.0  # px, least, between two items
SWATCH = 28.0
MOST_LINES = 4
WIDEST_FLOW, WIDEST_ENERGY = "−88.8 mW", "−88.8 mJ"


class Energy:
    """The net account as one bar, and each item with its energy so far and, in a wide frame, how fast it grows."""

    def __init__(self, scene: Scene) -> None:
        self.scene, self.live = scene, scene.live
        self.nothing = NOTHING * self.live.scale_w * self.live.period
        x, y, w, _ = scene.layout.account
        self.bar_w = w - 2 * INSET
        narrow = scene.layout.shape == "square"
        load = self.live.run.scenario.load_name
        fits = self._fits_grid if narrow else lambda labels: self._spare(labels) >= APART
        self.items, labels = items(self.live.kinds, self.live.account(self.live.end).heat, fits, scene.words, load)
        self._title(narrow)
        top, high = (y + 46, 26.0) if narrow else (y + 56 * scene.type.unit, 40.0 * scene.type.unit)
        scene.pad().box(x + INSET, top, self.bar_w, high, scene.palette.background, scene.palette.axis, 1.5)
        bar_pad = scene.region((x + INSET + 2, top + 2, self.bar_w - 4, high - 4), scene.ticking(self._pieces), self._update)
        self.bars = []
        for item in self.items:
            color, hatch = _ink(item, scene.palette)
            self.bars.append(Bar(bar_pad, x + INSET + 2, top + 3, high - 6, color, scene.palette.background, hatch))
        (self._grid if narrow else self._row)(labels)

    def _title(self, narrow: bool) -> None:
        x, y, w, _ = self.scene.layout.account
        scene, base = self.scene, y + (34 if narrow else 40) * self.scene.type.unit
        size = scene.type.small if narrow else scene.type.header
        heading = scene.words("energy")
        scene.pad().text(x + INSET, base, heading, size, scene.palette.text, bold=True)
        used = width(heading, size, True) + 20
        self.in_full = width(self._left_words(f"{WIDEST_ENERGY}"), scene.type.body) <= w - 2 * INSET - used
        scene.number((x + INSET + used, base, w - 2 * INSET - used + 2), self._left, scene.type.body, scene.palette.secondary, ha="right")

    def _left_words(self, energy: str) -> str:
        return self.scene.words("left", name=self.scene.words(self.live.run.scenario.source_name), energy=energy)

    def _row(self, labels: list[str]) -> None:
        """Items side by side: name, swatch with energy, flow."""
        scene, unit = self.scene, self.scene.type.unit
        x, y, w, _ = scene.layout.account
        left, gap = x + INSET, self._spare(labels)
        for item, words in zip(self.items, labels, strict=True):
            color, hatch = _ink(item, scene.palette)
            Bar(scene.pad(), left, y + 136 * unit, SWATCH, color, scene.palette.panel, hatch).show(0, SWATCH)
            scene.pad().text(left, y + 124 * unit, words, scene.type.small, scene.palette.secondary)
            room = min(self._room(words) + gap - 42, x + w - 6 - left - 38)
            scene.number((left + 38, y + 160 * unit, room), partial(self._joules, item), scene.type.body, scene.palette.text, bold=True)
            if scene.layout.is_wide:
                scene.number((left + 38, y + 194, room), partial(self._watts, item), scene.type.small, scene.palette.secondary)
            left += self._room(words) + gap

    def _grid(self, labels: list[str]) -> None:
        """Items in lines one under the other: swatch, name, energy."""
        scene, small = self.scene, self.scene.type.small
        x, y, _, h = scene.layout.account
        step = min(34.0, (h - 78 - 10) / len(labels))
        room = width(WIDEST_ENERGY, small, True) + 4
        for i, (item, words) in enumerate(zip(self.items, labels, strict=True)):
            left, base = x + INSET, y + 76 + (i + 0.8) * step
            color, hatch = _ink(item, scene.palette)
            Bar(scene.pad(), left, base - 19, 22, color, scene.palette.panel, hatch).show(0, 22)
            scene.pad().text(left + 32, base, words, small, scene.palette.secondary)
            box = (left + self.bar_w - room, base, room + 2)
            scene.number(box, partial(self._joules, item), small, scene.palette.text, bold=True, ha="right")

    def _fits_grid(self, labels: list[str]) -> bool:
        small = self.scene.type.small
        room = self.bar_w - 32 - 10 - width(WIDEST_ENERGY, small, True) - 4
        return len(labels) <= MOST_LINES and all(width(words, small) <= room for words in labels)

    def _room(self, words: str) -> float:
        size = self.scene.type
        return max(width(words, size.small), 38 + width(WIDEST_FLOW, size.small), 38 + width(WIDEST_ENERGY, size.body, True))

    def _spare(self, labels: list[str]) -> float:
        """px between two items."""
        return (self.bar_w - sum(self._room(words) for words in labels)) / (len(labels) - 1)

    def _left(self, k: int) -> str:
        energy = reading(self.live.account(self.scene.now(k)).left, "J", self.nothing)
        return self._left_words(energy) if self.in_full else energy

    def _joules(self, item: Item, k: int) -> str:
        account = self.live.account(self.scene.now(k))
        return reading(account.of(item.kinds), "J", max(1e-6 * abs(account.left), self.nothing))

    def _watts(self, item: Item, k: int) -> str:
        return signed(self.live.flow(self.scene.now(k)).of(item.kinds), LEAST_FLOW * self.live.scale_w)

    def _pieces(self, k: int) -> tuple[int, ...]:
        """Right edges of the bar's pieces, px."""
        shares = shares_of(self.live.account(self.scene.now(k)), self.items)
        return tuple(round(edge) for edge in np.cumsum([0.0, *shares]) * (self.bar_w - 4))

    def _update(self, k: int) -> None:
        edges = self._pieces(k)
        for bar, a, b in zip(self.bars, edges[:-1], edges[1:], strict=True):
            bar.show(a, b)


def _ink(item: Item, palette: Palette) -> tuple[str, str]:
    """Colour and hatch of an item; a kind of part that has no hatch of its own has that of other heat."""
    mark = MARKS.get(item.mark, MARKS["other heat"])
    return getattr(palette, item.kinds[0], palette.heat), mark.hatch


def signed(watts: float, floor: float) -> str:
    """How fast an item grows: "+57.9 W", "+20.3 mW"; "≈ 0 W" below the floor, "0 W" where there is none."""
    if abs(watts) < floor:
        return "≈ 0 W" if abs(watts) > NOTHING * floor else "0 W"
    return ("" if watts < 0 else "+") + reading(watts, "W")


def shares_of(account: Account, shown: list[Item]) -> list[float]:
    """Share of each item in their sum; nothing anywhere before any energy has moved."""
    parts = [max(account.of(item.kinds), 0.0) for item in shown]
    whole = sum(parts)
    return [part / whole if whole > 1e-30 else 0.0 for part in parts]
