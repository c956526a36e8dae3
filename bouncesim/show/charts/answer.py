"""One question, one answer: the figure in large type, how sure it is, what the claims say, where the power goes, how to get it again."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bouncesim.account.run import Run
from bouncesim.account.verdict import Outcome
from bouncesim.show.bars import Bar
from bouncesim.show.captions import SAFETY
from bouncesim.show.charts.flow import NOTHING, Step, steps
from bouncesim.show.charts.flow import sentence as where_it_goes
from bouncesim.show.charts.plot import swatch
from bouncesim.show.charts.sheet import GAP, Rect, Sheet, whole
from bouncesim.show.numbers import plain, ratio, reading, unit_of, with_error
from bouncesim.show.text import shorten, width, wrap
from bouncesim.show.theme import INSET, MARKS

FIGURE = (190.0, 170.0, 150.0, 130.0, 110.0, 90.0, 70.0, 54.0)  # px of the answer's figure, the largest that fits
HIGH_V = 50.0  # V peak from which the voltage is told beside the caution
MOST_HEATS = {True: 3, False: 2}  # pieces of heat in the bar, on a sheet with room for them and on a square one


@dataclass(frozen=True)
class Judged:
    """One claim and how it came out: "holds", "fails" or "too close to call", and by how much in words."""

    says: str
    outcome: str
    by_how_much: str


@dataclass(frozen=True)
class Answer:
    """What the card says besides the run: the quantity that answers (a path such as antenna.power_w) in words, its error bar and closed
    form if known, its range over transmitters if it has one, the claims, and the command line that makes the card again."""

    question: str
    quantity: str
    value: float
    words: str
    error_bar: float | None = None
    exact: float | None = None
    outcome: Outcome | None = None
    least: float | None = None
    most: float | None = None
    claims: tuple[Judged, ...] = ()
    command: str = ""


def draw(sheet: Sheet, run: Run, answer: Answer) -> None:
    """Draw onto a sheet that has its heading: the question."""
    sheet.closing(where_it_goes(run), _note(run, answer))
    x, y, w, h = sheet.body
    if sheet.is_wide:
        wide = 0.56 * w
        left, right = (x, y, wide, h), (x + wide + GAP, y, w - wide - GAP, h)
    else:
        shares = MOST_HEATS[sheet.is_wide or sheet.is_tall] + 1
        needed = 1.95 * sheet.type.header + 66 + (1.6 + 1.4 * shares) * sheet.type.small + 14
        tall = 0.44 * h if sheet.is_tall else h - GAP - needed
        left, right = (x, y, w, tall), (x, y + tall + GAP, w, h - tall - GAP)
    _figure(sheet, run, left, answer)
    _shares(sheet, run, right, answer)


def figure(value: float, quantity: str) -> str:
    """A reading as it stands in large type."""
    unit = unit_of(quantity)
    return reading(value, unit) if unit else ratio(value) if "swr" in quantity else reading(value, "")


def _figure(sheet: Sheet, run: Run, rect: Rect, answer: Answer) -> None:
    """The answer, what it is, and how sure it is."""
    x, y, w, h = rect
    sheet.panel(rect)
    room, small = w - 2 * INSET, sheet.type.small
    words = figure(answer.value, answer.quantity)
    ranged = answer.least is not None and answer.most is not None
    if ranged:
        words = f"{figure(answer.least or 0.0, answer.quantity)} to {figure(answer.most or 0.0, answer.quantity)}"
    fitting = int((h - FIGURE[-1] - 4.2 * sheet.type.header) / (1.3 * small))
    lines = [line for part in _how_sure(answer) for line in wrap(part, room, small)][: max(fitting, 1)]
    below = 2.9 * sheet.type.header + len(lines) * 1.3 * small + 20
    size = next((px for px in FIGURE if width(words, px, True) <= room and px * 1.1 <= h - below), FIGURE[-1])
    top = y + max((h - below - size) / 2, 10)
    middle = x + w / 2
    sheet.words(middle, top + 0.85 * size, shorten(words, room, size, True), size, bold=True, ha="center")
    base = top + size + 1.2 * sheet.type.header
    for line in whole(answer.words + _share(run, answer), room, sheet.type.header, 2):
        sheet.words(middle, base, line, sheet.type.header, ha="center")
        base += 1.25 * sheet.type.header
    base += 0.4 * small
    for line in lines:
        sheet.words(middle, base, line, small, sheet.palette.secondary, ha="center")
        base += 1.3 * small


def _share(run: Run, answer: Answer) -> str:
    """A power's share of what leaves the transmitter, in words."""
    source = run.readings.transmitter.power_w
    told = answer.quantity.endswith(("antenna.power_w", "receiver.power_w", ".heat_w"))
    if not told or source <= 0 or answer.least is not None:
        return ""
    return f": {100 * answer.value / source:.3g} % of the {reading(source, 'W')} that leave the {run.scenario.source_name}"


def _how_sure(answer: Answer) -> list[str]:
    """The error bar and the closed form, or the reason for a range."""
    found = []
    if answer.least is not None:
        found.append("It depends on the transmitter: this is the range over source impedances. With its own:")
    unit = unit_of(answer.quantity)
    if answer.error_bar is not None and answer.exact is not None and math.isfinite(answer.value) and math.isfinite(answer.exact):
        value, bar = with_error(answer.value, answer.error_bar, unit)
        exact, _ = with_error(answer.exact, answer.error_bar, unit)
        told = {"fails": "they do NOT agree", "not proven": "NOT PROVEN, as the error bar cannot be trusted"}
        agree = told.get(answer.outcome or "", "they agree")
        found.append(f"Simulated {value} {bar}; closed form {exact}: {agree}.")
    elif answer.exact is not None:
        found.append(f"Closed form: {figure(answer.exact, answer.quantity)}{_apart(answer)}.")
    return found


def _apart(answer: Answer) -> str:
    """How far simulation and closed form are apart."""
    if not answer.exact or not math.isfinite(answer.exact):
        return ""
    off = 100 * abs(answer.value / answer.exact - 1)
    return f"; the simulation is {off:.1g} % away" if off >= 1e-4 else "; the simulation agrees to a millionth"


def _shares(sheet: Sheet, run: Run, rect: Rect, answer: Answer) -> None:
    """Net power as one bar with its shares, then the claims."""
    source_ohm = f", with a source of {plain(run.scenario.transmitter.source_impedance_ohm)} Ω" if answer.least is not None else ""
    x, y, w, h = sheet.titled(rect, f"Where the power goes{source_ohm}")
    small, palette, pad = sheet.type.small, sheet.palette, sheet.pad
    source, into = run.readings.transmitter.power_w, run.readings.antenna.power_w
    pieces = [(f"into the {run.scenario.load_name}", into, "antenna", MARKS["antenna"].hatch)]
    pieces += [
        (step.words, step.kept_w, "heat", MARKS[step.mark].hatch)
        for step in _told(steps(run), source, MOST_HEATS[sheet.is_wide or sheet.is_tall])
    ]
    whole_w = max(sum(max(power, 0.0) for _, power, _, _ in pieces), 1e-30)
    at = 0.0
    pad.box(x, y + 6, w, 54, palette.background, palette.axis, 1.5)
    for _, power, color, pattern in pieces:
        long = w * max(power, 0.0) / whole_w
        Bar(pad, x, y + 8, 50, getattr(palette, color), palette.panel, pattern).show(at, at + long)
        at += long
    base = y + 66 + 1.5 * small
    for words, power, color, pattern in pieces:
        swatch(sheet, x, base - 0.85 * small, small, getattr(palette, color), pattern)
        figures = reading(power, "W", NOTHING * abs(source))
        room = w - small - 16 - width(figures, small, True) - 20
        sheet.words(x + small + 14, base, shorten(words, room, small), small, palette.secondary)
        sheet.words(x + w, base, figures, small, bold=True, ha="right")
        base += 1.4 * small
    _claims(sheet, (x, base + 0.3 * small, w, y + h - base - 0.3 * small), answer)


def _told(found: list[Step], source: float, count: int) -> list[Step]:
    """The few that keep the most."""
    most = sorted((step for step in found if step.kept_w > NOTHING * abs(source)), key=lambda step: -step.kept_w)[:count]
    return [step for step in found if step in most]


def _claims(sheet: Sheet, rect: Rect, answer: Answer) -> None:
    """As many claims as there is room for; those that do not hold come first."""
    x, y, w, h = rect
    small, palette = sheet.type.small, sheet.palette
    order = sorted(answer.claims, key=lambda claim: claim.outcome == "holds")
    base, foot = y + small, y + h
    for claim in order:
        sign, color = {"holds": ("✓", palette.antenna), "fails": ("✗", palette.reflected)}.get(claim.outcome, ("?", palette.secondary))
        lines = whole(f"{claim.says}: {claim.by_how_much}", w - 1.4 * small, small, 3)
        if base + 1.2 * (len(lines) - 1) * small > foot:
            return
        sheet.words(x, base, sign, small, color, bold=True)
        for k, line in enumerate(lines):
            sheet.words(x + 1.4 * small, base + 1.2 * k * small, line, small)
        base += (1.2 * len(lines) + 0.3) * small


def _note(run: Run, answer: Answer) -> str:
    highest = max((line.largest_v_peak for line in run.readings.lines), default=0.0)
    told = f"Up to {reading(highest, 'V')} peak on the line. " if highest > HIGH_V else ""
    again = f"\nMade by: {answer.command}" if answer.command else ""
    return f"{told}{SAFETY}{again}"
