"""bouncesim claims: what scenarios assert, judged with error bars."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.scenarios import find_scenario
from bouncesim.cli.work import check_ahead, work_option

if TYPE_CHECKING:
    from bouncesim.compare.claims import ClaimVerdict
    from bouncesim.scenario import Scenario


def find_scenarios(ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> tuple[Path, ...]:
    """The files that `values` mean."""
    return tuple(find_scenario(ctx, param, value) for value in values)


@click.command("claims")
@click.argument("scenarios", nargs=-1, required=True, metavar="SCENARIO...", callback=find_scenarios)
@work_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(scenarios: tuple[Path, ...], as_json: bool) -> bool:
    """Judge what scenarios claim, with an error bar.

    SCENARIO is a file, or the name of one in the folder scenarios. Each station is simulated on three grids and extrapolated. A claim
    holds or fails by so much; where its bound lies within the reading's error bar it is too close to call. Without a tuner a claim is
    judged over all that the transmitter may be (source impedances of 5 to 500 ohm, and what it does about its load), and the worst counts,
    unless it says source = "its own". Where only the SWR of the antenna is known, the worst antenna counts.

    Fails (exit code 1) when a claim fails. A claim that is too close to call is not proven, but nothing speaks against it: the exit code
    stays 0, and the table says so.

    Example: bouncesim claims no-tuner thin-lossy-cable
    """
    from bouncesim import perform
    from bouncesim.cli.station import plain_claim

    loaded = [(path, perform.load(path)) for path in scenarios]
    check_ahead(*(scenario for _, scenario in loaded if scenario.claims), run=False, started=False)
    judged = [(path, scenario, _judged(scenario)) for path, scenario in loaded]
    if as_json:
        from bouncesim.cli.json_output import print_json

        told = [_plain(path, scenario, [plain_claim(one) for one in verdicts]) for path, scenario, verdicts in judged]
        print_json({"scenarios": told}, *(scenario for _, scenario in loaded))
    else:
        from bouncesim.cli.tables import claims_table
        from bouncesim.cli.terminal import stdout
        from bouncesim.cli.text import clean

        console = stdout()
        for _, scenario, verdicts in judged:
            console.print(clean(scenario.title), style="bold")
            console.print(claims_table(verdicts) if verdicts else "It claims nothing.\n")
        console.print(summary([one for _, _, verdicts in judged for one in verdicts]))
    return not any(one.outcome == "fails" for _, _, verdicts in judged for one in verdicts)


def _judged(scenario: Scenario) -> tuple[ClaimVerdict, ...]:
    """By a check where there is anything to judge; a claim about a reading that does not exist shows before the long work."""
    from bouncesim import perform
    from bouncesim.cli.station import may_be_of
    from bouncesim.cli.terminal import progress
    from bouncesim.compare.check import check
    from bouncesim.compare.claims import judge, judge_checked

    exact = perform.solve_exact(scenario)
    if not judge(scenario, exact):
        return ()
    with progress("judging") as tick:
        verdict = check(scenario, progress=tick)
    may_be = may_be_of(scenario)
    return judge_checked(scenario, verdict, exact, transmitters=may_be.transmitters, antennas=may_be.antennas)


def _plain(path: Path, scenario: Scenario, claims: list[dict[str, Any]]) -> dict[str, Any]:
    return {"title": scenario.title, "file": str(path), "claims": claims}


def summary(verdicts: list[ClaimVerdict]) -> str:
    """How many hold, fail, and cannot be told."""
    count = {outcome: sum(one.outcome == outcome for one in verdicts) for outcome in ("holds", "fails", "too close to call")}
    told = f"Of {len(verdicts)} claims {count['holds']} hold, {count['fails']} fail"
    return f"{told}, {count['too close to call']} are too close to call." if count["too close to call"] else f"{told}."
