"""The station over the plot: symbols, wires, line sections true to scale, and arrows of forward and reflected power."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import pairwise

import numpy as np
from matplotlib.path import Path

from bouncesim.show.blit import Pad
from bouncesim.show.joints import Joints
from bouncesim.show.live import Floats
from bouncesim.show.numbers import ratio
from bouncesim.show.scene import Scene
from bouncesim.show.sections import Sections
from bouncesim.show.signs import GAUGE
from bouncesim.show.symbols import WIRE, draw_symbol
from bouncesim.show.theme import Palette
from bouncesim.show.track import TURN, WIRES_APART, Track

RAIL = 7.0  # px, a line's conductor
THICKEST = 25.0  # px of the largest power arrow between the rails
THINNEST = 3.0
LEAST = 2e-3  # share of the largest power under which no arrow is drawn
OFF_MIDDLE = 15.5  # px from the middle of the line to the middle of each arrow
SAMPLE = 3.0  # px between two places at which it is looked whether there is a wave
Stretch = tuple[float, float, float]


def draw_station(scene: Scene) -> None:
    """What never changes: symbols, wires, rails, names."""
    track, palette, pad = scene.track, scene.palette, scene.pad()
    for y in (track.top, track.bottom):
        for before, after in zip(track.spans[:-1], track.spans[1:], strict=True):
            pad.line([before.x1, after.x0], [y, y], palette.conductor, WIRE)
        pad.line([track.x1, track.slots[-1].x], [y, y], palette.conductor, WIRE)
        for span in track.spans:
            pad.line([span.x0, span.x1], [y, y], palette.conductor, RAIL, solid_capstyle="butt")
        for before, after in pairwise(track.spans):
            for x in {before.x1, after.x0}:
                pad.line([x, x], [y - 9, y + 9], palette.conductor, 3)
    _lead_in(track, pad, palette, scene.layout.wave[0])
    for slot in track.slots:
        x, ha = slot.label_at
        ends = slot.what == "load"  # its symbol and its figure may change
        if not ends:
            draw_symbol(pad, slot, palette, scene.type.small)
        for i, words in enumerate(slot.label[:-1] if ends else slot.label):
            pad.text(x, slot.label_y + i * 28 * scene.type.unit, words, scene.type.small, palette.secondary, ha=ha)


def _lead_in(track: Track, pad: Pad, palette: Palette, left: float) -> None:
    """The wires of what comes before the first line; from a row above they lead back to it without crossing."""
    first, last = track.rows[0][0], track.rows[0][-1]
    if not track.folded:
        for y in (track.top, track.bottom):
            pad.line([first.x, track.x0], [y, y], palette.conductor, WIRE)
        return
    end = last.x + last.w / 2 + TURN / 2
    for y, x_turn, y_back, x_back, y_line in (
        (first.top, end + WIRES_APART, track.return_y + WIRES_APART, left + 22 + WIRES_APART, track.top),
        (first.top + GAUGE, end, track.return_y, left + 22, track.bottom),
    ):
        x = [first.x, x_turn, x_turn, x_back, x_back, track.x0]
        pad.line(x, [y, y, y_back, y_back, y_line, y_line], palette.conductor, WIRE)


class Arrows:
    """Power arrows between the rails of every section, as thick as the power is large: from its start to where the wave has come, or,
    where the carrier goes off, one for each stretch that is on its way."""

    def __init__(self, scene: Scene) -> None:
        self.scene, self.track, self.live, self.fronts = scene, scene.track, scene.live, scene.fronts
        track = self.track
        self.middle = (track.top + track.bottom) / 2
        self.full = scene.full.get("power", self.live.largest_forward())
        self.seen = scene.fronts.seen
        times = np.concatenate([times for pair in self.seen for times in pair])
        self.still = float(np.max(times[np.isfinite(times)], initial=0.0))  # from here on every wave has set in everywhere
        edge = RAIL / 2 * scene.layout.stroke + 2
        pad = scene.region((track.x0, track.top + edge, track.x1 - track.x0, GAUGE - 2 * edge), self._key, self._update)
        self.forward = [pad.arrows(scene.palette.forward) for _ in track.spans]
        self.reflected = [pad.arrows(scene.palette.panel, scene.palette.reflected, 2.5) for _ in track.spans]
        Sections(scene)
        Joints(scene)

    def _moves(self, k: int) -> bool:
        return self.live.pauses or bool(self.scene.story.time_s[k] <= self.still)

    def _key(self, k: int) -> Hashable:
        if self._moves(k):
            return True, float(self.scene.story.time_s[k])
        return (False, *(round(2 * thick) for thick in self._powers(self.scene.now(k))))

    def _powers(self, t: float) -> list[float]:
        """Thickness of every arrow: for each section forward and reflected at its near end, then at its far end."""
        ends = [self.live.powers(span.line.name, t, far) for span in self.track.spans for far in (False, True)]
        return [self._thick(power) for pair in ends for power in pair]

    def _update(self, k: int) -> None:
        moving = self._moves(k)
        t = float(self.scene.story.time_s[k]) if moving else self.scene.now(k)
        thick = self._powers(t)
        if not moving:  # as finely as the key tells them apart
            thick = [round(2 * px) / 2 for px in thick]
        ahead, home = self.middle - OFF_MIDDLE, self.middle + OFF_MIDDLE
        for i, span in enumerate(self.track.spans):
            if self.live.pauses:
                there, back = self._stretches(i, t)
                self.forward[i].set_path(_shape([_arrow(a, b, ahead, px, px) for a, b, px in there], (span.x0, ahead)))
                self.reflected[i].set_path(_shape([_arrow(b, a, home, px, px) for a, b, px in back], (span.x1, home)))
                continue
            near, far = thick[4 * i : 4 * i + 2], thick[4 * i + 2 : 4 * i + 4]
            if moving:  # one thickness until the waves have passed everywhere, then thinner where the line has taken its part
                near = far = [max(near[0], far[0]), max(near[1], far[1])]
            to, back_to = self._reached(i, t)
            self.forward[i].set_path(_shape([_arrow(span.x0, to, ahead, near[0], far[0])], (span.x0, ahead)))
            self.reflected[i].set_path(_shape([_arrow(span.x1, back_to, home, far[1], near[1])], (span.x1, home)))

    def _reached(self, i: int, t: float) -> tuple[float, float]:
        """How far the first forward and the first reflected wave have come, px."""
        span = self.track.spans[i]
        px = span.px(self.live.lines[i].x_m)
        there, back = (px[times <= t] for times in self.seen[i])
        return float(there.max()) if len(there) else span.x0, float(back.min()) if len(back) else span.x1

    def _stretches(self, i: int, t: float) -> tuple[list[Stretch], list[Stretch]]:
        """Where forward and reflected waves are on their way along section i: from, to (px), and the thickness of the arrow."""
        span = self.track.spans[i]
        x = np.linspace(span.x0, span.x1, max(int((span.x1 - span.x0) / SAMPLE), 2))
        metres = (x - span.x0) / (span.x1 - span.x0) * span.line.length_m
        found = []
        for power in self.fronts.passing(i, metres, t):
            marks = np.flatnonzero(np.diff(np.concatenate([[False], power > LEAST * self.full, [False]]).astype(np.int8)))
            runs = zip(marks[::2], marks[1::2], strict=True)
            found.append([(float(x[a]), float(x[b - 1]), self._thick(float(power[a:b].max()))) for a, b in runs])
        return found[0], found[1]

    def _thick(self, power: float) -> float:
        share = power / self.full if self.full > 0 else 0.0
        return max(THICKEST * min(share, 1.0), THINNEST) if share > LEAST else 0.0


class AtSource:
    """Live SWR at the transmitter, under its name."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        if scene.live.run.scenario.direction == "transmit" and scene.live.has_carrier:
            slot, small = scene.track.slots[0], scene.type.small
            box = (slot.x - slot.w / 2, slot.label_y + len(slot.label) * 28 * scene.type.unit, slot.w)
            scene.number(box, self.swr, small, scene.palette.secondary, ha="center")

    def swr(self, k: int) -> str:
        return self.scene.words("swr", swr=ratio(self.scene.live.swr("transmitter", self.scene.now(k))))


def _arrow(x0: float, x1: float, y: float, thick0: float, thick1: float) -> Floats:
    """Corners of an arrow from x0 to x1, as thick at its two ends as told, shape (7, 2)."""
    way = 1 if x1 >= x0 else -1
    length = abs(x1 - x0)
    if max(thick0, thick1) <= 0 or length < 2:
        return np.full((7, 2), [x0, y])
    neck = x1 - way * min(thick1 / 2 + 12, length)
    tail, half, wing = thick0 / 2, thick1 / 2, min(thick1 / 2 + 5, 15.0)
    return np.array([[x0, y - tail], [neck, y - half], [neck, y - wing], [x1, y], [neck, y + wing], [neck, y + half], [x0, y + tail]])


def _shape(arrows: list[Floats], nowhere: tuple[float, float]) -> Path:
    """Arrows as one path; without any, a point `nowhere`, where nothing is seen."""
    corners = [np.concatenate([arrow, arrow[:1]]) for arrow in arrows] or [np.full((8, 2), nowhere)]
    codes = [Path.MOVETO, *[Path.LINETO] * 6, Path.CLOSEPOLY]
    return Path(np.concatenate(corners), codes * len(corners))
