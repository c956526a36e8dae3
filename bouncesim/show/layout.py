"""Where the panels of one station's picture stand in a rectangle, and how large its type is.

Three shapes are drawn: wide (full size 1920 x 1080), tall (1080 x 1920) and square (1080 x 1080; half of a wide frame is one too). Every
other size is the nearest of these, scaled and with some room more. Coordinates are px of the full size, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from bouncesim.errors import OptionError

Rect = tuple[float, float, float, float]  # x, y, width, height
Shape = Literal["wide", "tall", "square"]

FULL: dict[Shape, tuple[int, int]] = {"wide": (1920, 1080), "tall": (1080, 1920), "square": (1080, 1080)}
DRAFT: dict[Shape, tuple[int, int]] = {"wide": (1280, 720), "tall": (720, 1280), "square": (720, 720)}
WIDE_FROM, TALL_TO = 1.45, 0.7  # width over height
LONGEST = 3.2  # longer side over shorter
LEAST_SIDE, MOST_SIDE = 180, 4320  # px
PLAYER_TOP, PLAYER_BOTTOM = 110.0, 160.0  # px of a tall frame that a player's own controls may cover
PANELS = 196.0  # px of height of meters and account side by side in a square frame
BASE = 24.0  # px of the smallest type


@dataclass(frozen=True)
class Type:
    """Sizes of type, px of the full size; nothing is set smaller than `small`."""

    title: float
    clock: float
    header: float
    caption: float
    number: float
    body: float
    small: float

    @property
    def unit(self) -> float:
        """How much larger than in a wide frame the smallest type is."""
        return self.small / BASE


TYPES: dict[Shape, Type] = {
    "wide": Type(title=46, clock=46, header=28, caption=38, number=36, body=26, small=24),
    "tall": Type(title=54, clock=50, header=32, caption=42, number=42, body=30, small=28),
    "square": Type(title=38, clock=38, header=26, caption=34, number=34, body=26, small=24),
}
STROKE: dict[Shape, float] = {"wide": 1.0, "tall": 1.15, "square": 1.0}


@dataclass(frozen=True)
class Layout:
    """One station's picture: panels, type and thickness of lines. Without a heading or a caption their room goes to the waves."""

    shape: Shape
    area: Rect
    heading: Rect  # title, subtitle and, but for a wide frame, the clock
    wave: Rect
    meters: Rect
    account: Rect
    caption: Rect

    @property
    def type(self) -> Type:
        return TYPES[self.shape]

    @property
    def stroke(self) -> float:
        return STROKE[self.shape]

    @property
    def is_wide(self) -> bool:
        return self.shape == "wide"


def shape_of(size: tuple[int, int]) -> Shape:
    """The shape that a frame of this size (px) is drawn in. Raises OptionError for a size that cannot be drawn."""
    w, h = size
    if not (min(w, h) >= LEAST_SIDE and max(w, h) <= MOST_SIDE and max(w, h) <= LONGEST * min(w, h)):
        raise OptionError(
            f"A film of {w}x{h} cannot be made: each side may have {LEAST_SIDE} to {MOST_SIDE} pixels, and the longer one at most "
            f"{LONGEST:g} times the shorter. Usual are 1920x1080, 1080x1920 and 1080x1080."
        )
    return "wide" if w >= WIDE_FROM * h else "tall" if w <= TALL_TO * h else "square"


def full_size(size: tuple[int, int]) -> tuple[float, float]:
    """px of the coordinates of a frame of this size: at least the full size of its shape, in the frame's own proportions."""
    w, h = FULL[shape_of(size)]
    scale = min(size[0] / w, size[1] / h)
    return size[0] / scale, size[1] / scale


def arrange(area: Rect, shape: Shape, heading: float, caption: float) -> Layout:
    """Panels in a rectangle; `heading` and `caption` are the heights of their words, 0 for none.

    A wide one needs 1920 x 1080 px, a square one about 940 px in width; whatever is more goes to the waves.
    """
    x, y, w, h = area
    if shape == "wide":
        return _wide(area, caption)
    if shape == "tall":
        y, h = y + PLAYER_TOP, h - PLAYER_TOP - PLAYER_BOTTOM
    side, gap, edge = (36.0, 14.0, 0.0) if shape == "tall" else (24.0, 12.0, 16.0)
    left, room = x + side, w - 2 * side
    bottom = y + h - edge
    caption_rect = (left, bottom - caption, room, caption)
    bottom -= caption + (gap if caption else 0.0)
    unit = TYPES[shape].unit
    if shape == "tall":
        account = (left, bottom - 176 * unit, room, 176 * unit)
        meters = (left, account[1] - gap - 162 * unit, room, 162 * unit)
    else:
        half = (room - gap) / 2
        meters = (left, bottom - PANELS, half, PANELS)
        account = (left + half + gap, bottom - PANELS, half, PANELS)
    top = y + edge + heading + (gap if heading else 0.0)
    wave = (left, top, room, meters[1] - gap - top)
    return Layout(shape, area, (left + 12, y + edge, room - 24, heading), wave, meters, account, caption_rect)


def _wide(area: Rect, caption: float) -> Layout:
    x, y, w, h = area
    left, room, gap = x + 48.0, w - 96.0, 16.0
    caption_rect = (left, y + h - 20 - caption, room, caption)
    below = caption_rect[1] - gap - 214.0
    half = (room - gap) / 2
    top = y + 138.0
    wave = (left, top, room, below - gap - top)
    return Layout(
        *("wide", area, (left + 24, y + 22, room - 24, 106.0), wave),
        *((left, below, half, 214.0), (left + half + gap, below, half, 214.0), caption_rect),
    )


def place_labels(centres: list[float], widths: list[float], x0: float, x1: float, gap: float = 26.0) -> list[float] | None:
    """Centres of labels in a row, each as near its own place as the others allow; None if they do not all fit between x0 and x1."""
    if sum(widths) + gap * (len(widths) - 1) > x1 - x0:
        return None
    placed: list[float] = []
    right = x0 - gap
    for centre, w in zip(centres, widths, strict=True):
        placed.append(max(centre, right + gap + w / 2))
        right = placed[-1] + w / 2
    limit = x1
    for i in range(len(placed) - 1, -1, -1):
        placed[i] = min(placed[i], limit - widths[i] / 2)
        limit = placed[i] - widths[i] / 2 - gap
    return placed
