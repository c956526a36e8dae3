"""A film of turning a tuner: at every setting a steady state, the waves at the tuner as arrows, and the powers that they come to."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import partial

import numpy as np

from bouncesim.account.turning import Turning
from bouncesim.errors import OptionError, Problem, ScenarioError
from bouncesim.show.bars import Bar
from bouncesim.show.blit import WIDE, Frame
from bouncesim.show.heading import title_plan
from bouncesim.show.layout import PLAYER_BOTTOM, PLAYER_TOP, TYPES, Layout, Rect, Shape, full_size, shape_of
from bouncesim.show.numbers import plain, prefix_for, rated, reading
from bouncesim.show.panels import Caption, Captions
from bouncesim.show.phasors import Phasors
from bouncesim.show.reel import Reel
from bouncesim.show.scene import Ground, Look
from bouncesim.show.story import CLOSING_S
from bouncesim.show.text import set_in, shorten, width
from bouncesim.show.theme import CORNER, MARKS
from bouncesim.show.turned import Turned, story_of

NOWHERE: Rect = (0.0, 0.0, 0.0, 0.0)
GAP = 14.0
CURVES = (("forward_w", "turn_forward", "forward"), ("antenna_w", "turn_antenna", "antenna"), ("back_w", "turn_back_w", "reflected"))
DASHES = {"forward": None, "antenna": (3.2, 0.8, 0.8, 0.8), "reflected": (2.0, 1.0)}
GAUGES = (*CURVES[:1], ("echo_w", "turn_echo", "reflected"), CURVES[2], CURVES[1])


@dataclass(frozen=True)
class Boxes:
    """Where everything stands, px."""

    heading: Rect
    value: Rect
    line: Rect
    source: Rect
    curves: Rect
    gauges: Rect
    caption: Rect


class TuningStage(Reel):
    """The frames of the film. `draw(k)` brings `frame` to frame k, whatever was drawn before."""

    def __init__(self, turning: Turning, *, look: Look | None = None, size: tuple[int, int] = WIDE, fps: int = 30) -> None:
        """Raises OptionError for a frame that has no room for it, and ScenarioError for a title that does not fit."""
        look = look or Look()
        shape, full = shape_of(size), full_size(size)
        if shape == "square":
            raise OptionError("A film of a tuner being turned is wide or tall; a square frame has no room for it.")
        self.turning, self.look, self.turned = turning, look, Turned(turning)
        self.story = story_of(self.turned, fps, CLOSING_S, look.words)
        self.frame = Frame(size, look.palette.background, full, look.clear)
        kind = TYPES[shape]
        captions = Captions(self.story, self.turned, look.words, shape, kind, full[0] - (96 if shape == "wide" else 72))
        plan = title_plan(shape, kind)
        title = set_in(turning.scenario.title, full[0] - (700 if shape == "wide" else 96), plan, bold=True)
        if title is None:
            raise ScenarioError(Problem("title", f"is too long for a {shape} frame", "Shorten it"))
        self.boxes = _boxes(shape, full, len(title[0]) * 1.2 * title[1], captions.height)
        layout = Layout(shape, NOWHERE, self.boxes.heading, NOWHERE, NOWHERE, NOWHERE, self.boxes.caption)
        self.ground = Ground(self.frame, layout, self.story, look)
        self._background(title)
        self._value()
        words, source = look.words, look.words("transmitter")
        longest = self.turned.longest()
        arrows = (
            (self.boxes.line, self.turned.on_line, words("turn_line"), "turn_sum_line", turning.line_ohm),
            (
                self.boxes.source,
                self.turned.at_transmitter,
                words("turn_source", source=source),
                "turn_sum_source",
                turning.transmitter_ohm,
            ),
        )
        self.phasors = [Phasors(self.ground, rect, pair, longest, head, sums, ohm) for rect, pair, head, sums, ohm in arrows]
        self.curves = Curves(self.ground, self.turned, self.boxes.curves)
        _gauges(self.ground, self.turned, self.boxes.gauges, 4 if shape == "wide" else 2)
        Caption(self.ground, captions)

    def _background(self, title: tuple[list[str], float]) -> None:
        pad, palette, boxes = self.ground.pad(), self.look.palette, self.boxes
        for rect in (boxes.line, boxes.source, boxes.curves, boxes.gauges):
            pad.panel(*rect, palette.panel, palette.grid, CORNER)
        pad.panel(*boxes.caption, palette.panel, palette.axis, CORNER)
        x, y, w, _ = boxes.heading
        lines, px = title
        for i, line in enumerate(lines):
            pad.text(x, y + (0.95 + 1.2 * i) * px, line, px, palette.text, bold=True)
        transmitter, small = self.turning.scenario.transmitter, self.ground.type.small
        told = self.look.words("at_frequency", power=rated(transmitter.power_w, "W"), frequency=rated(transmitter.frequency_hz, "Hz"))
        told += "  ·  " + self.look.words("turn_steady")
        pad.text(x, y + (0.3 + 1.2 * len(lines)) * px + small, shorten(told, w, small), small, palette.secondary)

    def _value(self) -> None:
        x, y, w, h = self.boxes.value
        size = self.ground.type.clock
        wide = self.ground.layout.is_wide
        self.ground.number((x, y + h - 22, w), self.value_words, size, self.look.palette.text, bold=True, ha="right" if wide else "left")

    def value_words(self, k: int) -> str:
        """The part and its value in frame k."""
        value = reading(self.turned.setting(self.ground.now(k)), self.turning.unit)
        return self.look.words("turn_value", part=self.turning.part, value=value)

    @property
    def poster(self) -> int:
        """The frame that stands for the film: half a second before the first rest at the setting ends."""
        fourth = np.flatnonzero(self.story.shot == 3)
        return max(int(fourth[-1]) - self.story.fps // 2, 0)


class Curves:
    """Powers against the part's value, and where the film stands."""

    def __init__(self, ground: Ground, turned: Turned, rect: Rect) -> None:
        self.ground, self.turned = ground, turned
        turning, words, palette = turned.turning, ground.words, ground.palette
        x, y, w, h = rect
        unit, small, pad = ground.type.unit, ground.type.small, ground.pad()
        heading = shorten(words("turn_curves"), w - 44, ground.type.header, True)
        pad.text(x + 22, y + 42 * unit, heading, ground.type.header, palette.text, bold=True)
        self.x0, self.x1 = x + 80 * unit, x + w - 34 * unit
        top = y + (72 + 34 * len(CURVES)) * unit
        self.top, self.bottom = top + 20 * unit, y + h - 52 * unit
        self.full = 1.06 * float(max(np.max(turning.forward_w), np.max(turning.back_w)))
        factor, letter = prefix_for(self.full)
        step = next(s * 10.0**e for e in range(-15, 9) for s in (1, 2, 5) if 5 * s * 10.0**e >= self.full)
        for n in range(int(self.full / step) + 1):
            at = float(self._y(np.array(n * step)))
            pad.line([self.x0, self.x1], [at, at], palette.grid if n else palette.axis, 1.5)
            pad.text(
                self.x0 - 10,
                at + 0.36 * small,
                plain(n * step / factor) + (f" {letter}W" if not n else ""),
                small,
                palette.secondary,
                ha="right",
            )
        for share, ha in ((0.25, "left"), (0.5, ""), (1.0, "center"), (2.0, ""), (4.0, "right")):
            at = float(self._x(share * turning.set_at))
            pad.line([at, at], [self.bottom, self.bottom + 8], palette.axis, 2)
            if ha:
                shift = {"left": -30.0, "right": 22.0}.get(ha, 0.0) * unit
                words_at = reading(share * turning.set_at, turning.unit)
                pad.text(at + shift, self.bottom + 34 * unit, words_at, small, palette.secondary, ha=ha)
        self._legend(x + 24, y + 80 * unit, w - 48)
        xs = self._x(turning.values)
        for name, _, ink in CURVES:
            pad.line(xs, self._y(getattr(turning, name)), getattr(palette, ink), 4.0, **_dashed(ink))
        region = ground.region((self.x0 - 16, self.top - 16, self.x1 - self.x0 + 32, self.bottom - self.top + 32), self._key, self._update)
        self.cursor = region.line([], [], palette.text, 2.5, linestyle=(0, (2, 2)))
        self.dots = [
            region.line([], [], getattr(palette, ink), 0, marker="o", markersize=17, markeredgecolor=palette.panel, markeredgewidth=2.5)
            for _, _, ink in CURVES
        ]

    def _legend(self, x: float, y: float, w: float) -> None:
        pad, palette, unit, small = self.ground.pad(), self.ground.palette, self.ground.type.unit, self.ground.type.small
        for i, (_, key, ink) in enumerate(CURVES):
            base = y + i * 34 * unit
            pad.line([x, x + 56], [base - 8, base - 8], getattr(palette, ink), 4.0, **_dashed(ink))
            pad.text(x + 70, base, shorten(_named(self.ground, key), w - 70, small), small, palette.text)

    def _x(self, value: float | np.ndarray) -> np.ndarray:
        values = self.turned.turning.values
        share = np.log(np.asarray(value) / values[0]) / np.log(values[-1] / values[0])
        return np.asarray(self.x0 + share * (self.x1 - self.x0))

    def _y(self, watts: np.ndarray) -> np.ndarray:
        return np.asarray(self.bottom - watts / self.full * (self.bottom - self.top))

    def _key(self, k: int) -> Hashable:
        return float(self.ground.story.time_s[k])

    def _update(self, k: int) -> None:
        s = float(self.ground.story.time_s[k])
        at = float(self._x(self.turned.setting(s)))
        self.cursor.set_data([at, at], [self.top - 10, self.bottom])
        for dot, (name, _, _) in zip(self.dots, CURVES, strict=True):
            dot.set_data([at], [float(self._y(np.array(self.turned.value(name, s))))])


def _dashed(ink: str) -> dict[str, object]:
    return {"linestyle": (0, DASHES[ink])} if DASHES[ink] else {"solid_capstyle": "butt"}


def _named(ground: Ground, key: str) -> str:
    """Words for a power."""
    return ground.words(
        key, **{name: ground.words(word) for name, word in (("source", "transmitter"), ("load", "antenna")) if name in _FIELDS.get(key, ())}
    )


_FIELDS = {"turn_back_w": ("source",), "turn_antenna": ("load",)}


def _gauges(ground: Ground, turned: Turned, rect: Rect, columns: int) -> None:
    """Powers as bars on one scale, each with its value."""
    x, y, w, h = rect
    rows = len(GAUGES) // columns
    unit, size, palette, gap = ground.type.unit, ground.type, ground.palette, 36.0
    wide, high = (w - 2 * 24 - gap * (columns - 1)) / columns, (h - 16 * unit) / rows
    full = 1.02 * max(float(np.max(turned.turning.forward_w)), float(np.max(turned.turning.back_w)))
    for i, (name, key, ink) in enumerate(GAUGES):
        left, base = x + 24 + (i % columns) * (wide + gap), y + (i // columns) * high + 34 * unit
        value = width("888.8 mW", size.body, True) + 8
        ground.pad().text(left, base, shorten(_named(ground, key), wide, size.small), size.small, palette.secondary)
        told = partial(_told, ground, turned, name)
        ground.number((left + wide - value, base + 38 * unit, value), told, size.body, palette.text, bold=True, ha="right")
        box = (left, base + 14 * unit, wide - value - 8, 28 * unit)
        ground.pad().box(*box, palette.background, palette.axis, 1.2)
        _bar(ground, turned, name, ink, box, full)


def _told(ground: Ground, turned: Turned, name: str, k: int) -> str:
    return reading(turned.value(name, ground.now(k)), "W", 1e-3 * turned.scale_w)


def _bar(ground: Ground, turned: Turned, name: str, ink: str, box: Rect, full: float) -> None:
    x, y, w, h = box

    def length(k: int) -> int:
        return round(min(turned.value(name, float(ground.story.time_s[k])) / full, 1.0) * (w - 4))

    pad = ground.region((x - 2, y - 2, w + 4, h + 4), length, lambda k: bar.show(0, length(k)))
    bar = Bar(pad, x + 2, y + 2, h - 4, getattr(ground.palette, ink), ground.palette.panel, MARKS[ink].hatch)


def _boxes(shape: Shape, full: tuple[float, float], title: float, caption: float) -> Boxes:
    w, h = full
    if shape == "wide":
        left, room = 48.0, w - 96.0
        bar = (left, h - 20 - caption, room, caption)
        gauges = (left, bar[1] - GAP - 96, room, 96.0)
        top = 24 + max(title + 52, 96.0)
        high, each = gauges[1] - GAP - top, 0.315 * room
        panels = [(left + i * (each + GAP), top, each, high) for i in (0, 1)]
        curves = (left + 2 * (each + GAP), top, room - 2 * (each + GAP), high)
        return Boxes((left + 24, 20.0, room - 600, title), (w - 48 - 560, 20.0, 550.0, 90.0), panels[0], panels[1], curves, gauges, bar)
    left, room = 36.0, w - 72.0
    bar = (left, h - PLAYER_BOTTOM - caption, room, caption)
    gauges = (left, bar[1] - GAP - 216, room, 216.0)
    top = PLAYER_TOP + title + 60 + 76
    each = (room - GAP) / 2
    left_over = gauges[1] - GAP - top
    high = 0.6 * left_over
    panels = [(left + i * (each + GAP), top, each, high) for i in (0, 1)]
    curves = (left, top + high + GAP, room, left_over - high - GAP)
    return Boxes(
        (left + 12, PLAYER_TOP, room - 24, title), (left + 12, top - 86, room - 24, 80.0), panels[0], panels[1], curves, gauges, bar
    )
