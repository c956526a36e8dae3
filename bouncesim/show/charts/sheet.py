"""The sheet that a chart is drawn on: any size, one heading, one sentence that says what is to be seen, one note.

Coordinates are px of a sheet whose shorter side is 1080, from the top left corner, y down; dpi takes them to the size that is wanted.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import Any, BinaryIO

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from bouncesim.errors import OptionError
from bouncesim.show.blit import Pad
from bouncesim.show.letters import settable
from bouncesim.show.report.visible import one_line
from bouncesim.show.stamped import png
from bouncesim.show.text import fit, own_style, shorten, width, wrap
from bouncesim.show.theme import BODY, CAPTION, CORNER, HEADER, INSET, PALETTES, SMALL, TITLE, Palette

Rect = tuple[float, float, float, float]  # x, y, width, height

SHORTER = 1080.0
LEAST_PX, MOST_PX = 320, 7680
MOST_ELONGATED = 2.4  # longer side over shorter
LARGER = 28 / 24  # type of a tall or square sheet, which is looked at on a phone
STROKES = 1.15  # thickness of lines there
TOP, BOTTOM = 110.0, 160.0  # px of a tall sheet that a player's own controls may cover
GAP = 16.0  # px between two panels
SALT = "bouncesim"
HAIR = 1e-3  # px added to the figure, so that rounding down never takes one away
NO_BREAK = "\u00a0"
UNIT = re.compile(r"(?<=[\d∞]) (?=(?:[GMkmµnpf]?(?:W|V|A|J|s|m|Ω|Hz)|%|dB)\b|%)")


@dataclass(frozen=True)
class Type:
    """Sizes of type on a sheet, px."""

    title: float
    caption: float
    header: float
    body: float
    small: float


def check_size(size: tuple[int, int]) -> None:
    """OptionError for a size that no chart can be drawn at."""
    w, h = size
    if not (min(w, h) >= LEAST_PX and max(w, h) <= MOST_PX and max(w, h) <= MOST_ELONGATED * min(w, h)):
        raise OptionError(
            f"A chart of {w}x{h} cannot be drawn: each side may have {LEAST_PX} to {MOST_PX} px, "
            f"and the longer one at most {MOST_ELONGATED:g} times the shorter. Usual are 1920x1080, 1080x1920 and 1080x1080."
        )


class Sheet:
    """One chart in the making. `body` is the room that heading, sentence and note leave for panels."""

    def __init__(self, size: tuple[int, int], theme: str) -> None:
        """Raises OptionError for an impossible size or an unknown theme."""
        check_size(size)
        if theme not in PALETTES:
            raise OptionError(f"There is no theme {theme!r}; use one of {', '.join(PALETTES)}.")
        self.made = ""  # where the chart comes from (account.made), told in its file
        self.palette: Palette = PALETTES[theme]
        self.size = size
        self.scale = min(size) / SHORTER
        self.w, self.h = (side / self.scale for side in size)
        self.is_wide = self.w > 1.2 * self.h
        self.is_tall = self.h > 1.2 * self.w
        larger = 1.0 if self.is_wide else LARGER
        self.type = Type(*(larger * px for px in (TITLE, CAPTION, HEADER, BODY, SMALL)))
        self.stroke = 1.0 if self.is_wide else STROKES
        self.margin = 48.0 if self.is_wide else 36.0
        dpi = 72 * self.scale
        self.figure = Figure(figsize=((size[0] + HAIR) / dpi, (size[1] + HAIR) / dpi), dpi=dpi, facecolor=self.palette.background)
        self.canvas = FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0, self.w)
        self.axes.set_ylim(self.h, 0)
        self.axes.set_autoscale_on(False)
        self.pad = Pad(self.axes)
        self.panels: list[Rect] = []
        self.title = self.sentence = ""
        self.body: Rect = (self.margin, self.margin, self.w - 2 * self.margin, self.h - 2 * self.margin)

    def words(self, x: float, y: float, words: str, size: float, color: str | None = None, **style: Any) -> Text:
        """One line of text; y is its baseline. Words are never read as mathematics."""
        return self.pad.text(x, y, words, size, color or self.palette.text, **style)

    def heading(self, title: str, subtitle: str) -> None:
        """Title and station at the top; what is left below them becomes the body."""
        x, y, w, h = self.body
        self.title = one_line(title)
        top = y + (TOP - self.margin if self.is_tall else -14)
        lines, size = self._title_lines(w - 8)
        base = top + 0.95 * size
        for line in lines:
            self.words(x + 4, base, line, size, bold=True)
            base += 1.2 * size
        base += -1.2 * size + 1.55 * self.type.header
        for words, px in subtitle_lines(subtitle, w - 8, self.type.header, self.type.small, 1 if self.is_wide else 2):
            self.words(x + 4, base, words, px, self.palette.secondary)
            base += 1.25 * px
        below = base - 0.75 * self.type.header
        self.body = (x, below, w, y + h - below - (BOTTOM - self.margin if self.is_tall else -20))

    def _title_lines(self, room: float) -> tuple[list[str], float]:
        """The title in the largest type that takes few lines; cut only where four small ones are not enough."""
        title, large = settable(self.title), self.type.title
        for share, most in ((1.0, 1), (0.83, 1), (0.87, 2), (0.72, 2), (0.65, 3), (self.type.small / large, 4)):
            lines = wrap(title, room, share * large, bold=True)
            if len(lines) <= most and all(width(line, share * large, True) <= room for line in lines):
                return lines, share * large
        return whole(title, room, self.type.small, 4, bold=True), self.type.small

    def closing(self, sentence: str, note: str = "") -> None:
        """The bar at the bottom that says what is to be seen, and a note under it, a paragraph a line; what is left becomes the body."""
        x, y, w, h = self.body
        self.sentence = one_line(sentence)
        end = y + h
        if note:
            lines = [line for words in note.splitlines() for line in whole(words, w - 8, self.type.small, 2 if self.is_wide else 4)]
            for i, line in enumerate(lines):
                self.words(x + 4, end - 8 - (len(lines) - 1 - i) * 1.25 * self.type.small, line, self.type.small, self.palette.secondary)
            end -= len(lines) * 1.25 * self.type.small + 14
        size = self.type.caption if self.is_wide else self.type.header * (1.15 if self.is_tall else 1.0)
        room, most = w - 2 * INSET, 4 if self.is_tall else 2
        sentence = UNIT.sub(NO_BREAK, self.sentence)
        while ". " in sentence and len(wrap(sentence, room, self.type.small)) > most:  # the first sentences say the most
            sentence = sentence[: sentence.rindex(". ") + 1]
        sizes = [max(share * size, self.type.small) for share in (1.0, 0.92, 0.84, 0.78, 0.0)]
        size = next((px for px in sizes if len(wrap(sentence, room, px)) <= most), sizes[-1])
        lines = even(sentence, room, size)
        if not lines or len(lines) > most:
            lines = whole(sentence, room, size, most)
        tall = len(lines) * 1.3 * size + 28
        self.panel((x, end - tall, w, tall), edge=self.palette.axis)
        for i, line in enumerate(lines):
            self.words(x + w / 2, end - tall + 14 + (i + 0.95) * 1.3 * size - 0.12 * size, line, size, ha="center")
        self.body = (x, y, w, end - tall - GAP - y)

    def panel(self, rect: Rect, edge: str | None = None) -> None:
        """A panel's ground and border."""
        self.panels.append(rect)
        self.pad.panel(*rect, self.palette.panel, edge or self.palette.grid, CORNER)

    def titled(self, rect: Rect, title: str, beside: str = "") -> Rect:
        """A panel with its own title, and words at its right or under it; returns the room inside."""
        x, y, w, h = rect
        self.panel(rect)
        size, small = self.type.header, self.type.small
        room = w - 2 * INSET
        fits = width(title, size, True) + 30 + width(beside, small) <= room
        lines = [shorten(title, room, size, True)] if fits or not beside else wrap(title, room, size, True)[:2]
        base = y + 1.45 * size
        for line in lines:
            self.words(x + INSET, base, shorten(line, room, size, True), size, bold=True)
            base += 1.2 * size
        base -= 1.2 * size
        if beside and fits:
            self.words(x + w - INSET, base, beside, small, self.palette.secondary, ha="right")
        elif beside:
            for line in whole(beside, room, small, 2):
                base += 1.3 * small
                self.words(x + INSET, base, line, small, self.palette.secondary)
        below = base + 0.5 * size
        return x + INSET, below, room, y + h - 14 - below

    def png(self, file: BinaryIO) -> None:
        """Write the sheet as PNG into an open file; the same chart gives the same bytes."""
        with own_style():
            self.canvas.draw()  # type: ignore[no-untyped-call]
            pixels = np.asarray(self.canvas.buffer_rgba())[:, :, :3]  # type: ignore[no-untyped-call]
            file.write(png(pixels, self.made))

    def svg(self, file: BinaryIO) -> None:
        """Write the sheet as SVG into an open file, words as outlines; the same chart gives the same bytes."""
        about = {"Title": self.title, "Description": self.sentence, "Date": None, "Creator": SALT, "Source": self.made or None}
        with own_style(), matplotlib.rc_context({"svg.hashsalt": SALT, "svg.fonttype": "path"}):
            held = io.BytesIO()
            self.figure.savefig(held, format="svg", metadata=about, facecolor=self.palette.background)
            file.write(held.getvalue())


def subtitle_lines(words: str, room: float, large: float, small: float, most: int) -> list[tuple[str, float]]:
    """A subtitle on one line, smaller if need be, else on up to `most`, each with its size."""
    lines, size = fit(words, room, (large, (large + small) / 2, small))
    if most == 1 or not lines[0].endswith("…"):
        return [(lines[0], size)]
    return [(line, small) for line in whole(words, room, small, most)]


def even(words: str, room: float, size: float) -> list[str]:
    """As few lines as the room allows, none of them much shorter than the others; nothing if a word is wider than the room."""
    count = len(wrap(words, room, size))
    for share in (0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0):
        lines = wrap(words, share * room, size)
        if len(lines) <= count and all(width(line, size) <= room for line in lines):
            return lines
    return []


def whole(words: str, room: float, size: float, most: int, bold: bool = False) -> list[str]:
    """Words on at most `most` lines, the last one cut if they are too many."""
    lines = [shorten(line, room, size, bold) for line in wrap(words, room, size, bold)]
    return lines if len(lines) <= most else [*lines[: most - 1], shorten(" ".join(lines[most - 1 :]), room, size, bold)]
