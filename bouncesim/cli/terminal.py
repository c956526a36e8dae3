"""The terminal: tables on stdout, progress on stderr."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from rich import box
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from bouncesim.cli.text import clean

PIPED_WIDTH = 100  # where there is no terminal to measure


class Terminal(Console):
    """Takes every text as it is (a title may hold brackets), and lets a closed pipe be an error like any other."""

    def render_str(self, text: str, **how: Any) -> Text:
        """Every string on its way to the terminal, be it a line or a cell: without control characters, but for the ends of lines."""
        return super().render_str("\n".join(map(clean, text.split("\n"))), **how)

    def on_broken_pipe(self) -> None:
        """Left to main, which knows the exit codes."""
        raise BrokenPipeError


def stdout() -> Terminal:
    """Where results go."""
    width = None if sys.stdout.isatty() else shutil.get_terminal_size((PIPED_WIDTH, 0)).columns
    return Terminal(markup=False, emoji=False, highlight=False, width=width)


def table(title: str, *columns: str) -> Table:
    """A quiet table: words to the left, every further column to the right."""
    made = Table(title=clean(title), box=box.SIMPLE_HEAD, title_justify="left", title_style="bold", pad_edge=False)
    made.add_column(columns[0])
    for column in columns[1:]:
        made.add_column(column, justify="right")
    return made


@contextmanager
def progress(doing: str) -> Iterator[Callable[..., None]]:
    """A bar on stderr: call with what is done and the total (or the share done); nothing at all where stderr is not a terminal."""
    console = Console(stderr=True, markup=False, emoji=False, highlight=False)
    if not console.is_terminal:  # older releases of rich end even a disabled bar with an empty line
        yield lambda done, total=1.0: None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(doing, total=None)
        yield lambda done, total=1.0: bar.update(task, completed=done, total=total)
