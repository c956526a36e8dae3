"""The spoken words of a film as a WebVTT file: when each cue begins and ends. One cue tells one beat of the story.

Source of the format: WebVTT: The Web Video Text Tracks Format, W3C Candidate Recommendation (2019), section 4, "Syntax". Of it, the times
are used; settings, comments, styles, regions and the words themselves are passed over. A file may come from a stranger: what is not
understood is refused with its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import quote
from bouncesim.scenario.base import Frozen
from bouncesim.scenario.beside import Kind, content_beside

MOST_BYTES = 1_000_000
MOST_CUES = 60  # as many as there may be beats
LONGEST_S = 600.0  # from one cue to the next, as a beat may last
_STAMP = r"(?:([0-9]{2,3}):)?([0-5][0-9]):([0-5][0-9])\.([0-9]{3})"
_TIMES = re.compile(rf"{_STAMP}[ \t]+-->[ \t]+{_STAMP}((?:[ \t]+[^ \t:]+:[^ \t]+)*)[ \t]*")
_PASSED_OVER = re.compile(r"(?:NOTE(?:[ \t].*)?|(?:STYLE|REGION)[ \t]*)")
_ARROW = "-->"
KIND = Kind("a WebVTT file", "narration.vtt", MOST_BYTES, "The cues of a narration are a few pages of text")


class Cue(Frozen):
    """From when to when something is said, s of film."""

    start_s: float
    end_s: float


def narration_beside(folder: Path, name: str, place: str) -> tuple[Cue, ...]:
    """The cues of the WebVTT file called `name` in the folder of a scenario or below it. ScenarioError at `place`."""
    return decode_narration(content_beside(folder, name, place, KIND), f"{place} ({quote(name)[1:-1]})")


def read_narration(path: Path) -> tuple[Cue, ...]:
    """The cues of a WebVTT file. ScenarioError with the line at fault, also if it cannot be read."""
    try:
        with open(path, "rb") as file:
            content = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or "not a name for a file"
        raise ScenarioError(Problem(str(path), f"cannot be read ({reason})", "Check the file and its permissions")) from None
    if len(content) > MOST_BYTES:
        raise ScenarioError(Problem(str(path), "is larger than 1 MB", f"{KIND.size}: is this the right file?"))
    return decode_narration(content, str(path))


def decode_narration(content: bytes, place: str) -> tuple[Cue, ...]:
    """The cues in the bytes of a WebVTT file, which is UTF-8. ScenarioError."""
    try:
        return parse_narration(content.decode("utf-8"), place)
    except UnicodeDecodeError:
        raise ScenarioError(Problem(place, "is not a text file in UTF-8", "Save it as UTF-8 text: is this the right file?")) from None


def parse_narration(text: str, place: str = "narration") -> tuple[Cue, ...]:
    """The cues of a WebVTT text, in order. `place` names the file in problems. ScenarioError with the line at fault."""
    lines = re.split(r"\r\n|\n|\r", text.removeprefix("\ufeff"))
    if not re.fullmatch(r"WEBVTT(?:[ \t].*)?", lines[0]):
        raise _wrong(place, 1, f"{quote(lines[0])} where a WebVTT file begins with WEBVTT", "Is this the right file?")
    cues: list[Cue] = []
    for number, block in _blocks(lines):
        if number > 1 and (cue := _cue(block, number, place)) is not None:
            if cues and cue.start_s <= cues[-1].start_s:
                raise _wrong(place, number, "the cue begins no later than the one before it", "Put the cues in their order in time")
            if cue.start_s - (cues[-1].start_s if cues else 0.0) > LONGEST_S or cue.end_s - cue.start_s > LONGEST_S:
                raise _wrong(place, number, "more than 10 minutes for one cue", "Allowed: up to 10 minutes from one cue to the next")
            cues.append(cue)
        if len(cues) > MOST_CUES:
            raise _wrong(
                place, number, f"more than {MOST_CUES} cues", "One cue tells one beat: put sentences that belong together into one"
            )
    if not cues:
        raise ScenarioError(Problem(place, "has no cue", "Write a time line, such as 00:00.000 --> 00:05.000, and below it what is said"))
    return tuple(cues)


def _blocks(lines: list[str]) -> Iterator[tuple[int, list[str]]]:
    """Stretches of lines between empty ones, each with the number of its first line; the first is the header."""
    start = 0
    for k, line in enumerate([*lines, ""]):
        if not line:
            if k > start:
                yield start + 1, lines[start:k]
            start = k + 1


def _cue(block: list[str], number: int, place: str) -> Cue | None:
    """The cue in a block; None for a comment, a style sheet or a region."""
    named = _ARROW not in block[0]
    if named and _PASSED_OVER.fullmatch(block[0]):
        return None
    if named and (len(block) == 1 or _ARROW not in block[1]):
        reason = f"{quote(block[0])} stands alone, without a time line"
        raise _wrong(place, number, reason, "A cue begins with its times, such as 00:00.000 --> 00:05.000, and ends with an empty line")
    at = number + named
    found = _TIMES.fullmatch(block[named])
    if not found:
        remedy = "Write hours (if any), minutes, seconds and thousandths, such as 00:00.000 --> 00:05.000 or 01:02:03.500 --> 01:02:09.000"
        raise _wrong(place, at, f"{quote(block[named])} is not a time line", remedy)
    for k, line in enumerate(block[named + 1 :], at + 1):
        if _ARROW in line:
            raise _wrong(place, k, f"another time line, {quote(line)}, within a cue", "Put an empty line between two cues")
    start, end = _seconds(found.groups()[:4]), _seconds(found.groups()[4:8])
    if end <= start:
        raise _wrong(place, at, "the cue ends before it has begun", "Exchange its times")
    return Cue(start_s=start, end_s=end)


def _seconds(parts: tuple[str | None, ...]) -> float:
    hours, minutes, seconds, thousandths = (int(part or 0) for part in parts)
    return ((hours * 60 + minutes) * 60 + seconds) + thousandths / 1000


def _wrong(place: str, line: int, reason: str, remedy: str) -> ScenarioError:
    return ScenarioError(Problem(f"{place}, line {line}", reason, remedy))
