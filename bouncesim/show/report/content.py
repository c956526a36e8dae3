"""What a report says, before it becomes a page: sections made of a few kinds of block, all of plain strings.

Strings may come from a scenario, and a scenario from a stranger: whoever writes them out escapes them (report.page, report.markdown).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    kind: ClassVar[str] = "words"
    text: str


@dataclass(frozen=True)
class Items:
    """A list; `is_warning`: of cautions."""

    kind: ClassVar[str] = "items"
    items: tuple[str, ...]
    is_warning: bool = False


@dataclass(frozen=True)
class Row:
    """A row of a table; `level`: how far its first cell is set in; `ends`: a group of rows ends with it."""

    cells: tuple[str, ...]
    level: int = 0
    ends: bool = False


@dataclass(frozen=True)
class Table:
    """A table whose first column names its rows; `right`: for each column, whether figures stand in it."""

    kind: ClassVar[str] = "table"
    title: str
    heads: tuple[str, ...]
    rows: tuple[Row, ...]
    right: tuple[bool, ...]
    note: str = ""


@dataclass(frozen=True)
class Code:
    """Text as it was typed, or is to be typed; `language`: "toml" or "sh"."""

    kind: ClassVar[str] = "code"
    text: str
    language: str


@dataclass(frozen=True)
class Picture:
    """A picture in one theme or in both. `images`: theme -> (media type, bytes) for the page; `png`: for a file beside the Markdown."""

    name: str  # of the file, without its ending
    title: str
    caption: str  # what is to be seen
    size: tuple[int, int]  # px
    images: dict[str, tuple[str, bytes]]
    png: bytes


@dataclass(frozen=True)
class Pictures:
    """Pictures side by side."""

    kind: ClassVar[str] = "pictures"
    pictures: tuple[Picture, ...]


@dataclass(frozen=True)
class Drawn:
    """One part of the station as it is drawn: which symbol, its name, its figures; of a line, its share of the length of all lines."""

    symbol: str
    name: str
    figures: tuple[str, ...]
    share: float = 0.0


@dataclass(frozen=True)
class Station:
    """The station, part by part in the direction of the power."""

    kind: ClassVar[str] = "station"
    parts: tuple[Drawn, ...]


Block = Words | Items | Table | Code | Pictures | Station


@dataclass(frozen=True)
class Section:
    """A part of the report; `anchor` is its name in links."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Figure:
    """One of the numbers at the top."""

    label: str
    value: str


@dataclass(frozen=True)
class Report:
    """A whole report. `made_at`: the only line that another run of the same program does not repeat."""

    title: str
    subtitle: str
    about: tuple[str, ...]  # paragraphs
    figures: tuple[Figure, ...]
    sections: tuple[Section, ...]
    made_at: str

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """Every picture, in order."""
        return tuple(
            picture for section in self.sections for block in section.blocks if isinstance(block, Pictures) for picture in block.pictures
        )
