"""bouncesim which-cable: what each type of line would lose over a run, in dB, per cent, watts and S-units."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.asked import Picture, Places, band_options, picture_options

if TYPE_CHECKING:
    from bouncesim.account.choices import CableLoss
    from bouncesim.cli.terminal import Terminal

IN_DETAIL = 3  # types up to which every figure is printed


@click.command("which-cable")
@click.argument("types", nargs=-1, metavar="[TYPE]...")
@click.option("--length", required=True, metavar="LENGTH", help="Of the run.")
@click.option("--swr", type=click.FloatRange(1, 1000), help="Of the antenna, on the line in question; its phase is taken at its worst.")
@click.option("--antenna", metavar="IMPEDANCE", help="Of the antenna, the same on every band, instead of an SWR.")
@click.option("--power", default="50 W", show_default=True, metavar="POWER", help="That goes into the line.")
@band_options
@picture_options("outputs/which-cable")
def command(
    types: tuple[str, ...],
    length: str,
    swr: float | None,
    antenna: str | None,
    power: str,
    places: Places,
    picture: Picture,
    as_json: bool,
) -> None:
    """Tell which cable to take for a run: what each type would lose.

    TYPE is a name from `bouncesim lines`; without any, all types. With up to three types every loss is told in dB, in per cent, in watts,
    and in S-units of 6 dB (IARU Region 1, R.1); with more in dB. The first type is what the others are held against.

    Example: bouncesim which-cable rg58c rg213 --length "40 m" --swr 3 --band "80 m" --band "10 m"
    """
    from bouncesim.cli import asked
    from bouncesim.scenario.catalogue import catalogue
    from bouncesim.survey.answers import cable_losses

    if swr is not None and antenna is not None:
        raise click.UsageError("Give --swr or --antenna, not both.")
    asked.check_types(types)
    metres = asked.quantity("--length", length, "length", above=0, most=1e6)
    watts = asked.quantity("--power", power, "power", above=0, most=1e9)
    impedance = _impedance(antenna) if antenna is not None else None
    names = list(dict.fromkeys(types)) or list(catalogue())
    rows = cable_losses(names, metres, places.found(), swr or 1.0, impedance)
    if len(names) > IN_DETAIL:
        rows = in_order(rows)
    words = f"antenna {antenna}" if antenna else "matched" if swr in (None, 1.0) else f"SWR {swr:g} at the antenna"
    file = picture.write(_picture(rows, metres, words, picture.theme), Path("outputs") / "which-cable", "which-cable")
    if as_json:
        from bouncesim.account.plain import to_plain
        from bouncesim.cli.json_output import print_json

        losses = [{**to_plain(row), "arrives_share": row.share, "arrives_w": watts * row.share, "s_units": row.s_units} for row in rows]
        print_json({"length_m": metres, "power_w": watts, "losses": losses, "picture": str(file)})
        return
    from bouncesim.cli.terminal import stdout

    console = stdout()
    if len(names) <= IN_DETAIL:
        _print_in_detail(console, rows, watts, metres, words)
    else:
        _print_overview(console, rows, metres, words)
    _print_notes(console, rows, names)


def in_order(rows: Sequence[CableLoss]) -> tuple[CableLoss, ...]:
    """The types with the least loss at the highest frequency first."""
    top = max(row.frequency_hz for row in rows)
    order = {row.type: row.most_db for row in rows if row.frequency_hz == top}
    return tuple(sorted(rows, key=lambda row: order[row.type]))


def _impedance(text: str) -> complex:
    from bouncesim.quantity import QuantityError
    from bouncesim.scenario.measured import Measured

    try:
        found = complex(Measured("impedance", is_complex=True, example="25 - 60j ohm").read(text))
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint="--antenna") from error
    if not found.real > 0:
        raise click.BadParameter("an antenna without resistance takes no power", param_hint="--antenna")
    return found


def _place(row: CableLoss) -> str:
    return row.band or f"{row.frequency_hz / 1e6:.5g} MHz"


def _print_in_detail(console: Terminal, rows: Sequence[CableLoss], watts: float, metres: float, words: str) -> None:
    """A table a type, a row a band."""
    from bouncesim.account.choices import s_units_between
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    first = {row.frequency_hz: row for row in rows if row.type == rows[0].type}
    for name in dict.fromkeys(row.type for row in rows):
        against = "" if name == rows[0].type else f"S-units gained over {rows[0].type}"
        columns = ["band", "matched loss (dB)", "loss (dB)", "lost (%)", f"arrives of {show(watts, 'W')}", "S-units lost"]
        made = table(f"{name}, {show(metres, 'm', 4)}, {words}", *columns, *([against] if against else []))
        for row in (row for row in rows if row.type == name):
            cells = [
                f"{row.matched_db:.2f}",
                _span(row),
                f"{100 * (1 - row.share):.1f}",
                show(watts * row.share, "W"),
                f"{row.s_units:.2f}",
            ]
            gained = s_units_between(first[row.frequency_hz].share, row.share)
            made.add_row(_place(row) + ("" if row.known else " ?"), *cells, *([f"{gained:+.2f}"] if against else []))
        console.print(made)


def _span(row: CableLoss) -> str:
    least, most = f"{row.least_db:.2f}", f"{row.most_db:.2f}"
    return most if least == most else f"{least} to {most}"


def _print_overview(console: Terminal, rows: Sequence[CableLoss], metres: float, words: str) -> None:
    """A row a type, a column a band, dB at worst."""
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    places = list(dict.fromkeys(_place(row) for row in rows))
    made = table(f"Loss in dB, {show(metres, 'm', 4)}, {words}", "type", *places)
    for name in dict.fromkeys(row.type for row in rows):
        made.add_row(name, *(f"{row.most_db:.2f}" + ("" if row.known else "?") for row in rows if row.type == name))
    console.print(made)
    console.print("Per cent, watts and S-units of up to three types: bouncesim which-cable TYPE TYPE.")


def _print_notes(console: Terminal, rows: Sequence[CableLoss], names: Sequence[str]) -> None:
    from bouncesim.scenario.catalogue import catalogue

    if any(row.least_db != row.most_db for row in rows):
        console.print("Loss: over every phase that an antenna of this SWR may have; per cent, watts and S-units at worst.")
    if any(not row.known for row in rows):
        console.print("?: outside the range in which the loss of this type is known; a guess.")
    doubts = ", ".join(f"{name} {catalogue()[name].uncertainty_percent:g} %" for name in names)
    console.print(f"The loss of an unknown sample is uncertain: {doubts}.", soft_wrap=False)
    console.print("An S-unit is 6 dB (IARU Region 1, R.1); real S-meters differ.")
    console.print("Caution: RF burns, at a few watts already; mind the voltage ratings of line and plugs at a high SWR.")


def _picture(rows: Sequence[CableLoss], metres: float, words: str, theme: str) -> Any:
    from bouncesim.quantity import show
    from bouncesim.show.charts.cables import cable_chart

    return cable_chart(
        rows, f"Which cable for {show(metres, 'm', 4)}?", words, sentence(rows), "At the worst phase. ?: a guess.", theme=theme
    )


def sentence(rows: Sequence[CableLoss]) -> str:
    """What is to be seen: best and worst where it matters most."""
    top = max(row.frequency_hz for row in rows)
    there = sorted((row for row in rows if row.frequency_hz == top), key=lambda row: row.most_db)
    best, worst = there[0], there[-1]
    if len(there) == 1:
        return f"On {_place(best)}, {100 * best.share:.0f} % arrive through {best.type}."
    told = f"On {_place(best)}, {100 * best.share:.0f} % arrive through {best.type}, and {100 * worst.share:.0f} % through {worst.type}"
    return f"{told}: {worst.s_units - best.s_units:.1f} S-units of difference."
