"""bouncesim film --turn: a tuner's part turned through its range."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bouncesim import perform
from bouncesim.cli.film import default_file, typed
from bouncesim.cli.station import home_of
from bouncesim.cli.terminal import progress
from bouncesim.cli.text import tell
from bouncesim.errors import OptionError
from bouncesim.perform.turning import turn
from bouncesim.show.film import order, try_film
from bouncesim.show.layout import shape_of
from bouncesim.show.tuning_film import film_turning


def film_turned(file: Path, part: str, output: Path | None, asked: dict[str, Any]) -> bool:
    """Film the part being turned; there is nothing to check, as every picture is the closed form itself."""
    film_file = output or default_file(home_of(file), f"{file.stem}-turning-{part.replace(' ', '-')}", asked["kind"])
    frame = order(film_file, **asked)
    if shape_of(frame.size) == "square":
        raise OptionError("A film of a tuner being turned is wide or tall; a square frame has no room for it.")
    turning = turn(perform.load(file), part)
    try_film(film_file, frame)
    with progress("filming") as tick:
        film_turning(turning, film_file, made_by=typed(), progress=tick, **asked)
    tell(f"The film is {film_file}")
    return True
