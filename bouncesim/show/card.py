"""The last picture: the simulated readings beside the exact ones, each with its error bar."""

from __future__ import annotations

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict, VerdictRow
from bouncesim.scenario.model import Stub
from bouncesim.show.blit import Frame, Region
from bouncesim.show.layout import WAVE
from bouncesim.show.numbers import power_of_ten, unit_of, with_error
from bouncesim.show.story import Story
from bouncesim.show.text import shorten
from bouncesim.show.theme import BODY, CORNER, HEADER, SMALL, Palette

MOST_ROWS = 6
COLUMNS = (76.0, 1010.0, 1340.0, 1680.0)  # left edge of the names; right edges of simulated, error bar and exact


def telling(verdict: Verdict, run: Run) -> list[VerdictRow]:
    """At most six rows: first every one that fails, then those that a viewer asks about, in the order of the list below."""
    readings = run.readings
    wanted = ["transmitter.power_w", "antenna.power_w"]
    hot = [part for part in readings.networks if abs(part.heat_w) > 1e-6 * run.scenario.transmitter.power_w]
    wanted += [f"{part.name}.heat_w" for part in sorted(hot, key=lambda part: -part.heat_w)[:1]]
    lossy = [line for line in readings.lines if line.matched_loss_db > 0]
    wanted += [f"{line.name}.heat_w" for line in sorted(lossy, key=lambda line: -line.heat_w)[:1]]
    for line in readings.lines:
        wanted += [f"{line.name}.{field}" for field in ("forward_in_w", "reflected_in_w", "swr_out", "largest_v_peak")]
    rows = [row for row in verdict.rows if not row.holds]
    for quantity in wanted:
        rows += [row for row in verdict.rows if row.quantity == quantity and row.holds]
    return rows[:MOST_ROWS]


def label(quantity: str, stubs: frozenset[str] = frozenset()) -> str:
    """A reading's path in words: "power into the antenna", "forward power, start of the feed line"; `stubs` are the names of stubs."""
    part, _, field = quantity.rpartition(".")
    fixed = {"transmitter.power_w": "power leaving the transmitter", "antenna.power_w": "power into the antenna"}
    words = {
        "heat_w": "heat in the {}",
        "forward_in_w": "forward power, start of the {}",
        "reflected_in_w": "reflected power, start of the {}",
        "swr_in": "SWR, start of the {}",
        "swr_out": "SWR, end of the {}",
        "largest_v_peak": "largest voltage on the {}",
        "forward_w": "forward power at the {}",
        "reflected_w": "reflected power at the {}",
        "swr": "SWR at the {}",
        "coil_a_peak": "peak current in the coil of the {}",
        "capacitor_v_peak": "peak voltage on the capacitor of the {}",
    }
    if part in stubs:
        words["heat_w"] = "power into the {}"
    if quantity in fixed:
        return fixed[quantity]
    return words[field].format(part) if field in words else quantity


class Card:
    """The verdict, over the wave panel, in the closing frames of a film that has one."""

    def __init__(self, frame: Frame, run: Run, verdict: Verdict, story: Story, palette: Palette) -> None:
        self.story, self.palette = story, palette
        x, y, w, h = WAVE
        pad = frame.add(Region((x - 4, y - 4, w + 8, h + 8), self.shown, lambda k: None))
        pad.panel(x, y, w, h, palette.panel, palette.axis, CORNER)
        pad.text(COLUMNS[0], y + 58, "Is it right? The simulation beside the closed form", 36, palette.text, bold=True)
        heads = (("simulated", COLUMNS[1]), ("error bar", COLUMNS[2]), ("exact", COLUMNS[3]))
        for words, right in heads:
            pad.text(right, y + 112, words, SMALL, palette.secondary, ha="right")
        pad.line([COLUMNS[0], x + w - 28], [y + 126, y + 126], palette.axis, 2)
        rows = telling(verdict, run)
        stubs = frozenset(part.name for part in run.scenario.path if isinstance(part, Stub))
        for i, row in enumerate(rows):
            base = y + 170 + i * 56
            unit = unit_of(row.quantity)
            simulated, bar = with_error(row.simulated, row.error_bar, unit)
            exact, _ = with_error(row.exact, row.error_bar, unit)
            pad.text(COLUMNS[0], base, shorten(label(row.quantity, stubs), 610, BODY), BODY, palette.text)
            pad.text(COLUMNS[1], base, simulated, BODY, palette.text, ha="right")
            pad.text(COLUMNS[2], base, bar, BODY, palette.secondary, ha="right")
            pad.text(COLUMNS[3], base, exact, BODY, palette.text, ha="right")
            words, color = ("✓ holds", palette.antenna) if row.holds else ("✗ fails", palette.reflected)
            pad.text(COLUMNS[3] + 36, base, words, BODY, color, bold=True)
        pad.line([COLUMNS[0], x + w - 28], [y + 484, y + 484], palette.axis, 2)
        pad.text(COLUMNS[0], y + 526, summary(verdict), HEADER, palette.text, bold=True)
        pad.text(COLUMNS[0], y + 566, grids(verdict), SMALL, palette.secondary)

    def shown(self, k: int) -> bool:
        """Whether frame k shows the card."""
        return k >= self.story.closing


def summary(verdict: Verdict) -> str:
    """How many readings agree."""
    held, rows = sum(row.holds for row in verdict.rows), len(verdict.rows)
    if verdict.holds:
        return f"All {rows} readings agree with the closed form within their error bars."
    return f"{rows - held} of {rows} readings {'does' if rows - held == 1 else 'do'} not agree with the closed form."


def grids(verdict: Verdict) -> str:
    """How the error bars were found."""
    steps = ", ".join(str(points) for points in verdict.points_per_period)
    order = f"   ·   order of convergence {verdict.order:.2f}" if verdict.order is not None else ""
    return f"grids of {steps} steps a carrier period{order}   ·   energy books close to {power_of_ten(verdict.ledger_residual)}"
