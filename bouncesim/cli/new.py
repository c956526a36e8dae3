"""bouncesim new: a commented scenario to start from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.text import tell

if TYPE_CHECKING:
    from bouncesim.scenario import Scenario
    from bouncesim.scenario.fresh import Known, Wishes

TUNERS = ("L", "pi", "T", "none")
QUESTIONS = {
    "title": "What is the film to be called",
    "frequency": "Frequency of the carrier, such as 7.05 MHz",
    "power": "Power of the transmitter, such as 30 W",
    "line": 'Feed line: a type ("bouncesim lines" lists them), or impedance, velocity factor, loss: 50 ohm, 0.82, 2.4 dB/100 m',
    "length": "Length of the feed line, such as 22 m or 75 ft",
    "antenna": "Antenna: its impedance (75 + 58j ohm), or SWR 2.6, or dipole 20.2 m, or a file.s1p beside the scenario",
    "tuner": "Tuner in the shack",
}
# Where a problem lies in the file -> which option it came from.
OPTIONS = {"title": "title", "transmitter.frequency": "frequency", "transmitter.power": "power", "antenna": "antenna"}


@click.command(
    "new", epilog='Example: bouncesim new my-station.toml --frequency "7.05 MHz" --line rg58c --length "22 m" --antenna "SWR 2.6"'
)
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@click.option("--title", metavar="TEXT", help="Title of the scenario and of its film.")
@click.option("--frequency", metavar="FREQUENCY", help='Of the carrier, such as "7.05 MHz".')
@click.option("--power", metavar="POWER", help='Of the transmitter, such as "30 W".')
@click.option("--line", metavar="LINE", help='A type, or impedance, velocity factor and loss: "50 ohm, 0.82, 2.4 dB/100 m".')
@click.option("--length", metavar="LENGTH", help='Of the line, such as "22 m" or "75 ft".')
@click.option("--antenna", metavar="ANTENNA", help='Its impedance, "75 + 58j ohm"; or "SWR 2.6", "dipole 20.2 m", a file.s1p.')
@click.option("--tuner", type=click.Choice(TUNERS), help="Shape of the tuner in the shack. [default: L]")
@click.option("--ask", is_flag=True, help="Ask for what was not given.")
def command(file: Path, ask: bool, **given: str | None) -> None:
    """Write a commented scenario to start from.

    FILE is the new scenario's name, such as my-station.toml. A file that exists is left alone. With options, or the answers to --ask, it is
    your own station, ready to be filmed; what was not told is assumed, and marked so. Without any, everything that may stand in a scenario
    is shown.
    """
    from importlib.resources import files

    from bouncesim.account.whole import write_files

    if file.exists():
        raise click.UsageError(f"{file} exists already, and is left as it is. Choose another name.")
    told = {name: value for name, value in given.items() if value is not None}
    starter = (files("bouncesim.scenario") / "starter.toml").read_text("utf-8")
    content = own_station(file, told, ask) if told or ask else starter
    write_files(file.parent, {file.name: lambda target: target.write(content.encode("utf-8"))})
    tell(f"Wrote {file}. {'Look at it' if told or ask else 'Change it'}, then: bouncesim run {file}")


def own_station(file: Path, told: dict[str, str], ask: bool) -> str:
    """The text of the file. Raises click.UsageError naming every option that will not do, ScenarioError for a station that cannot be."""
    from bouncesim.scenario.fresh import text_of

    _read(_wishes(told), file.parent)
    if ask:
        told = told | _answers(told, file.parent)
    wishes = _wishes(told)
    return text_of(wishes, told, _known(_read(wishes, file.parent), wishes))


def _wishes(told: dict[str, Any]) -> Wishes:
    from bouncesim.scenario.fresh import Wishes

    return Wishes(**told)


def _answers(told: dict[str, str], folder: Path) -> dict[str, str]:
    """What a person says to each question that is left; an answer that will not do is asked for again."""
    from bouncesim.scenario.fresh import Wishes

    found: dict[str, str] = {}
    for name, words in QUESTIONS.items():
        if name in told:
            continue

        def good(answer: str, name: str = name) -> str:
            _read(_wishes(told | found | {name: answer}), folder, name)
            return answer

        usual = getattr(Wishes(), name)
        choice: dict[str, Any] = {"type": click.Choice(TUNERS)} if name == "tuner" else {"value_proc": good}
        found[name] = click.prompt(words, default=usual, err=True, **choice)
    return found


def _read(wishes: Wishes, folder: Path, asked: str = "") -> Scenario:
    """The scenario that the wishes make. Raises click.UsageError with every problem, each under its option."""
    import tomllib

    from bouncesim.cli.text import clean
    from bouncesim.errors import ScenarioError
    from bouncesim.scenario.fresh import text_of
    from bouncesim.scenario.reader import read_tables

    try:
        return read_tables(tomllib.loads(text_of(wishes, ())), folder)
    except ScenarioError as error:
        problems = [(_option_of(problem.field), problem) for problem in error.problems]
        lines = [f"{'' if asked else f'--{option}: '}{problem.reason}. {problem.remedy}" for option, problem in problems]
        raise click.UsageError(clean("; ".join(lines))) from None


def _option_of(place: str) -> str:
    """Which option a problem at this place of the file comes from."""
    if place.startswith("path"):
        return "length" if place.endswith(".length") else "line"
    return next((option for start, option in OPTIONS.items() if place.startswith(start)), "line")


def _known(scenario: Scenario, wishes: Wishes) -> Known:
    """What the closed form says, over all that the antenna may be. Raises ScenarioError for a station that cannot be matched."""
    from bouncesim import perform
    from bouncesim.scenario.fresh import Known

    shares = [one.numbers()["antenna.power_share"] for one in (perform.solve_exact(scenario), *perform.antenna_range(scenario))]
    return Known(min(shares), wishes.tuner != "none")
