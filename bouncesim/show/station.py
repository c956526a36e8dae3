"""The station over the plot: symbols, wires, line sections true to scale, arrows of forward and reflected power, live SWR."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.fronts import Fronts
from bouncesim.show.layout import (
    EDGE,
    LABEL_LIVE,
    LABEL_TOP,
    PART_LABEL,
    RAIL,
    RAIL_BOTTOM,
    RAIL_TOP,
    SECOND,
    WAVE,
    Track,
    place_labels,
)
from bouncesim.show.live import Floats, Live
from bouncesim.show.numbers import plain, ratio
from bouncesim.show.story import Story
from bouncesim.show.symbols import MID, WIRE, draw_symbol
from bouncesim.show.text import shorten, width
from bouncesim.show.theme import BODY, SMALL, Palette

THICKEST = 25.0  # px of the largest power arrow between the rails
LEAST = 2e-3  # share of the largest power under which no arrow is drawn
NO_WAVE = "no wave yet"
LOSSY_DB = 0.05  # matched loss from which a section shows the SWR at both its ends


def draw_station(pad: Pad, track: Track, palette: Palette) -> None:
    """What never changes: symbols, wires, rails, names."""
    starts = [track.slots[0].x, *(span.x1 for span in track.spans)]
    ends = [*(span.x0 for span in track.spans), track.slots[-1].x]
    for y in (RAIL_TOP, RAIL_BOTTOM):
        for a, b in zip(starts, ends, strict=True):
            pad.line([a, b], [y, y], palette.conductor, WIRE)
        for span in track.spans:
            pad.line([span.x0, span.x1], [y, y], palette.conductor, RAIL, solid_capstyle="butt")
        for before, after in pairwise(track.spans):
            for x in {before.x1, after.x0}:
                pad.line([x, x], [y - 9, y + 9], palette.conductor, 3)
    for slot in track.slots:
        draw_symbol(pad, slot, palette)
        x, ha = slot.label_at
        for i, words in enumerate(slot.label):
            pad.text(x, PART_LABEL + i * SECOND, words, SMALL, palette.secondary, ha=ha)


class Arrows:
    """Power arrows between the rails of every section, as thick as the power is large, and the live SWR of each."""

    def __init__(self, frame: Frame, track: Track, fronts: Fronts, live: Live, story: Story, palette: Palette) -> None:
        self.track, self.live, self.story = track, live, story
        self.full = max(float(np.max(live.traces.forward_w[span.line.name])) for span in track.spans)
        self.seen = fronts.seen
        times = np.concatenate([times for pair in fronts.seen for times in pair])
        self.still = float(np.max(times[np.isfinite(times)], initial=0.0))  # from here on every wave has set in everywhere
        inner = (track.x0, RAIL_TOP + RAIL / 2 + 2, track.x1 - track.x0, RAIL_BOTTOM - RAIL_TOP - RAIL - 4)
        region = Region(inner, self._key, self._update)
        pad = frame.add(region)
        self.forward = [pad.polygon(np.zeros((7, 2)), palette.forward) for _ in track.spans]
        self.reflected = [pad.polygon(np.zeros((7, 2)), palette.panel, palette.reflected, 2.5) for _ in track.spans]
        self._labels(frame, palette)

    def _key(self, k: int) -> Hashable:
        return k if self.story.time_s[k] <= self.still else self.story.clock_frame(k)

    def _update(self, k: int) -> None:
        moving = self.story.time_s[k] <= self.still
        t = float(self.story.time_s[k if moving else self.story.clock_frame(k)])
        for i, span in enumerate(self.track.spans):
            name = span.line.name
            px = span.px(self.live.lines[i].x_m)
            there, back = (px[times <= t] for times in self.seen[i])
            near, far = self.live.powers(name, t), self.live.powers(name, t, far=True)
            if moving:  # one thickness until the waves have passed everywhere, then thinner where the line has taken its part
                near = far = (max(near[0], far[0]), max(near[1], far[1]))
            ahead, home = there.max() if len(there) else span.x0, back.min() if len(back) else span.x1
            self.forward[i].set_xy(_arrow(span.x0, ahead, MID - 15.5, self._thick(near[0]), self._thick(far[0])))
            self.reflected[i].set_xy(_arrow(span.x1, home, MID + 15.5, self._thick(far[1]), self._thick(near[1])))

    def _thick(self, power: float) -> float:
        share = power / self.full if self.full > 0 else 0.0
        return max(THICKEST * min(share, 1.0), 3.0) if share > LEAST else 0.0

    def _labels(self, frame: Frame, palette: Palette) -> None:
        """Names are background; what stands under each is live."""
        pad = Pad(frame.axes)
        for label in section_labels(self.track, self.live):
            pad.text(label.x, LABEL_TOP, label.name, BODY, palette.text, ha="center")
            if abs(label.x - label.middle) > 20:  # pushed aside: a leader to its section
                edge = min(max(label.middle, label.x - label.w / 2), label.x + label.w / 2)
                pad.line([edge, label.middle], [LABEL_LIVE + 9, RAIL_TOP - 6], palette.secondary, 2)
            box = (label.x - label.w / 2 - 10, LABEL_LIVE, label.w + 20)
            frame.words(box, partial(self._swr, label), SMALL, palette.secondary, ha="center")

    def _swr(self, label: Label, k: int) -> str:
        return label.before + swr_words(
            self.live, label.line, float(self.story.time_s[self.story.clock_frame(k)]), in_full=not label.before
        )


@dataclass(frozen=True)
class Label:
    """Words over a line section: `name`, and under it `before` and the live SWR; px: its centre, its width, the section's middle."""

    line: str
    name: str
    before: str
    x: float
    w: float
    middle: float


def swr_words(live: Live, name: str, t: float, in_full: bool) -> str:
    """ "SWR 7.40", or where loss makes it vary "SWR 2.02 at its start, 3.10 at its end"; if not `in_full`, "SWR 2.02 → 3.10"."""
    near, far = live.swr(name, t), live.swr(name, t, far=True)
    if in_full and math.isnan(near):
        return NO_WAVE
    if not _lossy(live, name):
        return f"SWR {ratio(near)}"
    if in_full and math.isnan(far):
        return f"SWR {ratio(near)} at its start"
    return f"SWR {ratio(near)} at its start, {ratio(far)} at its end" if in_full else f"SWR {ratio(near)} → {ratio(far)}"


def _lossy(live: Live, name: str) -> bool:
    return next(line.matched_loss_db for line in live.run.readings.lines if line.name == name) >= LOSSY_DB


def section_labels(track: Track, live: Live) -> list[Label]:
    """Labels of the sections: figures beside the names if there is room, else under them; if not even so, the shortest ones go without."""
    x0, x1 = WAVE[0] + 30, EDGE - 20
    readings = {line.name: line for line in live.run.readings.lines}
    shown = list(range(len(track.spans)))
    while shown:
        for beside in (True, False):
            labels = []
            for i in shown:
                span, line = track.spans[i], readings[track.spans[i].line.name]
                ohms = f"{plain(line.reference_ohm, 3)} Ω"
                widest = (
                    ("SWR 88.8 at its start, 88.8 at its end" if beside else "SWR 88.8 → 88.8") if _lossy(live, line.name) else "SWR 88.8"
                )
                before = "" if beside else f"{ohms} · "
                loss = f" · {plain(line.matched_loss_db, 2)} dB" if _lossy(live, line.name) else ""
                under = max(width(before + widest, SMALL), width(NO_WAVE, SMALL))
                name = f"{line.name} · {ohms}{loss}" if beside else shorten(line.name, max(under, span.x1 - span.x0), BODY)
                middle = (span.x0 + span.x1) / 2
                labels.append(Label(line.name, name, before, middle, max(width(name, BODY), under), middle))
            placed = place_labels([label.x for label in labels], [label.w for label in labels], x0, x1)
            if placed is not None and (not beside or all(abs(a - b.x) < b.w / 2 for a, b in zip(placed, labels, strict=True))):
                return [replace(label, x=x) for label, x in zip(labels, placed, strict=True)]
        shown.remove(min(shown, key=lambda i: track.spans[i].x1 - track.spans[i].x0))
    return []


def _arrow(x0: float, x1: float, y: float, thick0: float, thick1: float) -> Floats:
    """Corners of an arrow from x0 to x1, as thick at its two ends as told, shape (7, 2)."""
    way = 1 if x1 >= x0 else -1
    length = abs(x1 - x0)
    if max(thick0, thick1) <= 0 or length < 2:
        return np.full((7, 2), [x0, y])
    neck = x1 - way * min(thick1 / 2 + 12, length)
    tail, half, wing = thick0 / 2, thick1 / 2, min(thick1 / 2 + 5, 15.0)
    return np.array([[x0, y - tail], [neck, y - half], [neck, y - wing], [x1, y], [neck, y + wing], [neck, y + half], [x0, y + tail]])
