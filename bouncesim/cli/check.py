"""bouncesim check: the simulation against the closed form, with an error bar a reading."""

from __future__ import annotations

from pathlib import Path

import click

from bouncesim.cli.scenarios import scenario_argument


@click.command("check")
@scenario_argument
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of a table.")
def command(scenario: Path, as_json: bool) -> bool:
    """Check a station against its closed form, reading by reading.

    SCENARIO is a file, or the name of one in the folder scenarios. Simulates it on three finer and finer grids, extrapolates, and shows
    for every reading the extrapolated value, its error bar, the closed form and whether they agree. Fails (exit code 1) when one does
    not.
    """
    from bouncesim import perform
    from bouncesim.cli.terminal import progress, stdout
    from bouncesim.compare.check import check

    loaded = perform.load(scenario)
    with progress("checking") as tick:
        verdict = check(loaded, progress=tick)
    if as_json:
        from bouncesim.account.plain import to_plain
        from bouncesim.cli.json_output import print_json

        print_json({"title": loaded.title, "file": str(scenario), "holds": verdict.holds, **to_plain(verdict)})
    else:
        from bouncesim.cli.tables import summary, verdict_table

        console = stdout()
        console.print(verdict_table(verdict))
        console.print(summary(verdict))
    return verdict.holds
