"""The two palettes, and what tells each quantity apart for an eye that does not see the hues.

Text reaches a contrast of 4.95:1 and curves 4.06:1 on the ground they are drawn on; the tests compute both, and the colour differences
under simulated colour-blindness, from the values below.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Palette:
    """Colours as #RRGGBB, each named after what it shows."""

    name: str
    background: str
    panel: str
    text: str
    secondary: str
    total: str
    forward: str
    reflected: str
    antenna: str  # into the antenna
    heat: str
    stored: str
    largest_edge: str
    largest_fill: str
    axis: str
    grid: str
    conductor: str  # rails and wires of the station


DARK = Palette(
    name="dark",
    background="#0E1420",
    panel="#172033",
    text="#F5F7FB",
    secondary="#B4C0D3",
    total="#F5F7FB",
    forward="#3D9BFF",
    reflected="#F0872B",
    antenna="#8DF08F",
    heat="#E9B6F2",
    stored="#8794AB",
    largest_edge="#8794AB",
    largest_fill="#2A3750",
    axis="#8794AB",
    grid="#2B374D",
    conductor="#C9D2E0",
)
LIGHT = Palette(
    name="light",
    background="#F3F5F8",
    panel="#FFFFFF",
    text="#12161D",
    secondary="#4A5566",
    total="#12161D",
    forward="#1560D4",
    reflected="#B05800",
    antenna="#14431F",
    heat="#8C1D6B",
    stored="#5F6B7D",
    largest_edge="#5F6B7D",
    largest_fill="#E4E9F1",
    axis="#5F6B7D",
    grid="#DFE4EB",
    conductor="#364152",
)
PALETTES = {palette.name: palette for palette in (DARK, LIGHT)}


@dataclass(frozen=True)
class Mark:
    """How a quantity looks apart from its colour: line width and dashes (px and on-off pattern), arrowheads, hatch of its bar."""

    width: float = 0.0
    dashes: tuple[float, float] | None = None
    arrow: int = 0  # +1 toward the antenna, -1 toward the transmitter, 0 none
    hatch: str = ""  # one of bars.WIDTHS, plain if empty


MARKS = {
    "total": Mark(width=12.0),
    "forward": Mark(width=5.0, arrow=+1),
    "reflected": Mark(width=5.0, dashes=(2.6, 1.3), arrow=-1, hatch="slanted"),
    "largest": Mark(width=2.0, dashes=(1.0, 1.6)),
    "antenna": Mark(hatch="level"),
    "tuner heat": Mark(hatch="crossed"),
    "network heat": Mark(hatch="grid"),
    "transformer heat": Mark(hatch="dotted"),
    "into the stub": Mark(hatch="backslanted"),
    "line heat": Mark(hatch="upright"),
    "other heat": Mark(hatch="zigzag"),
    "stored": Mark(),
}

# px in a frame of 1920 x 1080: nothing is set smaller than SMALL
TITLE = 46
CAPTION = 38
HEADER = 28
BODY = 26
SMALL = 24
CORNER = 18
VEIL = "DC"  # opacity, of FF, of a panel that is laid over other footage
INSET = 26.0  # px from a panel's edge to its words
