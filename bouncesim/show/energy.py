"""The energy panel: where the energy is that has left the transmitter."""

from __future__ import annotations

from functools import partial

import numpy as np

from bouncesim.show.bars import Bar
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.books import Account, Item, items
from bouncesim.show.layout import ACCOUNT
from bouncesim.show.live import Live
from bouncesim.show.numbers import reading
from bouncesim.show.story import Story
from bouncesim.show.text import width
from bouncesim.show.theme import BODY, HEADER, INSET, MARKS, SMALL, Palette

LEAST_ROOM = 158.0  # px of an item: its swatch and "−88.8 mW"
APART = 10.0  # px, least, between two items


class Energy:
    """The net account as one bar, and each item with its energy so far and how fast it grows."""

    def __init__(self, frame: Frame, live: Live, story: Story, palette: Palette) -> None:
        self.live, self.story = live, story
        x, y, w, _ = ACCOUNT
        self.bar_w = w - 2 * INSET
        self.items, labels = items(live.kinds, live.account(live.end).heat, lambda labels: _spare(labels, self.bar_w) >= APART)
        pad = Pad(frame.axes)
        pad.text(x + INSET, y + 40, "Where is the energy?", HEADER, palette.text, bold=True)
        pad.box(x + INSET, y + 56, self.bar_w, 40, palette.background, palette.axis, 1.5)
        region = Region((x + INSET + 2, y + 58, self.bar_w - 4, 36), self._edges, self._update)
        bar_pad = frame.add(region)
        frame.words((x + 380, y + 40, w - 380 - INSET + 2), self._left, BODY, palette.secondary, ha="right")
        self.bars = []
        left, gap = x + INSET, _spare(labels, self.bar_w)
        for item, words in zip(self.items, labels, strict=True):
            color, hatch = getattr(palette, item.kinds[0], palette.heat), MARKS[item.mark].hatch
            self.bars.append(Bar(bar_pad, x + INSET + 2, y + 59, 34, color, palette.background, hatch))
            Bar(pad, left, y + 136, 28, color, palette.panel, hatch).show(0, 28)
            pad.text(left, y + 124, words, SMALL, palette.secondary)
            room = min(_room(words) + gap - 42, x + w - 6 - left - 38)
            frame.words((left + 38, y + 160, room), partial(self._joules, item), BODY, palette.text, bold=True)
            frame.words((left + 38, y + 194, room), partial(self._watts, item), SMALL, palette.secondary)
            left += _room(words) + gap

    def _now(self, k: int) -> float:
        return float(self.story.time_s[self.story.clock_frame(k)])

    def _left(self, k: int) -> str:
        return f"left the transmitter: {reading(self.live.account(self._now(k)).left, 'J', 1e-18)}"

    def _joules(self, item: Item, k: int) -> str:
        account = self.live.account(self._now(k))
        return reading(account.of(item.kinds), "J", max(1e-6 * abs(account.left), 1e-18))

    def _watts(self, item: Item, k: int) -> str:
        floor = 1e-3 * self.live.full_power_w
        return signed(self.live.flow(self._now(k)).of(item.kinds), floor)

    def _edges(self, k: int) -> tuple[int, ...]:
        """Right edges of the bar's pieces, px."""
        shares = shares_of(self.live.account(self._now(k)), self.items)
        return tuple(round(edge) for edge in np.cumsum([0.0, *shares]) * (self.bar_w - 4))

    def _update(self, k: int) -> None:
        edges = self._edges(k)
        for bar, a, b in zip(self.bars, edges[:-1], edges[1:], strict=True):
            bar.show(a, b)


def _room(words: str) -> float:
    return max(width(words, SMALL), LEAST_ROOM)


def _spare(labels: list[str], room: float) -> float:
    """px between two items."""
    return (room - sum(_room(words) for words in labels)) / (len(labels) - 1)


def signed(watts: float, floor: float) -> str:
    """How fast an item grows: "+57.9 W"; "+0 W" below the floor."""
    return ("" if watts < -floor else "+") + reading(watts, "W", floor)


def shares_of(account: Account, shown: list[Item]) -> list[float]:
    """Share of each item in their sum; nothing anywhere before any energy has moved."""
    parts = [max(account.of(item.kinds), 0.0) for item in shown]
    whole = sum(parts)
    return [part / whole if whole > 1e-30 else 0.0 for part in parts]
