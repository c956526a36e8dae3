"""What the meters read from key-down on: forward, reflected, and the difference, which is what flows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bouncesim.account.run import Run
from bouncesim.scenario.model import Line, Meter
from bouncesim.show.charts.plot import Floats, Plot, legend, ticks, with_unit
from bouncesim.show.charts.sheet import GAP, Rect, Sheet
from bouncesim.show.charts.timing import is_pulse, moments, shown_until, time_ticks
from bouncesim.show.numbers import prefix_for, ratio, reading
from bouncesim.show.text import width

ALIKE = 1e-6  # of the largest power: two places that read so nearly the same need one panel
ENDS_AT = 0.05  # of the scale, within which the last instant shown must be at the reading that is written beside it
NET = 6.0  # px of the difference's curve


@dataclass(frozen=True)
class Place:
    """Where power is read: its words, its powers against time and in steady state (W), and the SWR that these amount to."""

    name: str
    words: str
    forward: Floats
    reflected: Floats
    final: tuple[float, float]
    swr: float


def places(run: Run) -> list[Place]:
    """Terminals of the source, meters, starts of lines, in the order of the path; each reading once."""
    scenario, traces, found = run.scenario, run.traces, []
    source = next(name for name in (scenario.source_name, "transmitter") if name in traces.forward_w)
    final = run.readings.transmitter
    forward, reflected = (np.asarray(held[source], dtype=np.float64) for held in (traces.forward_w, traces.reflected_w))
    rho2 = ((final.swr - 1) / (final.swr + 1)) ** 2 if np.isfinite(final.swr) else 1.0
    whole = final.power_w / (1 - rho2) if rho2 < 1 else float(forward[-1])
    found.append(Place(source, f"At the {scenario.source_name}", forward, reflected, (whole, whole - final.power_w), final.swr))
    meters = {meter.name: meter for meter in run.readings.meters}
    lines = {line.name: line for line in run.readings.lines}
    for part in scenario.path:
        if not isinstance(part, Meter | Line) or part.name not in traces.forward_w:
            continue
        curves = (np.asarray(traces.forward_w[part.name], dtype=np.float64), np.asarray(traces.reflected_w[part.name], dtype=np.float64))
        if isinstance(part, Meter):
            meter = meters[part.name]
            found.append(Place(part.name, f"At the {part.name}", *curves, (meter.forward_w, meter.reflected_w), meter.swr))
        else:
            line = lines[part.name]
            end = (line.forward_in_w, line.reflected_in_w)
            found.append(Place(part.name, f"At the start of the {part.name}", *curves, end, line.swr_in))
    return _each_once(found, max(float(place.forward.max()) for place in found))


def _each_once(found: list[Place], largest: float) -> list[Place]:
    """A meter reads what stands beside it reads: its name stays."""
    kept: list[Place] = []
    for place in found:
        twin = next((one for one in kept if np.abs(one.forward - place.forward).max() < ALIKE * largest), None)
        if twin is None:
            kept.append(place)
        elif not place.words.startswith("At the start"):
            kept[kept.index(twin)] = place
    return kept


def chosen(run: Run, most: int) -> list[Place]:
    """At most so many places: those with the most forward power, in the order of the path."""
    found = places(run)
    largest = sorted(found, key=lambda place: -place.final[0])[:most]
    return [place for place in found if place in largest]


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    shown = chosen(run, 4 if sheet.is_wide or sheet.is_tall else 2)
    most = max(shown, key=lambda place: place.final[1])
    sheet.closing(_sentence(most) if not is_pulse(run) else _of_a_pulse(most))
    x, y, w, h = sheet.body
    columns = {3: 3, 4: 2}.get(len(shown), 1) if sheet.is_wide else 1
    rows = -(-len(shown) // columns)
    wide, tall = (w - GAP * (columns - 1)) / columns, (h - GAP * (rows - 1)) / rows
    full = 1.08 * max(max(float(place.forward.max()), 0.0 if is_pulse(run) else place.final[0]) for place in shown)
    for k, place in enumerate(shown):
        rect = (x + (k % columns) * (wide + GAP), y + (k // columns) * (tall + GAP), wide, tall)
        _panel(sheet, run, rect, place, full, first=k == 0, last=k >= len(shown) - columns)


def _panel(sheet: Sheet, run: Run, rect: Rect, place: Place, full: float, first: bool, last: bool) -> None:
    x, y, w, _ = sheet.titled(rect, place.words, "" if is_pulse(run) else f"SWR {ratio(place.swr)} in the end")
    small = sheet.type.small
    end = shown_until(run)
    factor, letter = prefix_for(full)
    words = [("forward", place.final[0]), ("reflected", place.final[1]), ("total", place.final[0] - place.final[1])]
    labels = {name: reading(max(value, 0.0), "W", 1e-6 * full) for name, value in words}
    right = max(width(label, small, True) for label in labels.values()) + 24
    if first:
        y = (
            legend(sheet, x, y + small, w, [("forward", "forward"), ("reflected", "reflected"), ("total", "difference: what flows")], NET)
            + 10
        )
    top = y + 1.1 * small + 26
    bottom = rect[1] + rect[3] - 14 - (2.4 * small + 16 if last else 1.2 * small + 12)
    found = with_unit(ticks(0, full / factor, max(int((bottom - top) / (1.4 * small)), 1)), f"{letter}W")
    left = max(width(tick, small) for _, tick in found) + 24
    plot = Plot(sheet, (x + left, top, w - left - right, bottom - top), (0.0, end), (0.0, full))
    x_ticks, unit = time_ticks(end, int(plot.rect[2] / (4.5 * small)))
    plot.frame(x_ticks, [(value * factor, word) for value, word in found])
    plot.marks(moments(run))
    if last:
        plot.x_name(f"time from key-down ({unit})")
    time = np.asarray(run.traces.time_s)
    plot.curve(time, place.forward - place.reflected, "total", 0.0, NET)
    plot.curve(time, place.forward, "forward", 0.1)
    plot.curve(time, place.reflected, "reflected", 0.2)
    at_end = int(np.searchsorted(time, end, side="right")) - 1
    if abs(float(place.forward[at_end]) - place.final[0]) < ENDS_AT * full:  # not after a pulse, or once the key is up
        _finals(sheet, plot, words, labels)


def _finals(sheet: Sheet, plot: Plot, words: list[tuple[str, float]], labels: dict[str, str]) -> None:
    """The steady readings right of the plot, none over another."""
    small = sheet.type.small
    apart = 1.15 * small
    order = sorted(words, key=lambda one: -one[1])
    at = [float(plot.py(value)) + 0.36 * small for _, value in order]
    low = plot.rect[1] + plot.rect[3] + 0.36 * small
    for k in range(len(at)):
        at[k] = max(at[k], at[k - 1] + apart if k else at[k])
    for k in range(len(at) - 1, -1, -1):
        at[k] = min(at[k], low - (len(at) - 1 - k) * apart)
    for (name, _), y in zip(order, at, strict=True):
        sheet.words(plot.rect[0] + plot.rect[2] + 14, y, labels[name], small, getattr(sheet.palette, name), bold=True)


def _of_a_pulse(place: Place) -> str:
    forward, reflected = (reading(float(power.max()), "W") for power in (place.forward, place.reflected))
    return f"The pulse brings {forward} at most, its echoes {reflected}: means over one period of the carrier."


def _sentence(place: Place) -> str:
    forward, reflected = place.final
    where = place.words[0].lower() + place.words[1:]
    if reflected < 0.01 * forward:
        return f"Forward {reading(forward, 'W')}, and next to nothing comes back {where}."
    return (
        f"Forward {reading(forward, 'W')} less reflected {reading(reflected, 'W')} leaves {reading(forward - reflected, 'W')} {where}: "
        "only the difference flows."
    )
