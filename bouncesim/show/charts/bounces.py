"""The echoes as they run up and down the lines: forward and reflected power at every place (across) and time (down)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.run import LineTrace, Run
from bouncesim.show.charts.plot import Floats, ticks
from bouncesim.show.charts.sheet import GAP, Rect, Sheet
from bouncesim.show.charts.strip import Strip
from bouncesim.show.charts.timing import is_pulse, shown_until
from bouncesim.show.numbers import prefix_for, reading
from bouncesim.show.text import width
from bouncesim.show.theme import Palette

MOST_TRIPS = 8.0  # round trips shown, unless the key takes longer to rise
LEAST_TRIPS = 2.0
FLAT = 0.02  # of the picture's height, under which the path of a wave is not drawn
LEAST_PERIODS = 4.0  # carrier periods shown at least
ROWS, COLUMNS = 420, 700  # of the picture: instants, and places along all lines
AT_ONCE = 32  # places whose snapshots are summed at once: of all of them they take several times the memory of the run
BAR = 18.0  # px of the scale's height
SHADES = 64
FORWARD = ("Forward power ▶", "line: path of the first wave")
REFLECTED = ("Reflected power ◀", "dashes: path of its echo")


def wave_power(trace: LineTrace, times: Floats, period: float, when: Floats, way: int, velocity: float) -> Floats:
    """Forward (way 1) or reflected (-1) power (W) at every place, shape (len(when), K).

    Mean over the last carrier period where snapshots follow one another closely. Where whole periods are left out between them it is the
    mean over half a wavelength of places, which a travelling wave of power repeats as it does half a period; on a line too short for that,
    over as many snapshots as make up a period.
    """
    step = float(times[1] - times[0])
    n = np.clip(np.searchsorted(times, when, side="right"), 0, len(times))
    half_wave = velocity * period / 2
    if step > period and half_wave <= float(trace.x_m[-1]):
        before = _power(trace, way, np.s_[np.maximum(n - 1, 0)])
        before[n == 0] = 0
        return _over_places(before, np.asarray(trace.x_m, dtype=np.float64), half_wave)
    phase = math.remainder(step, period) if step > period else step
    count = period / abs(phase) if phase else 1.0
    whole, rest = int(count), count - int(count)
    found = np.empty((len(n), len(trace.x_m)))
    for first in range(0, found.shape[1], AT_ONCE):
        places = np.s_[:, first : first + AT_ONCE]
        power = _power(trace, way, places)
        nothing = np.zeros((whole + 1, power.shape[1]))
        sums = np.concatenate([nothing, np.cumsum(power, axis=0)])  # row n + whole: the first n snapshots
        found[places] = (sums[n + whole] - sums[n] + rest * np.concatenate([nothing, power])[n]) / count
    return found


def _power(trace: LineTrace, way: int, which: Any) -> Floats:
    """Instantaneous power (W) of the snapshots and places that `which` picks."""
    wave = (trace.voltage_v[which] + way * trace.reference_ohm * trace.current_a[which]) / 2
    return np.asarray(np.square(wave, dtype=np.float64) / trace.reference_ohm)


def _over_places(power: Floats, x: Floats, window: float) -> Floats:
    """Means over `window` m of places about each, moved inward at the ends; shape (T, K), trapezoids between places."""
    sums = np.concatenate([np.zeros((len(power), 1)), np.cumsum((power[:, 1:] + power[:, :-1]) / 2 * np.diff(x), axis=1)], axis=1)
    start = np.clip(x - window / 2, x[0], x[-1] - window)
    at = np.clip(np.searchsorted(x, [start, start + window], side="right") - 1, 0, len(x) - 2)
    share = ([start, start + window] - x[at]) / (x[at + 1] - x[at])
    low, high = (sums[:, i] * (1 - w) + sums[:, i + 1] * w for i, w in zip(at, share, strict=True))
    return np.asarray((high - low) / window)


def span_of(run: Run) -> float:
    """How long the picture lasts (s): until the station has settled, but not over many round trips."""
    trip, period = run.moments["first echo"], 1 / run.scenario.transmitter.frequency_hz
    rise = run.scenario.keying.rise_s
    wanted = max(min(run.moments["settled"] + trip / 2, MOST_TRIPS * trip), LEAST_TRIPS * trip, 1.3 * rise, LEAST_PERIODS * period)
    happens = run.scenario.last_event_s
    wanted = max(wanted, min(happens + 3 * trip, 3 * MOST_TRIPS * trip)) if happens else wanted
    if is_coarse(run):
        wanted = shown_until(run)
    return min(wanted, float(run.traces.time_s[-1]))


def is_coarse(run: Run) -> bool:
    """Whether the run has too few snapshots to tell one echo from the next."""
    return float(run.traces.time_s[1] - run.traces.time_s[0]) > run.moments["first echo"] / 3


def is_short(run: Run) -> bool:
    """Whether an echo takes less than a period of the carrier, so that it melts into the next."""
    return run.moments["first echo"] < 1 / run.scenario.transmitter.frequency_hz


def steps_show(run: Run) -> bool:
    """Whether the paths of the echoes are drawn."""
    return not is_short(run) and not is_coarse(run) and run.moments["first echo"] > FLAT * span_of(run)


def draw(sheet: Sheet, run: Run) -> None:
    """Draw onto a sheet that has its heading."""
    end = span_of(run)
    sheet.closing(_sentence(run, end))
    times = np.asarray(run.traces.time_s, dtype=np.float64)
    when = np.linspace(0, end, ROWS)
    period = 1 / run.scenario.transmitter.frequency_hz
    speeds = [line.constants(1 / period).velocity for line in run.scenario.lines]
    maps = {
        way: [wave_power(trace, times, period, when, way, speed) for trace, speed in zip(run.traces.lines, speeds, strict=True)]
        for way in (1, -1)
    }
    full = {way: max(float(grid.max()) for grid in held) or 1.0 for way, held in maps.items()}
    x, y, w, h = sheet.body
    if not sheet.is_tall:
        half = (w - GAP) / 2
        rects = [(x, y, half, h), (x + half + GAP, y, half, h)]
    else:
        half = (h - GAP) / 2
        rects = [(x, y, w, half), (x, y + half + GAP, w, half)]
    for way, rect, words in ((1, rects[0], FORWARD), (-1, rects[1], REFLECTED)):
        _panel(sheet, run, rect, words if steps_show(run) else words[:1], way, maps[way], (end, full[way]))


def _panel(sheet: Sheet, run: Run, rect: Rect, title: tuple[str, ...], way: int, grids: list[Floats], scale: tuple[float, float]) -> None:
    end, full = scale
    x, y, w, h = sheet.titled(rect, *title)
    small = sheet.type.small
    strip = Strip(sheet, run.scenario, x, x + w, left=4.2 * small, bare=True)
    strip.draw(y)
    top = y + strip.height + 0.4 * small
    bottom = y + h - 2.6 * small - 16 - BAR - 2.2 * small
    palette = sheet.palette
    ramp = shades(palette, palette.forward if way > 0 else palette.reflected)
    for grid, reach, trace in zip(grids, strip.reaches, run.traces.lines, strict=True):
        columns = max(int(COLUMNS * (reach.x1 - reach.x0) / (strip.x1 - strip.x0)), 2)
        places = np.linspace(0, reach.line.length_m, columns)
        at = np.clip(np.searchsorted(trace.x_m, places), 0, len(trace.x_m) - 1)
        level = np.clip(np.rint(grid[:, at] / full * (SHADES - 1)), 0, SHADES - 1).astype(int)
        picture = sheet.axes.imshow(
            ramp[level], extent=(reach.x0, reach.x1, bottom, top), aspect="auto", interpolation="nearest", zorder=1.2
        )
        picture.set_clip_on(False)
    factor, letter = prefix_for(end)
    y_ticks = [
        (top + value * factor / end * (bottom - top), words) for value, words in ticks(0, end / factor, int((bottom - top) / (2.2 * small)))
    ]
    strip.axis((strip.x0, top, strip.x1 - strip.x0, bottom - top), y_ticks, x_words=True)
    sheet.words(x - 6, top - 0.55 * small, f"{letter}s ↓", small, palette.secondary)
    if steps_show(run):
        _fronts(sheet, run, strip, way, (top, bottom, end))
    _scale(sheet, strip, ramp, y + h - BAR - 1.75 * small, full)


def shades(palette: Palette, color: str) -> NDArray[np.uint8]:
    """Colours from nothing to all, (SHADES, 3): from the panel through the wave's colour on toward the text, ever farther away."""
    stops = np.array([[int(one[i : i + 2], 16) for i in (1, 3, 5)] for one in (palette.background, color, palette.text)], dtype=float)
    stops[2] = 0.25 * stops[1] + 0.75 * stops[2]
    share = np.linspace(0, 1, SHADES)
    return np.column_stack([np.interp(share, [0, 0.62, 1], stops[:, k]) for k in range(3)]).round().astype(np.uint8)


def delays(run: Run) -> Floats:
    """When a wave that sets out at 0 is at each line's start, and last at the antenna, s."""
    frequency = run.scenario.transmitter.frequency_hz
    return np.concatenate([[0.0], np.cumsum([line.length_m / line.constants(frequency).velocity for line in run.scenario.lines])])


def _fronts(sheet: Sheet, run: Run, strip: Strip, way: int, frame: tuple[float, float, float]) -> None:
    """The first wave on its way to and fro: a solid leg toward the antenna, a dashed one back."""
    top, bottom, end = frame
    ahead = delays(run)
    there, pad, palette = ahead[-1], sheet.pad, sheet.palette
    for trip in range(int(min(end / (2 * there), MOST_TRIPS)) + 1):
        for k, reach in enumerate(strip.reaches):
            if way > 0:
                t0, t1 = 2 * trip * there + ahead[k], 2 * trip * there + ahead[k + 1]
            else:
                t0, t1 = 2 * (trip + 1) * there - ahead[k], 2 * (trip + 1) * there - ahead[k + 1]
            ts = np.linspace(t0, t1, 2)
            xs = np.array([reach.x0, reach.x1])
            if ts.min() >= end:
                continue
            if ts.max() > end:
                first, last = (0, 1) if ts[0] < ts[1] else (1, 0)
                xs[last] = xs[first] + (xs[last] - xs[first]) * (end - ts[first]) / (ts[last] - ts[first])
                ts[last] = end
            ys = top + ts / end * (bottom - top)
            style = {} if way > 0 else {"linestyle": (0, (4.0, 2.5))}
            pad.line(xs, ys, palette.background, 6.5, zorder=2.0, solid_capstyle="butt")
            pad.line(xs, ys, palette.text, 3.0, zorder=2.1, solid_capstyle="butt", **style)


def _scale(sheet: Sheet, strip: Strip, ramp: NDArray[np.uint8], y: float, full: float) -> None:
    """How much power each shade stands for."""
    small, palette = sheet.type.small, sheet.palette
    x0, x1 = strip.x0, strip.x1
    bar = sheet.axes.imshow(ramp[None], extent=(x0, x1, y + BAR, y), aspect="auto", interpolation="nearest", zorder=1.2)
    bar.set_clip_on(False)
    sheet.pad.box(x0, y, x1 - x0, BAR, "none", palette.axis, 1.5)
    factor, letter = prefix_for(full)
    found = ticks(0, full / factor, max(int((x1 - x0) / 130), 1))
    for value, words in found:
        x = x0 + value * factor / full * (x1 - x0)
        words += f" {letter}W" if value == found[-1][0] else ""
        sheet.pad.line([x, x], [y + BAR, y + BAR + 6], palette.axis, 2)
        reach = width(words, small) / 2
        sheet.words(min(x, x1 + 40 - reach), y + BAR + 8 + small, words, small, palette.secondary, ha="center")


def _sentence(run: Run, end: float) -> str:
    trip = run.moments["first echo"]
    name = run.scenario.lines[0].name
    rise = run.scenario.keying.rise_s
    back = reading(trip, "s")
    if is_pulse(run):
        return f"The pulse is at the far end after {reading(trip / 2, 's')}, and its echo is back after {back}."
    if is_short(run):
        return f"There and back takes {back}, less than one period of the carrier: the echoes melt into one another, and no step shows."
    if rise > 3 * trip:
        return f"The key takes {reading(rise, 's')} to rise, an echo {back} to come back: each is lost in the rise, and no step shows."
    if is_coarse(run):
        apart = reading(float(run.traces.time_s[1] - run.traces.time_s[0]), "s")
        return f"An echo takes {back} there and back, and the snapshots of this run are {apart} apart: no step shows."
    forward, times = run.traces.forward_w[name], run.traces.time_s
    steps = [float(np.interp((n + 0.9) * trip, times, forward)) for n in range(3) if (n + 0.9) * trip < end]
    if len(steps) == 3 and abs(steps[2] - steps[0]) > 0.01 * steps[0]:
        return (
            f"Each echo takes {back} there and back. Forward power at the start: {reading(steps[0], 'W')} in the first wave, "
            f"{reading(steps[1], 'W')} after one round trip, {reading(steps[2], 'W')} after two."
        )
    first, echo = float(np.interp(0.95 * trip, times, forward)), float(np.interp(1.9 * trip, times, run.traces.reflected_w[name]))
    return f"A wave of {reading(first, 'W')} sets out; after {back}, there and back, its echo brings {reading(echo, 'W')}."
