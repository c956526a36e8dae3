"""The plot under the station: largest so far, total, forward and reflected wave, their arrowheads and the wavefront."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.ticker import MaxNLocator
from numpy.typing import ArrayLike

from bouncesim.scenario.model import Stub
from bouncesim.show.blit import Pad
from bouncesim.show.legend import HEAD
from bouncesim.show.live import Floats
from bouncesim.show.numbers import plain, prefix_for
from bouncesim.show.scene import Scene
from bouncesim.show.text import width
from bouncesim.show.theme import MARKS

HEADROOM = 1.08
HEADS_APART = 150.0  # px, least, between two arrowheads on a curve
TICKS_APART = 100.0  # px, about, between two figures of the axis
LEAST_APART = 50.0  # px at the smallest type of a wide frame
PLENTY = 110.0  # px of a wavelength under which lines get thinner
WAVES = ("forward", "reflected")


class Waves:
    """One plot from `top` to `bottom` (px): its axes and curves, of the voltage or the current along the lines."""

    def __init__(self, scene: Scene, quantity: str, top: float, bottom: float) -> None:
        self.scene, self.track, self.fronts, self.live, self.story = scene, scene.track, scene.fronts, scene.live, scene.story
        self.quantity, self.top, self.bottom = quantity, top, bottom
        self.full = HEADROOM * scene.full.get(quantity, self.live.largest_wave(quantity))
        self.middle = (top + bottom) / 2
        self.px_per_unit = (bottom - top) / 2 / self.full
        self.heads_apart = [self._spacing(i) for i in range(len(self.track.spans))]
        self._axes(scene.pad())
        rect = (self.track.x0 - 2, top - 4, self.track.x1 - self.track.x0 + 4, bottom - top + 4)
        self._artists(scene.region(rect, self._key, self._update))

    def _artists(self, pad: Pad) -> None:
        palette, mark, look = self.scene.palette, MARKS, self.scene.look
        shortest = min(self._wavelength_px(i) for i in range(len(self.track.spans)))
        thin = min(1.0, max(shortest / PLENTY, 0.35))
        nothing = np.zeros((3, 2))
        self.fill = [pad.polygon(nothing, palette.largest_fill) for _ in self.track.spans] if look.shows("largest") else []
        zero = [([span.x0, span.x1, np.nan], [self.middle, self.middle, np.nan]) for span in self.track.spans]
        zero_x, zero_y = np.concatenate(zero, axis=1)
        pad.line(zero_x, zero_y, palette.axis, 1.5)
        dots = {"linestyle": (0, mark["largest"].dashes)}
        self.edge = pad.line([], [], palette.largest_edge, mark["largest"].width, **dots) if self.fill else None
        for x in self._breaks():
            pad.line([x, x], [self.top, self.bottom], palette.axis, 2.5)
        butt = {"solid_capstyle": "butt"}
        self.total = pad.line([], [], palette.total, mark["total"].width * thin, **butt) if look.shows("total") else None
        self.curves = {}
        for name in (name for name in WAVES if look.shows(name)):
            under = pad.line([], [], palette.panel, (mark[name].width + 4) * thin, **butt)
            style: dict[str, Any] = {"linestyle": (0, mark[name].dashes)} if mark[name].dashes else dict(butt)
            self.curves[name] = (under, pad.line([], [], getattr(palette, name), mark[name].width * thin, **style))
        size = HEAD * max(thin, 0.75)
        edge = {"markeredgecolor": palette.panel, "markeredgewidth": 2, "markersize": size}
        self.heads = {name: pad.line([], [], getattr(palette, name), 0, marker="><"[name != "forward"], **edge) for name in self.curves}
        self.front = pad.line([], [], palette.text, 2.5, linestyle=(0, (2, 2)))
        # at the bottom: gaps have their words at the top
        self.front_words = pad.live(0, self.bottom - 12, self.scene.type.small, palette.text)
        self.front_words.halo(palette.panel, 2.5)

    def _breaks(self) -> set[float]:
        """px where one line ends and the next begins."""
        return {x for before, after in pairwise(self.track.spans) for x in (before.x1, after.x0)}

    def _wavelength_px(self, i: int) -> float:
        span = self.track.spans[i]
        return float(self.fronts.velocities[i] * self.live.period * (span.x1 - span.x0) / span.line.length_m)

    def _spacing(self, i: int) -> float:
        """Wavelengths between arrowheads: half a wavelength, or as many halves as keep them apart."""
        return float(0.5 * max(1.0, np.ceil(HEADS_APART / (0.5 * self._wavelength_px(i)))))

    def _key(self, k: int) -> Hashable:
        story = self.story
        return float(story.time_s[k]), float(story.wave_time_s[k]), float(story.phase[k])

    def _update(self, k: int) -> None:
        t, wave_t = float(self.story.time_s[k]), float(self.story.wave_time_s[k])
        points: dict[str, list[Any]] = {"total": [], "edge": [], **{name: [] for name in WAVES}}
        heads: dict[str, list[Floats]] = {name: [] for name in WAVES}
        for i, (span, trace) in enumerate(zip(self.track.spans, self.live.lines, strict=True)):
            x = span.px(trace.x_m)
            waves = dict(zip(WAVES, self.live.wave(trace, wave_t, self.quantity), strict=True))
            apart = i > 0 and span.x0 > self.track.spans[i - 1].x1  # over a gap the curve breaks off
            here = self.fronts.here(i, wave_t)
            _join(points["total"], x, np.where(here[0] | here[1], self._y(waves["forward"] + waves["reflected"]), np.nan), apart)
            if self.fill:
                self._band(i, x, self.live.largest(trace, t, self.quantity), points["edge"])
            for (name, wave), there in zip(waves.items(), here, strict=True):
                y = np.where(there, self._y(wave), np.nan)
                _join(points[name], x, y, apart=True)
                if name in self.curves:
                    heads[name].append(self._riders(i, x, y, float(self.story.phase[k]), 1 if name == "forward" else -1))
        for line, name in ((self.total, "total"), (self.edge, "edge"), *((line, n) for n, pair in self.curves.items() for line in pair)):
            if line is not None:
                line.set_data(*np.concatenate(points[name], axis=1))
        for name, line in self.heads.items():
            line.set_data(*np.concatenate(heads[name], axis=1))
        self._show_front(t)

    def _band(self, i: int, x: Floats, largest: Floats, edges: list[Any]) -> None:
        up, down = self._y(largest), self._y(-largest)
        self.fill[i].set_xy(np.concatenate([np.column_stack([x, up]), np.column_stack([x, down])[::-1]]))
        _join(edges, x, up, apart=True)
        _join(edges, x, down, apart=True)

    def _y(self, sizes: Floats) -> Floats:
        return self.middle - self.px_per_unit * sizes

    def _riders(self, i: int, x: Floats, y: Floats, phase: float, way: int) -> Floats:
        """Where arrowheads ride a wave: at points of one phase, which move with it. Shape (2, n)."""
        length = self._wavelength_px(i)
        step = self.heads_apart[i]
        span = self.track.spans[i]
        reach = (span.x1 - span.x0) / length
        if reach < step:  # shorter than the distance between two: one that stays
            at = np.array([span.x0 + (span.x1 - span.x0) * (0.5 - way / 6)])
        else:
            at = span.x0 + length * np.arange((way * phase + 0.125) % step, reach, step)
        at = at[(at > span.x0 + HEAD / 2) & (at < span.x1 - HEAD / 2)]
        there = np.interp(at, x, y) if len(at) else np.zeros(0)
        good = np.isfinite(there)
        return np.array([at[good], there[good]])

    def _show_front(self, t: float) -> None:
        """The dashed mark of the first wave on its way out, then of the first echo on its way back."""
        place = self.fronts.first(t)
        if place is None:
            self.front.set_data([], [])
            self.front_words.set_text("")
            return
        i, metres, echo = place
        scene = self.scene
        x = float(self.track.spans[i].px(metres))
        alone = len(self.track.spans) == 1  # joints between lines send echoes home sooner
        name = scene.words("first_echo") if alone else scene.words("antenna_echo", name=scene.words(self.live.run.scenario.load_name))
        words = f"◀ {name}" if echo else f"{scene.words('wavefront')} ▶"
        room = width(words, scene.type.small) + 12
        if room > self.track.x1 - self.track.x0:
            words = ""
        left = x - room > self.track.x0 if not echo else x + room > self.track.x1
        self.front.set_data([x, x], [self.top, self.bottom])
        self.front_words.set_text(words)
        self.front_words.set_x(x - 10 if left else x + 10)
        self.front_words.align("right" if left else "left")

    def _x_ticks(self) -> list[tuple[float, str]]:
        total = self.track.length_m
        if total * self.track.scale < TICKS_APART:
            return [(self.track.x0, "0")]
        most = min(11, max(2, int(total * self.track.scale / TICKS_APART)))
        ticks = [m for m in MaxNLocator(nbins=most, steps=[1, 2, 5, 10]).tick_values(0, total) if 0 <= m <= total * (1 + 1e-9)]
        found: list[tuple[float, str]] = []
        for m in ticks:
            x = self.track.place(m)
            if not found or x - found[-1][0] >= LEAST_APART * self.scene.type.unit:
                found.append((x, plain(m)))
        return found

    def _y_ticks(self) -> list[tuple[float, str]]:
        factor, _ = prefix_for(self.full)
        most = max(2, min(7, int((self.bottom - self.top) / (38 * self.scene.type.unit))))
        ticks = [v for v in MaxNLocator(nbins=most, steps=[1, 2, 5, 10]).tick_values(-self.full, self.full) if abs(v) <= self.full]
        return [(self.middle - v * self.px_per_unit, plain(v / factor)) for v in ticks]

    def _axes(self, pad: Pad) -> None:
        """What never changes; the grid goes under the band of the largest so far, whose colour it nearly has."""
        palette, x0, small = self.scene.palette, self.track.x0, self.scene.type.small
        upright: list[Any] = [([x, x, np.nan], [self.top, self.bottom, np.nan]) for x, _ in self._x_ticks()]
        level = [([span.x0, span.x1, np.nan], [y, y, np.nan]) for y, _ in self._y_ticks() for span in self.track.spans]
        grid_x, grid_y = np.concatenate(upright + level, axis=1)
        pad.line(grid_x, grid_y, self.scene.palette.grid, 1.5)
        for span in self.track.spans:
            pad.line([span.x0, span.x1], [self.bottom, self.bottom], palette.axis, 2)
        pad.line([x0, x0], [self.top, self.bottom], palette.axis, 2)
        widest = 0.0
        for y, words in self._y_ticks():
            pad.line([x0 - 7, x0], [y, y], palette.axis, 2)
            pad.text(x0 - 13, y + 0.37 * small, words, small, palette.secondary, ha="right")
            widest = max(widest, width(words, small))
        unit = prefix_for(self.full)[1] + {"voltage": "V", "current": "A"}[self.quantity]
        along = self.scene.words(self.quantity, unit=unit)
        size = self.scene.type.body if self.bottom - self.top > 7 * self.scene.type.body else small
        x = min(x0 - 34 - widest, x0 - 100) if self.scene.layout.is_wide else x0 - 13 - widest - 0.8 * size
        pad.text(
            x,
            self.middle,
            along if width(along, size) <= self.bottom - self.top else unit,
            size,
            palette.secondary,
            ha="center",
            va="center",
            rotation=90,
        )

    def distances(self, pad: Pad) -> None:
        """The figures under the plot and what they are."""
        palette, size, unit = self.scene.palette, self.scene.type, self.scene.type.unit
        ticks, brief = self._x_ticks(), _brief(self.scene)
        for x, words in ticks:
            pad.line([x, x], [self.bottom, self.bottom + 7], palette.axis, 2)
            words = f"{words} m" if brief and x == ticks[-1][0] else words
            middle = min(x, self.track.x1 + 4 - width(words, size.small) / 2) if brief else x
            base = self.bottom + (30 if self.scene.layout.is_wide else 27) * unit
            pad.text(middle, base, words, size.small, palette.secondary, ha="center")
        if brief:
            return
        along = "distance_line" if len(self.track.spans) == 1 else "distance_lines"
        along = "distance_stubs" if any(isinstance(part, Stub) for part in self.live.run.scenario.path) else along
        told = width(self.scene.words(along), size.body)
        middle = min((self.track.x0 + self.track.x1) / 2, self.track.x1 + 60 - told / 2)  # of a very short line, clear of what is behind it
        middle = max(middle, self.scene.layout.wave[0] + 16 + told / 2)
        pad.text(middle, self.bottom + below(self.scene), self.scene.words(along), size.body, palette.secondary, ha="center")


def below(scene: Scene) -> float:
    """px from the bottom of the plot to the baseline of the words under it."""
    if _brief(scene):
        return 27.0 * scene.type.unit
    return 66.0 if scene.layout.is_wide else 58.0 * scene.type.unit


def _brief(scene: Scene) -> bool:
    """Whether the last figure has the unit, and no words stand under the figures: in a square frame waves need the room more."""
    return scene.layout.shape == "square"


def _join(points: list[Any], x: ArrayLike, y: ArrayLike, apart: bool) -> None:
    """Add a stretch to a curve, after a gap if `apart`."""
    if apart:
        points.append([[np.nan], [np.nan]])
    points.append([x, y])
