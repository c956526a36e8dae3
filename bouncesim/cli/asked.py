"""What the commands that answer questions of choice share: which bands, where the picture goes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from bouncesim.show.charts.sheet import Sheet

BANDS = ("160 m", "80 m", "60 m", "40 m", "30 m", "20 m", "17 m", "15 m", "12 m", "10 m", "6 m", "2 m", "70 cm")
Wrapper = Callable[[Callable[..., Any]], Callable[..., Any]]


def band_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """--band, --at, --region."""
    options: Sequence[Wrapper] = (
        click.option(
            "--band", "bands", multiple=True, type=click.Choice(BANDS), help="On this band; may be given again. [default: 160 to 10 m]"
        ),
        click.option("--at", "frequencies", multiple=True, metavar="FREQUENCY", help="At this frequency; may be given again."),
        click.option("--region", type=click.IntRange(1, 3), default=1, show_default=True, help="ITU region whose band edges count."),
    )
    for option in reversed(options):
        function = option(function)
    return function


def picture_options(home: str) -> Wrapper:
    """--output, --format, --theme, --json."""

    def wrap(function: Callable[..., Any]) -> Callable[..., Any]:
        options: Sequence[Wrapper] = (
            click.option("-o", "--output", type=click.Path(path_type=Path), metavar="FOLDER", help=f"For the picture. [default: {home}]"),
            click.option(
                "--format", "file_format", type=click.Choice(["png", "svg"]), default="png", show_default=True, help="Of the picture."
            ),
            click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True, help="Of the picture."),
            click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables."),
        )
        for option in reversed(options):
            function = option(function)
        return function

    return wrap


def places(bands: Sequence[str], frequencies: Sequence[str], region: int, usual: Sequence[str] = ()) -> list[tuple[str, float]]:
    """(band, Hz) of what was asked for: the middle of each band, and each frequency; in rising order."""
    from bouncesim.scenario import bands as known

    wanted = list(bands) or ([] if frequencies else list(usual or known.SHORT_WAVES))
    found = [(band, known.places(band, region, 1)[0]) for band in dict.fromkeys(wanted)]
    for text in dict.fromkeys(frequencies):
        hertz = quantity("--at", text, "frequency", least=1.0, most=1e11)
        found.append((known.band_of(hertz, region), hertz))
    return sorted(found, key=lambda place: place[1])


def quantity(option: str, text: str, kind: str, **limits: Any) -> float:
    """What a user typed for an option, in SI. Raises click.BadParameter."""
    from bouncesim.quantity import QuantityError
    from bouncesim.scenario.measured import Measured

    try:
        value: float = Measured(kind, **limits).read(text)
        return value
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint=option) from error


def write_picture(sheet: Sheet, folder: Path, name: str, file_format: str) -> Path:
    """Write the sheet as NAME.png or NAME.svg into a folder, and tell where. Raises OutputError."""
    from bouncesim.account.store import write_files

    file = f"{name}.{file_format}"
    write_files(folder, {file: getattr(sheet, file_format)})
    click.echo(f"Picture: {folder / file}", err=True)
    return folder / file


def check_types(types: Sequence[str]) -> None:
    """click.UsageError with the nearest names for a type of line that there is not."""
    from bouncesim.cli.lines import unknown_type
    from bouncesim.scenario.catalogue import catalogue

    for name in types:
        if name not in catalogue():
            raise click.UsageError(unknown_type(name, list(catalogue())))
