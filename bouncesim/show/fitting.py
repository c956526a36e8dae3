"""Whether the texts of a scenario fit a frame, told before there is a run: numbers in captions are taken at their widest."""

from __future__ import annotations

from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario.model import Scenario
from bouncesim.show.captions import NUMBER
from bouncesim.show.heading import set_title
from bouncesim.show.layout import TYPES, arrange, full_size, shape_of
from bouncesim.show.letters import check_letters
from bouncesim.show.numbers import unit_of
from bouncesim.show.panels import TIED, set_captions
from bouncesim.show.scene import Look

FIGURES = "88.8"  # as wide as three figures come


def check_texts(scenario: Scenario, size: tuple[int, int], look: Look) -> None:
    """Raises ScenarioError naming the title, and every caption and letter, that a frame of this size (px) cannot show."""
    shape = shape_of(size)
    layout = arrange((0.0, 0.0, *full_size(size)), shape, 0.0, 0.0)
    captions = tuple(beat.caption for beat in scenario.beats)
    check_letters(scenario, captions, look.words)
    problems: list[Problem] = []
    try:
        set_title(scenario.title, shape, TYPES[shape], layout.heading[2])
    except ScenarioError as error:
        problems += error.problems
    try:
        set_captions([[widest(caption)] for caption in captions], shape, TYPES[shape], layout.caption[2])
    except ScenarioError as error:
        problems += error.problems
    if problems:
        raise ScenarioError(problems)


def widest(caption: str) -> str:
    """A caption with every number as wide as it may become."""

    def number(name: str) -> str:
        unit = "s" if name == "time" else unit_of(name)
        return f"{FIGURES}{TIED}m{unit}" if unit else FIGURES

    return NUMBER.sub(lambda found: number(found[1].strip()), caption)
