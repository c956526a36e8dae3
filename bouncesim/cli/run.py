"""bouncesim run: simulate a station, print its account, save it."""

from __future__ import annotations

from pathlib import Path

import click

from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.text import tell
from bouncesim.cli.work import check_ahead, work_option


@click.command("run")
@scenario_argument
@work_option
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FOLDER", help="Where to save the run. [default: outputs/NAME]")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
@click.option("--start-up/--no-start-up", default=True, show_default=True, help="Start it under a step, 1 us and a 5 ms key too.")
def command(scenario: Path, output: Path | None, as_json: bool, start_up: bool) -> bool:
    """Simulate a station, print its account and save it.

    SCENARIO is a file, or the name of one in the folder scenarios. Every reading is shown beside its closed form. A station that transmits
    is also started under a step, a key of 1 us and a real one of 5 ms: what its parts have to bear, and what the transmitter sees. Of a
    pulse, the echoes are told. Fails (exit code 1) when a claim of the scenario fails.
    """
    from bouncesim import perform
    from bouncesim.account.store import save_run
    from bouncesim.account.whole import try_folder
    from bouncesim.cli.extras import extras_of
    from bouncesim.cli.station import home_of, plain_station, simulate_station

    loaded = perform.load(scenario)
    folder = output or home_of(scenario)
    try_folder(folder)
    check_ahead(loaded, checked=False, started=start_up)
    station = simulate_station(scenario, loaded)
    save_run(station.run, folder)
    extras = extras_of(loaded, station.run, start_up)
    if as_json:
        from bouncesim.cli.json_output import print_json

        print_json({**plain_station(station), **extras.plain(), "saved": str(folder)}, station.run.scenario)
    else:
        from bouncesim.cli.tables import print_station
        from bouncesim.cli.terminal import stdout

        print_station(stdout(), station, extras=extras.tables())
    tell(f"Saved in {folder}")
    return station.holds
