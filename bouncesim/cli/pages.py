"""A page of headings, paragraphs, tables and steps, for a terminal or in Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bouncesim.account import made
from bouncesim.cli.terminal import stdout, table
from bouncesim.cli.text import clean
from bouncesim.scenario import Scenario

_SPECIAL = re.compile(r"([\\`*_\[\]<>|#~])")


@dataclass(frozen=True)
class Heading:
    text: str
    level: int = 2


@dataclass(frozen=True)
class Paragraph:
    text: str


@dataclass(frozen=True)
class Steps:
    items: Sequence[str]


@dataclass(frozen=True)
class Rows:
    title: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]


Block = Heading | Paragraph | Steps | Rows


def print_page(blocks: Sequence[Block], as_markdown: bool, *scenarios: Scenario) -> None:
    """On stdout; in Markdown, which is kept, with a last line on where it comes from, of `scenarios`."""
    console = stdout()
    if as_markdown:
        console.print("\n".join(_markdown([*blocks, Paragraph(f"Made with {made.words(*scenarios)}.")])), soft_wrap=True)
        return
    for block in blocks:
        if isinstance(block, Heading):
            console.print(clean(block.text) + "\n", style="bold")
        elif isinstance(block, Paragraph):
            console.print(clean(block.text) + "\n")
        elif isinstance(block, Steps):
            for count, item in enumerate(block.items, 1):
                console.print(f"{count}. {clean(item)}")
            console.print()
        else:
            shown = table(block.title, *block.columns)
            for row in block.rows:
                shown.add_row(*map(clean, row))
            console.print(shown)


def _markdown(blocks: Sequence[Block]) -> Iterator[str]:
    for block in blocks:
        if isinstance(block, Heading):
            yield f"{'#' * block.level} {_escaped(block.text)}\n"
        elif isinstance(block, Paragraph):
            yield _escaped(block.text) + "\n"
        elif isinstance(block, Steps):
            yield from (f"{count}. {_escaped(item)}" for count, item in enumerate(block.items, 1))
            yield ""
        else:
            yield f"**{_escaped(block.title)}**\n"
            yield f"| {' | '.join(map(_escaped, block.columns))} |"
            yield f"|---|{'---:|' * (len(block.columns) - 1)}"
            yield from (f"| {' | '.join(map(_escaped, row))} |" for row in block.rows)
            yield ""


def _escaped(text: str) -> str:
    """Nothing in a text that comes from a scenario is taken for a mark."""
    return _SPECIAL.sub(r"\\\1", clean(text))
