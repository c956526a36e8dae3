"""Symbols of the station's parts: a transmitter, an antenna, a meter, a transformer, a stub, a network element by element."""

from __future__ import annotations

import numpy as np

from bouncesim.scenario.model import Element, Line, Meter, Network, Stub, Transformer
from bouncesim.show.blit import Pad
from bouncesim.show.signs import ELEMENT, GAUGE, LoadState, drawn_out, letters, network_width
from bouncesim.show.theme import Palette
from bouncesim.show.track import STUB_DEPTH, Slot

WIRE = 3.5
APART = 9.0  # px from the middle of a stub to each of its wires
OPEN_END = 7.0  # px, radius of the end of a wire that leads nowhere
NARROW = 50.0  # px of room under which a part is only a narrow box


def draw_symbol(pad: Pad, slot: Slot, palette: Palette, small: float) -> None:
    """The symbol of what stands in a slot; `small` is the size of the letters in a plain box."""
    x, what, top = slot.symbol_x, slot.what, slot.top
    mid, bottom = top + GAUGE / 2, top + GAUGE
    if slot.w < NARROW:
        pad.box(x - slot.w / 2 + 3, top - 13, slot.w - 6, GAUGE + 26, palette.panel, palette.conductor, WIRE)
    elif what == "source":
        _upright(pad, x, top, mid - 34, palette)
        _upright(pad, x, mid + 34, bottom, palette)
        pad.circle(x, mid, 32, palette.panel, palette.conductor, WIRE)
        u = np.linspace(-1, 1, 41)
        pad.line(x + 17 * u, mid - 11 * np.sin(np.pi * u), palette.text, WIRE)
    elif isinstance(what, Meter):
        _meter(pad, x, top, palette)
    elif isinstance(what, Transformer):
        _transformer(pad, x, top, palette)
    elif isinstance(what, Stub):
        _stub(pad, x, top, what, palette)
    elif isinstance(what, Network) and drawn_out(what, slot.compact):
        _network(pad, x, top, what, palette)
    else:
        _box(pad, x, top, letters(what) if isinstance(what, Network) else "…", palette, small)


def draw_load(pad: Pad, x: float, top: float, state: LoadState, palette: Palette) -> None:
    """What stands at the end of the path: a box between the wires, one wire across, or two ends with nothing between them."""
    mid, bottom = top + GAUGE / 2, top + GAUGE
    if state.is_open:
        for y in (top, bottom):
            pad.circle(x, y, OPEN_END, palette.panel, palette.conductor, WIRE)
    elif state.is_short:
        pad.line([x, x], [top, bottom], palette.conductor, 2 * WIRE, solid_capstyle="butt")
    else:
        _upright(pad, x, top, mid - 25, palette)
        _upright(pad, x, mid + 25, bottom, palette)
        pad.box(x - 14, mid - 25, 28, 50, palette.panel, palette.conductor, WIRE)


def _upright(pad: Pad, x: float, y0: float, y1: float, palette: Palette) -> None:
    pad.line([x, x], [y0, y1], palette.conductor, WIRE)


def _dot(pad: Pad, x: float, y: float, palette: Palette) -> None:
    pad.circle(x, y, 4, palette.conductor, palette.conductor, 1)


def _meter(pad: Pad, x: float, top: float, palette: Palette) -> None:
    """A box around both wires with a dial and its needle."""
    mid = top + GAUGE / 2
    pad.box(x - 30, top - 13, 60, GAUGE + 26, palette.panel, palette.conductor, WIRE)
    angle = np.radians(np.linspace(215, 325, 25))
    pad.line(x + 22 * np.cos(angle), mid + 14 + 24 * np.sin(angle), palette.text, WIRE)
    pad.line([x, x + 11], [mid + 14, mid - 7], palette.text, WIRE)
    pad.circle(x, mid + 14, 3, palette.text, palette.text, 1)


def _transformer(pad: Pad, x: float, top: float, palette: Palette) -> None:
    """Two windings from wire to wire, side by side, with the core between them."""
    bottom = top + GAUGE
    for wire in (top, bottom):
        pad.line([x - 20, x + 20], [wire, wire], palette.panel, WIRE + 4, solid_capstyle="butt")
    u = np.linspace(0, 4 * np.pi, 97)
    y = top + (GAUGE) * u / (4 * np.pi)
    for way in (-1, 1):
        pad.line(x + way * (20 - 13 * np.abs(np.sin(u))), y, palette.text, WIRE)
        pad.line([x + 2.5 * way, x + 2.5 * way], [top + 2, bottom - 2], palette.secondary, 2)


def _stub(pad: Pad, x: float, top: float, stub: Stub, palette: Palette) -> None:
    """Two wires that branch off downward, the one from the upper wire in a bow around the lower one; thick where they are a line."""
    bottom, end = top + GAUGE, top + GAUGE + STUB_DEPTH
    left, right, turn = x - APART, x + APART, np.linspace(-np.pi / 2, np.pi / 2, 17)
    _dot(pad, left, top, palette)
    _dot(pad, right, bottom, palette)
    bow = np.concatenate([[[left, top]], np.column_stack([left - 9 * np.cos(turn), bottom + 9 * np.sin(turn)]), [[left, end]]])
    pad.line(bow[:, 0], bow[:, 1], palette.conductor, WIRE)
    _upright(pad, right, bottom, end, palette)
    if any(isinstance(part, Line) for part in stub.path):
        for at in (left, right):
            pad.line([at, at], [bottom + 20, end - 6], palette.conductor, 6, solid_capstyle="butt")
    if any(not isinstance(part, Line | Meter) for part in stub.path):
        pad.box(x - 17, bottom + 32, 34, 22, palette.panel, palette.conductor, WIRE)
    if stub.end == "open":
        for at in (left, right):
            pad.circle(at, end, 5, palette.panel, palette.conductor, 3)
    elif stub.end == "short":
        pad.line([left, right], [end, end], palette.conductor, WIRE + 1)
    else:
        pad.box(x - 16, end - 8, 32, 16, palette.panel, palette.conductor, WIRE)


def _box(pad: Pad, x: float, top: float, words: str, palette: Palette, small: float) -> None:
    """What is not drawn in detail."""
    mid = top + GAUGE / 2
    pad.box(x - 35, top - 22, 70, GAUGE + 36, palette.panel, palette.conductor, WIRE)
    pad.text(x, mid + 0.37 * small, words, small, palette.text, bold=True, ha="center")


def _network(pad: Pad, centre: float, top: float, network: Network, palette: Palette) -> None:
    """A box around the wires with its elements in their order, series ones in the upper wire."""
    mid, bottom = top + GAUGE / 2, top + GAUGE
    w = network_width(network, False)
    left, right = centre - w / 2, centre + w / 2
    pad.box(left, top - 22, w, GAUGE + 36, palette.panel, palette.secondary, 2, linestyle=(0, (4, 3)))
    x = centre - ELEMENT * (len(network.elements) - 1) / 2
    pad.line([left, right], [bottom, bottom], palette.conductor, WIRE)
    wire_from = left
    for element in network.elements:
        if element.position == "series":
            pad.line([wire_from, x - 21], [top, top], palette.conductor, WIRE)
            _element(pad, element, x, top, False, palette)
            wire_from = x + 21
        else:
            _upright(pad, x, top, mid - 21, palette)
            _element(pad, element, x, mid, True, palette)
            _upright(pad, x, mid + 21, bottom, palette)
            for y in (top, bottom):
                _dot(pad, x, y, palette)
        x += ELEMENT
    pad.line([wire_from, right], [top, top], palette.conductor, WIRE)


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
