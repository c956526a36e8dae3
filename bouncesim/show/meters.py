"""The meters panel: one meter as bars and large figures, the others in a line below."""

from __future__ import annotations

from functools import partial

import numpy as np

from bouncesim.account.run import Run
from bouncesim.scenario.model import Line, Meter, Part
from bouncesim.show.bars import Bar
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.layout import METERS
from bouncesim.show.live import Live
from bouncesim.show.numbers import figures, plain, prefix_for, ratio
from bouncesim.show.story import Story
from bouncesim.show.text import shorten, width
from bouncesim.show.theme import BODY, HEADER, INSET, MARKS, SMALL, Palette

SOURCE = "transmitter"
SPARE = 30.0  # px by which a meter's figures may grow beyond those at the end
SWR_ROOM = 170.0  # px of "SWR 88.8"


def meter_choice(run: Run) -> tuple[str, str]:
    """What the meters panel reads, and its heading: of the meters on a line that with the most reflected power, else the first line."""
    path = run.scenario.path
    reflected = {meter.name: meter.reflected_w for meter in run.readings.meters}
    on_line = [part.name for i, part in enumerate(path) if isinstance(part, Meter) and _beside_line(path, i)]
    if on_line:
        name = max(on_line, key=lambda name: reflected[name])
        return name, f"Power at the {name}"
    name = run.scenario.lines[0].name
    return name, f"Power at the start of the {name}"


def _beside_line(path: tuple[Part, ...], i: int) -> bool:
    """Whether the next thing on either side of a meter, other meters apart, is a line."""
    before = next((part for part in reversed(path[:i]) if not isinstance(part, Meter)), None)
    after = next((part for part in path[i + 1 :] if not isinstance(part, Meter)), None)
    return isinstance(before, Line) or isinstance(after, Line)


def at_transmitter(run: Run) -> set[str]:
    """The meters that read what the transmitter's terminals read."""
    found = set()
    for part in run.scenario.path:
        if not isinstance(part, Meter):
            break
        if part.reference_ohm == run.scenario.transmitter.rated_load_ohm:
            found.add(part.name)
    return found


class Meters:
    """Forward and reflected power as bars and numbers; the transmitter's terminals and the other meters in a line below."""

    def __init__(self, frame: Frame, live: Live, story: Story, palette: Palette) -> None:
        self.live, self.story = live, story
        self.name, heading = meter_choice(live.run)
        x, y, w, h = METERS
        self.bar_x, self.bar_w = x + 204, 440.0
        largest = max(float(np.max(live.traces.forward_w[self.name])), 1e-15)
        self.full = _round_up(1.05 * largest)
        self.factor, letter = prefix_for(self.full)
        self.unit = f"{letter}W"
        self.decimals = 2 if self.full / self.factor < 10 else 1
        pad = Pad(frame.axes)
        pad.text(x + INSET, y + 40, shorten(heading, w - 2 * INSET - SWR_ROOM, HEADER, True), HEADER, palette.text, bold=True)
        frame.words((x + w - INSET - SWR_ROOM, y + 40, SWR_ROOM + 2), self._swr, HEADER, palette.secondary, ha="right")
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
        self.others = self._others(w - 2 * INSET - 8)
        frame.words((x + INSET - 2, y + h - 15, w - 2 * INSET), self._elsewhere, SMALL, palette.secondary)

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

    def _swr(self, k: int) -> str:
        return f"SWR {ratio(self.live.swr(self.name, self._now(k)))}"

    def _others(self, room: float) -> list[str]:
        """What the line below reads: the transmitter's terminals, then as many of the other meters as fit in px; no reading twice."""
        same = at_transmitter(self.live.run) | {SOURCE}
        names = [] if self.name in same else [SOURCE]
        names += [name for name in self.live.meters if name != self.name and name not in same]
        while len(names) > 1 and width(self._row(names, self.live.end), SMALL) + len(names) * SPARE > room:
            names.pop()
        return names

    def _elsewhere(self, k: int) -> str:
        t = self._now(k)
        if len(self.others) == 1:
            (ahead, back, net), unit = self._figures(self.others[0], t)
            return f"at the {self.others[0]}  ▶ {ahead} {unit}  ◀ {back} {unit}  net {net} {unit}"
        if self.others:
            return self._row(self.others, t)
        (_, _, net), unit = self._figures(self.name, t)
        return f"forward less reflected: {net} {unit} leave the transmitter"

    def _row(self, names: list[str], t: float) -> str:
        """Several meters, each in short: "transmitter ▶ 45.0 ◀ 0.2 W"."""
        words = []
        for name in names:
            (ahead, back, _), unit = self._figures(name, t)
            words.append(f"{shorten(name, 260, SMALL)} ▶ {ahead} ◀ {back} {unit}")
        return "  ·  ".join(words)

    def _figures(self, name: str, t: float) -> tuple[tuple[str, str, str], str]:
        """Forward, reflected and net power, as finely as the largest forward power asks, and their unit."""
        forward, reflected = self.live.powers(name, t)
        scale = float(np.max(self.live.traces.forward_w[name]))
        factor, letter = prefix_for(scale)
        ahead, back, net = (figures(power / factor, scale / factor) for power in (forward, reflected, forward - reflected))
        return (ahead, back, net), f"{letter}W"

    def _scale(self, pad: Pad, y: float, palette: Palette) -> None:
        for share in (0, 0.25, 0.5, 0.75, 1):
            x = self.bar_x + share * self.bar_w
            pad.line([x, x], [y, y + (8 if share in (0, 0.5, 1) else 5)], palette.axis, 1.5)
            if share in (0, 0.5, 1):
                words = plain(share * self.full / self.factor) + (f" {self.unit}" if share == 1 else "")
                pad.text(x, y + 32, words, SMALL, palette.secondary, ha="center")


def _round_up(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten."""
    decade = 10.0 ** np.floor(np.log10(value))
    return float(next(step * decade for step in (1, 1.5, 2, 3, 4, 5, 6, 8, 10) if step * decade >= value * (1 - 1e-12)))
