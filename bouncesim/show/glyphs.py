"""Text that changes often, put together from pictures of its pieces that are kept: a figure each, and whatever stands between figures.

Setting a line of type anew takes a millisecond or so; a film has a dozen lines of numbers that change ten times a second.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.text import Text
from matplotlib.transforms import Transform
from numpy.typing import NDArray

from bouncesim.show.text import UNFITTED, font

PIECE = re.compile(r"\d|[^\d]+")
EDGE = 4  # px around a piece, for what reaches beyond its advance
FINEST = 1e-6


class Piece(NamedTuple):
    """Coverage (0..255) of a piece of text, its baseline's row and its origin's column in it, and its advance in pixels."""

    cover: NDArray[np.uint8]
    row: int
    column: int
    advance: float


@lru_cache(maxsize=4096)
def piece(words: str, size: float, bold: bool, dpi: float) -> Piece:
    """The picture of some letters; `size` in points at `dpi`."""
    with matplotlib.rc_context(UNFITTED):
        return _drawn(words, size, bold, dpi)


def _drawn(words: str, size: float, bold: bool, dpi: float) -> Piece:
    scale = dpi / 72
    advance = _wide(f"|{words}|", size, bold, dpi) - _wide("||", size, bold, dpi)
    high = int(2.2 * size * scale) + 2 * EDGE
    row = int(1.5 * size * scale) + EDGE
    renderer = RendererAgg(int(advance + size * scale) + 2 * EDGE, high, dpi)  # type: ignore[no-untyped-call]
    gc = renderer.new_gc()
    gc.set_foreground("white")
    renderer.draw_text(gc, EDGE, row, words, font(size, bold), 0)  # type: ignore[no-untyped-call]
    cover = np.array(np.asarray(renderer.buffer_rgba())[:, :, 3])  # type: ignore[no-untyped-call]
    rows, columns = np.flatnonzero(cover.any(axis=1)), np.flatnonzero(cover.any(axis=0))
    if not len(rows):
        return Piece(np.zeros((0, 0), dtype=np.uint8), 0, 0, advance)
    cut = np.ascontiguousarray(cover[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1])
    return Piece(cut, row - int(rows[0]), EDGE - int(columns[0]), advance)


def _wide(words: str, size: float, bold: bool, dpi: float) -> float:
    """Width in pixels as the renderer sets it."""
    return float(RendererAgg(1, 1, dpi).get_text_width_height_descent(words, font(size, bold), False)[0])  # type: ignore[no-untyped-call]


@lru_cache(maxsize=256)
def widened(words: str, size: float, bold: bool, dpi: float, by: int) -> Piece:
    """The picture of some letters, `by` pixels thicker all around."""
    one = piece(words, size, bold, dpi)
    h, w = one.cover.shape
    cover = np.zeros((h + 2 * by, w + 2 * by), dtype=np.uint8)
    for dy in range(-by, by + 1):
        for dx in range(-by, by + 1):
            if h and dx * dx + dy * dy <= by * by + 1:
                spot = cover[by + dy : by + dy + h, by + dx : by + dx + w]
                np.maximum(spot, one.cover, out=spot)
    return Piece(cover, one.row + by, one.column + by, one.advance)


class QuickText(Text):
    """One line of text with its baseline at (x, y), drawn straight into the picture; clipped to its clip box."""

    def __init__(self, x: float, y: float, size: float, color: str, bold: bool, ha: str, transform: Transform) -> None:
        super().__init__(x, y, "", color=color, fontproperties=font(size, bold), ha=ha, va="baseline", parse_math=False)
        self.set_transform(transform)
        self.bold = bold
        self.place = ha
        self.ink = _ink(color)
        self.around: tuple[NDArray[np.float32], float] | None = None

    def align(self, ha: Literal["left", "right"]) -> None:
        """Which end of the text its x is: "left" or "right"."""
        self.place = ha
        self.set_horizontalalignment(ha)

    def halo(self, color: str, px: float) -> None:
        """Surround the letters, so that they stand out from what they are drawn over; px of the full size."""
        self.around = (_ink(color), px)

    def draw(self, renderer: Any) -> None:
        """Blend the pieces into the renderer's pixels."""
        words = self.get_text()
        if not words or not self.get_visible():
            return
        size, dpi = float(self.get_fontsize()), float(renderer.dpi)
        pieces = [piece(found, size, self.bold, dpi) for found in PIECE.findall(words)]
        x, y = self.get_transform().transform(self.get_position())
        whole = sum(one.advance for one in pieces)
        x -= {"left": 0.0, "center": whole / 2, "right": whole}[self.place]
        canvas = np.asarray(renderer.buffer_rgba())
        baseline = round(canvas.shape[0] - y)
        box = self.get_clip_box()
        bounds = (0, 0, canvas.shape[1], canvas.shape[0])
        if box is not None:
            x0, y0, x1, y1 = (round(edge) for edge in box.extents)
            bounds = (max(x0, 0), max(canvas.shape[0] - y1, 0), min(x1, canvas.shape[1]), min(canvas.shape[0] - y0, canvas.shape[0]))
        if self.around:
            by = max(1, round(self.around[1] * dpi / 72))
            wider = [widened(found, size, self.bold, dpi, by) for found in PIECE.findall(words)]
            _blend(canvas, *_joined(wider, x, baseline), self.around[0], bounds)
        _blend(canvas, *_joined(pieces, x, baseline), self.ink, bounds)
        self.stale = False


def _ink(color: str) -> NDArray[np.float32]:
    return np.array([round(255 * part) for part in to_rgb(color)], dtype=np.float32)


def _joined(pieces: list[Piece], x: float, baseline: int) -> tuple[NDArray[np.uint8], int, int]:
    """Coverage of pieces side by side from x on, and the column and row of its corner."""
    starts = x + np.cumsum([0.0, *(one.advance for one in pieces[:-1])])
    lefts = [round(float(start)) - one.column for start, one in zip(starts, pieces, strict=True)]
    left, top = min(lefts), baseline - max(one.row for one in pieces)
    right = max(at + one.cover.shape[1] for at, one in zip(lefts, pieces, strict=True))
    bottom = max(baseline - one.row + one.cover.shape[0] for one in pieces)
    cover = np.zeros((bottom - top, right - left), dtype=np.uint8)
    for at, one in zip(lefts, pieces, strict=True):
        h, w = one.cover.shape
        spot = cover[baseline - one.row - top :, at - left :][:h, :w]
        np.maximum(spot, one.cover, out=spot)
    return cover, left, top


def _blend(
    canvas: NDArray[np.uint8],
    cover: NDArray[np.uint8],
    left: int,
    top: int,
    ink: NDArray[np.float32],
    bounds: tuple[int, int, int, int],
) -> None:
    """Lay ink over straight-alpha RGBA pixels."""
    h, w = cover.shape
    x0, y0, x1, y1 = max(left, bounds[0]), max(top, bounds[1]), min(left + w, bounds[2]), min(top + h, bounds[3])
    if x0 >= x1 or y0 >= y1:
        return
    share = cover[y0 - top : y1 - top, x0 - left : x1 - left, None] * np.float32(1 / 255)
    under = canvas[y0:y1, x0:x1]
    if (under[:, :, 3] == 255).all():
        under[:, :, :3] = np.rint(under[:, :, :3] + (ink - under[:, :, :3]) * share)
        return
    held = under[:, :, 3:] * np.float32(1 / 255)
    alpha = share + held * (1 - share)
    mixed = (ink * share + under[:, :, :3] * held * (1 - share)) / np.maximum(alpha, FINEST)
    under[:, :, :3] = np.rint(mixed)
    under[:, :, 3:] = np.rint(255 * alpha)
