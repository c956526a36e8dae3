"""Charts of a run, drawn and written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

from bouncesim.account.run import Run
from bouncesim.account.store import write_files
from bouncesim.errors import OptionError
from bouncesim.show.charts.kinds import KINDS
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.stage import subtitle
from bouncesim.show.text import own_style

FORMATS = ("png", "svg")
MODULES = {"standing-wave": "standing"}


def draw_chart(kind: str, run: Run, *, size: tuple[int, int] = (1920, 1080), theme: str = "dark") -> Sheet:
    """One chart of a run on a sheet of `size` (width, height) px. Raises OptionError for a kind, size or theme that there is not."""
    if kind not in KINDS:
        raise OptionError(f"There is no chart {kind!r}; there are {', '.join(KINDS)}.")
    with own_style():
        sheet = Sheet(size, theme)
        sheet.heading(run.scenario.title, subtitle(run.scenario, run.readings.antenna.swr))
        import_module(f"bouncesim.show.charts.{MODULES.get(kind, kind)}").draw(sheet, run)
    return sheet
