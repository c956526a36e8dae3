"""What the curves are, and the small print of the plot, where the picture has room for them."""

from __future__ import annotations

from bouncesim.show.blit import Pad
from bouncesim.show.live import Live
from bouncesim.show.scene import CURVES, Scene
from bouncesim.show.sections import LOSSY_DB
from bouncesim.show.text import shorten, width, wrap
from bouncesim.show.theme import MARKS
from bouncesim.show.track import TURN
from bouncesim.show.words import Words

SAMPLE = 56.0  # px of a piece of curve
BESIDE = 16.0  # px from it to its name
HEAD = 17.0  # px, arrowheads


def notes(live: Live, words: Words) -> list[str]:
    """Small print of the plot."""
    found = []
    if any(line.matched_loss_db >= LOSSY_DB for line in live.run.readings.lines if line.name in live.line_names):
        found.append(words("against"))
    scenario = live.run.scenario
    if scenario.direction == "transmit" and scenario.keying.is_shortened:
        found.append(words("key_shortened"))
    return found


class Legend:
    """In a column left of a wide plot; else beside the row above the lines where there is room, or in rows under the plot."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.curves = [curve for curve in CURVES if scene.look.shows(curve)]
        self.notes = notes(scene.live, scene.words)
        self.beside = self._beside()  # columns beside the row above the lines, 0 if there is no room for one

    def _entry(self, curve: str) -> float:
        return SAMPLE + BESIDE + width(self.scene.words(curve), self.scene.type.body)

    def _grid_width(self) -> float:
        columns = [max(self._entry(curve) for curve in self.curves[i::2]) for i in range(min(2, len(self.curves)))]
        return max([sum(columns) + 36.0, *(width(note, self.scene.type.small) for note in self.notes)])

    def _beside(self) -> int:
        if self.scene.layout.is_wide or not self.scene.track.folded:
            return 0
        x, _, w, _ = self.scene.layout.wave
        room = x + w - 22 - self._left_above()
        return 2 if room >= self._grid_width() else 1 if room >= max(self._entry(curve) for curve in self.curves) else 0

    def _left_above(self) -> float:
        last = self.scene.track.rows[0][-1]
        return last.x + last.w / 2 + TURN + 20

    @property
    def height(self) -> float:
        """px that it takes under the plot's own words."""
        if self.scene.layout.is_wide or self.beside == 2:
            return 0.0
        rows = 0.0 if self.beside else self._rows() * 40.0
        return (rows + len(self._note_lines()) * 30.0) * self.scene.type.unit

    def _rows(self) -> int:
        row = sum(self._entry(curve) for curve in self.curves) + 30.0 * (len(self.curves) - 1)
        return 1 if row <= self.scene.layout.wave[2] - 48 else 2

    def _note_lines(self) -> list[str]:
        room, small = self.scene.layout.wave[2] - 48, self.scene.type.small
        whole = "  ·  ".join(self.notes)
        if not self.notes or width(whole, small) <= room:
            return [whole] if self.notes else []
        return [shorten(note, room, small) for note in self.notes]

    def draw(self, plot_bottom: float) -> None:
        """`plot_bottom` is the baseline of the last words under the plot."""
        scene, unit = self.scene, self.scene.type.unit
        x, _, w, _ = scene.layout.wave
        if scene.layout.is_wide:
            self._column(x + 24, scene.track.plot_top + 70)
            return
        if self.beside:
            self._above(scene.layout.wave[1])
        else:
            plot_bottom = self._under(x + 24, w - 48, plot_bottom)
        if self.beside != 2:
            for i, note in enumerate(self._note_lines(), 1):
                scene.pad().text(x + 24, plot_bottom + 30 * unit * i, note, scene.type.small, scene.palette.secondary)

    def _above(self, top: float) -> None:
        """In a grid with the notes under it, or in a column."""
        scene, unit, left = self.scene, self.scene.type.unit, self._left_above()
        if self.beside == 1:
            for i, curve in enumerate(self.curves):
                self._sample(curve, left, top + (40 + 36 * i) * unit)
            return
        base = top + 48 * unit
        second = left + max(self._entry(curve) for curve in self.curves[::2]) + 36
        for i, curve in enumerate(self.curves):
            self._sample(curve, second if i % 2 else left, base + (i // 2) * 40 * unit)
        base += (len(self.curves) + 1) // 2 * 40 * unit
        for i, note in enumerate(self.notes):
            scene.pad().text(left, base + i * 30 * unit, note, scene.type.small, scene.palette.secondary)

    def _column(self, x: float, y: float) -> None:
        for curve in self.curves:
            self._sample(curve, x, y)
            y += 40
        for note in self.notes:
            y += 10
            for words in wrap(note, 270, self.scene.type.small):
                self.scene.pad().text(x, y + 2, words, self.scene.type.small, self.scene.palette.secondary)
                y += 30

    def strip(self, x: float, y: float, w: float, notes: list[str], below: bool) -> None:
        """The curves in one row from (x, y) on, w px wide, the notes behind them or below: the first, and as many more as have room."""
        unit, small, palette = self.scene.type.unit, self.scene.type.small, self.scene.palette
        left = x
        gap = min((w - sum(map(self._entry, self.curves))) / max(len(self.curves) - 1, 1), 34.0 * unit)
        for curve in self.curves:
            self._sample(curve, left, y)
            left += self._entry(curve) + gap
        room = w if below else x + w - left
        while len(notes) > 1 and width("  ·  ".join(notes), small) > room:
            notes = notes[:-1]
        told = shorten("  ·  ".join(notes), room, small)
        place, ha = ((x, y + 34 * unit), "left") if below else ((x + w, y), "right")
        self.scene.pad().text(*place, told, small, palette.secondary, ha=ha)

    def _under(self, x: float, w: float, base: float) -> float:
        """In rows; returns the baseline of the last."""
        unit, rows = self.scene.type.unit, self._rows()
        each = (len(self.curves) + rows - 1) // rows
        for i in range(rows):
            chosen = self.curves[i * each : (i + 1) * each]
            gap = (w - sum(self._entry(curve) for curve in chosen)) / max(len(chosen) - 1, 1)
            left = x
            base += 40 * unit
            for curve in chosen:
                self._sample(curve, left, base)
                left += self._entry(curve) + min(gap, 80.0)
        return base

    def _sample(self, curve: str, x: float, y: float) -> None:
        """A piece of the curve, and its name with its baseline at y."""
        pad, palette, mark = self.scene.pad(), self.scene.palette, MARKS[curve]
        if curve == "largest":
            pad.box(x, y - 20, SAMPLE, 24, palette.largest_fill)
            for edge in (y - 20, y + 4):
                pad.line([x, x + SAMPLE], [edge, edge], palette.largest_edge, mark.width, linestyle=(0, mark.dashes))
        else:
            style = {"linestyle": (0, mark.dashes)} if mark.dashes else {}
            pad.line([x, x + SAMPLE], [y - 8, y - 8], getattr(palette, curve), mark.width, solid_capstyle="butt", **style)
        if mark.arrow:
            head(pad, x + SAMPLE / 2, y - 8, mark.arrow, getattr(palette, curve), palette.panel)
        pad.text(x + SAMPLE + BESIDE, y, self.scene.words(curve), self.scene.type.body, palette.text)


def head(pad: Pad, x: float, y: float, way: int, color: str, edge: str) -> None:
    """An arrowhead, as those that ride the waves."""
    sign = ">" if way > 0 else "<"
    pad.line([x], [y], color, 0, marker=sign, markersize=HEAD, markeredgecolor=edge, markeredgewidth=2)
