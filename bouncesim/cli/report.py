"""bouncesim report: everything about a station on one page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import click

from bouncesim.cli.scenarios import scenario_argument
from bouncesim.cli.text import place
from bouncesim.cli.work import check_ahead, work_option

if TYPE_CHECKING:
    from bouncesim.account.verdict import Verdict
    from bouncesim.cli.extras import Extras
    from bouncesim.cli.station import Station

LOOKS = ("auto", "light", "dark")
ENDING = ".report.json"
START_BAR = 0.01  # of a stress of the start-up, which has no error bar of its own: what its grids leave open where they are sharp
NO_NUMBERS = ("title", "about", "beats", "narration", "claims", "survey")  # of a scenario: no reading depends on them


@click.command("report", epilog="Example: bouncesim report one-echo-or-all --theme light")
@scenario_argument
@work_option
@click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FOLDER", help="Where to put it. [default: outputs/NAME]")
@click.option(
    "--since",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The data of an earlier report (NAME.report.json), or its folder: tells what changed, in a correction note.",
)
@click.option("--theme", type=click.Choice(LOOKS), default="auto", show_default=True, help="Colours; auto follows the reader's.")
def command(scenario: Path, output: Path | None, since: Path | None, theme: str) -> bool:
    """Report on a station: one page with everything, to publish beside a film.

    SCENARIO is a file, or the name of one in the folder scenarios. The station is simulated, checked and started up; NAME.report.html has
    it all, pictures too, and needs neither a network nor scripts; NAME.report.md is the same in Markdown, NAME.report.json its numbers.
    Keep the last: with it, a later report tells what has changed beyond the error bars. SOURCE_DATE_EPOCH sets the time that is told.

    Fails (exit code 1) when the check or a claim of the scenario fails; the report is made all the same, and says so.
    """
    from bouncesim import perform
    from bouncesim.account.whole import try_folder
    from bouncesim.cli.extras import extras_of
    from bouncesim.cli.station import home_of, simulate_station
    from bouncesim.cli.terminal import progress
    from bouncesim.compare.check import check

    loaded, text = perform.load(scenario), scenario.read_text("utf-8-sig")
    earlier = earlier_report(since, scenario.stem, loaded.title) if since is not None else None
    folder = output or home_of(scenario)
    try_folder(folder, f"{scenario.stem}.report.html")
    check_ahead(loaded)
    station = simulate_station(scenario, loaded)
    with progress("checking") as tick:
        verdict = check(loaded, transient=True, progress=tick)
    station = judged(station, verdict)
    extras = extras_of(loaded, station.run)
    plain = data(station, verdict, extras)
    for file in write(station, verdict, extras, folder, text=text, theme=theme, plain=plain, earlier=earlier):
        click.echo(place(file))
    return station.holds and verdict.holds


def judged(station: Station, verdict: Verdict) -> Station:
    """The station with its claims judged by the check, whose error bars are those of three grids."""
    from dataclasses import replace

    from bouncesim.cli.station import MayBe
    from bouncesim.compare.claims import judge_checked

    may_be = MayBe(station.by_source, station.by_behaviour, station.by_antenna)
    claims = judge_checked(station.run.scenario, verdict, station.exact, transmitters=may_be.transmitters, antennas=may_be.antennas)
    return replace(station, claims=claims)


def earlier_report(place: Path, name: str, title: str) -> dict[str, Any]:
    """The data of the earlier report at `place`. Raises OptionError for what is none, or is one of another scenario."""
    import json

    from bouncesim.errors import OptionError
    from bouncesim.show.report.since import FORM

    def wrong(reason: str) -> OptionError:
        return OptionError(f"{place}: {reason}. Name the file NAME{ENDING} of an earlier report of this scenario, or the folder it is in.")

    file = place
    if place.is_dir():
        own, there = place / f"{name}{ENDING}", sorted(place.glob(f"*{ENDING}"))
        if not own.is_file() and len(there) != 1:
            raise wrong("there are several reports here" if there else "there is no report here")
        file = own if own.is_file() else there[0]
    try:
        plain = json.loads(file.read_text("utf-8"))
    except FileNotFoundError:
        raise wrong("there is no such file") from None
    except (OSError, ValueError, RecursionError):
        raise wrong("cannot be read as the data of a report") from None
    if not isinstance(plain, dict) or plain.get("form") != FORM:
        raise wrong("is not the data of a report, or that of another version of bouncesim")
    if plain.get("name") != name and plain.get("title") != title:
        raise wrong(f'is the report of another scenario, "{plain.get("name")}"')
    return plain


def data(station: Station, verdict: Verdict, extras: Extras) -> dict[str, Any]:
    """All numbers of the report, for a later one to be compared with; `numbers` with their error bars."""
    from importlib.metadata import version

    from bouncesim.account import made
    from bouncesim.account.plain import to_plain
    from bouncesim.cli.station import plain_station
    from bouncesim.show.report.since import FORM

    rows = {row.quantity: row for row in verdict.rows}
    numbers: dict[str, dict[str, float | None]] = {
        name: {"value": rows[name].simulated, "error_bar": rows[name].error_bar, "exact": value}
        if name in rows
        else {"value": value, "error_bar": 0.0, "exact": value}
        for name, value in station.exact.flatten().items()
    }
    for key in extras.start_up.keys if extras.start_up else ():
        for stress in key.stresses:
            name = f"start-up, {key.key}, {stress.line}: {stress.quantity}"
            numbers[name] = {"value": stress.largest, "error_bar": START_BAR * stress.largest, "exact": None}
    plain = plain_station(station)
    scenario = {key: value for key, value in to_plain(station.run.scenario).items() if key not in NO_NUMBERS}
    programs = {**made.versions(), "matplotlib": version("matplotlib")}
    about = {"form": FORM, "name": station.file.stem, "versions": programs, "system": made.system()}
    about |= {"scenario_sha256": made.digest(station.run.scenario), "scenario": scenario}
    return {**about, "numbers": numbers, **plain, **extras.plain(), "verdict": to_plain(verdict)}


def write(
    station: Station,
    verdict: Verdict,
    extras: Extras,
    folder: Path,
    *,
    text: str,
    theme: str,
    plain: dict[str, Any],
    earlier: dict[str, Any] | None,
) -> list[Path]:
    """Draw the pictures, put the pages together and write everything. Returns the files. Raises OutputError, and OptionError for earlier
    data that cannot be compared."""
    import json

    from bouncesim.account.made import moment
    from bouncesim.account.plain import strict
    from bouncesim.account.whole import write_files
    from bouncesim.cli.made import made_section
    from bouncesim.cli.report_parts import sections, top_figures
    from bouncesim.cli.terminal import progress
    from bouncesim.errors import OptionError
    from bouncesim.show.report import pictures
    from bouncesim.show.report.content import Pictures, Report
    from bouncesim.show.report.markdown import markdown_of
    from bouncesim.show.report.page import THEMES, page_of
    from bouncesim.show.report.since import since
    from bouncesim.show.stage import subtitle

    run, name, themes = station.run, station.file.stem, THEMES[theme]
    plain = strict(plain, lambda _: None)
    try:
        changed = since(earlier, plain) if earlier is not None else None
    except (KeyError, TypeError, ValueError, AttributeError):
        raise OptionError("The data of the earlier report are damaged: they cannot be compared.") from None
    with progress("drawing") as tick:
        stills = Pictures(tuple(pictures.charts(run, extras.start_up, themes, tick)))
    poster = pictures.poster(run, verdict, themes)
    shown = poster if isinstance(poster, str) else Pictures((poster,))
    told = [*sections(station, verdict, extras, stills, shown, changed, text), made_section(plain["versions"], plain["scenario_sha256"])]
    about = tuple(" ".join(paragraph.split()) for paragraph in run.scenario.about.split("\n\n") if paragraph.strip())
    report = Report(
        run.scenario.title,
        subtitle(run.scenario, run.readings.antenna.swr),
        about,
        top_figures(station, verdict),
        tuple(told),
        f"Made {moment()}",
    )
    beside = f"{name}.report"
    files = {
        f"{beside}.html": page_of(report, theme),
        f"{beside}.md": markdown_of(report, beside),
        f"{beside}.json": json.dumps(plain | {"made_at": report.made_at}, indent=1, ensure_ascii=False, allow_nan=False) + "\n",
    }
    drawn = {f"{beside}/{one.name}.png": _writer(one.png) for one in report.pictures}
    pages = {file: _writer(page.encode("utf-8", "replace")) for file, page in files.items()}  # the name of a file need not be text
    write_files(folder, drawn | pages)
    return [folder / file for file in files]


def _writer(content: bytes) -> Callable[[BinaryIO], object]:
    return lambda file: file.write(content)
