"""What the commands that answer questions of choice share: which bands, where the picture goes."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.text import tell

if TYPE_CHECKING:
    from bouncesim.scenario import Scenario
    from bouncesim.show.charts.sheet import Sheet

BANDS = ("160 m", "80 m", "60 m", "40 m", "30 m", "20 m", "17 m", "15 m", "12 m", "10 m", "6 m", "2 m", "70 cm")
Wrapper = Callable[[Callable[..., Any]], Callable[..., Any]]


@dataclass(frozen=True)
class Places:
    """Bands and frequencies that were asked for."""

    bands: tuple[str, ...]
    frequencies: tuple[str, ...]
    region: int

    def found(self, usual: Sequence[str] = ()) -> list[tuple[str, float]]:
        """(band, Hz): the middle of each band, and each frequency; in rising order. The `usual` bands, or short waves, unless asked."""
        from bouncesim.scenario import bands as known

        wanted = list(self.bands) or ([] if self.frequencies else list(usual or known.SHORT_WAVES))
        found = [(band, known.places(band, self.region, 1)[0]) for band in dict.fromkeys(wanted)]
        for text in dict.fromkeys(self.frequencies):
            hertz = quantity("--at", text, "frequency", least=100.0, most=1e11)
            found.append((known.band_of(hertz, self.region), hertz))
        return sorted(found, key=lambda place: place[1])


@dataclass(frozen=True)
class Picture:
    """Where the picture goes, and what it is like."""

    output: Path | None
    file_format: str
    theme: str

    def write(self, sheet: Sheet, home: Path, name: str, *scenarios: Scenario) -> Path:
        """Write the sheet, made of scenarios, as NAME.png or .svg, into `home` or where told, and tell where. Raises OutputError."""
        from bouncesim.account import made
        from bouncesim.account.whole import write_files

        folder, file = self.output or home, f"{name}.{self.file_format}"
        sheet.made = made.words(*scenarios)
        write_files(folder, {file: getattr(sheet, self.file_format)})
        tell(f"Picture: {folder / file}")
        return folder / file


def gathered(name: str, kind: Callable[..., Any], options: Sequence[Wrapper], keys: Sequence[str]) -> Wrapper:
    """Options whose values, by `keys`, come to the command as one argument `name`: kind(values in order)."""

    def wrap(function: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(function)
        def called(*arguments: Any, **values: Any) -> Any:
            one = kind(*(values.pop(key) for key in keys))
            return function(*arguments, **values, **{name: one})

        made: Callable[..., Any] = called
        for option in reversed(options):
            made = option(made)
        return made

    return wrap


band_options = gathered(
    "places",
    Places,
    (
        click.option(
            "--band", "bands", multiple=True, type=click.Choice(BANDS), help="On this band; may be given again. [default: 160 to 10 m]"
        ),
        click.option("--at", "frequencies", multiple=True, metavar="FREQUENCY", help="At this frequency; may be given again."),
        click.option("--region", type=click.IntRange(1, 3), default=1, show_default=True, help="ITU region whose band edges count."),
    ),
    ("bands", "frequencies", "region"),
)


def picture_options(home: str) -> Wrapper:
    """--output, --format, --theme as one `picture`; --json."""
    as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
    options = (
        click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FOLDER", help=f"For the picture. [default: {home}]"),
        click.option(
            "--format", "file_format", type=click.Choice(["png", "svg"]), default="png", show_default=True, help="Of the picture."
        ),
        click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True, help="Of the picture."),
    )
    wrap = gathered("picture", Picture, options, ("output", "file_format", "theme"))
    return lambda function: wrap(as_json(function))


def quantity(option: str, text: str, kind: str, **limits: Any) -> float:
    """What a user typed for an option, in SI. Raises click.BadParameter."""
    from bouncesim.quantity import QuantityError
    from bouncesim.scenario.measured import Measured

    try:
        value: float = Measured(kind, **limits).read(text)
        return value
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint=option) from error


def check_types(types: Sequence[str]) -> None:
    """click.UsageError with the nearest names for a type of line that there is not."""
    from bouncesim.cli.lines import unknown_type
    from bouncesim.scenario.catalogue import catalogue

    for name in types:
        if name not in catalogue():
            raise click.UsageError(unknown_type(name, list(catalogue())))
