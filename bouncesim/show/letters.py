"""Which letters the film's typeface has: a title in others would be a row of empty boxes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from matplotlib.ft2font import FT2Font

from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario.model import Scenario
from bouncesim.show.text import font
from bouncesim.show.words import Words

REMEDY = "The film is set in DejaVu Sans: Latin, Greek and Cyrillic letters, and the usual signs"


@cache
def _face() -> FT2Font:
    return FT2Font(str(font(10).get_file()))


@cache
def has(letter: str) -> bool:
    """Whether the typeface has a letter; a space of any kind counts."""
    return letter.isspace() or bool(_face().get_char_index(ord(letter)))


def missing(text: str) -> str:
    """The letters of a text that the typeface lacks, each once."""
    return "".join(dict.fromkeys(letter for letter in text if not has(letter)))


def settable(text: str) -> str:
    """The text with a question mark for every letter that the typeface lacks."""
    return "".join(letter if has(letter) else "?" for letter in text)


def check_letters(scenario: Scenario, captions: tuple[str, ...], words: Words) -> None:
    """Raises ScenarioError naming every text of a film that cannot be set."""
    problems = [
        Problem(place, f"cannot show {', '.join(lacks)}", REMEDY)
        for place, text in _texts(scenario, captions, words)
        if (lacks := missing(text))
    ]
    if problems:
        raise ScenarioError(problems)


def _texts(scenario: Scenario, captions: tuple[str, ...], words: Words) -> Iterator[tuple[str, str]]:
    yield "title", scenario.title
    for i, part in enumerate(scenario.path, 1):
        yield f"path[{i}].name", part.name
    for i, caption in enumerate(captions, 1):
        yield f"beat[{i}].caption", caption
    yield from words.changed.items()
