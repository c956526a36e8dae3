"""The plot under the station: largest so far, total, forward and reflected wave, their arrowheads and the wavefront."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.patheffects import withStroke
from matplotlib.ticker import MaxNLocator
from numpy.typing import ArrayLike

from bouncesim.scenario.model import Stub
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.fronts import Fronts
from bouncesim.show.layout import AXIS_LABEL, PLOT_BOTTOM, PLOT_TOP, TICK_LABEL, WAVE, Track
from bouncesim.show.live import Floats, Live
from bouncesim.show.numbers import plain, prefix_for
from bouncesim.show.station import LOSSY_DB
from bouncesim.show.story import Story
from bouncesim.show.text import width
from bouncesim.show.theme import BODY, MARKS, SMALL, Palette

HEADROOM = 1.08
SHORTENED_S = 1e-3  # a key that rises faster is said to be shortened: a real one takes about 5 ms (common practice, no source)
HEAD = 17.0  # px, arrowheads
HEADS_APART = 150.0  # px, least
TICKS_APART = 100.0  # px, least, between two figures of the axis
FRONT_WORDS = PLOT_BOTTOM - 12  # baseline of the words at the wavefront: gaps have their words at the top
PLENTY = 110.0  # px of a wavelength under which lines get thinner


class Waves:
    """The plot's axes and curves."""

    def __init__(self, frame: Frame, track: Track, fronts: Fronts, live: Live, story: Story, palette: Palette) -> None:
        self.track, self.fronts, self.live, self.story, self.palette = track, fronts, live, story, palette
        self.echo = "first echo" if len(track.spans) == 1 else "echo of the antenna"  # joints between lines send echoes home sooner
        self.top = HEADROOM * live.largest_wave()
        self.middle = (PLOT_TOP + PLOT_BOTTOM) / 2
        self.px_per_volt = (PLOT_BOTTOM - PLOT_TOP) / 2 / self.top
        self.heads_apart = [self._spacing(i) for i in range(len(track.spans))]
        self._axes(Pad(frame.axes))
        _legend(Pad(frame.axes), live, palette)
        region = Region((track.x0 - 2, PLOT_TOP - 4, track.x1 - track.x0 + 4, PLOT_BOTTOM - PLOT_TOP + 4), self._key, self._update)
        self._artists(frame.add(region))

    def _artists(self, pad: Pad) -> None:
        palette, mark = self.palette, MARKS
        shortest = min(self._wavelength_px(i) for i in range(len(self.track.spans)))
        thin = min(1.0, max(shortest / PLENTY, 0.35))
        nothing = np.zeros((3, 2))
        self.fill = [pad.polygon(nothing, palette.largest_fill) for _ in self.track.spans]
        upright: list[Any] = [([x, x, np.nan], [PLOT_TOP, PLOT_BOTTOM, np.nan]) for x, _ in self._x_ticks()]
        level = [([span.x0, span.x1, np.nan], [y, y, np.nan]) for y, _ in self._y_ticks() for span in self.track.spans]
        grid_x, grid_y = np.concatenate(upright + level, axis=1)
        pad.line(grid_x, grid_y, palette.grid, 1.5)
        for span in self.track.spans:
            pad.line([span.x0, span.x1], [self.middle, self.middle], palette.axis, 1.5)
        dots = {"linestyle": (0, mark["largest"].dashes)}
        self.edges = [[pad.line([], [], palette.largest_edge, mark["largest"].width, **dots) for _ in (0, 1)] for _ in self.track.spans]
        for x in self._breaks():
            pad.line([x, x], [PLOT_TOP, PLOT_BOTTOM], palette.axis, 2.5)
        butt = {"solid_capstyle": "butt"}
        self.total = pad.line([], [], palette.total, mark["total"].width * thin, **butt)
        casing = (mark["forward"].width + 4) * thin
        self.curves = {}
        for name in ("forward", "reflected"):
            under = [pad.line([], [], palette.panel, casing, **butt) for _ in self.track.spans]
            style = {"linestyle": (0, mark[name].dashes)} if mark[name].dashes else butt
            over = [pad.line([], [], getattr(palette, name), mark[name].width * thin, **style) for _ in self.track.spans]
            self.curves[name] = (under, over)
        self.heads = {
            name: pad.line(
                [],
                [],
                getattr(palette, name),
                0,
                marker=sign,
                markersize=HEAD * max(thin, 0.75),
                markeredgecolor=palette.panel,
                markeredgewidth=2,
            )
            for name, sign in (("forward", ">"), ("reflected", "<"))
        }
        self.front = pad.line([], [], palette.text, 2.5, linestyle=(0, (2, 2)))
        outline = [withStroke(linewidth=5, foreground=palette.panel)]
        self.front_words = pad.text(0, FRONT_WORDS, "", SMALL, palette.text, path_effects=outline)

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
        return k

    def _update(self, k: int) -> None:
        t, wave_t = float(self.story.time_s[k]), float(self.story.wave_time_s[k])
        total_x: list[ArrayLike] = []
        total_y: list[ArrayLike] = []
        heads: dict[str, list[Floats]] = {"forward": [], "reflected": []}
        for i, (span, trace) in enumerate(zip(self.track.spans, self.live.lines, strict=True)):
            x = span.px(trace.x_m)
            waves = dict(zip(("forward", "reflected"), self.live.wave(trace, wave_t), strict=True))
            gap = i > 0 and span.x0 > self.track.spans[i - 1].x1  # over a gap the curve breaks off
            total_x += [[np.nan], x] if gap else [x]
            here = np.minimum(*self.fronts.seen[i]) <= wave_t
            volts = np.where(here, self._y(waves["forward"] + waves["reflected"]), np.nan)
            total_y += [[np.nan], volts] if gap else [volts]
            self._band(i, x, self.live.largest(trace, t))
            for (name, wave), seen in zip(waves.items(), self.fronts.seen[i], strict=True):
                y = np.where(seen <= wave_t, self._y(wave), np.nan)
                for curves in self.curves[name]:
                    curves[i].set_data(x, y)
                heads[name].append(self._riders(i, x, y, float(self.story.phase[k]), 1 if name == "forward" else -1))
        self.total.set_data(np.concatenate(total_x), np.concatenate(total_y))
        for name, points in heads.items():
            self.heads[name].set_data(*np.concatenate(points, axis=1))
        self._show_front(t)

    def _band(self, i: int, x: Floats, largest: Floats) -> None:
        up, down = self._y(largest), self._y(-largest)
        self.fill[i].set_xy(np.concatenate([np.column_stack([x, up]), np.column_stack([x, down])[::-1]]))
        self.edges[i][0].set_data(x, up)
        self.edges[i][1].set_data(x, down)

    def _y(self, volts: Floats) -> Floats:
        return self.middle - self.px_per_volt * volts

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
        x = float(self.track.spans[i].px(metres))
        words = f"◀ {self.echo}" if echo else "wavefront ▶"
        room = width(words, SMALL) + 12
        left = x - room > self.track.x0 if not echo else x + room > self.track.x1
        self.front.set_data([x, x], [PLOT_TOP, PLOT_BOTTOM])
        self.front_words.set_text(words)
        self.front_words.set_position((x - 10 if left else x + 10, FRONT_WORDS))
        self.front_words.set_horizontalalignment("right" if left else "left")

    def _x_ticks(self) -> list[tuple[float, str]]:
        total = self.track.length_m
        most = min(11, max(2, int(total * self.track.scale / TICKS_APART)))
        ticks = [m for m in MaxNLocator(nbins=most, steps=[1, 2, 5, 10]).tick_values(0, total) if 0 <= m <= total * (1 + 1e-9)]
        return [(self.track.place(m), plain(m)) for m in ticks]

    def _y_ticks(self) -> list[tuple[float, str]]:
        factor, _ = prefix_for(self.top)
        ticks = [v for v in MaxNLocator(nbins=7, steps=[1, 2, 5, 10]).tick_values(-self.top, self.top) if abs(v) <= self.top]
        return [(self.middle - v * self.px_per_volt, plain(v / factor)) for v in ticks]

    def _axes(self, pad: Pad) -> None:
        palette, x0, x1 = self.palette, self.track.x0, self.track.x1
        for span in self.track.spans:
            pad.line([span.x0, span.x1], [PLOT_BOTTOM, PLOT_BOTTOM], palette.axis, 2)
        pad.line([x0, x0], [PLOT_TOP, PLOT_BOTTOM], palette.axis, 2)
        for x, words in self._x_ticks():
            pad.line([x, x], [PLOT_BOTTOM, PLOT_BOTTOM + 7], palette.axis, 2)
            pad.text(x, TICK_LABEL, words, SMALL, palette.secondary, ha="center")
        widest = 0.0
        for y, words in self._y_ticks():
            pad.line([x0 - 7, x0], [y, y], palette.axis, 2)
            pad.text(x0 - 13, y + 9, words, SMALL, palette.secondary, ha="right")
            widest = max(widest, width(words, SMALL))
        unit = prefix_for(self.top)[1]
        along = "distance along the line" if len(self.track.spans) == 1 else "distance along the lines"
        along += ", without stubs (m)" if any(isinstance(part, Stub) for part in self.live.run.scenario.path) else " (m)"
        pad.text((x0 + x1) / 2, AXIS_LABEL, along, BODY, palette.secondary, ha="center")
        pad.text(x0 - 34 - widest, self.middle, f"voltage ({unit}V)", BODY, palette.secondary, ha="center", va="center", rotation=90)


def _legend(pad: Pad, live: Live, palette: Palette) -> None:
    """In the column left of the plot: the curves by name, and the notes that the picture needs."""
    x, y = WAVE[0] + 24, 434.0
    for name, words in (("total", "total"), ("forward", "forward"), ("reflected", "reflected"), ("largest", "largest so far")):
        mark = MARKS[name]
        if name == "largest":
            pad.box(x, y - 20, 56, 24, palette.largest_fill)
            for edge in (y - 20, y + 4):
                pad.line([x, x + 56], [edge, edge], palette.largest_edge, mark.width, linestyle=(0, mark.dashes))
        else:
            style = {"linestyle": (0, mark.dashes)} if mark.dashes else {}
            pad.line([x, x + 56], [y - 8, y - 8], getattr(palette, name), mark.width, solid_capstyle="butt", **style)
        if mark.arrow:
            sign = ">" if mark.arrow > 0 else "<"
            pad.line(
                [x + 28], [y - 8], getattr(palette, name), 0, marker=sign, markersize=HEAD, markeredgecolor=palette.panel, markeredgewidth=2
            )
        pad.text(x + 72, y, words, BODY, palette.text)
        y += 40
    for note in notes(live):
        y += 4
        for words in note:
            pad.text(x, y + 2, words, SMALL, palette.secondary)
            y += 30


def notes(live: Live) -> list[list[str]]:
    """Small print of the plot, each note in lines."""
    found = []
    if any(line.matched_loss_db >= LOSSY_DB for line in live.run.readings.lines if line.name in live.line_names):
        found.append(["waves against √(L/C)"])
    if live.run.scenario.keying.rise_s < SHORTENED_S:
        found.append(["key shortened so", "that you can see it"])
    return found
