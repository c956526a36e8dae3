"""Charts of a run, drawn and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

from bouncesim.account import made
from bouncesim.account.run import Run
from bouncesim.account.startup import StartUp
from bouncesim.account.whole import whole_files
from bouncesim.errors import OptionError
from bouncesim.show.charts.answer import Answer
from bouncesim.show.charts.kinds import FORMATS, KINDS, applies
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.stage import subtitle
from bouncesim.show.text import own_style

Progress = Callable[[int, int], None]
WIDE = (1920, 1080)
MODULES = {"standing-wave": "standing", "start-up": "start_up"}
_WHY = {"echo": "its key sends no pulse", "start-up": "it receives, or sends a pulse"}


def draw_chart(
    kind: str,
    run: Run,
    *,
    answer: Answer | None = None,
    start_up: StartUp | None = None,
    size: tuple[int, int] = WIDE,
    theme: str = "dark",
) -> Sheet:
    """One chart of a run on a sheet of `size` (width, height) px; the kind "answer" needs its `answer`, "start-up" its `start_up`.

    Raises OptionError for a kind, a size or a theme that there is not, and for a kind that says nothing of this station.
    """
    if kind not in KINDS:
        raise OptionError(f"There is no chart {kind!r}; there are {', '.join(KINDS)}.")
    if (kind == "answer") != (answer is not None):
        raise OptionError('The chart "answer", and no other, needs an answer.')
    if (kind == "start-up") != (start_up is not None):
        raise OptionError('The chart "start-up", and no other, needs a start-up.')
    if not applies(kind, run.scenario.keying.shape, run.scenario.direction):
        raise OptionError(f"The chart {kind!r} says nothing of this station: {_WHY[kind]}.")
    module = import_module(f"bouncesim.show.charts.{MODULES.get(kind, kind)}")
    with own_style():
        sheet = Sheet(size, theme)
        station = subtitle(run.scenario, run.readings.antenna.swr)
        sheet.heading(answer.question if answer else run.scenario.title, station)
        module.draw(sheet, run, *(held for held in (answer, start_up) if held is not None))
    return sheet


def write_charts(
    run: Run,
    folder: str | Path,
    kinds: Sequence[str],
    *,
    answer: Answer | None = None,
    start_up: StartUp | None = None,
    formats: Sequence[str] = ("png",),
    size: tuple[int, int] = WIDE,
    theme: str = "dark",
    progress: Progress | None = None,
) -> list[Path]:
    """Write charts into `folder` as KIND.png and KIND.svg; the same run gives the same bytes, but for the time that they tell. Returns the
    files.

    They take their places together when the last is drawn: what fails, or is stopped, leaves none of them, and the folder as it was. Raises
    OutputError if one cannot be written, OptionError for what there is not.
    """
    unknown = [form for form in formats if form not in FORMATS]
    if unknown:
        raise OptionError(f"There is no format {unknown[0]!r}; there are {', '.join(FORMATS)}.")
    names = file_names(kinds, formats)
    with whole_files(folder, *names) as parts:
        places = dict(zip(names, parts, strict=True))
        for k, kind in enumerate(kinds):
            own_answer, own_start = (answer if kind == "answer" else None), (start_up if kind == "start-up" else None)
            sheet = draw_chart(kind, run, answer=own_answer, start_up=own_start, size=size, theme=theme)
            sheet.made = made.words(run.scenario)
            for form in formats:
                with places[f"{kind}.{form}"].open("wb") as file:
                    (sheet.png if form == "png" else sheet.svg)(file)
            if progress is not None:
                progress(k + 1, len(kinds))
    return [Path(folder) / name for name in names]


def file_names(kinds: Sequence[str], formats: Sequence[str]) -> list[str]:
    """What `write_charts` calls its files."""
    return [f"{kind}.{form}" for kind in kinds for form in formats]
