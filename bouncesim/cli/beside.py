"""bouncesim film --beside: two stations in one film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bouncesim import perform
from bouncesim.cli.film import default_file, performed, typed
from bouncesim.cli.station import home_of
from bouncesim.cli.terminal import progress
from bouncesim.cli.text import tell
from bouncesim.cli.work import check_ahead
from bouncesim.errors import OptionError
from bouncesim.scenario.narration import read_narration
from bouncesim.show.both import check_alike
from bouncesim.show.effort import film_work, frames_ahead
from bouncesim.show.film import order, try_film
from bouncesim.show.layout import shape_of
from bouncesim.show.pair_film import film_pair


def film_beside(files: tuple[Path, Path], output: Path | None, narration: Path | None, no_check: bool, asked: dict[str, Any]) -> bool:
    """Film the second station beside the first; False when a check or a claim of either fails."""
    name = f"{files[0].stem}-beside-{files[1].stem}"
    film_file = output or default_file(home_of(Path(name)), name, asked["kind"])
    frame = order(film_file, **asked)
    if shape_of(frame.size) == "square":
        raise OptionError("A film of two stations is wide or tall; a square frame has no room for both.")
    cues = read_narration(narration) if narration else ()
    one, other = (perform.load(file) for file in files)
    check_alike((one, other))
    filmed = film_work(max(frames_ahead(loaded, frame.fps) for loaded in (one, other)), frame.kind.name, frame.size)
    check_ahead(one, other, more=(filmed,), checked=not no_check, started=False)
    try_film(film_file, frame)
    done = [performed(file, loaded, no_check) for file, loaded in zip(files, (one, other), strict=True)]
    (first, verdict), (second, other_verdict) = done
    verdicts = (verdict, other_verdict) if verdict and other_verdict else None
    with progress("filming") as tick:
        film_pair((first.run, second.run), film_file, verdicts, narration=cues, made_by=typed(), progress=tick, **asked)
    tell(f"The film is {film_file}")
    return all(station.holds and (judged is None or judged.holds) for station, judged in done)
