"""Words over the line sections: name, impedance, loss, and the live SWR."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial

from bouncesim.show.layout import place_labels
from bouncesim.show.live import Live
from bouncesim.show.numbers import plain, ratio
from bouncesim.show.scene import Scene
from bouncesim.show.text import shorten, width
from bouncesim.show.track import Track

LOSSY_DB = 0.05  # matched loss from which a section shows the SWR at both its ends


# how much a label tells, from everything to what there is always room for
TYPED, LONG, BESIDE, UNDER, BARE = range(5)
APART = " · "
SHORT_NAME = 124.0  # px of a name at the smallest type of a wide frame, where there is least room


@dataclass(frozen=True)
class Label:
    """Words over a line section: `name`, and under it `before` and the live SWR; px: its centre, its width, the section's middle."""

    line: str
    name: str
    before: str
    tells: int
    x: float
    w: float
    middle: float


class Sections:
    """Names are background; what stands under each is live."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        track, pad = scene.track, scene.pad()
        for label in section_labels(scene):
            pad.text(label.x, track.name_y, label.name, scene.type.body, scene.palette.text, ha="center")
            if abs(label.x - label.middle) > 20:  # pushed aside: a leader to its section
                edge = min(max(label.middle, label.x - label.w / 2), label.x + label.w / 2)
                pad.line([edge, label.middle], [track.live_y + 9, track.top - 6], scene.palette.secondary, 2)
            if not scene.live.has_carrier:
                pad.text(label.x, track.live_y, label.before.removesuffix(APART), scene.type.small, scene.palette.secondary, ha="center")
                continue
            edge = 4 if label.tells == BARE else 10
            box = (label.x - label.w / 2 - edge, track.live_y, label.w + 2 * edge)
            scene.number(box, partial(self._swr, label), scene.type.small, scene.palette.secondary, ha="center")

    def _swr(self, label: Label, k: int) -> str:
        return label.before + swr_words(self.scene, label.line, self.scene.now(k), label.tells)


def swr_words(scene: Scene, name: str, t: float, tells: int) -> str:
    """ "SWR 7.40", or where loss makes it vary "SWR 2.02 at its start, 3.10 at its end"; in short "SWR 2.02 → 3.10"."""
    live, words = scene.live, scene.words
    near, far = live.swr(name, t), live.swr(name, t, far=True)
    in_full = tells <= BESIDE
    if in_full and math.isnan(near):
        return words(_without_swr(scene, name, t))
    if tells == BARE or not _lossy(live, name):
        return words("swr", swr=ratio(near))
    if in_full and math.isnan(far):
        return words("swr_start", swr=ratio(near))
    return words("swr_start_end" if in_full else "swr_from_to", start=ratio(near), end=ratio(far))


def _without_swr(scene: Scene, name: str, t: float) -> str:
    """What is told of a section while nothing sets out at its start: the key of the words."""
    i = next(i for i, trace in enumerate(scene.live.lines) if trace.name == name)
    if any(there.any() for there in scene.fronts.here(i, t)):
        return "under_way"
    return "no_wave" if t <= min(float(times.min()) for times in scene.fronts.seen[i]) else "no_wave_now"


def _lossy(live: Live, name: str) -> bool:
    return next(line.matched_loss_db for line in live.run.readings.lines if line.name == name) >= LOSSY_DB


def section_labels(scene: Scene) -> list[Label]:
    """Labels of the sections that tell as much as there is room for; if there is none, the shortest sections go without."""
    x, _, w, _ = scene.layout.wave
    x0, x1 = x + (60 if scene.track.folded else 30), x + w - 20
    spans = scene.track.spans
    shown = list(range(len(spans)))
    while shown:
        for tells in (TYPED, LONG, BESIDE, UNDER, BARE):
            labels = [_label(scene, i, tells) for i in shown]
            placed = place_labels([label.x for label in labels], [label.w for label in labels], x0, x1, 14.0 if tells == BARE else 26.0)
            if placed is not None and (tells > BESIDE or all(abs(a - b.x) < b.w / 2 for a, b in zip(placed, labels, strict=True))):
                return [replace(label, x=at) for label, at in zip(labels, placed, strict=True)]
        shown.remove(min(shown, key=lambda i: spans[i].x1 - spans[i].x0))
    return []


def _label(scene: Scene, i: int, tells: int) -> Label:
    track: Track = scene.track
    span, words, small, body = track.spans[i], scene.words, scene.type.small, scene.type.body
    line = next(line for line in scene.live.run.readings.lines if line.name == span.line.name)
    lossy = _lossy(scene.live, line.name)
    ohms = f"{plain(line.reference_ohm, 3)} Ω"
    widest = words("swr", swr="88.8")
    if lossy and tells != BARE:
        widest = words("swr_start_end" if tells <= BESIDE else "swr_from_to", start="88.8", end="88.8")
    before = ohms + APART if tells == UNDER else ""
    others = ("no_wave", "under_way", "no_wave_now") if tells <= BESIDE else ()
    under = max([width(before + widest, small), *(width(words(key), small) for key in others)])
    if tells <= BESIDE:
        figures = [f"{plain(span.line.length_m, 3)} m"] if tells <= LONG else []
        figures += [span.line.type] if tells == TYPED and span.line.type else []
        name = " · ".join([line.name, *figures, ohms, *([f"{plain(line.matched_loss_db, 2)} dB"] if lossy else [])])
    else:
        room = max(under, span.x1 - span.x0) if tells == UNDER else max(under, SHORT_NAME * scene.type.unit)
        name = shorten(line.name, room, body)
    middle = (span.x0 + span.x1) / 2
    return Label(line.name, name, before, tells, middle, max(width(name, body), under), middle)
