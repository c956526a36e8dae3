"""The reflection along each line, in the complex plane: how much comes back (distance from the centre) and in what phase (direction)."""

from __future__ import annotations

import math

import numpy as np

from bouncesim.account.readings import swr_of
from bouncesim.account.run import LineTrace, Run
from bouncesim.show.charts.sheet import GAP, Rect, Sheet, whole
from bouncesim.show.charts.steady import Floats, reading_of, reflection
from bouncesim.show.charts.timing import caution, is_pulse
from bouncesim.show.numbers import plain, ratio
from bouncesim.show.text import shorten, width

RINGS = (0.25, 0.5, 0.75)
MOST, MOST_SQUARE = 6, 4  # lines shown, the longest
BROAD = 150.0  # px of a circle's radius from which its marks have their full size
FEW_PX = 400.0  # px of a plane under which its words at the rim are left out
HEADS = 3  # arrowheads along a curve


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    longest = sorted(run.traces.lines, key=lambda trace: -float(trace.x_m[-1]))[: MOST if sheet.is_wide or sheet.is_tall else MOST_SQUARE]
    shown = [trace for trace in run.traces.lines if trace in longest]
    note = "" if len(shown) == len(run.traces.lines) else f"The {len(shown)} longest of {len(run.traces.lines)} lines are shown. "
    sheet.closing(_sentence(run), note + "Reflection against √(L/C) of each line." + (" " + caution(run) if is_pulse(run) else ""))
    x, y, w, h = sheet.body
    key = (x, y, min(0.31 * w, 560.0), h) if sheet.is_wide else (x, y + h - 8.6 * sheet.type.small, w, 8.6 * sheet.type.small)
    area = (x + key[2] + GAP, y, w - key[2] - GAP, h) if sheet.is_wide else (x, y, w, h - key[3] - GAP)
    _how_to_read(sheet, key, run)
    columns = best_columns(len(shown), area[2], area[3], (3 if sheet.is_wide else 5) * sheet.type.small)
    rows = -(-len(shown) // columns)
    wide, tall = (area[2] - GAP * (columns - 1)) / columns, (area[3] - GAP * (rows - 1)) / rows
    for k, trace in enumerate(shown):
        _plane(sheet, run, trace, (area[0] + (k % columns) * (wide + GAP), area[1] + (k // columns) * (tall + GAP), wide, tall))


def best_columns(count: int, w: float, h: float, head: float) -> int:
    """In how many columns `count` circles come out largest, each with a heading of `head` px."""
    return max(range(1, count + 1), key=lambda columns: (min(w / columns, h / -(-count // columns) - head), -columns))


def _plane(sheet: Sheet, run: Run, trace: LineTrace, rect: Rect) -> None:
    line, small, palette, pad = reading_of(run, trace.name), sheet.type.small, sheet.palette, sheet.pad
    swr = (
        f"SWR {ratio(line.swr_in)}"
        if abs(line.swr_in - line.swr_out) < 0.005 * line.swr_in
        else f"SWR {ratio(line.swr_out)} → {ratio(line.swr_in)}"
    )
    title = shorten(trace.name, rect[2] - 52, sheet.type.header, True)
    x, y, w, h = sheet.titled(rect, title, f"{plain(trace.reference_ohm, 3)} Ω · {swr}")
    labels = min(w, h) > FEW_PX
    edge = 1.7 * small if labels else 10.0
    radius = min(w / 2 - (8 if not labels else 2.4 * small), h / 2 - edge)
    cx, cy = x + w / 2, y + h / 2
    for ring in (*RINGS, 1.0):
        turn = np.linspace(0, 2 * np.pi, 181)
        style = {"zorder": 1.2} | ({} if ring == 1.0 else {"linestyle": (0, (2.0, 2.0))})
        pad.line(
            cx + ring * radius * np.cos(turn),
            cy + ring * radius * np.sin(turn),
            palette.axis if ring == 1.0 else palette.stored,
            3 if ring == 1.0 else 1.5,
            **style,
        )
    for ends in (([cx - radius, cx + radius], [cy, cy]), ([cx, cx], [cy - radius, cy + radius])):
        pad.line(*ends, palette.grid, 2, zorder=1.1)
    if labels:
        _rim(sheet, cx, cy, radius)
    gamma = reflection(trace)
    px, py = cx + radius * gamma.real, cy - radius * gamma.imag
    turns = float(np.abs(np.diff(np.unwrap(np.angle(gamma)))).sum()) / (2 * math.pi)
    thick = sheet.stroke * (5.0 if turns < 3 else 3.0 if turns < 8 else 2.0)
    pad.line(px, py, palette.panel, thick + 4, zorder=2.1)
    pad.line(px, py, palette.reflected, thick, zorder=2.2)
    size = min(radius / BROAD, 1.0)
    _heads(sheet, px, py, HEADS if size == 1.0 else 1, 14 * max(size, 0.6))
    dot = 12 * max(size, 0.6)
    end = pad.circle(float(px[-1]), float(py[-1]), dot, palette.antenna, palette.panel, 3)
    start = pad.box(float(px[0]) - 0.9 * dot, float(py[0]) - 0.9 * dot, 1.8 * dot, 1.8 * dot, palette.text, palette.panel, 3)
    end.set_zorder(2.6)
    start.set_zorder(2.5)


def _rim(sheet: Sheet, cx: float, cy: float, radius: float) -> None:
    """What the rim and the rings stand for."""
    small, palette = sheet.type.small, sheet.palette
    sheet.words(cx, cy - radius - 10, "+90°", small, palette.secondary, ha="center")
    sheet.words(cx, cy + radius + 8 + 0.8 * small, "−90°", small, palette.secondary, ha="center")
    sheet.words(cx + radius + 10, cy + 0.36 * small, "0°", small, palette.secondary)
    sheet.words(cx - radius - 10, cy + 0.36 * small, "180°", small, palette.secondary, ha="right")


def _heads(sheet: Sheet, px: Floats, py: Floats, count: int, reach: float) -> None:
    """Arrowheads along the curve, from the antenna's end toward the transmitter's."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(px), np.diff(py)))])
    if way[-1] < 60:
        return
    turn = 2 * math.pi * float(np.hypot(px - px.mean(), py - py.mean()).max())  # heads over the first turn from the load's end
    for share in (np.arange(count) + 0.5) / count:
        at = way[-1] - share * min(way[-1], 0.9 * turn)
        x, y = float(np.interp(at, way, px)), float(np.interp(at, way, py))
        x0, y0 = float(np.interp(at + 12, way, px)), float(np.interp(at + 12, way, py))
        dx, dy = (x - x0), (y - y0)
        size = math.hypot(dx, dy) or 1.0
        ux, uy = reach * dx / size, reach * dy / size
        sheet.pad.polygon(
            [(x + ux, y + uy), (x - ux - uy, y - uy + ux), (x - ux + uy, y - uy - ux)],
            sheet.palette.reflected,
            sheet.palette.panel,
            2.5,
            zorder=2.3,
        )


def _how_to_read(sheet: Sheet, rect: Rect, run: Run) -> None:
    """The key: what a place in the plane means."""
    x, y, w, _ = sheet.titled(rect, "How to read it")
    small, palette, pad = sheet.type.small, sheet.palette, sheet.pad
    source, load = run.scenario.source_name, run.scenario.load_name
    entries = [
        ("centre", "nothing comes back"),
        ("rim", "all of it comes back"),
        ("rings", f"a quarter, half, three quarters of the voltage: SWR {', '.join(ratio(swr_of(ring)) for ring in RINGS)}"),
        ("dot", f"the end nearest the {load}"),
        ("square", f"the end nearest the {source}"),
        ("curve", "one turn for every half wavelength of line; loss draws it inward"),
    ]
    narrow = not sheet.is_wide
    column = w / 2 - 14 if narrow else w
    at = [y + small, y + small]
    for k, (sign, words) in enumerate(entries if not narrow else [entries[i] for i in (0, 1, 3, 4)]):
        side = k % 2 if narrow else 0
        left, base = x + side * (column + 28), at[side]
        if sign == "dot":
            pad.circle(left + 12, base - 0.36 * small, 11, palette.antenna, palette.panel, 2)
        elif sign == "square":
            pad.box(left + 2, base - 0.36 * small - 10, 20, 20, palette.text)
        else:
            name = sign
            sheet.words(left, base, name, small, bold=True)
        indent = 40 if sign in ("dot", "square") else width(sign + "  ", small, True)
        if narrow:
            lines = whole(words, column - indent, small, 2)
        else:
            indent, lines = (
                (40, whole(words, column - 40, small, 3))
                if sign in ("dot", "square")
                else (indent, whole(words, column - indent, small, 5))
            )
        for k2, line in enumerate(lines):
            sheet.words(left + indent, base + 1.2 * k2 * small, line, small, palette.secondary)
        at[side] = base + (1.2 * len(lines) + 0.55) * small


def _sentence(run: Run) -> str:
    trace = max(run.traces.lines, key=lambda trace: float(np.abs(reflection(trace)).max()))
    gamma = reflection(trace)
    near, far = abs(gamma[0]), abs(gamma[-1])
    turns = abs(float(np.unwrap(np.angle(gamma))[0] - np.unwrap(np.angle(gamma))[-1])) / (2 * math.pi)
    if far < 0.01:
        return f"Next to nothing comes back on the {trace.name}: its reflection stays at the centre."
    first = f"At the far end of the {trace.name} {100 * far**2:.0f} % of the power comes back."
    if near < 0.98 * far:
        return f"{first} Seen from its near end it is {100 * near**2:.0f} %: loss on the line hides a part of the mismatch."
    turned = f"{turns:.1f} times round" if turns >= 1 else f"by {360 * turns:.0f}°"
    return f"{first} Along the line only its phase turns, {turned}: the SWR stays what it is."
