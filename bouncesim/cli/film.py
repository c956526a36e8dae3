"""bouncesim film: the main job. Simulate, check, print the account, and film it."""

from __future__ import annotations

from pathlib import Path

import click

from bouncesim.cli.scenarios import scenario_argument


def _film_file(ctx: click.Context, param: click.Parameter, value: Path | None) -> Path | None:
    if value is not None and value.suffix.lower() != ".mp4":
        raise click.BadParameter(f"{value} does not end in .mp4, the one kind of film made so far")
    return value


@click.command("film")
@scenario_argument
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    callback=_film_file,
    metavar="FILE.mp4",
    help="Where to put the film. [default: outputs/NAME/NAME.mp4, with the run and its verdict beside it]",
)
@click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True, help="Colours of the film.")
@click.option("--draft", is_flag=True, help="Small and quick, to try out captions.")
@click.option("--no-check", is_flag=True, help="Leave out the check; the film then ends without a verdict.")
def command(scenario: Path, output: Path | None, theme: str, draft: bool, no_check: bool) -> bool:
    """Film a station: simulate, check, print the account, film it.

    SCENARIO is a file, or the name of one in the folder scenarios. Fails (exit code 1) when the check or a claim of the scenario fails;
    the film is made all the same, and its end says so.
    """
    from bouncesim import perform
    from bouncesim.account.store import save_run, save_verdict, try_folder
    from bouncesim.cli.station import home_of, simulate_station
    from bouncesim.cli.tables import print_station, summary
    from bouncesim.cli.terminal import progress, stdout
    from bouncesim.compare.check import check

    loaded = perform.load(scenario)
    film_file = output or home_of(scenario) / f"{scenario.stem}.mp4"
    try_folder(film_file.parent)
    station = simulate_station(scenario, loaded)
    verdict = None
    if not no_check:
        with progress("checking") as tick:
            verdict = check(loaded, progress=tick)
    console = stdout()
    print_station(console, station, verdict)
    if verdict:
        console.print(summary(verdict))
    if output is None:
        save_run(station.run, film_file.parent)
        if verdict:
            save_verdict(verdict, film_file.parent)

    from bouncesim.show.film import film

    with progress("filming") as tick:
        film(station.run, film_file, verdict=verdict, theme=theme, draft=draft, progress=tick)
    click.echo(f"The film is {film_file}", err=True)
    return station.holds and (verdict is None or verdict.holds)
