"""The echoes of a pulse, in a table."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rich.table import Table

from bouncesim.account.pulse import Echo, PulseReport
from bouncesim.cli.terminal import table
from bouncesim.cli.text import clean
from bouncesim.quantity import show

SMALL = 0.02  # of the outgoing pulse: smaller echoes of echoes are counted, not shown


def echo_tables(report: PulseReport) -> Iterator[Table | str]:
    """The echoes in the order of their coming back, and how far they can be trusted."""
    if report.echoes:
        yield _table(report)
    yield " ".join(_remarks(report)) + "\n"


def _table(report: PulseReport) -> Table:
    made = table("What comes back of the pulse", "most likely", "back after", "distance", "as it comes", "there")
    made.columns[2].justify = "left"
    for echo in _shown(report):
        distance = "" if echo.is_second else f"{echo.distance_m:.2f} m ± {echo.within_m:.2f} m\n{clean(echo.place)}"
        made.add_row(_words(echo), show(echo.at_s, "s", 4), distance, _seen(echo), "" if echo.is_second else _size(echo))
    return made


def _shown(report: PulseReport) -> list[Echo]:
    """All but small echoes of echoes."""
    return [echo for echo in report.echoes if not echo.is_second or max(abs(echo.seen), abs(echo.then)) >= SMALL]


def _words(echo: Echo) -> str:
    value = f", {show(echo.value, echo.unit, 2)}" if echo.value is not None else ""
    note = f"\n  {echo.note}" if echo.note and not echo.is_second else ""
    return f"{echo.kind}{value}{note}"


def _seen(echo: Echo) -> str:
    """Its lobes, in per cent of the outgoing pulse."""
    then = f", then {100 * echo.then:+.2g} %" if echo.then else ""
    return f"{100 * echo.seen:+.3g} %{then}"


def _size(echo: Echo) -> str:
    return f"{100 * echo.size:+.0f} %"


def _remarks(report: PulseReport) -> Iterator[str]:
    if not report.echoes:
        yield "Nothing comes back: the lines are whole, and their end is matched."
    elif not any(echo.place.startswith("at the end") for echo in report.echoes):
        yield f"Nothing comes back from the end, {show(report.farthest_m, 'm', 4)} away: it is matched, or out of reach."
    yield (
        f'Sizes are parts of the outgoing pulse; what the lines and the faults in front have taken is divided out under "there". '
        f"Faults closer together than {show(report.resolves_m, 'm', 2)} may show as one."
    )
    if any(echo.is_second for echo in report.echoes):
        left_out = len(report.echoes) - len(_shown(report))
        rest = f" {left_out} more, below {100 * SMALL:.0f} %, are not shown." if left_out else ""
        yield f"A second round is an echo of an echo: it has no place of its own.{rest}"
    if report.overlaps:
        yield (
            "The first echo is back before the pulse has gone out: echoes of echoes are taken together with those that they come from, and "
            "shapes tell less. A shorter pulse tells more."
        )
    if report.unknown:
        names = clean(", ".join(report.unknown))
        yield f"A stub ({names}) is read as if it were a fault; what lies behind it, and its own end, is told wrongly."
    if report.smear_s > 0:
        yield (
            f"The lines' loss smears the pulse, and holds the peak of an echo from the end back by {show(report.smear_s, 's', 2)}; that is "
            "taken out, and a tenth of it counts into the distances, as no cable's loss is known better."
        )
    yield f"What no echo explains is below {math.ceil(1000 * report.left_over) / 10:g} % of the pulse."
