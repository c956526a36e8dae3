"""bouncesim survey: every combination of the ranges in [survey], in one table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.work import work_option

if TYPE_CHECKING:
    from rich.table import Table as Printed

    from bouncesim.survey import Table
    from bouncesim.survey.engines import Engine


@click.command("survey")
@scenario_argument
@work_option
@click.option("--in-time", is_flag=True, help="Also start every station in time: how soon it settles, and what its parts bear meanwhile.")
@click.option("--threads", type=click.IntRange(1, 256), metavar="N", help="Stations started side by side. [default: one a processor]")
@click.option("--cluster", metavar="ADDRESS", help="Work on the dask.distributed cluster whose scheduler has this address.")
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FOLDER", help="For the table. [default: outputs/NAME/survey]")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(scenario: Path, in_time: bool, threads: int | None, cluster: str | None, output: Path | None, as_json: bool) -> None:
    """Solve every combination of the ranges in [survey], and put all of them into one table.

    SCENARIO is a file, or the name of one in the folder scenarios; its table [survey] says what is varied. Leaves survey.csv, survey.npz
    and survey.json. When it is interrupted, the same command goes on where it stopped; a scenario that has changed starts anew.

    Example: bouncesim survey many-cables --in-time
    """
    import os

    from bouncesim import perform
    from bouncesim.cli.station import home_of
    from bouncesim.survey import Cluster, Threads, Work

    loaded = perform.load(scenario)
    threads = threads or os.cpu_count() or 1
    work = Work(loaded, in_time=in_time, threads=threads)
    folder = output or home_of(scenario) / "survey"
    click.echo(f"{work.stations.count:,} station{'s' * (work.stations.count > 1)}, about {work.estimate.told}", err=True)
    engine: Engine = Cluster(cluster) if cluster else Threads(threads)
    try:
        table = _work(work, folder, engine, in_time, alone=not cluster)
    except KeyboardInterrupt:
        click.echo("\nWhat was found is kept: the same command goes on with it.", err=True)
        raise
    finally:
        engine.close()
    if as_json:
        from bouncesim.cli.json_output import print_json

        print_json(
            {"title": loaded.title, "saved": str(folder), "stations": table.count, **_plain(table), "cautions": _cautions(table)}, loaded
        )
        return
    from bouncesim.cli.terminal import stdout
    from bouncesim.cli.text import clean, tell

    console = stdout()
    console.print(clean(loaded.title), style="bold")
    console.print(_overview(table))
    _print_outcomes(table)
    for caution in _cautions(table):
        console.print("Caution:", caution)
    tell(f"Saved in {folder}: survey.csv, survey.npz, survey.json")


def _work(work: Any, folder: Path, engine: Engine, in_time: bool, alone: bool) -> Table:
    """Work it off, with a bar for each half, and write the table."""
    from bouncesim.cli.terminal import progress
    from bouncesim.survey import Threads

    with work.kept_in(folder) as journal:
        if journal.goes_on:
            click.echo(f"Going on with a survey that was interrupted: {work.done:,} of {work.stations.count:,} are done.", err=True)
        with progress("solving") as tick:
            work.solve(journal, Threads(1) if alone else engine, tick)
        if in_time:
            with progress("starting in time") as tick:
                work.start(journal, engine, tick)
        table: Table = work.table()
        table.save(folder, {"in_time": in_time})
        journal.remove()
    return table


SHOWN = (  # name or ending of a column, words, unit
    ("antenna.power_share", "power into the antenna, share", ""),
    (".loss_db", "loss of the {}", "dB"),
    (".heat_share", "heat in the {}, share", ""),
    (".swr_out", "SWR at the antenna's end of the {}", ""),
    ("transmitter.swr", "SWR that the transmitter sees", ""),
    (".largest_v_peak", "largest voltage on the {}, peak", "V"),
    (".largest_a_peak", "largest current on the {}, peak", "A"),
    (".coil_a_peak", "coil current of the {}, peak", "A"),
    (".capacitor_v_peak", "capacitor voltage of the {}, peak", "V"),
    ("settled_s", "settled within 1 % after", "s"),
    (".key_v_above", "voltage on the {} above its steady state, share", ""),
    (".key_coil_a_above", "coil current of the {} above its steady state, share", ""),
    (".key_capacitor_v_above", "capacitor voltage of the {} above its steady state, share", ""),
)


def _rows(table: Table) -> list[tuple[str, str, float, int, float, float, int]]:
    """Words, unit, least and its station, median, most and its station; of columns that say something."""
    import numpy as np

    found = []
    for ending, words, unit in SHOWN:
        for name, values in table.columns.items():
            if not (name == ending or (ending.startswith(".") and name.endswith(ending))):
                continue
            known = np.isfinite(values)
            if known.any() and not (values[known] == 0).all():
                least, most = int(np.nanargmin(np.where(known, values, np.nan))), int(np.nanargmax(np.where(known, values, np.nan)))
                told = words.format(name.rpartition(".")[0])
                found.append((told, unit, float(values[least]), least + 1, float(np.median(values[known])), float(values[most]), most + 1))
    return found


def _overview(table: Table) -> Printed:
    from bouncesim.cli.terminal import table as made_table
    from bouncesim.quantity import show

    made = made_table(f"{table.count:,} stations", "", "least", "in station", "median", "most", "in station")
    for words, unit, least, first, median, most, last in _rows(table):
        made.add_row(words, show(least, unit), f"{first:,}", show(median, unit), show(most, unit), f"{last:,}")
    return made


def _print_outcomes(table: Table) -> None:
    told = {word: count for word, count in table.outcomes().items() if not word.endswith("solved")}
    if told:
        listed = ", ".join(f"{count:,} {word}" for word, count in told.items())
        click.echo(f"Not all of them have readings: {listed}; their cells are empty.")


def _plain(table: Table) -> dict[str, Any]:
    """For --json: the same as the printed table. The rows themselves are in the files."""
    keys = ("quantity", "unit", "least", "least_in_station", "median", "most", "most_in_station")
    return {
        "outcomes": table.outcomes(),
        "readings": [dict(zip(keys, row, strict=True)) for row in _rows(table)],
        "columns": list(table.columns),
    }


def _cautions(table: Table) -> list[str]:
    """Those of the station with the highest voltage, and of the one with the most power."""
    import numpy as np

    from bouncesim.cli.cautions import general

    volts = [values for name, values in table.columns.items() if name.endswith((".largest_v_peak", ".capacitor_v_peak", "_v_peak"))]
    highest = max((float(np.nanmax(values)) for values in volts if np.isfinite(values).any()), default=0.0)
    power = np.nan_to_num(table.columns["transmitter.power_w"])
    at = int(np.argmax(power))
    return general(highest, float(power[at]), float(table.columns["frequency_hz"][at]))
