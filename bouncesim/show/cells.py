"""The parts that stand beside the lines: how wide each is with its words, and how they are drawn where room is scarce."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bouncesim.scenario.model import Line, Network, Scenario, Stub
from bouncesim.show.signs import Several, What, load_states, needed, words_of
from bouncesim.show.text import shorten, width, wrap
from bouncesim.show.words import Words

LONGEST = 300  # px of a name at the smallest type of a wide frame; where room is scarce it is cut, but not below the next two
SHORTEST_DRAWN_OUT, SHORTEST = 150, 130
PAD = 20.0  # px between two labels
STUB_LABEL = 20.0  # px from the middle of a stub's wires to the words beside it


@dataclass(frozen=True)
class Cell:
    """A lumped thing and the room that it takes: px, its name and figures in lines, and whether it is drawn as a plain box."""

    what: What
    w: float
    label: tuple[str, ...]
    compact: bool


@dataclass(frozen=True)
class Hand:
    """What words are set with: the station, its words, and the size of the smallest type in px."""

    scenario: Scenario
    words: Words
    small: float
    brief: bool = False  # without the figures of networks

    def px(self, text: str) -> float:
        return width(text, self.small)


def rows_of(scenario: Scenario) -> list[list[What]]:
    """What stands before the first line, between each two, and after the last one."""
    rows: list[list[What]] = [["source"]]
    for part in scenario.path:
        if isinstance(part, Line):
            rows.append([])
        else:
            rows[-1].append(part)
    rows[-1].append("load")
    return rows


def plans(rows: list[list[What]], hand: Hand) -> Iterator[list[list[Cell]]]:
    """Ways to draw the rows with everything in its place, from the roomiest to the tightest."""
    larger = hand.small / 24
    for compact, shortest in ((False, SHORTEST_DRAWN_OUT), (True, SHORTEST)):
        for longest in range(LONGEST, shortest - 1, -10):
            yield [[_cell(what, hand, longest * larger, compact) for what in row] for row in rows]


def grouped(rows: list[list[What]], hand: Hand, last: int) -> Iterator[list[list[Cell]]]:
    """The tightest way with the parts at one place as one, row after row from the widest; `last` is the row that comes last."""
    longest = SHORTEST * hand.small / 24
    cells = [[_cell(what, hand, longest, True) for what in row] for row in rows]
    for widest in sorted(range(len(rows)), key=lambda i: (i == last, -sum(cell.w for cell in cells[i]))):
        cells[widest] = [_cell(what, hand, longest, True) for what in _grouped(rows[widest])]
        yield list(cells)


def without_words(row: list[Cell]) -> list[Cell]:
    """The last resort: narrow boxes."""
    return [Cell(cell.what, 0.0, (), True) for cell in row]


def _grouped(row: list[What]) -> list[What]:
    """The row with its parts as one."""
    parts = tuple(what for what in row if not isinstance(what, str | Several))
    if len(parts) < 2:
        return row
    return [*(["source"] if "source" in row else []), Several(parts), *(["load"] if "load" in row else [])]


def _cell(what: What, hand: Hand, longest: float, compact: bool) -> Cell:
    """A thing with the px that it takes; a part's name may be cut to `longest` px, its figures never."""
    symbol = needed(what, compact)
    name, figures = words_of(what, hand.scenario, compact, hand.words)
    figures = () if hand.brief and isinstance(what, Network) else figures
    if isinstance(what, Stub):
        label = min(_stub_labels(name, figures, longest, hand), key=lambda lines: _widest(lines, hand))
        return Cell(what, 2 * STUB_LABEL + _widest(label, hand) + PAD, label, compact)
    fixed = isinstance(what, str | Several)  # words of our own: never cut
    later = tuple(state.figure for state in load_states(hand.scenario, hand.words)) if what == "load" else ()
    goal = max(symbol, _widest((name if fixed else "", *figures, *later), hand))
    label = (*_name_lines(name, max(longest, goal), goal, 3 - len(figures), hand), *figures)
    return Cell(what, max(symbol, _widest((*label, *later), hand)) + PAD, label, compact)


def _stub_labels(name: str, figures: tuple[str, ...], longest: float, hand: Hand) -> list[tuple[str, ...]]:
    """A stub's words: its name on one line above its figures, or on two above the figures side by side."""
    figures = tuple(words for words in figures if words)
    return [(shorten(name, longest, hand.small), *figures), (*_name_lines(name, longest, 0.0, 2, hand), ", ".join(figures))]


def _widest(lines: tuple[str, ...], hand: Hand) -> float:
    return max(hand.px(words) for words in lines)


def _name_lines(name: str, room: float, goal: float, most: int, hand: Hand) -> tuple[str, ...]:
    """A name on one line if it is hardly wider than `goal`, else on two where that many may be."""
    full = hand.px(name)
    lines = [name] if full <= goal or " " not in name or most < 2 else wrap(name, min(room, max(full * 0.7, goal)), hand.small)
    lines = [lines[0], " ".join(lines[1:])] if len(lines) > 2 else lines
    return tuple(shorten(words, room, hand.small) for words in lines)
