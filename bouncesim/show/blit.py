"""A figure of which only what changes is drawn again.

Coordinates are px of a full-size frame, from the top left corner, y down; one point is one of these px (dpi 72), and dpi rescales all.
A region is a rectangle with its own artists, all clipped to it, and regions that are shown together do not overlap: so a frame drawn
alone is the same, bit for bit, as the frame drawn in sequence.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, FancyBboxPatch, PathPatch, Polygon, Rectangle
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Bbox, TransformedBbox
from numpy.typing import NDArray

from bouncesim.show.glyphs import QuickText
from bouncesim.show.text import drawn, font

Pixels = NDArray[np.uint8]
WIDE = (1920, 1080)
HAIR = 1e-3  # px added to the figure, so that rounding down never takes one away


@dataclass
class Region:
    """Part of the frame: its rectangle (x, y, width, height), its artists, and what decides whether it must be drawn again."""

    rect: tuple[float, float, float, float]
    key: Callable[[int], Hashable]  # frame number -> what the content depends on
    update: Callable[[int], None]  # set the artists for a frame
    when: Callable[[int], bool] = lambda k: True  # whether it is drawn at all in a frame
    artists: list[Artist] = field(default_factory=list)
    shown: Hashable = field(default=None, init=False)
    pixels: tuple[int, int, int, int] = field(default=(0, 0, 0, 0), init=False)  # x0, y0, x1, y1, even numbers


class Pad:
    """Draws on the one axes that covers the figure; what it draws belongs to `region`, or to the background if that is None.

    `stroke` makes every line so many times as thick.
    """

    def __init__(self, axes: Axes, region: Region | None = None, stroke: float = 1.0) -> None:
        self.axes = axes
        self.region = region
        self.stroke = stroke

    def _add(self, artist: Any) -> Any:
        """Clip an artist to the region; last of all, since joining the axes sets a clip of its own."""
        if self.region is not None:
            artist.set_animated(True)
            x, y, w, h = self.region.rect
            artist.set_clip_box(TransformedBbox(Bbox([[x, y], [x + w, y + h]]), self.axes.transData))
            artist.set_clip_on(True)
            self.region.artists.append(artist)
        return artist

    def line(self, x: Any, y: Any, color: str, width: float, **style: Any) -> Line2D:
        style = {"solid_capstyle": "round", "solid_joinstyle": "round", "dash_capstyle": "butt", **style}
        line: Line2D = self._add(self.axes.add_line(Line2D(x, y, color=color, linewidth=width * self.stroke, **style)))
        return line

    def text(self, x: float, y: float, words: str, size: float, color: str, bold: bool = False, ha: str = "left", **style: Any) -> Text:
        """One line of text; y is its baseline. It is never read as mathematics, and a mark that no file may hold is a question mark."""
        style = {"va": "baseline", "parse_math": False, **style}
        text: Text = self._add(self.axes.text(x, y, drawn(words), fontproperties=font(size, bold), color=color, ha=ha, **style))
        return text

    def live(self, x: float, y: float, size: float, color: str, bold: bool = False, ha: str = "left") -> QuickText:
        """One line of text that changes often."""
        text: QuickText = self._add(self.axes.add_artist(QuickText(x, y, size, color, bold, ha, self.axes.transData)))
        return text

    def patch(self, patch: Any) -> Any:
        return self._add(self.axes.add_patch(patch))

    def polygon(self, points: Any, face: str, edge: str = "none", width: float = 0.0, **style: Any) -> Polygon:
        polygon: Polygon = self.patch(
            Polygon(points, closed=True, facecolor=face, edgecolor=edge, linewidth=width * self.stroke, joinstyle="round", **style)
        )
        return polygon

    def arrows(self, face: str, edge: str = "none", width: float = 0.0) -> PathPatch:
        """What is given a path of several arrows each time that it is drawn."""
        nothing = Path(np.zeros((1, 2)))
        patch: PathPatch = self.patch(
            PathPatch(nothing, facecolor=face, edgecolor=edge, linewidth=width * self.stroke, joinstyle="round", capstyle="round")
        )
        return patch

    def box(self, x: float, y: float, w: float, h: float, face: str, edge: str = "none", width: float = 0.0, **style: Any) -> Rectangle:
        box: Rectangle = self.patch(Rectangle((x, y), w, h, facecolor=face, edgecolor=edge, linewidth=width * self.stroke, **style))
        return box

    def circle(self, x: float, y: float, r: float, face: str, edge: str, width: float) -> Circle:
        circle: Circle = self.patch(Circle((x, y), r, facecolor=face, edgecolor=edge, linewidth=width * self.stroke))
        return circle

    def panel(self, x: float, y: float, w: float, h: float, face: str, edge: str, corner: float, width: float = 1.5) -> None:
        shape = f"round,pad=0,rounding_size={corner}"
        self.patch(FancyBboxPatch((x, y), w, h, boxstyle=shape, facecolor=face, edgecolor=edge, linewidth=width, mutation_aspect=1))


class Frame:
    """The figure, its static background and its regions.

    `size` is in pixels, `full` the width and height in px of the coordinates. With `clear`, what nothing is drawn on lets through
    whatever the film is laid over.
    """

    def __init__(self, size: tuple[int, int], background: str, full: tuple[float, float] = WIDE, clear: bool = False) -> None:
        self.size = size
        self.scale = size[0] / full[0]
        dpi = 72 * self.scale
        ground = "none" if clear else background
        self.figure = Figure(figsize=((size[0] + HAIR) / dpi, (size[1] + HAIR) / dpi), dpi=dpi, facecolor=ground)
        self.canvas = FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0.0, 0.0, size[0] / (size[0] + HAIR), 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0, size[0] / self.scale)
        self.axes.set_ylim((size[1] + HAIR) / self.scale, 0)
        self.axes.set_autoscale_on(False)
        self.regions: list[Region] = []
        self.background: Pixels | None = None

    def add(self, region: Region, stroke: float = 1.0) -> Pad:
        """Take a region in and give the pad to draw it with.

        Its edges go to the nearest even pixel (a chroma sample covers 2 x 2), so that regions that do not overlap stay so at any size.
        """
        x, y, w, h = region.rect
        x0, y0, x1, y1 = (2 * round(edge * self.scale / 2) for edge in (x, y, x + w, y + h))
        region.pixels = (x0, y0, x1, y1)
        region.rect = (x0 / self.scale, y0 / self.scale, (x1 - x0) / self.scale, (y1 - y0) / self.scale)
        self.regions.append(region)
        return Pad(self.axes, region, stroke)

    def words(self, box: tuple[float, float, float], words: Callable[[int], str], size: float, color: str, **style: Any) -> Region:
        """A region that holds one line of live text; `box` is its left edge, its baseline and its width."""
        x, y, w = box
        region = Region((x, y - 0.82 * size - 2, w, 1.1 * size + 4), words, lambda k: text.set_text(words(k)))
        ha = style.get("ha", "left")
        text = self.add(region).live(x + {"left": 2, "center": w / 2, "right": w - 2}[ha], y, size, color, **style)
        return region

    @property
    def pixels(self) -> Pixels:
        """The frame as it stands, RGBA, shape (height, width, 4); a view."""
        return np.asarray(self.canvas.buffer_rgba())  # type: ignore[no-untyped-call]

    def draw(self, k: int) -> list[tuple[int, int, int, int]]:
        """Bring the picture to frame k; returns the rectangles (x0, y0, x1, y1) that changed: all of it the first time."""
        first = self.background is None
        if first:
            self.canvas.draw()  # type: ignore[no-untyped-call]
            self.background = self.pixels.copy()
        changed = [(region, key) for region in self.regions if (key := region.key(k)) != region.shown]
        picture, background = self.pixels, self.background
        assert background is not None
        for region, _ in changed:
            x0, y0, x1, y1 = region.pixels
            picture[y0:y1, x0:x1] = background[y0:y1, x0:x1]
        renderer = self.canvas.get_renderer()  # type: ignore[no-untyped-call]
        for region, key in changed:
            region.shown = key
            if region.when(k):
                region.update(k)
                for artist in region.artists:
                    artist.draw(renderer)
        return [(0, 0, *self.size)] if first else [region.pixels for region, _ in changed]
