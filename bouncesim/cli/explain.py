"""bouncesim explain: what meter readings say about a station."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.meter_options import meter_options, meters_of
from bouncesim.cli.quantities import DECIBELS, FREQUENCY, POWER, READING
from bouncesim.cli.scenarios import find_scenario
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from bouncesim.exact.demonstration.effects import Meters, Staged
    from bouncesim.exact.demonstration.inference import Evidence
    from bouncesim.scenario import Scenario

POWER_WITHIN, LOSS_WITHIN = 5.0, 10.0  # per cent, where nobody told: common practice, no source
MOST_LOSS_DB = 200.0  # of a line that readings are explained with, as for the option
EPILOG = """\b
Examples:
  bouncesim explain --power "40 W" --on-line "62 W" "23 W" --full-scale "100 W"
  bouncesim explain one-echo-or-all --power "45 W" --on-line "64 W" "20 W" --at-antenna "62 W" "21 W"
  bouncesim explain --on-line "18 W" "4 W" --matched-loss "1.2 dB" --class 10 --directivity "20 dB\""""
PLACES = {"at_transmitter": "transmitter", "on_line": "line", "at_antenna": "antenna"}


def _maybe(ctx: click.Context, param: click.Parameter, value: str | None) -> Path | None:
    return None if value is None else find_scenario(ctx, param, value)


@click.command("explain", epilog=EPILOG)
@click.argument("scenario", required=False, metavar="[SCENARIO]", callback=_maybe)
@work_option
@click.option("--at-transmitter", nargs=2, type=READING, metavar="FORWARD REFLECTED", help="Read in front of the tuner.")
@click.option("--on-line", nargs=2, type=READING, metavar="FORWARD REFLECTED", help="Read behind the tuner, at the near end of the line.")
@click.option("--at-antenna", nargs=2, type=READING, metavar="FORWARD REFLECTED", help="Read at the far end of that line.")
@click.option("--power", type=POWER, metavar="POWER", help="What the transmitter gives. [default: the scenario's]")
@click.option("--power-within", type=click.FloatRange(0, 99), metavar="PERCENT", help="How far off that may be.")
@click.option("--matched-loss", type=DECIBELS, metavar="DB", help="Of the line, one way. [default: the scenario's]")
@click.option("--matched-loss-within", type=click.FloatRange(0, 100), metavar="PERCENT", help="How far off that may be.")
@click.option("--no-tuner", is_flag=True, help="Nothing between transmitter and line takes power.")
@click.option("--at", "frequency", type=FREQUENCY, metavar="FREQUENCY", help="Where it was read, if not at the scenario's carrier.")
@meter_options
@click.option("--markdown", is_flag=True, help="Write Markdown instead of plain tables.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(scenario: Path | None, **options: Any) -> bool:
    """Say what forward and reflected readings mean.

    Readings come as two powers, forward and reflected. With the errors that the meters may make, the transmitter's power and what is known
    of the line, this gives every SWR, loss and power that is possible, and says whether all the readings can be true, and if not, by how
    much. SCENARIO, a file or the name of one in the folder scenarios, adds its power, its meters and its line, and what it expects beside
    each answer. Fails (exit code 1) when the readings cannot all be true.
    """
    from bouncesim.exact.demonstration.inference import finding

    if not any(options[key] for key in PLACES):
        raise click.UsageError("There is no reading: give one with --on-line, --at-transmitter or --at-antenna.")
    if scenario is None and options["frequency"] is not None:
        raise click.UsageError("--at goes with a scenario.")
    loaded, staged, meters, notes = _station(scenario, options)
    evidence, told = _evidence(staged, meters, options)
    found, of = finding(evidence), [loaded] if loaded else []
    if options["as_json"]:
        from bouncesim.cli.explain_page import plain
        from bouncesim.cli.json_output import print_json

        print_json(plain(evidence, found, staged), *of)
    else:
        from bouncesim.cli.explain_page import page
        from bouncesim.cli.pages import print_page

        shown = page(loaded.title if loaded else "Readings", evidence, found, staged, meters, [*notes, *told])
        print_page(shown, options["markdown"], *of)
    return found.consistent


def _station(scenario: Path | None, options: dict[str, Any]) -> tuple[Scenario | None, Staged | None, Meters, list[str]]:
    """The scenario, if there is one, with meters in it at the transmitter's power; the meters; what was taken of them."""
    from bouncesim import perform
    from bouncesim.exact.demonstration.effects import stage

    loaded = perform.load(scenario) if scenario else None
    meters, taken = meters_of(loaded, options["scales"], options["percent"], options["directivity"])
    most = max(watts for key in PLACES for watts in options[key] or ())
    if most > meters.scales_w[-1]:
        raise click.UsageError(f"A reading of {most:g} W is beyond the largest full scale, {meters.scales_w[-1]:g} W: see --full-scale.")
    notes = [taken] if taken else []
    if loaded is None:
        return None, None, meters, notes
    if options["power"] is not None:
        transmitter = loaded.transmitter.model_copy(update={"power_w": options["power"]})
        loaded = loaded.model_copy(update={"transmitter": transmitter})
    return loaded, stage(loaded, options["frequency"] or loaded.transmitter.frequency_hz, meters), meters, notes


def _evidence(staged: Staged | None, meters: Meters, options: dict[str, Any]) -> tuple[Evidence, list[str]]:
    """What is known, and sentences on what was taken for want of anything better."""
    from bouncesim.exact.demonstration.effects import something_in_front
    from bouncesim.exact.demonstration.inference import Evidence, Reading
    from bouncesim.exact.demonstration.instruments import Interval

    readings, told = {}, list[str]()
    for key, place in PLACES.items():
        if options[key]:
            forward, reflected = options[key]
            readings[place] = Reading(forward, reflected, meters.instrument(forward, reflected))
    power, loss = options["power"], options["matched_loss"]
    tuner = not options["no_tuner"]
    if staged is not None:
        tuner &= something_in_front(staged.scenario, staged.line.name)
        power = staged.readings.transmitter.power_w if power is None else power
    within = options["power_within"]
    if power is not None and within is None:
        within = POWER_WITHIN
        told.append(f"The transmitter's power is taken to be known within {within:g} per cent (common practice, no source).")
    interval = Interval(power * (1 - within / 100), power * (1 + within / 100)) if power is not None else None
    matched = _matched_loss(staged, loss, options["matched_loss_within"], told)
    return Evidence(readings, interval, matched, staged.skew if staged else 0.0, tuner), told


def _matched_loss(staged: Staged | None, loss: float | None, within: float | None, told: list[str]) -> Any:
    """Interval of the line's matched loss; None where nothing is known of it."""
    from bouncesim.errors import OptionError
    from bouncesim.exact.demonstration.instruments import Interval

    if loss is None:
        if staged is None:
            return None
        loss = staged.line.matched_loss_db
        line = next(part for part in staged.scenario.all_lines if part.name == staged.line.name)
        if within is None and line.line_type is not None:
            within = line.line_type.uncertainty_percent
    if within is None:
        within = LOSS_WITHIN
        told.append(f"The line's matched loss is taken to be known within {within:g} per cent (common practice, no source).")
    if loss > MOST_LOSS_DB:
        raise OptionError(f"The line's matched loss is {loss:,.0f} dB: no reading at its near end says anything of what is behind it.")
    return Interval(loss * (1 - within / 100), loss * (1 + within / 100))
