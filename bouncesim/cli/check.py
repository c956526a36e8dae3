"""bouncesim check: the simulation against the closed form, with an error bar a reading."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from rich.table import Table

    from bouncesim.account.verdict import Transient


@click.command("check")
@scenario_argument
@work_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of a table.")
def command(scenario: Path, as_json: bool) -> bool:
    """Check a station against its closed form, reading by reading.

    SCENARIO is a file, or the name of one in the folder scenarios. Simulates it on three finer and finer grids, extrapolates, and shows
    for every reading the extrapolated value, its error bar, the closed form and whether it holds. A reading fails where the two are further
    apart than the error bar; it is not proven where they agree, but the grids converge in another order than the error bar takes for
    granted. Then the start of the station, from key-down on, is compared with another way to the same answer: which way, how far the two
    are apart, and how far they may be. Fails (exit code 1) when a reading or the start fails or is not proven.
    """
    from bouncesim import perform
    from bouncesim.cli.terminal import progress, stdout
    from bouncesim.compare.check import check

    loaded = perform.load(scenario)
    with progress("checking") as tick:
        verdict = check(loaded, transient=True, progress=tick)
    if as_json:
        from bouncesim.account.plain import to_plain
        from bouncesim.cli.json_output import print_json

        told = {"title": loaded.title, "file": str(scenario), "outcome": verdict.outcome, "holds": verdict.holds}
        print_json(told | to_plain(verdict), perform.resolve(loaded))
    else:
        from bouncesim.cli.tables import summary, verdict_table

        console = stdout()
        console.print(verdict_table(verdict))
        console.print(summary(verdict))
        for part in start_verdict(verdict.transient):
            console.print(part)
    return verdict.holds


def start_verdict(transient: Transient | None) -> Iterator[Table | str]:
    """The transient's verdict: a table and a sentence, or why there is none."""
    from bouncesim.cli.text import clean, number
    from bouncesim.quantity import show

    if transient is None or transient.not_compared:
        yield f"From key-down on: not compared: {transient.not_compared if transient else 'not asked for'}."
        return
    from bouncesim.cli.terminal import table

    made = table("From key-down on: the simulated start against another way", "", "largest value", "largest difference", "")
    for row in transient.rows:
        unit = "V" if row.quantity == "voltage" else "A"
        cells = (number(row.largest), f"{row.difference:.0e}", "holds" if row.difference <= transient.bar else "FAILS")
        made.add_row(f"{clean(row.place)}: {row.quantity} ({unit})", *cells)
    yield made
    yield (
        f"Compared with {transient.method}, at {transient.instants} instants of the first {show(transient.span_s, 's')}, with "
        f"{transient.key}. Largest difference, relative to the wave there: {transient.largest:.0e}; allowed: {transient.bar:.0e}: "
        f"{'it holds' if transient.holds else 'it FAILS'}."
    )
