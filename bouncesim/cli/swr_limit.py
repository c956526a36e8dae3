"""bouncesim swr-limit: how high an SWR a line allows for at most so much loss."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.asked import Picture, Places, band_options, picture_options

if TYPE_CHECKING:
    from bouncesim.account.choices import SwrLimit
    from bouncesim.scenario import Line


@click.command("swr-limit")
@click.argument("line_type", metavar="TYPE")
@click.option("--length", required=True, metavar="LENGTH", help="Of the line.")
@click.option("--added", metavar="LOSS", help="Allow so much on top of the line's matched loss. [default: 1 dB]")
@click.option("--total", metavar="LOSS", help="Allow so much in all, matched loss included.")
@band_options
@picture_options("outputs/swr-limit")
def command(
    line_type: str,
    length: str,
    added: str | None,
    total: str | None,
    places: Places,
    picture: Picture,
    as_json: bool,
) -> None:
    """Tell how high an SWR a line allows for at most so much loss.

    TYPE is a name from `bouncesim lines`. The SWR is that at the antenna's end, on this line. A line's loss depends on the phase of the
    antenna's reflection too, not on its SWR alone: the worst phase counts here, so that the limit holds for every antenna. Beside it stands
    what the handbook's rule gives, which takes the line's impedance for real.

    Example: bouncesim swr-limit rg58c --length "30 m" --added "1 dB" --band "20 m" --band "10 m"
    """
    from bouncesim.cli import asked
    from bouncesim.scenario import Line
    from bouncesim.survey.answers import swr_limits

    if added is not None and total is not None:
        raise click.UsageError("Give --added or --total, not both: is the matched loss to be counted in?")
    asked.check_types([line_type])
    budget = asked.quantity("--total" if total else "--added", total or added or "1 dB", "ratio", above=0, most=200)
    line = Line(type=line_type, length_m=asked.quantity("--length", length, "length", above=0, most=1e6))
    rows = swr_limits(line, places.found(), budget, "total" if total else "added")
    words = f"{budget:g} dB {'in all' if total else 'on top of the matched loss'}"
    file = picture.write(_picture(rows, line, words, picture.theme), Path("outputs") / "swr-limit", f"swr-limit-{line_type}")
    notes = list(dict.fromkeys(note for row in rows for note in line.notes(row.frequency_hz)))
    if as_json:
        from bouncesim.account.plain import to_plain
        from bouncesim.cli.json_output import print_json

        plain: dict[str, Any] = {"type": line_type, "length_m": line.length_m, "budget_db": budget, "budget": "total" if total else "added"}
        print_json({**plain, "limits": to_plain(rows), "notes": notes, "picture": str(file)})
        return
    _print(rows, line, words, notes)


def shown(swr: float) -> str:
    """An SWR limit in words."""
    return "none" if math.isnan(swr) else "any" if math.isinf(swr) else f"{swr:.3g}"


def _print(rows: tuple[SwrLimit, ...], line: Line, words: str, notes: list[str]) -> None:
    from bouncesim.cli.terminal import stdout, table
    from bouncesim.quantity import show

    console = stdout()
    title = f"{line.type}, {show(line.length_m, 'm', 4)}: highest SWR at the antenna for at most {words}"
    made = table(title, "band", "at", "matched loss (dB)", "highest SWR", "by the handbook", "then in the shack")
    for row in rows:
        low, high = row.in_the_shack
        shack = "" if math.isnan(low) else f"{low:.3g}" if f"{low:.3g}" == f"{high:.3g}" else f"{low:.3g} to {high:.3g}"
        cells = (show(row.frequency_hz, "Hz", 5), f"{row.matched_db:.2f}", shown(row.highest), shown(row.by_rule), shack)
        made.add_row(row.band, *cells)
    console.print(made)
    console.print("Highest SWR: whatever the antenna's phase. By the handbook: for a line whose impedance is real.")
    if any(math.isnan(row.highest) for row in rows):
        console.print("none: the loss of the line with a matched antenna is more already.")
    if any(math.isinf(row.highest) for row in rows):
        console.print("any: every antenna of an SWR up to 1000.")
    for note in notes:
        console.print(f"{note}.")
    console.print("Caution: at a high SWR the line carries voltages far above those of a matched one; mind its ratings. RF burns.")


def _picture(rows: tuple[SwrLimit, ...], line: Line, words: str, theme: str) -> Any:
    from bouncesim.quantity import show
    from bouncesim.show.charts.limits import limit_chart

    title = f"How high an SWR for {words}?"
    subtitle = f"{show(line.length_m, 'm', 4)} of {line.type}"
    note = "Whatever the phase of the antenna. Caution: a high SWR means high voltage on the line and in the tuner."
    return limit_chart(rows, title, subtitle, sentence(rows), note, theme=theme)


def sentence(rows: tuple[SwrLimit, ...]) -> str:
    """What is to be seen."""
    known = [row for row in rows if math.isfinite(row.highest)]
    if not known:
        return "The matched loss alone is more than that." if math.isnan(rows[0].highest) else "Any SWR will do."
    least, most = min(known, key=lambda row: row.highest), max(known, key=lambda row: row.highest)
    if len(known) == 1 or f"{least.highest:.2g}" == f"{most.highest:.2g}":
        return f"An SWR of up to {least.highest:.2g} at the antenna costs no more than that."
    return f"From SWR {most.highest:.2g} on {_place(most)} down to {least.highest:.2g} on {_place(least)}: that much costs no more."


def _place(row: SwrLimit) -> str:
    return row.band or f"{row.frequency_hz / 1e6:.4g} MHz"
