"""The last picture: the simulated readings beside the exact ones, each with its error bar."""

from __future__ import annotations

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict, VerdictRow
from bouncesim.scenario.model import Stub
from bouncesim.show.blit import Pad
from bouncesim.show.numbers import power_of_ten, unit_of, with_error
from bouncesim.show.scene import Scene
from bouncesim.show.text import set_in, shorten, width
from bouncesim.show.theme import CORNER
from bouncesim.show.words import ENGLISH, Words

MOST_ROWS = 6


def telling(verdict: Verdict, run: Run) -> list[VerdictRow]:
    """At most six rows: first every one that fails or is not proven, then those that a viewer asks about, in the order below."""
    readings = run.readings
    wanted = [f"{run.scenario.source_name}.power_w", f"{run.scenario.load_name}.power_w"]
    hot = [part for part in readings.networks if abs(part.heat_w) > 1e-6 * readings.transmitter.power_w]
    wanted += [f"{part.name}.heat_w" for part in sorted(hot, key=lambda part: -part.heat_w)[:1]]
    lossy = [line for line in readings.lines if line.matched_loss_db > 0]
    wanted += [f"{line.name}.heat_w" for line in sorted(lossy, key=lambda line: -line.heat_w)[:1]]
    for line in readings.lines:
        wanted += [f"{line.name}.{field}" for field in ("forward_in_w", "reflected_in_w", "swr_out", "largest_v_peak")]
    rows = [*verdict.of("fails"), *verdict.of("not proven")]
    for quantity in wanted:
        rows += [row for row in verdict.rows if row.quantity == quantity and row.holds]
    return rows[:MOST_ROWS]


SIGNS = {"holds": "✓", "not proven": "?", "fails": "✗"}
LABELS = {  # of every reading that a check may judge
    "heat_w": "row_heat",
    "radiated_w": "row_radiated",
    "impedance_ohm.real": "row_resistance",
    "impedance_ohm.imag": "row_reactance",
    "voltage_v_rms": "row_rms_voltage",
    "current_a_rms": "row_rms_current",
    "drive": "row_drive",
    "dump_load_w": "row_dump_load",
    "power_in_w": "row_start",
    "power_out_w": "row_end",
    "forward_in_w": "row_forward_start",
    "reflected_in_w": "row_reflected_start",
    "swr_in": "row_swr_start",
    "forward_out_w": "row_forward_end",
    "reflected_out_w": "row_reflected_end",
    "swr_out": "row_swr_end",
    "reference_ohm": "row_reference",
    "loss_db": "row_loss",
    "matched_loss_db": "row_matched_loss",
    "largest_v_peak": "row_largest",
    "largest_v_at_m": "row_largest_place",
    "largest_a_peak": "row_largest_current",
    "largest_a_at_m": "row_largest_current_place",
    "forward_w": "row_forward",
    "reflected_w": "row_reflected",
    "swr": "row_swr",
    "reflected_least_w": "row_reflected_least",
    "reflected_most_w": "row_reflected_most",
    "swr_least": "row_swr_least",
    "swr_most": "row_swr_most",
    "coil_a_peak": "row_coil",
    "capacitor_v_peak": "row_capacitor",
}


def label(
    quantity: str,
    stubs: frozenset[str] = frozenset(),
    words: Words = ENGLISH,
    source: str = "transmitter",
    load: str = "antenna",
) -> str:
    """A reading's path in words: "power into the antenna", "forward power, start of the feed line"; `stubs` are the names of stubs.

    KeyError for what is no reading.
    """
    part, _, field = quantity.partition(".")
    if quantity == f"{source}.power_w":
        return words("row_source_power", name=words(source))
    if quantity == f"{load}.power_w":
        return words("row_load_power", name=words(load))
    if field == "heat_w" and part in stubs:
        return words("row_into", part=part)
    part = words(part) if part in (source, load) else part
    return words(LABELS[field], part=part)


class Card:
    """The verdict, over the wave panel, in the closing frames of a film that has one."""

    def __init__(self, scene: Scene, run: Run, verdict: Verdict) -> None:
        self.scene, self.story = scene, scene.story
        x, y, w, h = self.rect = scene.layout.wave
        palette, size, unit = scene.palette, scene.type, scene.type.unit
        pad = scene.region((x - 4, y - 4, w + 8, h + 8), self.shown, lambda k: None)
        pad.panel(x, y, w, h, palette.panel, palette.axis, CORNER)
        self.left, self.room = x + 28, w - 56
        heading = set_in(scene.words("is_it_right"), self.room, ((1, 36.0 * unit), (1, 30.0), (2, 32.0 * unit), (2, size.small)), True)
        lines, px = heading or ([shorten(scene.words("is_it_right"), self.room, size.small, True)], size.small)
        base = y + 22
        for line in lines:
            base += 1.2 * px
            pad.text(self.left, base, line, px, palette.text, bold=True)
        scenario = run.scenario
        stubs = frozenset(part.name for part in scenario.path if isinstance(part, Stub))
        named = [(row, label(row.quantity, stubs, scene.words, scenario.source_name, scenario.load_name)) for row in telling(verdict, run)]
        (self._table if scene.layout.is_wide else self._list)(pad, base, named)
        self._foot(pad, verdict)

    def _table(self, pad: Pad, base: float, named: list[tuple[VerdictRow, str]]) -> None:
        """A line a row: name, simulated, error bar, exact, whether it holds."""
        scene, palette, size = self.scene, self.scene.palette, self.scene.type
        marks = min(1640, self.room - max(self._mark_width(row) for row, _ in named))
        columns = (self.left + marks - 706, self.left + marks - 376, self.left + marks - 36)
        for key, right in zip(("simulated", "error_bar", "exact"), columns, strict=True):
            pad.text(right, base + 54, scene.words(key), size.small, palette.secondary, ha="right")
        pad.line([self.left, self.left + self.room], [base + 68, base + 68], palette.axis, 2)
        for i, (row, name) in enumerate(named):
            y = base + 112 + i * 56
            simulated, bar, exact = _figures(row)
            pad.text(self.left, y, shorten(name, marks - 1030, size.body), size.body, palette.text)
            for words, right, color in zip((simulated, bar, exact), columns, (palette.text, palette.secondary, palette.text), strict=True):
                pad.text(right, y, words, size.body, color, ha="right")
            self._mark(pad, row, self.left + marks, y, "left")

    def _list(self, pad: Pad, base: float, named: list[tuple[VerdictRow, str]]) -> None:
        """Three lines a row where they fit, and as many rows: name and whether it holds, simulated with its error bar, exact."""
        scene, palette, size = self.scene, self.scene.palette, self.scene.type
        small = size.small
        step = 1.3 * small
        foot = self.rect[1] + self.rect[3] - 4.1 * step
        rows = max(int((foot - base - 0.4 * step) // (3.35 * step)), 1)
        for row, name in named[:rows]:
            base += 1.45 * step
            simulated, bar, exact = _figures(row)
            room = self.room - max(self._mark_width(row) + 24, 150 * size.unit)
            pad.text(self.left, base, shorten(name, room, size.body), size.body, palette.text)
            self._mark(pad, row, self.left + self.room, base, "right")
            for key, value in (("simulated", f"{simulated}  {bar}"), ("exact", exact)):
                base += 0.95 * step
                pad.text(self.left + 24, base, scene.words(key), small, palette.secondary)
                pad.text(self.left + self.room, base, value, small, palette.text, ha="right")

    def _mark(self, pad: Pad, row: VerdictRow, x: float, y: float, ha: str) -> None:
        palette = self.scene.palette
        color = {"holds": palette.antenna, "not proven": palette.secondary, "fails": palette.reflected}[row.outcome]
        pad.text(x, y, self._told(row), self.scene.type.body, color, bold=True, ha=ha)

    def _mark_width(self, row: VerdictRow) -> float:
        return width(self._told(row), self.scene.type.body, bold=True)

    def _told(self, row: VerdictRow) -> str:
        """Whether a row holds, as a sign and in words."""
        return f"{SIGNS[row.outcome]} {self.scene.words(row.outcome.replace(' ', '_'))}"

    def _foot(self, pad: Pad, verdict: Verdict) -> None:
        """How many readings hold, and how the error bars were found."""
        scene, palette, size = self.scene, self.scene.palette, self.scene.type
        _, y, _, h = self.rect
        small, step = size.small, 1.3 * size.small
        found = set_in(summary(verdict, scene.words), self.room, ((1, size.header), (1, small), (2, small)), True)
        lines, px = found or ([shorten(summary(verdict, scene.words), self.room, small, True)], small)
        under = set_in("   ·   ".join(grids(verdict, scene.words)), self.room, ((1, small), (2, small)))
        notes = under[0] if under else [shorten(note, self.room, small) for note in grids(verdict, scene.words)][:2]
        base = y + h - 20 - step * (len(notes) - 1)
        for i, note in enumerate(notes):
            pad.text(self.left, base + i * step, note, small, palette.secondary)
        base -= 1.4 * step + (len(lines) - 1) * 1.2 * px
        pad.line([self.left, self.left + self.room], [base - 1.45 * px, base - 1.45 * px], palette.axis, 2)
        for i, line in enumerate(lines):
            pad.text(self.left, base + i * 1.2 * px, line, px, palette.text, bold=True)

    def shown(self, k: int) -> bool:
        """Whether frame k shows the card."""
        return k >= self.story.closing


def _figures(row: VerdictRow) -> tuple[str, str, str]:
    """Simulated, error bar, exact."""
    unit = unit_of(row.quantity)
    simulated, bar = with_error(row.simulated, row.error_bar, unit)
    return simulated, bar, with_error(row.exact, row.error_bar, unit)[0]


def summary(verdict: Verdict, words: Words = ENGLISH) -> str:
    """How many readings fail and how many are not proven, or that all hold."""
    count, failed, unproven = len(verdict.rows), len(verdict.of("fails")), len(verdict.of("not proven"))
    told = [words("not_agree", failed=failed, count=count)] if failed else []
    told += [words("unproven", failed=unproven, count=count)] if unproven else []
    return " ".join(told) or words("all_agree", count=count)


def grids(verdict: Verdict, words: Words = ENGLISH) -> list[str]:
    """How the error bars were found."""
    found = [words("grids", steps=", ".join(str(points) for points in verdict.points_per_period))]
    found += [words("order", order=f"{verdict.order:.2f}")] if verdict.order is not None else []
    return [*found, words("books", residual=power_of_ten(verdict.ledger_residual))]
