"""Charts of a run, drawn and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import BinaryIO

from bouncesim.account import made
from bouncesim.account.run import Run
from bouncesim.account.startup import StartUp
from bouncesim.account.whole import write_files
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

    Each file is written under a temporary name and renamed. Raises OutputError if one cannot be written, OptionError for what there is not.
    """
    unknown = [form for form in formats if form not in FORMATS]
    if unknown:
        raise OptionError(f"There is no format {unknown[0]!r}; there are {', '.join(FORMATS)}.")
    written = []
    for k, kind in enumerate(kinds):
        own_answer, own_start = (answer if kind == "answer" else None), (start_up if kind == "start-up" else None)
        sheet = draw_chart(kind, run, answer=own_answer, start_up=own_start, size=size, theme=theme)
        sheet.made = made.words(run.scenario)
        writers: dict[str, Callable[[BinaryIO], object]] = {"png": sheet.png, "svg": sheet.svg}
        files = {f"{kind}.{form}": writers[form] for form in formats}
        write_files(folder, files)
        written += [Path(folder) / name for name in files]
        if progress is not None:
            progress(k + 1, len(kinds))
    return written
