"""Start-up under several keys: what each part has to bear against its steady state, and what the transmitter sees meanwhile."""

from __future__ import annotations

from dataclasses import dataclass

from bouncesim.account.run import Run, Stress
from bouncesim.account.startup import OVER, KeyStart, StartUp
from bouncesim.quantity import show
from bouncesim.show.captions import SAFETY
from bouncesim.show.charts.plot import Plot, ticks
from bouncesim.show.charts.sheet import GAP, Rect, Sheet
from bouncesim.show.numbers import ratio
from bouncesim.show.text import shorten, width

MOST_TIMES = 3.0  # of the steady state that the scale shows; what is beyond stands at its end, with its figure
FEWEST_TIMES = 1.3
LEAST_ROW = 1.5  # lines of type
NAMES = 0.4  # of the width, at most, for the names of the parts
NOTHING = 2e-3  # of the largest reflected reading


@dataclass(frozen=True)
class Row:
    """One voltage or current under every key."""

    name: str
    unit: str
    stresses: tuple[Stress, ...]

    def times(self, key: int) -> float:
        """Largest over steady; 1 where there is neither."""
        one = self.stresses[key]
        return one.largest / one.steady if one.steady > 1e-9 * one.largest and one.steady > 0 else float("inf") if one.largest else 1.0

    @property
    def worst(self) -> int:
        """The key that asks the most."""
        return max(range(len(self.stresses)), key=lambda key: self.stresses[key].largest)


def rows(start: StartUp) -> list[Row]:
    """In the order of the path as far as the run has it; what is told twice, once."""
    found: list[Row] = []
    for at, stress in enumerate(start.keys[0].stresses):
        unit = "V" if stress.quantity.endswith("voltage") else "A"
        row = Row(f"{stress.line}: {stress.quantity}", unit, tuple(key.stresses[at] for key in start.keys))
        same = [one for one in found if [s.largest for s in one.stresses] == [s.largest for s in row.stresses] and one.unit == unit]
        if not same:
            found.append(row)
    return found


def draw(sheet: Sheet, run: Run, start: StartUp) -> None:
    """Draw onto a sheet that has its heading."""
    held = rows(start)
    sheet.closing(_sentence(run, start, held), _note(start))
    x, y, w, h = sheet.body
    if sheet.is_wide:
        left = 0.6 * w
        rects: tuple[Rect, Rect] = (x, y, left, h), (x + left + GAP, y, w - left - GAP, h)
    else:
        compact = (1.6 * len(start.keys) + 0.4) * sheet.type.body + 2.5 * sheet.type.header
        tall = 0.5 * h if sheet.is_tall else h - GAP - compact
        rects = (x, y, w, tall), (x, y + tall + GAP, w, h - tall - GAP)
    _bearing(sheet, rects[0], start, held)
    _seen(sheet, rects[1], start)


def _bearing(sheet: Sheet, rect: Rect, start: StartUp, held: list[Row]) -> None:
    """A row a place, a mark a key, at its largest value over that of the steady state."""
    x, y, w, h = sheet.titled(rect, "Largest against the steady state", "1: no more than later on")
    small, palette = sheet.type.small, sheet.palette
    most = max(int((h - 2.8 * small - 30) / (LEAST_ROW * small)), 1)
    shown = [row for row in held if row in sorted(held, key=lambda one: -max(one.times(k) for k in range(len(start.keys))))[:most]]
    wide = min(max(width(row.name, small) for row in shown), NAMES * w)
    figures = max(width(_figure(row), small, True) for row in shown)
    highest = max(row.times(k) for row in shown for k in range(len(start.keys)))
    full = min(max(1.08 * highest, FEWEST_TIMES), MOST_TIMES)
    lowest = min(0.9, *(row.times(k) for row in shown for k in range(len(start.keys))))
    plot = Plot(
        sheet, (x + wide + 24, y + 10, w - wide - figures - 66, h - 2.6 * small - 26), (min(lowest, 0.9), full), (0.0, float(len(shown)))
    )
    plot.frame(ticks(plot.x[0], full, max(int(plot.rect[2] / (4 * small)), 2)), ())
    plot.x_name("largest while starting up / largest in steady state")
    left, top, across, tall = plot.rect
    one = float(plot.px(1.0))
    sheet.pad.line([one, one], [top, top + tall], palette.text, 3, zorder=2.1)
    each = tall / len(shown)
    for k, row in enumerate(shown):
        middle = top + (k + 0.5) * each
        sheet.words(left - 14, middle + 0.36 * small, shorten(row.name, wide, small), small, ha="right")
        sheet.pad.line([left, left + across], [middle, middle], palette.grid, 1.5, zorder=1.06)
        _marks(sheet, plot, row, middle, full)
        sheet.words(x + w, middle + 0.36 * small, _figure(row), small, bold=True, ha="right")


def _marks(sheet: Sheet, plot: Plot, row: Row, middle: float, full: float) -> None:
    """A bar from the steady state to the worst key, and every key's mark on it."""
    one = float(plot.px(1.0))
    at = [float(plot.px(min(row.times(key), full))) for key in range(len(row.stresses))]
    far = max(at)
    if far > one + 2:
        sheet.pad.line([one, far], [middle, middle], sheet.palette.largest_edge, 7, zorder=2.2, solid_capstyle="butt")
    for key in reversed(range(len(at))):
        mark(sheet, at[key], middle, key)


def mark(sheet: Sheet, x: float, y: float, key: int) -> None:
    """A key's own sign: filled disc, hollow square, upright triangle, hollow diamond."""
    palette, pad, r = sheet.palette, sheet.pad, 0.42 * sheet.type.small
    points = {
        1: [(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)],
        2: [(x - 1.15 * r, y + r), (x + 1.15 * r, y + r), (x, y - 1.15 * r)],
        3: [(x - 1.3 * r, y), (x, y - 1.3 * r), (x + 1.3 * r, y), (x, y + 1.3 * r)],
    }
    colors = {0: palette.reflected, 1: palette.panel, 2: palette.antenna, 3: palette.panel}
    edges = {0: palette.panel, 1: palette.forward, 2: palette.panel, 3: palette.text}
    if key % 4 == 0:
        pad.circle(x, y, r, colors[0], edges[0], 2).set_zorder(2.9)
    else:
        pad.polygon(points[key % 4], colors[key % 4], edges[key % 4], 3.5 if key % 2 else 2.0, zorder=2.8)


def _figure(row: Row) -> str:
    return show(row.stresses[row.worst].largest, row.unit)


def _seen(sheet: Sheet, rect: Rect, start: StartUp) -> None:
    """Key by key: its sign, how long it takes, and what a meter at the terminals would show."""
    x, y, w, h = sheet.titled(rect, "What the transmitter sees", "at its terminals")
    small, body, palette = sheet.type.small, sheet.type.body, sheet.palette
    each = h / len(start.keys)
    line = 1.3 * small
    room = int((each - 1.25 * body) / line)
    for k, key in enumerate(start.keys):
        base = y + k * each + body
        mark(sheet, x + 0.5 * small, base - 0.36 * body, k)
        sheet.words(x + 1.6 * small, base, _key(key), body, bold=True)
        facts = _facts(start, key)
        if room < len(facts):
            beside = w - 1.6 * small - width(_key(key), body, True) - 30
            sheet.words(x + w, base, shorten(facts.pop(), beside, small), small, palette.secondary, ha="right")
        for words in facts[len(facts) - min(room, len(facts)) :]:
            base += line
            sheet.words(x + 1.6 * small, base, shorten(words, w - 1.6 * small, small), small, palette.secondary)


def _key(key: KeyStart) -> str:
    return "step" if key.rise_s == 0 else key.key if key.key.startswith("its own") else f"rise of {key.key}"


def _facts(start: StartUp, key: KeyStart) -> list[str]:
    seen, least = key.seen, NOTHING * max(one.seen.reflected_w for one in start.keys)
    trips = f" ({key.round_trips:.3g} round trips)" if key.round_trips < 1000 else ""
    reflected = (
        f"up to {show(seen.reflected_w, 'W')}, {100 * seen.share:.1f} % of forward" if seen.reflected_w > least else "next to nothing"
    )
    return [
        f"settled after {show(key.settled_s, 's')}{trips}",
        f"reflected: {reflected}",
        f"SWR {ratio(seen.swr_least)} to {ratio(seen.swr_most)}",
    ]


def _sentence(run: Run, start: StartUp, held: list[Row]) -> str:
    found = [(row.times(k), row, k) for row in held for k in range(len(start.keys))]
    most, row, k = max(found, key=lambda one: one[0])
    key, stress = start.keys[k], row.stresses[k]
    slow = max(start.keys, key=lambda one: one.rise_s)
    if most <= 1 + OVER:
        return "Under none of these keys has any part to bear more than in the steady state."
    more = f"{100 * (most - 1):.0f} % more than later" if most < 10 else "many times more than later"
    under = "a step" if key.rise_s == 0 else f"the key of {show(key.rise_s, 's')}"
    where = "in" if " " in stress.quantity else "on" if stress.at_m or stress.line in {line.name for line in run.scenario.lines} else "at"
    words = f"Worst: under {under} the {stress.quantity} {where} the {stress.line} reaches {show(stress.largest, row.unit)}, {more}."
    if slow is not key and all(one.largest <= one.steady * (1 + OVER) for one in slow.stresses):
        words += f" With a key of {show(slow.rise_s, 's')}: none of it."
    return words


def _note(start: StartUp) -> str:
    step = next((key for key in start.keys if key.rise_s == 0), None)
    exact = "" if step is None or step.is_exact else " The front of the step rings a little on this grid."
    return f"Not the stress on the devices inside the transmitter.{exact} {SAFETY}"
