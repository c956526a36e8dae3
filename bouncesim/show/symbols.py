"""Symbols of the station's parts: a transmitter, an antenna, a meter, a transformer, a stub, a network element by element."""

from __future__ import annotations

import numpy as np

from bouncesim.scenario.model import Element, Line, Meter, Network, Stub, Transformer
from bouncesim.show.blit import Pad
from bouncesim.show.layout import RAIL_BOTTOM, RAIL_TOP, Slot
from bouncesim.show.signs import ELEMENT, drawn_out, letters, network_width
from bouncesim.show.theme import SMALL, Palette

MID = (RAIL_TOP + RAIL_BOTTOM) / 2
WIRE = 3.5
APART = 9.0  # px from the middle of a stub to each of its wires
STUB_END = RAIL_BOTTOM + 84
NARROW = 50.0  # px of room under which a part is only a narrow box


def draw_symbol(pad: Pad, slot: Slot, palette: Palette) -> None:
    """The symbol of what stands in a slot."""
    x, what = slot.symbol_x, slot.what
    if slot.w < NARROW:
        pad.box(x - slot.w / 2 + 3, RAIL_TOP - 13, slot.w - 6, RAIL_BOTTOM - RAIL_TOP + 26, palette.panel, palette.conductor, WIRE)
    elif what == "transmitter":
        _upright(pad, x, RAIL_TOP, MID - 34, palette)
        _upright(pad, x, MID + 34, RAIL_BOTTOM, palette)
        pad.circle(x, MID, 32, palette.panel, palette.conductor, WIRE)
        u = np.linspace(-1, 1, 41)
        pad.line(x + 17 * u, MID - 11 * np.sin(np.pi * u), palette.text, WIRE)
    elif what == "antenna":
        _upright(pad, x, RAIL_TOP, MID - 25, palette)
        _upright(pad, x, MID + 25, RAIL_BOTTOM, palette)
        pad.box(x - 14, MID - 25, 28, 50, palette.panel, palette.conductor, WIRE)
    elif isinstance(what, Meter):
        _meter(pad, x, palette)
    elif isinstance(what, Transformer):
        _transformer(pad, x, palette)
    elif isinstance(what, Stub):
        _stub(pad, x, what, palette)
    elif isinstance(what, Network) and drawn_out(what, slot.compact):
        _network(pad, x, what, palette)
    else:
        _box(pad, x, letters(what) if isinstance(what, Network) else "…", palette)


def _upright(pad: Pad, x: float, y0: float, y1: float, palette: Palette) -> None:
    pad.line([x, x], [y0, y1], palette.conductor, WIRE)


def _dot(pad: Pad, x: float, y: float, palette: Palette) -> None:
    pad.circle(x, y, 4, palette.conductor, palette.conductor, 1)


def _meter(pad: Pad, x: float, palette: Palette) -> None:
    """A box around both wires with a dial and its needle."""
    pad.box(x - 30, RAIL_TOP - 13, 60, RAIL_BOTTOM - RAIL_TOP + 26, palette.panel, palette.conductor, WIRE)
    angle = np.radians(np.linspace(215, 325, 25))
    pad.line(x + 22 * np.cos(angle), MID + 14 + 24 * np.sin(angle), palette.text, WIRE)
    pad.line([x, x + 11], [MID + 14, MID - 7], palette.text, WIRE)
    pad.circle(x, MID + 14, 3, palette.text, palette.text, 1)


def _transformer(pad: Pad, x: float, palette: Palette) -> None:
    """Two windings from wire to wire, side by side, with the core between them."""
    for wire in (RAIL_TOP, RAIL_BOTTOM):
        pad.line([x - 20, x + 20], [wire, wire], palette.panel, WIRE + 4, solid_capstyle="butt")
    u = np.linspace(0, 4 * np.pi, 97)
    y = RAIL_TOP + (RAIL_BOTTOM - RAIL_TOP) * u / (4 * np.pi)
    for way in (-1, 1):
        pad.line(x + way * (20 - 13 * np.abs(np.sin(u))), y, palette.text, WIRE)
        pad.line([x + 2.5 * way, x + 2.5 * way], [RAIL_TOP + 2, RAIL_BOTTOM - 2], palette.secondary, 2)


def _stub(pad: Pad, x: float, stub: Stub, palette: Palette) -> None:
    """Two wires that branch off downward, the one from the upper wire in a bow around the lower one; thick where they are a line."""
    left, right, turn = x - APART, x + APART, np.linspace(-np.pi / 2, np.pi / 2, 17)
    _dot(pad, left, RAIL_TOP, palette)
    _dot(pad, right, RAIL_BOTTOM, palette)
    bow = np.concatenate(
        [[[left, RAIL_TOP]], np.column_stack([left - 9 * np.cos(turn), RAIL_BOTTOM + 9 * np.sin(turn)]), [[left, STUB_END]]]
    )
    pad.line(bow[:, 0], bow[:, 1], palette.conductor, WIRE)
    _upright(pad, right, RAIL_BOTTOM, STUB_END, palette)
    if any(isinstance(part, Line) for part in stub.path):
        for at in (left, right):
            pad.line([at, at], [RAIL_BOTTOM + 20, STUB_END - 6], palette.conductor, 6, solid_capstyle="butt")
    if any(not isinstance(part, Line | Meter) for part in stub.path):
        pad.box(x - 17, RAIL_BOTTOM + 32, 34, 22, palette.panel, palette.conductor, WIRE)
    if stub.end == "open":
        for at in (left, right):
            pad.circle(at, STUB_END, 5, palette.panel, palette.conductor, 3)
    elif stub.end == "short":
        pad.line([left, right], [STUB_END, STUB_END], palette.conductor, WIRE + 1)
    else:
        pad.box(x - 16, STUB_END - 8, 32, 16, palette.panel, palette.conductor, WIRE)


def _box(pad: Pad, x: float, words: str, palette: Palette) -> None:
    """What is not drawn in detail."""
    pad.box(x - 35, RAIL_TOP - 22, 70, RAIL_BOTTOM - RAIL_TOP + 36, palette.panel, palette.conductor, WIRE)
    pad.text(x, MID + 9, words, SMALL, palette.text, bold=True, ha="center")


def _network(pad: Pad, centre: float, network: Network, palette: Palette) -> None:
    """A box around the wires with its elements in their order, series ones in the upper wire."""
    w = network_width(network, False)
    left, right = centre - w / 2, centre + w / 2
    pad.box(left, RAIL_TOP - 22, w, RAIL_BOTTOM - RAIL_TOP + 36, palette.panel, palette.secondary, 2, linestyle=(0, (4, 3)))
    x = centre - ELEMENT * (len(network.elements) - 1) / 2
    pad.line([left, right], [RAIL_BOTTOM, RAIL_BOTTOM], palette.conductor, WIRE)
    wire_from = left
    for element in network.elements:
        if element.position == "series":
            pad.line([wire_from, x - 21], [RAIL_TOP, RAIL_TOP], palette.conductor, WIRE)
            _element(pad, element, x, RAIL_TOP, False, palette)
            wire_from = x + 21
        else:
            _upright(pad, x, RAIL_TOP, MID - 21, palette)
            _element(pad, element, x, MID, True, palette)
            _upright(pad, x, MID + 21, RAIL_BOTTOM, palette)
            for y in (RAIL_TOP, RAIL_BOTTOM):
                _dot(pad, x, y, palette)
        x += ELEMENT
    pad.line([wire_from, right], [RAIL_TOP, RAIL_TOP], palette.conductor, WIRE)


def _element(pad: Pad, element: Element, x: float, y: float, upright: bool, palette: Palette) -> None:
    """A coil, a capacitor or a resistor 42 px long, along the wire."""

    def put(along: object, across: object) -> None:
        a, b = np.asarray(along, dtype=float), np.asarray(across, dtype=float)
        pad.line(x + b if upright else x + a, y + a if upright else y - b, palette.text, WIRE)

    if element.kind == "inductor":
        u = np.linspace(0, 3 * np.pi, 61)
        put(-21 + 42 * u / (3 * np.pi), 13 * np.abs(np.sin(u)))
    elif element.kind == "capacitor":
        for side in (-1, 1):
            put([side * 21, side * 6], [0, 0])
            put([side * 6, side * 6], [-16, 16])
    else:
        put([-21, -21, 21, 21, -21], [-9, 9, 9, -9, -9])
