"""bouncesim open-wire: coax against open-wire line for the same job."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.asked import Picture, Places, band_options, picture_options
from bouncesim.cli.bands import Typed, cautions, notes, place_of, rating_options, ratings_of, tables
from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from bouncesim.account.choices import OnBand
    from bouncesim.scenario import Scenario

COAX, WIRE = "rg213", "open-wire-2mm"


@click.command("open-wire")
@scenario_argument
@work_option
@click.option("--coax", metavar="TYPE", help=f"The one line. [default: the scenario's own if it is of a type, else {COAX}]")
@click.option("--wire", default=WIRE, show_default=True, metavar="TYPE", help="The other one.")
@rating_options
@band_options
@picture_options("outputs/NAME")
def command(
    scenario: Path,
    coax: str | None,
    wire: str,
    typed: Typed,
    places: Places,
    picture: Picture,
    as_json: bool,
) -> None:
    """Hold coax against open-wire line for the same job.

    SCENARIO is a file, or the name of one in the folder scenarios, with one line; its antenna must be known at every frequency. The same
    antenna, run, tuner and power, once with each line (types as `bouncesim lines` has them): SWR, heat, what is radiated, what the parts
    bear, and how many S-units the other line gains. Open wire needs a balanced tuner or a balun, whose loss is not in these figures.

    Example: bouncesim open-wire many-cables --coax rg58c --band "80 m"
    """
    from bouncesim import perform
    from bouncesim.cli import asked
    from bouncesim.cli.station import home_of
    from bouncesim.survey.answers import on_bands
    from bouncesim.survey.answers.bands import with_a_tuner

    station, added = with_a_tuner(perform.load(scenario))
    types = (coax or station.lines[0].type or COAX, wire)
    asked.check_types(types)
    if types[0] == types[1]:
        raise click.UsageError(f"Both lines are {wire}: name another one with --coax or --wire.")
    ratings = ratings_of(station, typed)
    usual = station.survey.bands if station.survey else ()
    rows = on_bands(station, [hertz for _, hertz in places.found(usual)], places.region, types, ratings)
    file = picture.write(_picture(station, rows, types, picture.theme), home_of(scenario), "open-wire", station)
    if as_json:
        from bouncesim.account.plain import to_plain
        from bouncesim.cli.json_output import print_json

        told = {"title": station.title, "types": list(types), "tuner_added": added, "bands": to_plain(rows)}
        gains = [{"frequency_hz": one.frequency_hz, "s_units": s_units} for one, _, s_units in pairs(rows)]
        print_json({**told, "gained": gains, "cautions": cautions(rows), "picture": str(file)}, station)
        return
    from bouncesim.cli.terminal import stdout
    from bouncesim.cli.text import clean

    console = stdout()
    console.print(clean(station.title), style="bold")
    for table in tables(rows, several=True):
        console.print(table)
    console.print(_gain_table(rows, types))
    notes(console, ratings, added)
    console.print(
        f"Ratings of the line are those of {types[0]}; {types[1]} is held against its published working voltage, if there is one."
    )
    console.print("Not counted: the balun or balanced tuner that open wire needs; rain, spreaders and walls close to it.")
    for caution in cautions(rows):
        console.print("Caution:", caution)


def pairs(rows: Sequence[OnBand]) -> list[tuple[OnBand, OnBand, float]]:
    """Both stations of each frequency, and how many S-units the second one gains."""
    from bouncesim.account.choices import s_units_between

    return [(one, other, s_units_between(one.radiated_w, other.radiated_w)) for one, other in zip(rows[::2], rows[1::2], strict=True)]


def _gain_table(rows: Sequence[OnBand], types: tuple[str, str]) -> Any:
    import math

    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    made = table(f"What {types[1]} gains over {types[0]}", "band", types[0], types[1], "S-units")
    for one, other, s_units in pairs(rows):
        told = "" if math.isnan(s_units) else f"{s_units:+.1f}"
        made.add_row(place_of(one), show(one.radiated_w, "W"), show(other.radiated_w, "W"), told)
    return made


def _picture(station: Scenario, rows: Sequence[OnBand], types: tuple[str, str], theme: str) -> Any:
    from bouncesim.quantity import show
    from bouncesim.show.charts.shares import share_chart

    run = show(station.lines[0].length_m, "m", 4)
    subtitle = f"The same antenna, {run} of line, {show(station.transmitter.power_w, 'W')}, with a tuner"
    note = "SWR: at the antenna, on its line. A balun for the open wire is not counted. Caution: high voltage stands on open wire."
    return share_chart(rows, f"{types[0]} or {types[1]}?", subtitle, sentence(rows, types), note, theme=theme)


def sentence(rows: Sequence[OnBand], types: tuple[str, str]) -> str:
    """What is to be seen: where the second line gains most and least."""
    import math

    known = [(one, gain) for one, _, gain in pairs(rows) if math.isfinite(gain)]
    if not known:
        return "On none of these bands do both find a match."
    most, least = max(known, key=lambda pair: pair[1]), min(known, key=lambda pair: pair[1])
    if len(known) == 1:
        return f"{types[1]} gains {most[1]:+.1f} S-units on {place_of(most[0])}."
    return f"{types[1]} gains from {least[1]:+.1f} S-units on {place_of(least[0])} to {most[1]:+.1f} on {place_of(most[0])}."
