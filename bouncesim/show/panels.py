"""The panels under the plot: clock, meters, energy account, caption."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np
from matplotlib.patches import Rectangle

from bouncesim.scenario.model import Line, Meter, Network, Scenario
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.captions import SAFETY, fill
from bouncesim.show.layout import ACCOUNT, CAPTION, CLOCK, METERS, Slot
from bouncesim.show.live import Account, Live
from bouncesim.show.numbers import figures, plain, prefix_for, reading, slowed
from bouncesim.show.story import Story
from bouncesim.show.text import fit, shorten, width
from bouncesim.show.theme import BODY, CAPTION as CAPTION_SIZE, HEADER, MARKS, SMALL, TITLE, Palette

INSET = 26.0


def inner(rect: tuple[float, float, float, float], edge: float = 6.0) -> tuple[float, float, float, float]:
    """A region that leaves its panel's border alone."""
    x, y, w, h = rect
    return x + edge, y + edge, w - 2 * edge, h - 2 * edge


class Clock:
    """Time since key-down and how much slower than life it passes."""

    def __init__(self, frame: Frame, story: Story, palette: Palette) -> None:
        self.story = story
        pad = frame.add(Region(CLOCK, story.clock_frame, self._update))
        right = CLOCK[0] + CLOCK[2] - 24
        self.time = pad.text(right, 74, "", TITLE, palette.text, bold=True, ha="right")
        self.pace = pad.text(right, 116, "", HEADER, palette.secondary, ha="right")

    def _update(self, k: int) -> None:
        k = self.story.clock_frame(k)
        self.time.set_text(f"t = {clock(float(self.story.time_s[k]), float(self.story.time_s[-1]))}")
        words = slowed(float(self.story.pace[k]))
        self.pace.set_text(f"time-lapse, {words}" if self.story.lapse[k] else words)


def clock(t: float, last: float) -> str:
    """A time with one decimal under its own prefix, but for a coarser unit never finer than nanoseconds."""
    factor, letter = prefix_for(max(t, 1e-9))
    return f"{t / factor:.{2 if factor > 1e-9 and t / factor < 100 else 1}f} {letter}s"


def meter_choice(scenario: Scenario) -> tuple[str, str]:
    """What the meters panel reads: a meter that stands beyond the tuner, otherwise the first line's input; and its heading."""
    tuned = False
    for part in scenario.path:
        tuned = tuned or (isinstance(part, Network) and part.is_tuner)
        if isinstance(part, Meter) and tuned:
            return part.name, f"Power at the {part.name}"
    untuned = not tuned
    for part in scenario.path:
        if isinstance(part, Meter) and untuned:
            return part.name, f"Power at the {part.name}"
        if isinstance(part, Line):
            return part.name, f"Power at the start of the {part.name}"
    return "transmitter", "Power at the transmitter"


class Meters:
    """Forward and reflected power as bars and numbers; the transmitter's terminals in a line below."""

    def __init__(self, frame: Frame, live: Live, story: Story, palette: Palette) -> None:
        self.live, self.story = live, story
        self.name, heading = meter_choice(live.run.scenario)
        x, y, w, h = METERS
        self.bar_x, self.bar_w = x + 204, 474.0
        largest = max(float(np.max(live.traces.forward_w[self.name])), 1e-15)
        self.full = _round_up(1.05 * largest)
        self.factor, letter = prefix_for(self.full)
        self.unit = f"{letter}W"
        pad = Pad(frame.axes)
        pad.text(x + INSET, y + 40, shorten(heading, w - 2 * INSET, HEADER, True), HEADER, palette.text, bold=True)
        rows = (("forward", "▶ forward", y + 58), ("reflected", "◀ reflected", y + 104))
        for name, words, top in rows:
            pad.text(x + INSET, top + 25, words, BODY, getattr(palette, name))
            pad.box(self.bar_x, top, self.bar_w, 34, palette.background, palette.axis, 1.5)
        self._scale(pad, y + 138, palette)
        region = frame.add(Region(inner(METERS), story.clock_frame, self._update))
        self.bars, self.numbers = {}, {}
        for name, _, top in rows:
            self.bars[name] = Bar(region, self.bar_x, top + 3, 28, getattr(palette, name), palette.background, MARKS[name].hatch, self.bar_w)
            self.numbers[name] = region.text(x + w - INSET, top + 31, "", 36, palette.text, bold=True, ha="right")
        self.terminals = region.text(x + INSET, y + h - 15, "", SMALL, palette.secondary)

    def _scale(self, pad: Pad, y: float, palette: Palette) -> None:
        for share in (0, 0.25, 0.5, 0.75, 1):
            x = self.bar_x + share * self.bar_w
            pad.line([x, x], [y, y + (8 if share in (0, 0.5, 1) else 5)], palette.axis, 1.5)
            if share in (0, 0.5, 1):
                words = plain(share * self.full / self.factor) + (f" {self.unit}" if share == 1 else "")
                pad.text(x, y + 32, words, SMALL, palette.secondary, ha="center")

    def _update(self, k: int) -> None:
        t = float(self.story.time_s[self.story.clock_frame(k)])
        for name, power in zip(("forward", "reflected"), self.live.powers(self.name, t), strict=True):
            self.bars[name].show([0.0, min(power / self.full, 1.0) * self.bar_w])
            self.numbers[name].set_text(f"{figures(power / self.factor, self.full / self.factor)} {self.unit}")
        forward, reflected = self.live.powers("transmitter", t)
        scale = self.live.run.scenario.transmitter.power_w
        factor, letter = prefix_for(scale)
        net, ahead, back = (f"{figures(p / factor, scale / factor)} {letter}W" for p in (forward - reflected, forward, reflected))
        self.terminals.set_text(f"the transmitter delivers {net}   ( ▶ {ahead}  ◀ {back} )" if self.name != "transmitter" else "")


class Bar:
    """A bar with a hatch of our own, drawn as stripes so that it stays put and clear at every size."""

    def __init__(self, pad: Pad, x: float, y: float, h: float, color: str, ground: str, hatch: str, room: float) -> None:
        self.x, self.y, self.h = x, y, h
        self.body: Rectangle = pad.box(x, y, 0, h, color)
        self.stripes = [pad.line([], [], ground, width_, solid_capstyle="butt") for width_ in _stripe_widths(hatch)]
        self.hatch, self.room = hatch, room

    def show(self, ends: list[float]) -> None:
        """Draw the bar from ends[0] to ends[1], px from its left edge."""
        a, b = ends
        self.body.set_x(self.x + a)
        self.body.set_width(max(b - a, 0.0))
        for stripe, way in zip(self.stripes, (1, -1), strict=False):
            stripe.set_data(*_stripes(self.hatch, way, self.x + a, self.x + b, self.y, self.h))


def _stripe_widths(hatch: str) -> tuple[float, ...]:
    return {"": (), "level": (4.0,), "upright": (5.0,), "slanted": (5.0,), "crossed": (3.0, 3.0)}[hatch]


def _stripes(hatch: str, way: int, x0: float, x1: float, y: float, h: float) -> tuple[list[float], list[float]]:
    """Separate strokes as one line with gaps (NaN), cut at the bar's ends."""
    xs: list[float] = []
    ys: list[float] = []
    if x1 - x0 < 1:
        return xs, ys
    if hatch == "level":
        for level in np.arange(y + 7, y + h - 2, 10):
            xs += [x0, x1, np.nan]
            ys += [level, level, np.nan]
        return xs, ys
    slope = 0.0 if hatch == "upright" else h * (1.0 if hatch == "crossed" else 0.7)
    for foot in np.arange(np.floor(x0 / 14) * 14 - 42, x1 + 42, 14):
        a, b = (foot, foot + slope) if way > 0 else (foot + slope, foot)
        lo, hi = (0.0, 1.0) if a == b else sorted(((x0 - a) / (b - a), (x1 - a) / (b - a)))
        lo, hi = max(lo, 0.0), min(hi, 1.0)
        if (x0 < a < x1) if a == b else lo < hi:
            xs += [a + lo * (b - a), a + hi * (b - a), np.nan]
            ys += [y + h - lo * h, y + h - hi * h, np.nan]
    return xs, ys


def _round_up(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten."""
    decade = 10.0 ** np.floor(np.log10(value))
    return float(next(step * decade for step in (1, 1.5, 2, 3, 4, 5, 6, 8, 10) if step * decade >= value * (1 - 1e-12)))


class Energy:
    """The net account: where the energy is that has left the transmitter."""

    def __init__(self, frame: Frame, live: Live, story: Story, palette: Palette) -> None:
        self.live, self.story = live, story
        x, y, w, _ = ACCOUNT
        self.items = items(live.run.scenario)
        pad = Pad(frame.axes)
        pad.text(x + INSET, y + 40, "Where is the energy?", HEADER, palette.text, bold=True)
        self.bar_w = w - 2 * INSET
        pad.box(x + INSET, y + 56, self.bar_w, 40, palette.background, palette.axis, 1.5)
        colors = {"antenna": palette.antenna, "tuner_heat": palette.heat, "line_heat": palette.heat, "stored": palette.stored}
        hatches = {"antenna": "antenna", "tuner_heat": "tuner heat", "line_heat": "line heat", "stored": "stored"}
        region = frame.add(Region(inner(ACCOUNT), story.clock_frame, self._update))
        self.left = region.text(x + w - INSET, y + 40, "", BODY, palette.secondary, ha="right")
        self.bars, self.joules, self.watts = {}, {}, {}
        column = self.bar_w / len(self.items)
        for i, (name, words) in enumerate(self.items):
            left = x + INSET + i * column
            hatch = MARKS[hatches[name]].hatch
            self.bars[name] = Bar(region, x + INSET, y + 59, 34, colors[name], palette.background, hatch, self.bar_w)
            Bar(pad, left, y + 136, 28, colors[name], palette.panel, hatch, 28).show([0, 28])
            pad.text(left, y + 124, words, SMALL, palette.secondary)
            self.joules[name] = region.text(left + 40, y + 160, "", BODY, palette.text, bold=True)
            self.watts[name] = region.text(left + 40, y + 194, "", SMALL, palette.secondary)

    def _update(self, k: int) -> None:
        t = float(self.story.time_s[self.story.clock_frame(k)])
        account, flow = self.live.account(t), self.live.flow(t)
        self.left.set_text(f"left the transmitter: {reading(account.left, 'J', 1e-18)}")
        shares = shares_of(account, [name for name, _ in self.items])
        edge = 0.0
        floor = 1e-4 * self.live.run.scenario.transmitter.power_w
        for name, _ in self.items:
            joules = getattr(account, name)
            self.bars[name].show([edge * self.bar_w, (edge + shares[name]) * self.bar_w])
            edge += shares[name]
            self.joules[name].set_text(reading(joules, "J", max(1e-6 * abs(account.left), 1e-18)))
            self.watts[name].set_text(signed(getattr(flow, name), floor))


def signed(watts: float, floor: float) -> str:
    """How fast an item grows: "+57.9 W"; "+0 W" below the floor."""
    return ("" if watts < -floor else "+") + reading(watts, "W", floor)


def shares_of(account: Account, names: list[str]) -> dict[str, float]:
    """Share of each item in their sum; nothing anywhere before any energy has moved."""
    parts = {name: max(getattr(account, name), 0.0) for name in names}
    whole = sum(parts.values())
    return {name: part / whole if whole > 1e-30 else 0.0 for name, part in parts.items()}


def items(scenario: Scenario) -> list[tuple[str, str]]:
    """The account's items for this station with their names."""
    networks = [part for part in scenario.path if isinstance(part, Network)]
    found = [("antenna", "into the antenna")]
    if networks:
        only_tuner = all(part.is_tuner for part in networks)
        found.append(("tuner_heat", "heat in the tuner" if only_tuner else "heat in networks"))
    found += [("line_heat", "heat in the line"), ("stored", "stored")]
    return found


class Caption:
    """The beat's caption in its bar, with live numbers; the caution while the film closes."""

    def __init__(self, frame: Frame, live: Live, story: Story, palette: Palette) -> None:
        self.live, self.story = live, story
        pad = frame.add(Region(inner(CAPTION), self._key, self._update))
        middle = CAPTION[0] + CAPTION[2] / 2
        self.lines = [pad.text(middle, 0, "", CAPTION_SIZE, palette.text, ha="center") for _ in (0, 1)]

    def words(self, k: int) -> str:
        """The caption of frame k."""
        if k >= self.story.closing:
            return SAFETY
        t = float(self.story.time_s[self.story.clock_frame(k)])
        return fill(self.story.shots[int(self.story.shot[k])].caption, self.live, t)

    def _key(self, k: int) -> Hashable:
        return self.words(k)

    def _update(self, k: int) -> None:
        lines, size = fit(self.words(k), CAPTION[2] - 2 * INSET, (CAPTION_SIZE, 34, 31), (29, 26, 24))
        middle = CAPTION[1] + CAPTION[3] / 2 + 0.36 * size
        spread = 0.0 if len(lines) == 1 else 0.6 * size
        for text, words, offset in zip(self.lines, [*lines, ""], (-spread, spread), strict=False):
            text.set_text(words)
            text.set_fontsize(size)
            text.set_y(middle + offset)


