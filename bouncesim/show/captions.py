"""Captions with live numbers, and the same as WebVTT."""

from __future__ import annotations

import difflib
import re
from typing import Protocol

from bouncesim.errors import Problem, ScenarioError
from bouncesim.show.numbers import ratio, reading, unit_of
from bouncesim.show.report.visible import one_line
from bouncesim.show.story import Shot, Story
from bouncesim.show.words import ENGLISH, Words


class Speaker(Protocol):
    """What captions may ask for numbers."""

    @property
    def scale_w(self) -> float: ...

    def value(self, name: str, t: float) -> float: ...

    def names(self) -> list[str]: ...


NUMBER = re.compile(r"\$\{([^{}$]*)\}")
NOTHING = 1e-6  # share of the transmitter's power under which a power is told as 0 W
SAFETY = ENGLISH("caution")


def fill(caption: str, live: Speaker, t: float, space: str = " ") -> str:
    """The caption with every ${quantity} as its value at t, `space` between number and unit; raises KeyError for an unknown one."""
    return NUMBER.sub(lambda found: number(found[1].strip(), live, t).replace(" ", space), caption)


def number(name: str, live: Speaker, t: float) -> str:
    """One quantity at t with its unit: "57.9 W"."""
    value = live.value(name, t)
    if name == "time":
        return reading(value, "s")
    unit = unit_of(name)
    if not unit:
        return ratio(value)
    return reading(value, unit, floor=NOTHING * live.scale_w if unit == "W" else 0.0)


def check_captions(shots: tuple[Shot, ...], live: Speaker) -> None:
    """Raises ScenarioError naming every quantity in a caption that this run does not have."""
    known = live.names()
    problems = []
    for i, shot in enumerate(shots, 1):
        for name in NUMBER.findall(shot.caption):
            try:
                live.value(name.strip(), 0.0)
            except KeyError:
                near = difflib.get_close_matches(name.strip(), known, n=3, cutoff=0.3)
                remedy = f"Did you mean {', '.join(f'${{{n}}}' for n in near)}?" if near else f"Known are {', '.join(known)}"
                problems.append(Problem(f"beat[{i}].caption", f"${{{name}}} is no quantity of this run", remedy))
    if problems:
        raise ScenarioError(problems)


def stamp(seconds: float) -> str:
    """Time of a WebVTT cue, hh:mm:ss.mmm."""
    ms = round(seconds * 1000)
    return f"{ms // 3600000:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def spans(story: Story) -> list[tuple[int, int, Shot]]:
    """First frame, end frame and shot of every stretch before the closing."""
    found = []
    for i, shot in enumerate(story.shots):
        frames = [k for k in range(story.closing) if story.shot[k] == i]
        if frames:
            found.append((frames[0], frames[-1] + 1, shot))
    return found


def webvtt(story: Story, live: Speaker, words: Words = ENGLISH, made_with: str = "") -> str:
    """The captions as a WebVTT file; numbers as they stand at the end of each stretch. Where they come from, `made_with`, stands in a
    comment, which no player shows."""
    cues = [(a, b, fill(shot.caption, live, shot.end_s)) for a, b, shot in spans(story)]
    if story.closing < len(story):
        cues.append((story.closing, len(story), words("caution")))
    blocks = [f"{stamp(a / story.fps)} --> {stamp(b / story.fps)}\n{_escape(text)}" for a, b, text in cues if text.strip()]
    note = [f"NOTE\nMade with {one_line(made_with).replace('-->', '→')}."] if made_with else []
    return "\n\n".join(["WEBVTT", *note, *blocks]) + "\n"


def _escape(text: str) -> str:
    """Words and nothing else, on one line: no tag, no arrow, no end of a cue."""
    return one_line(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
