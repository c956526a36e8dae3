"""Text from strangers, made harmless: what cannot be seen is shown by its number, and Markdown's own marks are escaped."""

from __future__ import annotations

import re
from collections.abc import Iterable

_MARKS = re.compile(r"([\\`*_\[\]<>#|~&!$]|:(?=//))")
_AT_START = re.compile(r"=|-(?=[\s-]|$)|\+(?=\s|$)|[0-9]{1,9}(?=[.)](?:\s|$))")  # of a line: a heading's underline, and items of lists
_ADDRESS = re.compile(r"(?i)\bwww\.")
_RUN = re.compile("`+")


def visible(text: str) -> str:
    """The text with marks that cannot be seen (control characters, marks that turn the direction of writing) as "[U+202E]"; newlines and
    tabs stay."""
    return "".join(mark if mark.isprintable() or mark in "\n\t" else f"[U+{ord(mark):04X}]" for mark in text)


def one_line(text: str) -> str:
    """The same on one line; white space of any kind, and any amount of it, becomes a space."""
    return visible(" ".join(text.split()))


def lines_of(lines: Iterable[str]) -> str:
    """Lines as a plain text, in which each is one: nothing in any of them ends it, or cannot be seen."""
    return "\n".join(visible(line).replace("\n", " ").replace("\t", " ") for line in lines)


def markdown(text: str) -> str:
    """The text on one line, to be read in Markdown as it stands: no mark of it is an order (CommonMark 0.31, sections 2.4 and 6)."""
    escaped = _ADDRESS.sub(lambda found: found.group()[:-1] + "\\.", _MARKS.sub(r"\\\1", one_line(text)))
    start = _AT_START.match(escaped)
    if start is None:
        return escaped
    place = start.end() if start.group().isdigit() else 0
    return f"{escaped[:place]}\\{escaped[place:]}"


def fenced(text: str, language: str) -> str:
    """The text as a block of code, in a fence that nothing in it closes."""
    shown = visible(text).rstrip("\n")
    fence = "`" * max(3, 1 + max((len(run) for run in _RUN.findall(shown)), default=0))
    return f"{fence}{language}\n{shown}\n{fence}"
