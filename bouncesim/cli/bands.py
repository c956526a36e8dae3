"""bouncesim bands: one antenna on many bands; and what bands and open-wire share."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.asked import Picture, Places, band_options, gathered, picture_options
from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from rich.table import Table

    from bouncesim.account.choices import OnBand
    from bouncesim.scenario import Scenario
    from bouncesim.scenario.survey import Ratings


Typed = dict[str, str | None]
# One option a rating: field of Ratings, kind of quantity, metavar, help. They go before the ratings of the scenario.
RATINGS = {
    "--line-voltage": ("line_v_peak", "voltage", "Peak voltage that the line is rated for."),
    "--line-current": ("line_a_peak", "current", "Peak current that the line is rated for."),
    "--coil-current": ("coil_a_peak", "current", "Peak current that the tuner's coil is rated for."),
    "--capacitor-voltage": ("capacitor_v_peak", "voltage", "Peak voltage that the tuner's capacitors are rated for."),
}
rating_options = gathered(
    "typed",
    lambda *texts: dict(zip(RATINGS, texts, strict=True)),
    tuple(click.option(name, field, metavar=kind.upper(), help=words) for name, (field, kind, words) in RATINGS.items()),
    tuple(field for field, _, _ in RATINGS.values()),
)


@click.command("bands")
@scenario_argument
@work_option
@rating_options
@band_options
@picture_options("outputs/NAME")
def command(
    scenario: Path,
    typed: Typed,
    places: Places,
    picture: Picture,
    as_json: bool,
) -> None:
    """Tell how one antenna does on many bands, with a tuner.

    SCENARIO is a file, or the name of one in the folder scenarios; its antenna must be known at every frequency (a doublet, elements, or a
    measured file). For each band: the SWR at the antenna and in the shack, the tuner's setting, where the power goes, the largest voltage
    and current against the ratings that you give here or under [survey.ratings], and a verdict. A station without a tuner gets one.

    Example: bouncesim bands many-cables --coil-current "5 A"
    """
    from bouncesim import perform
    from bouncesim.cli.station import home_of
    from bouncesim.survey.answers import on_bands
    from bouncesim.survey.answers.bands import with_a_tuner

    station, added = with_a_tuner(perform.load(scenario))
    ratings = ratings_of(station, typed)
    usual = station.survey.bands if station.survey else ()
    rows = on_bands(station, [hertz for _, hertz in places.found(usual)], places.region, (), ratings)
    file = picture.write(_picture(station, rows, picture.theme), home_of(scenario), "bands", station)
    warnings = cautions(rows)
    if as_json:
        from bouncesim.account.plain import to_plain
        from bouncesim.cli.json_output import print_json

        told = {"title": station.title, "tuner_added": added, "bands": to_plain(rows)}
        print_json({**told, "cautions": warnings, "picture": str(file)}, station)
        return
    from bouncesim.cli.terminal import stdout
    from bouncesim.cli.text import clean

    console = stdout()
    console.print(clean(station.title), style="bold")
    for table in tables(rows, several=False):
        console.print(table)
    notes(console, ratings, added)
    for caution in warnings:
        console.print("Caution:", caution)


def ratings_of(station: Scenario, typed: Typed) -> Ratings:
    """The scenario's ratings, and in their place those that were typed."""
    from bouncesim.cli import asked
    from bouncesim.scenario.survey import Ratings

    given = station.survey.ratings if station.survey else Ratings()
    told = {name: text for name, text in typed.items() if text is not None}
    found = {RATINGS[name][0]: asked.quantity(name, text, RATINGS[name][1], above=0, most=1e9) for name, text in told.items()}
    return given.model_copy(update=found)


def place_of(row: OnBand) -> str:
    """The band; else the frequency."""
    return row.band or f"{row.frequency_hz / 1e6:.5g} MHz"


def tables(rows: Sequence[OnBand], several: bool) -> list[Table]:
    """Two tables: where the power goes; what the parts bear, and the verdict. `several`: of lines, on each band."""
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    more = ("line",) if several else ()
    power = table("Where the power goes", "band", *more, "SWR antenna", "SWR shack", "line heat", "tuner heat", "radiated", "of it all")
    parts = table("What the parts bear, peak", "band", *(more or ("tuner",)), "line", "line", "coil", "capacitor", "verdict")
    for column in (1, -1):
        parts.columns[column].justify = "left"
    for k, row in enumerate(rows):
        name = place_of(row) if k == 0 or rows[k - 1].frequency_hz != row.frequency_hz else ""
        first = (name, row.line_type) if several else (name,)
        if not row.is_solved:
            power.add_row(*first, row.outcome)
            parts.add_row(*first, row.outcome)
            continue
        swrs = (show(row.swr_antenna), show(row.swr_shack))
        heats = (show(row.line_heat_w, "W"), show(row.tuner_heat_w, "W"), show(row.radiated_w, "W"))
        power.add_row(*first, *swrs, *heats, f"{100 * row.radiated_share:.3g} %")
        borne = (show(row.line_v_peak, "V"), show(row.line_a_peak, "A"), show(row.coil_a_peak, "A"), show(row.capacitor_v_peak, "V"))
        parts.add_row(name, row.line_type if several else row.setting, *borne, "; ".join(row.verdict) or "fine")
    return [power, parts]


def notes(console: Any, ratings: Ratings, added: bool) -> None:
    """What the tables take for granted."""
    words = {
        "line_v_peak": "line voltage",
        "line_a_peak": "line current",
        "coil_a_peak": "coil current",
        "capacitor_v_peak": "capacitor voltage",
    }
    missing = [name for field, name in words.items() if getattr(ratings, field) is None]
    if missing:
        told = (
            f"No rating is given for: {', '.join(missing)}; so none is judged, but for the published working voltage of a catalogue line."
        )
        console.print(f"{told} Give them as options, or under [survey.ratings].")
    console.print("fine: nothing is above a rating that is known, and at least half of the power is radiated.")
    if added:
        console.print(
            "There is no tuner in the path: one with a coil Q of 200 and a capacitor Q of 1000 (usual values, an assumption) was added."
        )


def cautions(rows: Sequence[OnBand]) -> list[str]:
    """Those of the highest voltage and the largest power of all of them."""
    import math

    from bouncesim.cli.cautions import general

    solved = [row for row in rows if row.is_solved]
    volts = [v for row in solved for v in (row.line_v_peak, row.capacitor_v_peak) if math.isfinite(v)]
    if not solved:
        return []
    most = max(solved, key=lambda row: row.transmitter_w)
    return general(max(volts, default=0.0), most.transmitter_w, most.frequency_hz)


def _picture(station: Scenario, rows: Sequence[OnBand], theme: str) -> Any:
    from bouncesim.quantity import show
    from bouncesim.show.charts.shares import share_chart

    line = station.lines[0]
    subtitle = f"{show(station.transmitter.power_w, 'W')}, {show(line.length_m, 'm', 4)} of {line.type or line.name}, with a tuner"
    note = "SWR: at the antenna. Caution: a high SWR means high voltage on line and tuner; RF burns."
    return share_chart(rows, station.title, subtitle, sentence(rows), note, theme=theme)


def sentence(rows: Sequence[OnBand]) -> str:
    """What is to be seen: the bands on which most is radiated, and the worst one."""
    solved = [row for row in rows if row.is_solved]
    if not solved:
        return "On none of these bands does the tuner find a match."
    best, worst = max(solved, key=lambda row: row.radiated_share), min(solved, key=lambda row: row.radiated_share)
    good = [row for row in solved if row.radiated_share >= 0.5]
    count = f"On {len(good)} of {len(rows)} bands more than half of the power is radiated. " if len(rows) > 1 else ""
    return (
        f"{count}{place_of(best)}: {_percent(best)}; {place_of(worst)}: {_percent(worst)}."
        if len(solved) > 1
        else f"{place_of(best)}: {_percent(best)}."
    )


def _percent(row: OnBand) -> str:
    share = 100 * row.radiated_share
    return f"{share:.0f} %" if share >= 9.5 else f"{share:.1f} %"
