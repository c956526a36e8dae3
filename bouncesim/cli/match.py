"""bouncesim match: every network that would match a station, what each costs and bears, and the station with one of them written out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.quantities import CAPACITOR, COIL, FREQUENCY, QUALITY
from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.text import tell
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from bouncesim.account.verdict import Verdict
    from bouncesim.errors import BouncesimError
    from bouncesim.exact.matching.networks import Match, Matches
    from bouncesim.scenario import Scenario

# Of the parts of a tuner that a station does not have: usual values for air-wound coils and air capacitors, common practice, no source.
COIL_Q, CAPACITOR_Q = 200.0, 1000.0
EPILOG = """\b
Examples:
  bouncesim match one-echo-or-all
  bouncesim match tee-tuner --all --largest-capacitor "240 pF"
  bouncesim match no-tuner --confirm
  bouncesim match no-tuner --take 2 --write matched.toml"""


@click.command("match", epilog=EPILOG)
@scenario_argument
@work_option
@click.option("--at", "frequency", type=FREQUENCY, metavar="FREQUENCY", help="Another carrier than the scenario's.")
@click.option("--tuner", "name", metavar="NAME", help="Only this one, where the path has several.")
@click.option("--all", "by_loaded_q", is_flag=True, help="Of a pi or T also settings of a loaded Q of 1, 2, 4, 8 and 16.")
@click.option("--coil-q", type=QUALITY, metavar="Q", help="Quality of the coils, instead of the scenario's.")
@click.option("--capacitor-q", type=QUALITY, metavar="Q", help="Quality of the capacitors, likewise.")
@click.option("--largest-coil", "largest_coil_h", type=COIL, metavar="L", help='What the coils go up to, such as "20 uH".')
@click.option("--largest-capacitor", "largest_capacitor_f", type=CAPACITOR, metavar="C", help='What the capacitors go up to: "240 pF".')
@click.option("--smallest-capacitor", "smallest_capacitor_f", type=CAPACITOR, metavar="C", help='And down to: "12 pF".')
@click.option("--confirm", is_flag=True, help="March each of them in time, on three grids, and say which it confirms.")
@click.option("--take", type=click.IntRange(1), metavar="NUMBER", help="The network to write. [default: the first that is at hand]")
@click.option("--write", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="A copy of the scenario with it in place.")
@click.option("--force", is_flag=True, help="Let --write replace a file that exists.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(scenario: Path, **options: Any) -> None:
    """Show every network that would match a station.

    SCENARIO is a file, or the name of one in the folder scenarios. For each tuner, or right behind the transmitter where there is none:
    what it sees, and every L, pi, T, stub and quarter wave that makes the match, the least heat first, with its values, its stresses, and
    over how wide a band the SWR at the transmitter stays below 1.5 and 2.
    """
    from bouncesim import perform

    loaded = _station(perform.load(scenario), options["frequency"])
    if options["write"]:
        _check_target(options, loaded)
    elif options["take"] or options["force"]:
        raise click.UsageError("--take and --force go with --write.")
    found = _found(loaded, options)
    verdicts = _confirmed(found) if options["confirm"] else {}
    written = None
    if options["write"]:
        from bouncesim.cli.match_write import write_match

        written = write_match(scenario, _one(found, None), options["take"], options["write"])
    if options["as_json"]:
        from bouncesim.cli.json_output import print_json
        from bouncesim.cli.match_tables import plain

        told = {"title": loaded.title, "file": str(scenario), **plain(loaded, found, verdicts)}
        print_json(told | ({"written": str(options["write"])} if written else {}), loaded)
    else:
        from bouncesim.cli.match_tables import print_matches

        print_matches(loaded, found, verdicts, options["confirm"])
    if written:
        tell(f"Wrote {options['write']}: {written}. Next: bouncesim check {options['write']}")


def _station(loaded: Scenario, frequency_hz: float | None) -> Scenario:
    """The station that transmits its carrier, before anything happens to it."""
    from bouncesim.exact.retuned import at_frequency

    plain = loaded.model_copy(update={"direction": "transmit", "receiver": None, "events": ()})
    return plain if frequency_hz is None else at_frequency(plain, frequency_hz)


def _check_target(options: dict[str, Any], loaded: Scenario) -> None:
    """Before any work: whether the file may be written."""
    if options["frequency"] is not None:
        raise click.UsageError("--write keeps the scenario's carrier: write the new frequency into a copy first, and match that.")
    if options["write"].exists() and not options["force"]:
        raise click.UsageError(f"{options['write']} exists already, and is left as it is. Choose another name, or add --force.")


def _found(loaded: Scenario, options: dict[str, Any]) -> list[Matches]:
    """The networks for every tuner, or for the one that is named."""
    from bouncesim.exact.matching.networks import every_match

    keys = ("coil_q", "capacitor_q", "largest_coil_h", "largest_capacitor_f", "smallest_capacitor_f")
    change = {key: options[key] for key in keys if options[key] is not None}
    smallest, largest = change.get("smallest_capacitor_f", 0.0), change.get("largest_capacitor_f")
    if largest is not None and smallest >= largest:
        raise click.UsageError("--smallest-capacitor is not below --largest-capacitor.")
    assumed = {"coil_q": COIL_Q, "capacitor_q": CAPACITOR_Q}
    found = every_match(loaded, change, assumed | change, options["by_loaded_q"])
    if options["name"] is None:
        if options["write"]:
            _one(found, None)
        return list(found)
    return [_one(found, options["name"])]


def _one(found: Any, name: str | None) -> Matches:
    """The tuner that is meant."""
    names = ", ".join(matches.tuner.name for matches in found)
    if name is None and len(found) > 1:
        raise click.UsageError(f"There are several tuners ({names}): say which one with --tuner.")
    for matches in found:
        if name in (None, matches.tuner.name):
            assert matches is not None
            one: Matches = matches
            return one
    raise click.UsageError(f"There is no tuner of that name. There are: {names}")


def _confirmed(found: list[Matches]) -> dict[tuple[str, int], Verdict | BouncesimError]:
    """The verdict of a simulation on three grids on every network that can be had, or why there is none; by tuner and number."""
    from bouncesim import budget
    from bouncesim.cli.terminal import progress
    from bouncesim.compare.check import check, check_work
    from bouncesim.errors import BouncesimError

    todo = [(m.tuner.name, n, match) for m in found for n, match in enumerate(m.matches, 1) if not match.candidate.obstacle]
    if todo:
        budget.check(*(check_work(_plain_key(match)) for *_, match in todo))
    verdicts: dict[tuple[str, int], Verdict | BouncesimError] = {}
    with progress("simulating") as advance:
        for done, (name, number, match) in enumerate(todo):

            def part(k: int, of: int, done: int = done) -> None:
                advance(done + k / of, len(todo))

            try:
                verdicts[name, number] = check(_plain_key(match), progress=part)
            except BouncesimError as error:
                verdicts[name, number] = error
    return verdicts


def _plain_key(match: Match) -> Scenario:
    return match.scenario.model_copy(update={"claims": (), "beats": (), "narration": ()})
