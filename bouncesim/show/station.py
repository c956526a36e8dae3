"""The station over the plot: symbols, wires, line sections true to scale, arrows of forward and reflected power, live SWR."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from bouncesim.scenario.model import Element, Meter, Network
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.fronts import Fronts
from bouncesim.show.layout import (
    EDGE,
    ELEMENT,
    LABEL_LIVE,
    LABEL_TOP,
    PART_LABEL,
    RAIL,
    RAIL_BOTTOM,
    RAIL_TOP,
    SECOND,
    WAVE,
    Slot,
    Track,
    network_width,
    place_labels,
)
from bouncesim.show.live import Floats, Live
from bouncesim.show.numbers import impedance, plain, ratio
from bouncesim.show.story import Story
from bouncesim.show.text import shorten, width
from bouncesim.show.theme import BODY, SMALL, Palette

MID = (RAIL_TOP + RAIL_BOTTOM) / 2
WIRE = 3.5
THICKEST = 25.0  # px of the largest power arrow between the rails
LEAST = 2e-3  # share of the largest power under which no arrow is drawn
LOSSY_DB = 0.05  # matched loss from which a section shows the SWR at both its ends


def draw_station(pad: Pad, track: Track, live: Live, palette: Palette) -> None:
    """What never changes: symbols, wires, rails, names."""
    for y in (RAIL_TOP, RAIL_BOTTOM):
        pad.line([track.slots[0].x, track.x0], [y, y], palette.conductor, WIRE)
        pad.line([track.x1, track.slots[-1].x], [y, y], palette.conductor, WIRE)
    for span in track.spans:
        for y in (RAIL_TOP, RAIL_BOTTOM):
            pad.line([span.x0, span.x1], [y, y], palette.conductor, RAIL, solid_capstyle="butt")
    for span in track.spans[1:]:
        for y in (RAIL_TOP, RAIL_BOTTOM):
            pad.line([span.x0, span.x0], [y - 9, y + 9], palette.conductor, 3)
    for slot in (*track.slots, *track.joints):
        _symbol(pad, slot, palette)
    for slot in track.slots:
        for i, words in enumerate(slot.label):
            pad.text(slot.x, PART_LABEL + i * SECOND, words, SMALL, palette.secondary, ha="center")
    _joint_labels(pad, track, palette)
    antenna = track.slots[-1]
    pad.text(antenna.x, PART_LABEL + SECOND, impedance(live.run.scenario.antenna.impedance_ohm), SMALL, palette.secondary, ha="center")


def _joint_labels(pad: Pad, track: Track, palette: Palette) -> None:
    """Names of the parts between lines, where all of them fit under their places."""
    names = [slot.label[0] for slot in track.joints]
    placed = place_labels([slot.x for slot in track.joints], [width(name, SMALL) for name in names], track.x0, track.x1)
    for name, x in zip(names, placed or [], strict=False):
        pad.text(x, PART_LABEL, name, SMALL, palette.secondary, ha="center")


def _symbol(pad: Pad, slot: Slot, palette: Palette) -> None:
    if slot.what == "transmitter":
        _stub(pad, slot.x, RAIL_TOP, MID - 34, palette)
        _stub(pad, slot.x, MID + 34, RAIL_BOTTOM, palette)
        pad.circle(slot.x, MID, 32, palette.panel, palette.conductor, WIRE)
        u = np.linspace(-1, 1, 41)
        pad.line(slot.x + 17 * u, MID - 11 * np.sin(np.pi * u), palette.text, WIRE)
    elif slot.what == "antenna":
        _stub(pad, slot.x, RAIL_TOP, MID - 25, palette)
        _stub(pad, slot.x, MID + 25, RAIL_BOTTOM, palette)
        pad.box(slot.x - 14, MID - 25, 28, 50, palette.panel, palette.conductor, WIRE)
    elif isinstance(slot.what, Meter):
        _meter(pad, slot.x, palette)
    elif isinstance(slot.what, Network):
        _network(pad, slot, slot.what, palette)


def _stub(pad: Pad, x: float, y0: float, y1: float, palette: Palette) -> None:
    pad.line([x, x], [y0, y1], palette.conductor, WIRE)


def _meter(pad: Pad, x: float, palette: Palette) -> None:
    """A box around both wires with a dial and its needle."""
    pad.box(x - 30, RAIL_TOP - 13, 60, RAIL_BOTTOM - RAIL_TOP + 26, palette.panel, palette.conductor, WIRE)
    angle = np.radians(np.linspace(215, 325, 25))
    pad.line(x + 22 * np.cos(angle), MID + 14 + 24 * np.sin(angle), palette.text, WIRE)
    pad.line([x, x + 11], [MID + 14, MID - 7], palette.text, WIRE)
    pad.circle(x, MID + 14, 3, palette.text, palette.text, 1)


def _network(pad: Pad, slot: Slot, network: Network, palette: Palette) -> None:
    """A box around the wires with its elements in their order, series ones in the upper wire."""
    joint = slot.w < 50
    w = slot.w if joint else network_width(network)
    top, height = RAIL_TOP - 22, RAIL_BOTTOM - RAIL_TOP + 36
    pad.box(slot.x - w / 2, top, w, height, palette.panel, palette.secondary, 2, linestyle=(0, (4, 3)) if not joint else "solid")
    if joint:
        pad.line([slot.x - 12, slot.x, slot.x + 12], [MID + 12, MID - 12, MID + 12], palette.text, WIRE)
        return
    x = slot.x - ELEMENT * len(network.elements) / 2 + ELEMENT / 2
    left, right = slot.x - w / 2, slot.x + w / 2
    pad.line([left, right], [RAIL_BOTTOM, RAIL_BOTTOM], palette.conductor, WIRE)
    wire_from = left
    for element in network.elements:
        if element.position == "series":
            pad.line([wire_from, x - 21], [RAIL_TOP, RAIL_TOP], palette.conductor, WIRE)
            _element(pad, element, x, RAIL_TOP, False, palette)
            wire_from = x + 21
        else:
            _stub(pad, x, RAIL_TOP, MID - 21, palette)
            _element(pad, element, x, MID, True, palette)
            _stub(pad, x, MID + 21, RAIL_BOTTOM, palette)
            for y in (RAIL_TOP, RAIL_BOTTOM):
                pad.circle(x, y, 4, palette.conductor, palette.conductor, 1)
        x += ELEMENT
    pad.line([wire_from, right], [RAIL_TOP, RAIL_TOP], palette.conductor, WIRE)


def _element(pad: Pad, element: Element, x: float, y: float, upright: bool, palette: Palette) -> None:
    """A coil, a capacitor or a resistor 42 px long, along the wire."""

    def put(along: object, across: object) -> None:
        a, b = np.asarray(along, dtype=float), np.asarray(across, dtype=float)
        pad.line(x + b if upright else x + a, y + a if upright else y - b, palette.text, WIRE)

    if element.kind == "inductor":
        u = np.linspace(0, 3 * np.pi, 61)
        put(-21 + 42 * u / (3 * np.pi), 13 * np.abs(np.sin(u)))
    elif element.kind == "capacitor":
        for side in (-1, 1):
            put([side * 21, side * 6], [0, 0])
            put([side * 6, side * 6], [-16, 16])
    else:
        put([-21, -21, 21, 21, -21], [-9, 9, 9, -9, -9])


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
        for slot in track.joints:
            _symbol(pad, slot, palette)
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
    near = ratio(live.swr(name, t))
    if not _lossy(live, name):
        return f"SWR {near}"
    far = ratio(live.swr(name, t, far=True))
    return f"SWR {near} at its start, {far} at its end" if in_full else f"SWR {near} → {far}"


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
                under = width(before + widest, SMALL)
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
