"""The panels under the plot: clock, meters, energy account, caption."""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial

import numpy as np
from matplotlib.patches import Rectangle

from bouncesim.scenario.model import Line, Meter, Network, Scenario
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.captions import SAFETY, fill
from bouncesim.show.layout import ACCOUNT, CAPTION, CLOCK, METERS
from bouncesim.show.live import Account, Live
from bouncesim.show.numbers import figures, plain, prefix_for, reading, slowed
from bouncesim.show.story import Story
from bouncesim.show.text import fit, shorten, width
from bouncesim.show.theme import BODY, HEADER, MARKS, SMALL, TITLE, Palette
from bouncesim.show.theme import CAPTION as CAPTION_SIZE

INSET = 26.0


def inner(rect: tuple[float, float, float, float], edge: float = 6.0) -> tuple[float, float, float, float]:
    """A region that leaves its panel's border alone."""
    x, y, w, h = rect
    return x + edge, y + edge, w - 2 * edge, h - 2 * edge


class Clock:
    """Time since key-down and how much slower than life it passes."""

    def __init__(self, frame: Frame, story: Story, palette: Palette) -> None:
        self.story = story
        x, y, w, _ = CLOCK
        frame.words((x, y + 52, w - 22), self.time, TITLE, palette.text, bold=True, ha="right")
        frame.words((x, y + 94, w - 22), self.pace, HEADER, palette.secondary, ha="right")

    def time(self, k: int) -> str:
        return f"t = {clock(float(self.story.time_s[self.story.clock_frame(k)]))}"

    def pace(self, k: int) -> str:
        k = self.story.clock_frame(k)
        words = slowed(float(self.story.pace[k]))
        return f"time-lapse, {words}" if self.story.lapse[k] else words


def clock(t: float) -> str:
    """A time with its unit, to the tenth under 1 microsecond and to the hundredth above."""
    factor, letter = prefix_for(max(t, 1e-9))
    return f"{t / factor:.{1 if factor < 2e-9 else 2}f} {letter}s"


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
        self.bar_x, self.bar_w = x + 204, 440.0
        largest = max(float(np.max(live.traces.forward_w[self.name])), 1e-15)
        self.full = _round_up(1.05 * largest)
        self.factor, letter = prefix_for(self.full)
        self.unit = f"{letter}W"
        self.decimals = 2 if self.full / self.factor < 10 else 1
        pad = Pad(frame.axes)
        pad.text(x + INSET, y + 40, shorten(heading, w - 2 * INSET, HEADER, True), HEADER, palette.text, bold=True)
        rows = (("forward", "▶ forward", y + 58), ("reflected", "◀ reflected", y + 104))
        for name, words, top in rows:
            pad.text(x + INSET, top + 25, words, BODY, getattr(palette, name))
            pad.box(self.bar_x, top, self.bar_w, 34, palette.background, palette.axis, 1.5)
        self._scale(pad, y + 138, palette)
        region = Region((self.bar_x, y + 57, self.bar_w, 82), self._ends, self._update)
        bar_pad = frame.add(region)
        self.bars = {}
        for name, _, top in rows:
            hatch = MARKS[name].hatch
            self.bars[name] = Bar(bar_pad, self.bar_x + 2, top + 3, 28, getattr(palette, name), palette.background, hatch)
            box = (self.bar_x + self.bar_w + 12, top + 30, w - INSET - 204 - self.bar_w - 8)
            frame.words(box, partial(self._power, name), 36, palette.text, bold=True, ha="right")
        frame.words((x + INSET - 2, y + h - 15, w - 2 * INSET), self._terminals, SMALL, palette.secondary)

    def _now(self, k: int) -> float:
        return float(self.story.time_s[self.story.clock_frame(k)])

    def _ends(self, k: int) -> tuple[int, int]:
        """Lengths of the two bars, px."""
        forward, reflected = (min(power / self.full, 1.0) * (self.bar_w - 4) for power in self.live.powers(self.name, self._now(k)))
        return round(forward), round(reflected)

    def _update(self, k: int) -> None:
        for bar, end in zip(self.bars.values(), self._ends(k), strict=True):
            bar.show(0.0, end)

    def _power(self, name: str, k: int) -> str:
        forward, reflected = self.live.powers(self.name, self._now(k))
        return f"{(forward if name == 'forward' else reflected) / self.factor:.{self.decimals}f} {self.unit}"

    def _terminals(self, k: int) -> str:
        if self.name == "transmitter":
            return ""
        forward, reflected = self.live.powers("transmitter", self._now(k))
        scale = float(np.max(self.live.traces.forward_w["transmitter"]))
        factor, letter = prefix_for(scale)
        ahead, back, net = (f"{figures(p / factor, scale / factor)} {letter}W" for p in (forward, reflected, forward - reflected))
        return f"at the transmitter  ▶ {ahead}  ◀ {back}  net {net}"

    def _scale(self, pad: Pad, y: float, palette: Palette) -> None:
        for share in (0, 0.25, 0.5, 0.75, 1):
            x = self.bar_x + share * self.bar_w
            pad.line([x, x], [y, y + (8 if share in (0, 0.5, 1) else 5)], palette.axis, 1.5)
            if share in (0, 0.5, 1):
                words = plain(share * self.full / self.factor) + (f" {self.unit}" if share == 1 else "")
                pad.text(x, y + 32, words, SMALL, palette.secondary, ha="center")


class Bar:
    """A bar with a hatch of our own, drawn as stripes so that it stays put and clear at every size."""

    def __init__(self, pad: Pad, x: float, y: float, h: float, color: str, ground: str, hatch: str) -> None:
        self.x, self.y, self.h = x, y, h
        self.body: Rectangle = pad.box(x, y, 0, h, color)
        self.stripes = [pad.line([], [], ground, width_, solid_capstyle="butt") for width_ in _stripe_widths(hatch)]
        self.hatch = hatch

    def show(self, a: float, b: float) -> None:
        """Draw the bar from a to b, px from its left edge."""
        self.body.set_x(self.x + a)
        self.body.set_width(max(b - a, 0.0))
        for stripe, way in zip(self.stripes, (1, -1), strict=False):
            stripe.set_data(*_stripes(self.hatch, way, self.x, (self.x + a, self.x + b), self.y, self.h))


def _stripe_widths(hatch: str) -> tuple[float, ...]:
    return {"": (), "level": (4.0,), "upright": (5.0,), "slanted": (5.0,), "crossed": (3.0, 3.0)}[hatch]


def _stripes(hatch: str, way: int, origin: float, ends: tuple[float, float], y: float, h: float) -> tuple[list[float], list[float]]:
    """Separate strokes as one line with gaps (NaN), cut at the bar's ends; their places hang on the origin, so a growing bar keeps them."""
    x0, x1 = ends
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
    for foot in np.arange(origin + 7 + np.floor((x0 - origin) / 14) * 14 - 42, x1 + 42, 14):
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
        region = Region((x + INSET + 2, y + 58, self.bar_w - 4, 36), self._edges, self._update)
        bar_pad = frame.add(region)
        frame.words((x + 380, y + 40, w - 380 - INSET + 2), self._left, BODY, palette.secondary, ha="right")
        self.bars = []
        widths = [max(width(words, SMALL), 172.0) for _, words in self.items]
        gap = (self.bar_w - sum(widths)) / (len(widths) - 1)
        for i, (name, words) in enumerate(self.items):
            left = x + INSET + sum(widths[:i]) + i * gap
            hatch = MARKS[hatches[name]].hatch
            self.bars.append(Bar(bar_pad, x + INSET + 2, y + 59, 34, colors[name], palette.background, hatch))
            Bar(pad, left, y + 136, 28, colors[name], palette.panel, hatch).show(0, 28)
            pad.text(left, y + 124, words, SMALL, palette.secondary)
            room = min(widths[i] + gap - 42, x + w - 6 - left - 38)
            frame.words((left + 38, y + 160, room), partial(self._joules, name), BODY, palette.text, bold=True)
            frame.words((left + 38, y + 194, room), partial(self._watts, name), SMALL, palette.secondary)

    def _now(self, k: int) -> float:
        return float(self.story.time_s[self.story.clock_frame(k)])

    def _left(self, k: int) -> str:
        return f"left the transmitter: {reading(self.live.account(self._now(k)).left, 'J', 1e-18)}"

    def _joules(self, name: str, k: int) -> str:
        account = self.live.account(self._now(k))
        return reading(getattr(account, name), "J", max(1e-6 * abs(account.left), 1e-18))

    def _watts(self, name: str, k: int) -> str:
        floor = 1e-3 * self.live.run.scenario.transmitter.power_w
        return signed(getattr(self.live.flow(self._now(k)), name), floor)

    def _edges(self, k: int) -> tuple[int, ...]:
        """Right edges of the bar's pieces, px."""
        shares = shares_of(self.live.account(self._now(k)), [name for name, _ in self.items])
        return tuple(round(edge) for edge in np.cumsum([0.0, *shares.values()]) * (self.bar_w - 4))

    def _update(self, k: int) -> None:
        edges = self._edges(k)
        for bar, a, b in zip(self.bars, edges[:-1], edges[1:], strict=True):
            bar.show(a, b)


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
        lines, size = fit(self.words(k), CAPTION[2] - 2 * INSET, (CAPTION_SIZE, 35, 32), (30, 28, 26, 24))
        middle = CAPTION[1] + CAPTION[3] / 2 + 0.36 * size
        spread = 0.0 if len(lines) == 1 else 0.6 * size
        for text, words, offset in zip(self.lines, [*lines, ""], (-spread, spread), strict=False):
            text.set_text(words)
            text.set_fontsize(size)
            text.set_y(middle + offset)
