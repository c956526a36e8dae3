"""bouncesim chart: stills of a station, one picture a thing to be seen."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.sizes import SHAPES, read_size
from bouncesim.cli.text import place
from bouncesim.cli.work import check_ahead, work_option
from bouncesim.show.charts.kinds import FORMATS, KINDS, THEMES, applies

if TYPE_CHECKING:
    from bouncesim.account.verdict import Verdict
    from bouncesim.cli.station import Station
    from bouncesim.scenario import Scenario
    from bouncesim.show.charts.answer import Answer

LIST = "\n".join(f"  {name:<15}{words}" for name, words in KINDS.items())


def _kinds(ctx: click.Context, param: click.Parameter, value: tuple[str, ...]) -> tuple[str, ...]:
    import difflib

    for name in value:
        if name not in KINDS:
            near = difflib.get_close_matches(name, KINDS, n=2, cutoff=0.4)
            raise click.BadParameter(f"there is no chart {name!r}. {'Nearest' if near else 'There are'}: {', '.join(near or KINDS)}")
    return tuple(name for name in KINDS if name in value)


def _list(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    if value:
        click.echo(LIST)
        ctx.exit()


@click.command(
    "chart", epilog=f"\b\nCharts:\n{LIST}\n\n\b\nExample:\n  bouncesim chart one-echo-or-all bounces flow --shape tall --theme light"
)
@scenario_argument
@work_option
@click.argument("kinds", metavar="[CHART]...", nargs=-1, callback=_kinds)
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FOLDER", help="Where to put them. [default: outputs/NAME]")
@click.option("--format", "forms", type=click.Choice(FORMATS), multiple=True, help="Kind of file; may be given twice. [default: png]")
@click.option("--shape", type=click.Choice(tuple(SHAPES)), default="wide", show_default=True, help="Shape of the picture.")
@click.option("--size", callback=read_size, metavar="WxH", help="Another size in pixels; the shape follows from it.")
@click.option("--theme", type=click.Choice(THEMES), default="dark", show_default=True, help="Colours.")
@click.option("--run", "folder", type=click.Path(path_type=Path), metavar="FOLDER", help="Draw a saved run instead of simulating.")
@click.option("--question", metavar="TEXT", help="What the chart answer replies to. [default: the scenario's title]")
@click.option("--answer", "quantity", metavar="READING", help="The reading that answers. [default: antenna.power_w]")
@click.option("--check", "checked", is_flag=True, help="Check the station too, so that the answer has an error bar.")
@click.option("--list", is_flag=True, is_eager=True, expose_value=False, callback=_list, help="List the charts and leave.")
def command(
    scenario: Path,
    kinds: tuple[str, ...],
    output: Path | None,
    forms: tuple[str, ...],
    shape: str,
    size: tuple[int, int] | None,
    theme: str,
    folder: Path | None,
    question: str | None,
    quantity: str | None,
    checked: bool,
) -> bool:
    """Draw charts of a station: all of them, or those that are named.

    SCENARIO is a file, or the name of one in the folder scenarios. Fails (exit code 1) when a claim of the scenario fails, or the check;
    the charts are drawn all the same.
    """
    from bouncesim import perform
    from bouncesim.account.whole import try_folder
    from bouncesim.cli.extras import extras_of
    from bouncesim.cli.station import home_of, simulate_station
    from bouncesim.cli.terminal import progress
    from bouncesim.show.charts.draw import file_names, write_charts
    from bouncesim.show.charts.sheet import check_size
    from bouncesim.show.effort import chart_work

    pixels = size or SHAPES[shape]
    check_size(pixels)
    loaded = perform.load(scenario)
    kinds = kinds or tuple(name for name in KINDS if applies(name, loaded.keying.shape, loaded.direction))
    home = output or home_of(scenario)
    forms = tuple(dict.fromkeys(forms)) or ("png",)
    try_folder(home, *file_names(kinds, forms))
    charted = chart_work(len(kinds) * len(forms), pixels)
    check_ahead(loaded, more=(charted,), run=folder is None, checked=checked, started="start-up" in kinds)
    station = _saved(scenario, folder) if folder is not None else simulate_station(scenario, loaded)
    verdict = _verdict(station, folder, checked)
    answer = None
    if "answer" in kinds:
        answer = _answer(station, verdict, question, quantity, _look(pixels, theme))
    start = extras_of(loaded, station.run).start_up if "start-up" in kinds else None
    look: dict[str, Any] = {"formats": forms, "size": pixels, "theme": theme}
    with progress("drawing") as tick:
        files = write_charts(station.run, home, kinds, answer=answer, start_up=start, progress=tick, **look)
    for file in files:
        click.echo(place(file))
    return station.holds and (verdict is None or verdict.holds)


def _look(size: tuple[int, int], theme: str) -> list[str]:
    """The options that give a chart this size and theme, where they are not the usual ones."""
    shape = next((name for name, usual in SHAPES.items() if usual == size), None)
    look = ["--size", f"{size[0]}x{size[1]}"] if shape is None else ["--shape", shape] if shape != "wide" else []
    return [*look, *(["--theme", theme] if theme != "dark" else [])]


def _saved(scenario: Path, folder: Path) -> Station:
    """The station of a saved run, which must be that of the scenario as it stands; title and story may have changed."""
    from dataclasses import replace

    from bouncesim import perform
    from bouncesim.account.store import load_run
    from bouncesim.cli.station import station_of
    from bouncesim.errors import OptionError

    run = load_run(folder)
    now = perform.resolve(perform.load(scenario))
    if not _same_station(run.scenario, now):
        raise OptionError(f"The run in {folder} is that of another station than {scenario}: simulate it again, with bouncesim run.")
    return station_of(scenario, now, replace(run, scenario=now))


def _same_station(one: Scenario, now: Scenario) -> bool:
    """Whether two scenarios are alike but for what is told about them."""
    told = {name: getattr(now, name) for name in ("title", "about", "claims", "beats", "narration")}
    return one.model_copy(update=told) == now


def _verdict(station: Station, folder: Path | None, checked: bool) -> Verdict | None:
    """The check, made now if that is asked for, else the one saved beside the run, if it is that of this station: a run may have taken the
    place of the one that was checked."""
    from bouncesim import perform
    from bouncesim.account.store import checked_scenario, load_verdict
    from bouncesim.cli.terminal import progress
    from bouncesim.compare.check import check

    if checked:
        with progress("checking") as tick:
            return check(perform.load(station.file), progress=tick)
    if folder is None or not (folder / "verdict.json").is_file():
        return None
    of = checked_scenario(folder)
    return load_verdict(folder) if of is None or _same_station(of, station.run.scenario) else None


def _answer(station: Station, verdict: Verdict | None, question: str | None, quantity: str | None, look: list[str]) -> Answer:
    """What the card says: from the readings, the closed form, the check if there is one, and the claims. Raises ScenarioError."""
    import math

    from bouncesim.cli.answers import question_words, reading_words
    from bouncesim.show.charts.answer import Answer, Judged

    scenario, numbers = station.run.scenario, station.run.readings.numbers()
    chosen = quantity or f"{scenario.load_name}.power_w"
    words = reading_words(chosen, numbers, scenario)
    row = next((row for row in verdict.rows if row.quantity == chosen), None) if verdict is not None else None
    exact = row.exact if row else station.exact.numbers().get(chosen)
    over = [value for readings in station.by_source.values() if math.isfinite(value := readings.numbers()[chosen])]
    varies = bool(over) and max(over) - min(over) > 1e-3 * max(abs(value) for value in over)
    again = ["bouncesim", "chart", str(station.file), "answer"]
    again += ["--question", question] if question else []
    again += ["--answer", quantity] if quantity else []
    return Answer(
        question=question_words(question, scenario.title),
        quantity=chosen,
        value=row.simulated if row else numbers[chosen],
        words=words,
        error_bar=row.error_bar if row else None,
        exact=exact,
        outcome=row.outcome if row else None,
        least=min(over) if varies else None,
        most=max(over) if varies else None,
        claims=tuple(
            Judged(claim.claim.says, claim.outcome, claim.by_how_much)
            for claim in sorted(station.claims, key=lambda claim: claim.claim.quantity != chosen)
        ),
        command=shlex.join([*again, *(["--check"] if row else []), *look]),
    )
