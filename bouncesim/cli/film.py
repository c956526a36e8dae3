"""bouncesim film: the main job. Simulate, check, print the account, and film it."""

from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.scenarios import find_scenario, scenario_argument
from bouncesim.cli.sizes import SHAPES, read_size
from bouncesim.cli.text import tell
from bouncesim.cli.work import check_ahead, work_option

if TYPE_CHECKING:
    from bouncesim.account.verdict import Verdict
    from bouncesim.cli.station import Station
    from bouncesim.scenario import Scenario

KINDS = ("mp4", "webm", "gif", "mov", "png")
CURVES = ("total", "forward", "reflected", "largest")


def _curves(ctx: click.Context, param: click.Parameter, value: str) -> frozenset[str]:
    names = frozenset(name.strip() for name in value.split(",") if name.strip())
    if wrong := sorted(names - set(CURVES)):
        raise click.BadParameter(f"there is no curve {wrong[0]!r}; the curves are {', '.join(CURVES)}")
    return names


def _other(ctx: click.Context, param: click.Parameter, value: str | None) -> Path | None:
    return None if value is None else find_scenario(ctx, param, value)


@click.command("film", epilog="Example: bouncesim film one-echo-or-all --shape tall --theme light")
@scenario_argument
@work_option
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where to put the film; its ending says what kind it is. [default: outputs/NAME/NAME.mp4, with the run and its verdict beside it]",
)
@click.option("--format", "kind", type=click.Choice(KINDS), help="mp4; webm; gif; mov, for editors; png, a folder of pictures.")
@click.option("--shape", type=click.Choice(tuple(SHAPES)), default="wide", show_default=True, help="Shape of the frame.")
@click.option("--size", callback=read_size, metavar="WxH", help="Another size in pixels; the shape follows from it.")
@click.option("--fps", type=click.IntRange(1, 240), help="Frames a second. [default: 30; 25 in a gif]")
@click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True, help="Colours of the film.")
@click.option("--hide", callback=_curves, default="", metavar="CURVES", help=f"Curves to leave out, with commas: {', '.join(CURVES)}.")
@click.option(
    "--show", "quantity", type=click.Choice(["voltage", "current", "both"]), default="voltage", show_default=True, help="Along the lines."
)
@click.option(
    "--words", type=click.Path(path_type=Path, exists=True, dir_okay=False), metavar="FILE.toml", help="Words in another language."
)
@click.option(
    "--narration",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.vtt",
    help="Spoken words (WebVTT): each cue times one beat.",
)
@click.option("--beside", callback=_other, metavar="SCENARIO", help="A second station, on the same clock and the same scales.")
@click.option("--turn", metavar="PART", help="Instead, a tuner's part turned through its range: coil, capacitor, capacitor 2.")
@click.option("--transparent", is_flag=True, help="To lay over other footage (mov and png).")
@click.option("--draft", is_flag=True, help="Small and quick, to try out captions.")
@click.option("--no-check", is_flag=True, help="Leave out the check; the film then ends without a verdict.")
def command(
    scenario: Path,
    output: Path | None,
    words: Path | None,
    narration: Path | None,
    beside: Path | None,
    turn: str | None,
    kind: str | None,
    no_check: bool,
    **asked: Any,
) -> bool:
    """Film a station: simulate, check, print the account, film it.

    SCENARIO is a file, or the name of one in the folder scenarios. Captions (WebVTT), a poster and a description in words come beside the
    film. Fails (exit code 1) when the check or a claim of the scenario fails; the film is made all the same, and its end says so.
    """
    from bouncesim import perform
    from bouncesim.account.store import save_run
    from bouncesim.cli.station import home_of
    from bouncesim.cli.terminal import progress
    from bouncesim.show.effort import film_work, frames_ahead
    from bouncesim.show.film import film, order, try_film
    from bouncesim.show.fitting import check_texts
    from bouncesim.show.words import ENGLISH, read_words

    asked |= {"kind": kind, "words": read_words(words) if words else ENGLISH}
    if turn is not None and (beside is not None or narration is not None):
        raise click.UsageError("--turn goes with neither --beside nor --narration.")
    if turn is not None:
        from bouncesim.cli.turning import film_turned

        return film_turned(scenario, turn, output, asked)
    if beside is not None:
        from bouncesim.cli.beside import film_beside

        return film_beside((scenario, beside), output, narration, no_check, asked)
    film_file = output or default_file(home_of(scenario), scenario.stem, kind)
    frame = order(film_file, **asked)
    loaded = told(perform.load(scenario), narration)
    check_texts(loaded, frame.size, frame.look)
    filmed = film_work(frames_ahead(loaded, frame.fps), frame.kind.name, frame.size)
    check_ahead(loaded, more=(filmed,), checked=not no_check, started=False)
    try_film(film_file, frame)
    station, verdict = performed(scenario, loaded, no_check)
    if output is None:
        save_run(station.run, film_file.parent, verdict)
    with progress("filming") as tick:
        film(station.run, film_file, verdict=verdict, made_by=typed(), progress=tick, **asked)
    tell(f"The film is {film_file}")
    return station.holds and (verdict is None or verdict.holds)


def performed(file: Path, loaded: Scenario, no_check: bool) -> tuple[Station, Verdict | None]:
    """A station simulated and, unless told not to, checked; what came of it is printed."""
    from bouncesim.cli.station import simulate_station
    from bouncesim.cli.tables import print_station, summary
    from bouncesim.cli.terminal import progress, stdout
    from bouncesim.compare.check import check

    station = simulate_station(file, loaded)
    verdict = None
    if not no_check:
        with progress("checking") as tick:
            verdict = check(loaded, progress=tick)
    console = stdout()
    print_station(console, station, verdict)
    if verdict:
        console.print(summary(verdict))
    return station, verdict


def told(scenario: Scenario, narration: Path | None) -> Scenario:
    """The scenario with its story timed by a WebVTT file. Raises ScenarioError if the two do not go together."""
    from bouncesim.scenario.narration import read_narration
    from bouncesim.show.pacing import rooms_of

    if narration is None:
        return scenario
    cues = read_narration(narration)
    if scenario.beats:
        rooms_of(cues, scenario.beats)
    return scenario.model_copy(update={"narration": cues})


def default_file(home: Path, name: str, kind: str | None) -> Path:
    """Where a film goes: a file, or a folder of pictures."""
    return home / (f"{name}-frames" if kind == "png" else f"{name}.{kind or 'mp4'}")


def typed() -> str:
    """The command line, to be typed again; file names are told in UTF-8, whatever the locale."""
    return shlex.join(["bouncesim", *(os.fsencode(word).decode("utf-8", "replace") for word in sys.argv[1:])])
