"""The meters panel: one meter as bars and large figures, the others in a line below."""

from __future__ import annotations

from functools import partial

import numpy as np

from bouncesim.account.run import Run
from bouncesim.scenario.model import Line, Meter, Part
from bouncesim.show.bars import Bar
from bouncesim.show.blit import Pad
from bouncesim.show.numbers import figures, plain, prefix_for, ratio
from bouncesim.show.scene import Scene
from bouncesim.show.text import shorten, width
from bouncesim.show.theme import INSET, MARKS
from bouncesim.show.words import Words

SOURCE = "transmitter"  # the key of the source's terminals in the traces
MINUS = "−"
SPARE = 30.0  # px by which a meter's figures may grow beyond those at the end
WIDEST = "888.8 mW"
SIGNS = {"forward": "▶", "reflected": "◀"}


def meter_choice(run: Run) -> tuple[str, str]:
    """What the meters panel reads, and the key of its heading: of the meters on a line that with the most reflected power, else the
    first line."""
    path = run.scenario.path
    reflected = {meter.name: meter.reflected_w for meter in run.readings.meters}
    on_line = [part.name for i, part in enumerate(path) if isinstance(part, Meter) and _beside_line(path, i)]
    if on_line:
        return max(on_line, key=lambda name: reflected[name]), "power_at"
    return run.scenario.lines[0].name, "power_at_start"


def _beside_line(path: tuple[Part, ...], i: int) -> bool:
    """Whether the next thing on either side of a meter, other meters apart, is a line."""
    before = next((part for part in reversed(path[:i]) if not isinstance(part, Meter)), None)
    after = next((part for part in path[i + 1 :] if not isinstance(part, Meter)), None)
    return isinstance(before, Line) or isinstance(after, Line)


def at_transmitter(run: Run) -> set[str]:
    """The meters that read what the source's terminals read."""
    found = set()
    for part in run.scenario.path:
        if not isinstance(part, Meter):
            break
        if part.reference_ohm == run.scenario.source_reference_ohm:
            found.add(part.name)
    return found


class Meters:
    """Forward and reflected power as bars and numbers; the source's terminals and the other meters in a line below where there is room."""

    def __init__(self, scene: Scene) -> None:
        self.scene, self.live = scene, scene.live
        self.name, self.heading = meter_choice(self.live.run)
        largest = max(float(np.max(self.live.traces.forward_w[self.name])), 1e-15)
        self.full = _round_up(1.05 * largest)
        self.factor, letter = prefix_for(self.full)
        self.unit = f"{letter}W"
        self.decimals = 2 if self.full / self.factor < 10 else 1
        self._title()
        x, y, w, _ = scene.layout.meters
        unit, narrow = scene.type.unit, scene.layout.shape == "square"
        if narrow:
            self.bar_x, self.bar_w, tops, self.bar_h = x + INSET, w - 2 * INSET, (y + 78, y + 136), 18.0
        else:
            names = max(width(f"{sign} {scene.words(name)}", scene.type.body) for name, sign in SIGNS.items())
            value = width(WIDEST, scene.type.number, True) + 8
            self.bar_x, tops, self.bar_h = x + INSET + names + 18, (y + 56 * unit, y + 102 * unit), 34.0 * unit
            self.bar_w = x + w - INSET - value - 10 - self.bar_x
        self._bars(tops, narrow)
        if scene.layout.is_wide:
            self._scale(scene.pad(), tops[1] + self.bar_h)
        self.others = self._others(w - 2 * INSET - 8)
        if scene.layout.shape != "tall":
            box = (x + INSET - 2, y + scene.layout.meters[3] - (10 if narrow else 15), w - 2 * INSET)
            scene.number(box, self._elsewhere, scene.type.small, scene.palette.secondary)

    def _title(self) -> None:
        """What is read, and its SWR; in short where there is little room."""
        x, y, w, _ = self.scene.layout.meters
        words, unit = self.scene.words, self.scene.type.unit
        size = self.scene.type.header if self.scene.layout.shape != "square" else self.scene.type.small
        swr = width(words("swr", swr="88.8"), size) + 12
        room = w - 2 * INSET - swr
        forms = [words(self.heading, name=self.name), words("at_short", name=self.name), self.name]
        heading = next((form for form in forms if width(form, size, True) <= room), shorten(forms[-1], room, size, True))
        palette, base = self.scene.palette, y + (34 if self.scene.layout.shape == "square" else 40) * unit
        self.scene.pad().text(x + INSET, base, heading, size, palette.text, bold=True)
        if self.live.has_carrier:
            self.scene.number((x + w - INSET - swr, base, swr + 2), self._swr, size, palette.secondary, ha="right")

    def _bars(self, tops: tuple[float, float], narrow: bool) -> None:
        scene, palette, pad, unit = self.scene, self.scene.palette, self.scene.pad(), self.scene.type.unit
        x, _, w, _ = scene.layout.meters
        between = list(zip(SIGNS, tops, strict=True))
        pads = []
        for i, (_, top) in enumerate(between):  # regions of their own, for words may stand between them
            pads.append(
                scene.region(
                    (self.bar_x, top - 1, self.bar_w, self.bar_h + 2), scene.ticking(partial(self._end, i)), partial(self._update, i)
                )
            )
        self.bars = []
        for bar_pad, (name, top) in zip(pads, between, strict=True):
            base = top - 8 if narrow else top + 0.5 * self.bar_h + 0.36 * scene.type.body
            pad.text(x + INSET, base, f"{SIGNS[name]} {scene.words(name)}", scene.type.body, getattr(palette, name))
            pad.box(self.bar_x, top, self.bar_w, self.bar_h, palette.background, palette.axis, 1.5)
            color, hatch = getattr(palette, name), MARKS[name].hatch
            self.bars.append(Bar(bar_pad, self.bar_x + 2, top + 3, self.bar_h - 6, color, palette.background, hatch))
            size = scene.type.number if not narrow else 28
            value = width(WIDEST, size, True) + 8
            box = (x + w - INSET - value, base if narrow else top + 30 * unit, value + 2)
            scene.number(box, partial(self._power, name), size, palette.text, bold=True, ha="right")

    def _end(self, i: int, k: int) -> int:
        """Length of a bar, px."""
        power = self.live.powers(self.name, self.scene.now(k))[i]
        return round(min(power / self.full, 1.0) * (self.bar_w - 4))

    def _update(self, i: int, k: int) -> None:
        self.bars[i].show(0.0, self._end(i, k))

    def _power(self, name: str, k: int) -> str:
        forward, reflected = self.live.powers(self.name, self.scene.now(k))
        return f"{(forward if name == 'forward' else reflected) / self.factor:.{self.decimals}f} {self.unit}"

    def _swr(self, k: int) -> str:
        return self.scene.words("swr", swr=ratio(self.live.swr(self.name, self.scene.now(k))))

    def _others(self, room: float) -> list[str]:
        """What the line below reads: the source's terminals, then as many of the other meters as fit in px; no reading twice."""
        same = at_transmitter(self.live.run) | {SOURCE}
        names = [] if self.name in same else [SOURCE]
        names += [name for name in self.live.meters if name != self.name and name not in same]
        self.room = room
        while len(names) > 1 and width(self._row(names, self.live.end), self.scene.type.small) + len(names) * SPARE > room:
            names.pop()
        return names

    def _elsewhere(self, k: int) -> str:
        t, words, small = self.scene.now(k), self.scene.words, self.scene.type.small
        if len(self.others) == 1:
            (ahead, back, net), unit = self._figures(self.others[0], t)
            name = _called(self.others[0], self.live.run, words)
            row = words("elsewhere", name=name, forward=f"{ahead} {unit}", reflected=f"{back} {unit}", net=f"{net} {unit}")
            return row if width(row, small) <= self.room else self._row(self.others, t)
        if self.others:
            return self._row(self.others, t)
        (_, _, net), unit = self._figures(self.name, t)
        key, size = ("returns", net.removeprefix(MINUS)) if net.startswith(MINUS) else ("leaves", net)
        row = words(key, net=f"{size} {unit}", name=_called(SOURCE, self.live.run, words))
        return row if width(row, small) <= self.room else shorten(words("net", power=f"{net} {unit}"), self.room, small)

    def _row(self, names: list[str], t: float) -> str:
        """Several meters, each in short: "transmitter ▶ 45.0 ◀ 0.2 W"."""
        rows = []
        for name in names:
            (ahead, back, _), unit = self._figures(name, t)
            called = shorten(_called(name, self.live.run, self.scene.words), min(260, 0.42 * self.room), self.scene.type.small)
            rows.append(self.scene.words("elsewhere_short", name=called, forward=ahead, reflected=f"{back} {unit}"))
        return "  ·  ".join(rows)

    def _figures(self, name: str, t: float) -> tuple[tuple[str, str, str], str]:
        """Forward, reflected and net power, as finely as the largest forward power asks, and their unit."""
        forward, reflected = self.live.powers(name, t)
        scale = float(np.max(self.live.traces.forward_w[name]))
        factor, letter = prefix_for(scale)
        ahead, back, net = (figures(power / factor, scale / factor) for power in (forward, reflected, forward - reflected))
        return (ahead, back, net), f"{letter}W"

    def _scale(self, pad: Pad, y: float) -> None:
        for share in (0, 0.25, 0.5, 0.75, 1):
            x = self.bar_x + share * self.bar_w
            pad.line([x, x], [y, y + (8 if share in (0, 0.5, 1) else 5)], self.scene.palette.axis, 1.5)
            if share in (0, 0.5, 1):
                words = plain(share * self.full / self.factor) + (f" {self.unit}" if share == 1 else "")
                pad.text(x, y + 32, words, self.scene.type.small, self.scene.palette.secondary, ha="center")


def _called(name: str, run: Run, words: Words) -> str:
    """A meter's name; the source's terminals are called after the source."""
    return words(run.scenario.source_name) if name == SOURCE else name


def _round_up(value: float) -> float:
    """The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten."""
    decade = 10.0 ** np.floor(np.log10(value))
    return float(next(step * decade for step in (1, 1.5, 2, 3, 4, 5, 6, 8, 10) if step * decade >= value * (1 - 1e-12)))
