"""Charts of a run, drawn and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import BinaryIO

from bouncesim.account.run import Run
from bouncesim.account.store import write_files
from bouncesim.errors import OptionError
from bouncesim.show.charts.answer import Answer
from bouncesim.show.charts.kinds import FORMATS, KINDS
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.stage import subtitle
from bouncesim.show.text import own_style

Progress = Callable[[int, int], None]
WIDE = (1920, 1080)
MODULES = {"standing-wave": "standing"}


def draw_chart(kind: str, run: Run, *, answer: Answer | None = None, size: tuple[int, int] = WIDE, theme: str = "dark") -> Sheet:
    """One chart of a run on a sheet of `size` (width, height) px; the kind "answer" needs its `answer`.

    Raises OptionError for a kind, a size or a theme that there is not.
    """
    if kind not in KINDS:
        raise OptionError(f"There is no chart {kind!r}; there are {', '.join(KINDS)}.")
    if (kind == "answer") != (answer is not None):
        raise OptionError('The chart "answer", and no other, needs an answer.')
    module = import_module(f"bouncesim.show.charts.{MODULES.get(kind, kind)}")
    with own_style():
        sheet = Sheet(size, theme)
        station = subtitle(run.scenario, run.readings.antenna.swr)
        if answer is None:
            sheet.heading(run.scenario.title, station)
            module.draw(sheet, run)
        else:
            sheet.heading(answer.question, station)
            module.draw(sheet, run, answer)
    return sheet


def write_charts(
    run: Run,
    folder: str | Path,
    kinds: Sequence[str],
    *,
    answer: Answer | None = None,
    formats: Sequence[str] = ("png",),
    size: tuple[int, int] = WIDE,
    theme: str = "dark",
    progress: Progress | None = None,
) -> list[Path]:
    """Write charts into `folder` as KIND.png and KIND.svg; the same run gives the same bytes. Returns the files.

    Each file is written under a temporary name and renamed. Raises OutputError if one cannot be written, OptionError for what there is not.
    """
    unknown = [form for form in formats if form not in FORMATS]
    if unknown:
        raise OptionError(f"There is no format {unknown[0]!r}; there are {', '.join(FORMATS)}.")
    written = []
    for k, kind in enumerate(kinds):
        sheet = draw_chart(kind, run, answer=answer if kind == "answer" else None, size=size, theme=theme)
        writers: dict[str, Callable[[BinaryIO], object]] = {"png": sheet.png, "svg": sheet.svg}
        files = {f"{kind}.{form}": writers[form] for form in formats}
        write_files(folder, files)
        written += [Path(folder) / name for name in files]
        if progress is not None:
            progress(k + 1, len(kinds))
    return written
