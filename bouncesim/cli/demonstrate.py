"""bouncesim demonstrate: a sheet for a live demonstration with this station."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.meter_options import meter_options, meters_of
from bouncesim.cli.quantities import FREQUENCY, POWER
from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from bouncesim.exact.demonstration.effects import Candidate, Meters
    from bouncesim.scenario import Scenario

EPILOG = """\b
Examples:
  bouncesim demonstrate one-echo-or-all
  bouncesim demonstrate one-echo-or-all --region 2 --effect above --full-scale "30 W" --full-scale "300 W" --class 5
  bouncesim demonstrate thin-lossy-cable --at "14.1 MHz" --power "5 W" --power "20 W" --markdown"""


@click.command("demonstrate", epilog=EPILOG)
@scenario_argument
@work_option
@click.option("--effect", type=click.Choice(["above", "flat", "place"]), help="What to show. [default: what shows best]")
@click.option("--region", type=click.IntRange(1, 3), default=1, show_default=True, help="Of the ITU and the IARU, for the bands.")
@click.option("--band", "bands", multiple=True, metavar="BAND", help='Only this one, such as "40 m"; may be given several times.')
@click.option("--at", "frequency", type=FREQUENCY, metavar="FREQUENCY", help="Do not look for a band: this frequency.")
@click.option("--power", "powers", multiple=True, type=POWER, metavar="POWER", help="Of the transmitter; may be given several times.")
@meter_options
@click.option("--markdown", is_flag=True, help="Write Markdown instead of plain tables.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(scenario: Path, **options: Any) -> None:
    """Prepare a live demonstration with a station.

    SCENARIO is a file, or the name of one in the folder scenarios. The sheet says on which band, at which frequency and power an effect
    stands out best above the errors of the meters: that the forward reading is above what the transmitter gives (above), that a transmitter
    sees SWR 1 while its line does not (flat), or that a meter reads something else at the other end of the line (place). It gives the meter
    ranges, what each meter may show, a safe order of work, and what would show that something is wrong.
    """
    from bouncesim import perform
    from bouncesim.cli.demonstration_page import page, plain
    from bouncesim.exact.demonstration.sheet import sheet

    loaded = perform.load(scenario)
    meters, taken = meters_of(loaded, options["scales"], options["percent"], options["directivity"])
    found: list[Candidate] = []
    effect = options["effect"]
    if options["frequency"] is None:
        effect, found = _ranked(loaded, options, meters)
    frequency = options["frequency"] if options["frequency"] is not None else found[0].frequency_hz
    made = sheet(loaded, frequency, meters, tuple(sorted(options["powers"])))
    if options["as_json"]:
        from bouncesim.cli.json_output import print_json

        print_json({"title": loaded.title, "file": str(scenario), **plain(made, found, effect, meters, options["region"])}, loaded)
        return
    from bouncesim.cli.pages import print_page

    print_page(page(loaded.title, str(scenario), made, found, effect, meters, taken, options["region"]), options["markdown"], loaded)


def _ranked(loaded: Scenario, options: dict[str, Any], meters: Meters) -> tuple[str, list[Candidate]]:
    """The bands, the best one first. UsageError for a band that there is not, ScenarioError where the station works on none."""
    from bouncesim.cli.terminal import progress
    from bouncesim.errors import Problem, ScenarioError
    from bouncesim.exact.demonstration.effects import best_by_band
    from bouncesim.scenario.bands import BANDS, SHORT_WAVES

    for band in options["bands"]:
        if band not in BANDS:
            raise click.UsageError(f"There is no band {band!r}. There are: {', '.join(BANDS)}")
    with progress("looking at the bands") as advance:
        bands = options["bands"] or SHORT_WAVES
        effect, found = best_by_band(loaded, tuple(bands), options["region"], meters, options["effect"], advance)
    if found[0].staged is None:
        reason = f"the station works on none of these bands; on {found[0].band}, {found[0].unfit}"
        raise ScenarioError(Problem("antenna", reason, "Try another --band or --at, or allow the tuner wider ranges"))
    return effect, found
