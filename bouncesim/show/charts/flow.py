"""Net power as bands: what leaves the transmitter, what each part keeps, what arrives. Over them, as readings, what the meters show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.patches import Polygon

from bouncesim.account.readings import LineReading
from bouncesim.account.run import Run
from bouncesim.scenario.model import Line, Network, Stub
from bouncesim.show.bars import WIDTHS, hatch
from bouncesim.show.charts.plot import Floats
from bouncesim.show.charts.sheet import GAP, Rect, Sheet, whole
from bouncesim.show.charts.steady import reading_of
from bouncesim.show.charts.timing import caution, is_pulse
from bouncesim.show.numbers import reading
from bouncesim.show.text import width
from bouncesim.show.theme import MARKS

COLUMN = 206.0, 150.0  # px that a step takes at least on a wide sheet, and on others
NOTHING = 1e-6  # share of the power under which a part counts as keeping nothing
HAIR = 2.0  # px of a branch too thin to see
BEND = 16.0  # px of the inner radius where heat branches off
TIP = 22.0  # px of an arrow's head


@dataclass(frozen=True)
class Step:
    """One thing on the way: what it is called, what it keeps (W), the power into and out of it, its readings if it is one line."""

    words: str
    mark: str
    kept_w: float
    in_w: float
    out_w: float
    line: LineReading | None = None
    count: int = 1


def steps(run: Run) -> list[Step]:
    """Every line, and every other part that keeps some of the power, in the order of the path."""
    parts = {part.name: part for part in run.readings.networks}
    floor = NOTHING * abs(run.readings.transmitter.power_w)
    found = []
    for part in run.scenario.path:
        if isinstance(part, Line):
            line = reading_of(run, part.name)
            found.append(Step(f"heat in the {part.name}", "line heat", line.heat_w, line.power_in_w, line.power_out_w, line))
        elif part.name in parts and abs(parts[part.name].heat_w) > floor:
            of, kind = parts[part.name], "tuner" if isinstance(part, Network) and part.is_tuner else part.part
            words = f"into the {part.name}" if isinstance(part, Stub) else f"heat in the {part.name}"
            mark = "into the stub" if isinstance(part, Stub) else f"{kind} heat"
            found.append(Step(words, mark if mark in MARKS else "other heat", of.heat_w, of.power_in_w, of.power_out_w))
    return found


def merged(found: list[Step], most: int) -> list[Step]:
    """At most so many steps: neighbours that together keep the least become one."""
    found = list(found)
    while len(found) > most:
        k = min(range(len(found) - 1), key=lambda k: found[k].kept_w + found[k + 1].kept_w)
        one, other = found[k], found[k + 1]
        count = one.count + other.count
        both = Step(f"kept by {count} parts", "other heat", one.kept_w + other.kept_w, one.in_w, other.out_w, None, count)
        found[k : k + 2] = [both]
    return found


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    x, _, w, _ = sheet.body
    found = merged(steps(run), max(int((w - 210) / (COLUMN[0] if sheet.is_wide else COLUMN[1])), 2))
    sheet.closing(sentence(run), caution(run) if is_pulse(run) else "")
    x, y, w, h = sheet.body
    lines = [step.line for step in found if step.line is not None]
    source, small = run.readings.transmitter.power_w, sheet.type.small
    high = max((max(line.forward_in_w, line.forward_out_w) for line in lines), default=0.0)
    back = max((max(line.reflected_in_w, line.reflected_out_w) for line in lines), default=0.0)
    columns = _columns(x, w, found, 2.0 if len(found) < 5 else 1.0)
    under = max((len(_label(step, b - a, small)) for step, (a, b) in zip(found, columns, strict=True)), default=1)
    head = 1.95 * sheet.type.header
    fixed_over, fixed_under = (
        head + 4.3 * small + 40,
        head + (3.3 + 1.15 * under) * small + 110,
    )  # px of words, heads and margins in the two panels
    scale = (h - GAP - fixed_over - fixed_under) / max(high + back + source * 1.2, 1e-30)
    over = fixed_over + scale * (high + back)
    _readings(sheet, (x, y, w, over), found, columns, scale, high)
    _account(sheet, run, (x, y + over + GAP, w, h - over - GAP), found, columns, scale)


def _columns(x: float, w: float, found: list[Step], line: float) -> list[tuple[float, float]]:
    """From where to where each step reaches, px; lines, which have arrows over them, take `line` times as much."""
    shares = np.cumsum([0.0, *(line if step.line is not None else 1.0 for step in found)])
    edges = x + 60 + shares / max(shares[-1], 1.0) * (w - 210)
    return list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))


def _readings(sheet: Sheet, rect: Rect, found: list[Step], columns: list[tuple[float, float]], scale: float, high: float) -> None:
    """Forward and reflected power on each line as arrows, and their difference."""
    beside = "readings, not an account" if sheet.is_wide else ""
    _, y, _, h = sheet.titled(rect, "What a meter would read on the lines" if beside else "What a meter reads: no account", beside)
    small, pad, palette = sheet.type.small, sheet.pad, sheet.palette
    for step, (a, b) in zip(found, columns, strict=True):
        if step.line is None:
            continue
        line, a, b = step.line, a + 12, b - 12
        base = y + 1.2 * small
        ahead = reading(line.forward_in_w, "W")
        sheet.words(a, base, _fitting(sheet, b - a, f"▶ forward {ahead}", f"▶ {ahead}", "▶"), small, palette.forward)
        top = base + 10
        pad.polygon(_arrow(a, b, top, scale * line.forward_in_w, scale * line.forward_out_w), palette.forward)
        lower = top + scale * high + 12
        thick = (scale * line.reflected_out_w, scale * line.reflected_in_w)
        body = pad.polygon(_arrow(b, a, lower, *thick), palette.panel, palette.reflected, 2.5)
        _hatched(sheet, body, "slanted", palette.reflected, (a, lower, b - a, max(thick) + 4))
        foot = y + h - 1.6 * small
        back = reading(line.reflected_in_w, "W")
        sheet.words(a, foot, _fitting(sheet, b - a, f"◀ reflected {back}", f"◀ {back}", "◀"), small, palette.reflected)
        net = reading(line.power_in_w, "W")
        sheet.words(a, foot + 1.25 * small, _fitting(sheet, b - a, f"{ahead} − {back} = {net} flow", f"{net} flow", net), small)


def _account(sheet: Sheet, run: Run, rect: Rect, found: list[Step], columns: list[tuple[float, float]], scale: float) -> None:
    """The net power, thinner by what each step keeps."""
    beside = "every watt, once" if sheet.is_wide else ""
    x, y, w, h = sheet.titled(rect, "Where the power goes: the account of net power", beside)
    small, body, pad, palette = sheet.type.small, sheet.type.body, sheet.pad, sheet.palette
    source, into = run.readings.transmitter.power_w, run.readings.antenna.power_w
    arrives = reading(into, "W", NOTHING * abs(source))
    sheet.words(x, y + small, reading(source, "W"), body, bold=True)
    sheet.words(
        x + width(reading(source, "W") + "  ", body, True), y + small, f"leave the {run.scenario.source_name}", small, palette.secondary
    )
    words = f"go into the {run.scenario.load_name}"
    sheet.words(x + w, y + small, words, small, palette.secondary, ha="right")
    sheet.words(
        x + w - width(words + "  ", small),
        y + small,
        arrives,
        body,
        palette.antenna,
        bold=True,
        ha="right",
    )
    top = y + 1.6 * small
    under = max((len(_label(step, b - a, small)) for step, (a, b) in zip(found, columns, strict=True)), default=1)
    foot = y + h - (1.6 + 1.15 * under) * small
    for power, (a, b) in zip(*_levels(found, columns, source, x), strict=True):
        pad.box(a, top, b - a + 0.5, max(scale * power, 0.0), palette.conductor, zorder=1.2)
    last, end = columns[-1][1] if columns else x, x + w - TIP
    thick = scale * into
    arrow = [(last, top), (end, top), (end + TIP, top + thick / 2), (end, top + thick), (last, top + thick)]
    area = pad.polygon(arrow, palette.antenna, zorder=1.2)
    _hatched(sheet, area, MARKS["antenna"].hatch, palette.panel, (last, top, end + TIP - last, thick))
    for step, (a, b) in zip(found, columns, strict=True):
        _branch(sheet, step, (a, b), (top + scale * max(step.out_w, 0.0), foot), scale, source)


def _levels(
    found: list[Step], columns: list[tuple[float, float]], source: float, x: float
) -> tuple[list[float], list[tuple[float, float]]]:
    """Net power of each piece of the band and from where to where it reaches, px: each step gives off what it keeps at its middle."""
    powers, reaches, at = [source], [], x
    for step, (a, b) in zip(found, columns, strict=True):
        reaches.append((at, (a + b) / 2))
        at = (a + b) / 2
        powers.append(step.out_w)
    return powers, [*reaches, (at, columns[-1][1] if columns else x)]


def _branch(sheet: Sheet, step: Step, reach: tuple[float, float], frame: tuple[float, float], scale: float, source: float) -> None:
    """What a step keeps bends away from the band, as wide as it is large, with its words at its foot."""
    pad, palette, small = sheet.pad, sheet.palette, sheet.type.small
    (a, b), (lower, foot) = reach, frame
    x, wide = (a + b) / 2, scale * abs(step.kept_w)
    if abs(step.kept_w) > NOTHING * abs(source):
        drawn = max(wide, HAIR)
        turn = np.linspace(0, np.pi / 2, 13)
        outer, inner = BEND + drawn, BEND
        y0 = lower  # the branch is the band's lowest layer
        centre = (x - 1, y0 + drawn + BEND)
        outside = np.column_stack([centre[0] + outer * np.sin(turn), centre[1] - outer * np.cos(turn)])
        inside = np.column_stack([centre[0] + inner * np.sin(turn), centre[1] - inner * np.cos(turn)])[::-1]
        end = max(foot - 1.3 * small - TIP * 0.6, centre[1] + 2)
        head = [(centre[0] + outer, end), (centre[0] + outer + 8, end), (centre[0] + (outer + inner) / 2, end + TIP * 0.7)]
        head += [(centre[0] + inner - 8, end), (centre[0] + inner, end)]
        shape = pad.polygon(np.concatenate([outside, head, inside]), palette.heat, zorder=1.15)
        if drawn > 12:
            _hatched(sheet, shape, MARKS[step.mark].hatch, palette.panel, (centre[0], y0, outer, end + TIP - y0))
    kept = reading(step.kept_w, "W", NOTHING * abs(source))
    middle, room = (x + BEND + wide / 2) if step.kept_w else x, b - a - 10
    middle = min(max(middle, a + room / 2), b - room / 2)
    sheet.words(middle, foot + 0.5 * small, kept, sheet.type.body, palette.text, bold=True, ha="center")
    for k, one in enumerate(_label(step, b - a, small)):
        sheet.words(middle, foot + (1.8 + 1.15 * k) * small, one, small, palette.secondary, ha="center")


def _label(step: Step, room: float, size: float) -> list[str]:
    """What a step keeps, in words, on at most three lines."""
    return whole(step.words, room - 10, size, 3 if room < 260 else 2)


def _hatched(sheet: Sheet, shape: Polygon, pattern: str, color: str, rect: Rect) -> None:
    """Strokes over a shape, cut at its outline."""
    if not WIDTHS[pattern]:
        return
    x, y, w, h = rect
    xs: list[float] = []
    ys: list[float] = []
    strip = 42.0
    for k in range(int(h // strip) + 1):
        for a, b, c, d in hatch(pattern, x - 60, x + w + 60, y + k * strip, strip):
            xs += [a, c, np.nan]
            ys += [b, d, np.nan]
    line = sheet.pad.line(xs, ys, color, WIDTHS[pattern], solid_capstyle="butt", zorder=1.25)
    line.set_clip_path(shape)


def _arrow(x0: float, x1: float, top: float, thick0: float, thick1: float) -> Floats:
    """An arrow from x0 to x1, its upper edge level, as thick at its ends as told; its head is no wider than its neck needs."""
    way = 1 if x1 > x0 else -1
    neck = x1 - way * min(TIP, abs(x1 - x0) / 2)
    t0, t1 = max(thick0, 1.0), max(thick1, 1.0)
    return np.array([[x0, top], [neck, top], [x1, top + t1 / 2], [neck, top + t1], [x0, top + t0]])


def _fitting(sheet: Sheet, room: float, *words: str) -> str:
    """The first of the words that fit; nothing if none does."""
    return next((one for one in words if width(one, sheet.type.small) <= room + 12), "")


def sentence(run: Run) -> str:
    """What becomes of the power, in words."""
    readings = run.readings
    source, into = readings.transmitter.power_w, readings.antenna.power_w
    line = max(readings.lines, key=lambda line: line.forward_in_w)
    share = f"{100 * into / source:.0f} %" if source > 0 else "nothing"
    load, leaves = run.scenario.load_name, reading(source, "W")
    first = f"{reading(into, 'W', NOTHING * abs(source))} of {leaves} ({share}) go into the {load}; the rest is heat on the way."
    if abs(source - into) <= NOTHING * abs(source):
        first = f"All {leaves} that leave the {run.scenario.source_name} go into the {load}."
    if line.reflected_in_w <= 0.02 * line.forward_in_w:
        return first
    back, ahead = reading(line.reflected_in_w, "W"), reading(line.forward_in_w, "W")
    return f"{first} On the {line.name}, {ahead} forward less {back} reflected is the {reading(line.power_in_w, 'W')} that flow."
