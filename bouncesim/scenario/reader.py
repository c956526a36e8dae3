"""Reading a scenario file: TOML in, a frozen Scenario in SI out, or every problem at once.

A problem's place is written as the user would point at it: `antenna.impedance`, `path[2].length`, `path[3].elements[1].value`. Entries
of a list are counted from 1, so `path[2]` is the second [[path]] of the file.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import quote
from bouncesim.scenario.base import Frozen
from bouncesim.scenario.components import named
from bouncesim.scenario.ends_reader import EndsReader
from bouncesim.scenario.events import BAD_CONNECTOR
from bouncesim.scenario.model import Antenna, Beat, Claim, Event, Keying, Receiver, Scenario, Transmitter
from bouncesim.scenario.narration import narration_beside
from bouncesim.scenario.parts import PathReader, build
from bouncesim.scenario.story import StoryReader
from bouncesim.scenario.survey import Survey
from bouncesim.scenario.survey_reader import SurveyReader
from bouncesim.scenario.tables import UNREADABLE, Tables

LARGEST_BYTES = 1_000_000  # a scenario is a page or two; more is some other file
# a key of more than 20 parts, a.b.c...: what tomllib takes for it, time and memory, grows with their square
_ENDLESS_KEY = re.compile(r"""(?:\.[ \t]*(?:[\w-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')[ \t]*){20}""")
_TABLES = ("transmitter", "keying", "path", "antenna", "receiver", "event", "claim", "beat", "survey")


def read_scenario(path: str | Path) -> Scenario:
    """The scenario in a file. Raises ScenarioError with every problem of it, also if it cannot be read."""
    place = str(path)
    try:
        if not Path(path).exists():
            raise ScenarioError(Problem(place, "there is no such file", 'Check the name, or write one with "bouncesim new"'))
        if not Path(path).is_file():
            raise ScenarioError(Problem(place, "is not a file", "Name a scenario file, ending in .toml"))
        with open(path, "rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or "not a name for a file"
        raise ScenarioError(Problem(place, f"cannot be read ({reason})", "Check the file and its permissions")) from None
    if len(content) > LARGEST_BYTES:
        raise ScenarioError(Problem(place, "is larger than 1 MB", "A scenario is a page or two of text: is this the right file?"))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ScenarioError(Problem(place, "is not a text file in UTF-8", "Save it as UTF-8 text: is this the right file?")) from None
    return read_tables(_toml(text, Path(path).name), Path(path).parent)


def parse_scenario(text: str, place: str = "scenario") -> Scenario:
    """The scenario in a TOML text; `place` names the text in problems of the whole. Raises ScenarioError with every problem."""
    return read_tables(_toml(text, place))


def read_tables(data: dict[str, Any], folder: Path | None = None) -> Scenario:
    """The scenario in the tables of a file, as tomllib gives them; `folder`: where the files that it names stand. Raises ScenarioError with
    every problem."""
    tables = Tables()
    given = _Sections(tables, folder).read(data)
    if tables.problems:
        raise ScenarioError(tables.problems)
    return Scenario(**given)


def _toml(text: str, place: str) -> dict[str, Any]:
    if endless := _ENDLESS_KEY.search(text):
        line = text.count("\n", 0, endless.start()) + 1
        raise ScenarioError(Problem(place, f"a key of more than 20 parts at line {line}", "A key of a scenario has one to three"))
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, _, where = str(error).partition(" (at ")
        where = "its end" if where.startswith("end") or not where else where.removesuffix(")")
        remedy = 'Text and quantities stand in quotes, one key = "value" a line'
        if "twice" in what or "overwrite" in what or "immutable" in what:
            remedy = "A key comes once in a table; a table that comes several times has double brackets, such as [[path]]"
        raise ScenarioError(Problem(place, f"not valid TOML at {where}: {what[:1].lower()}{what[1:]}", remedy)) from None
    except (ValueError, RecursionError):  # a whole number of thousands of digits; a list in a list in a list ...
        raise ScenarioError(Problem(place, "not valid TOML, a number or a nesting without end", "Look for it and take it out")) from None


class _Sections:
    """Reads the file's tables, each in the light of those before it; what it returns is only good without problems."""

    def __init__(self, tables: Tables, folder: Path | None) -> None:
        self.tables, self.folder = tables, folder

    def read(self, data: dict[str, Any]) -> dict[str, Any]:
        """The arguments of Scenario."""
        tables = self.tables
        own = {**dict.fromkeys(_TABLES), "narration": self._narration(data["narration"]) if "narration" in data else None}
        given = tables.table(Scenario, data, "", "scenario", own) or {}
        transmitter = self._section(Transmitter, data, "transmitter", "frequency and power")
        keying = self._section(Keying, data, "keying") if "keying" in data else None
        path = PathReader(tables, transmitter.get("frequency_hz", math.nan))
        parts: list[dict[str, Any]] = []
        if "path" in data:
            parts = path.read(data["path"])
        else:
            tables.add("path", "is missing", 'Add a [[path]] with part = "line" at least')
        ends = EndsReader(tables, path, self.folder)
        antenna, events = ends.antenna(data), ends.events(data.get("event", []))
        receiver = self._section(Receiver, data, "receiver") if "receiver" in data else None
        survey = SurveyReader(tables).read(data["survey"]) if "survey" in data else None
        told = all(isinstance(word, str) for word in (given.get("direction", ""), *(event.get("happens") for event in events)))
        story = StoryReader(tables, self._named(path.names, events, given), path.all_named and "path" in data and told, _happening(events))
        claims, beats = story.claims(data.get("claim", [])), story.beats(data.get("beat", []))
        given |= self._good("transmitter", lambda: Transmitter(**transmitter), "transmitter")
        given |= {} if keying is None else self._good("keying", lambda: Keying(**keying), "keying")
        given |= self._good("path", lambda: named(tuple(map(build, parts))), "path", "transmitter")  # a Q needs the carrier
        given |= self._good("antenna", lambda: Antenna(**antenna), "antenna", "transmitter")
        given |= {} if receiver is None else self._good("receiver", lambda: Receiver(**receiver), "receiver")
        given |= self._good("events", lambda: tuple(Event(**event) for event in events), "event")
        given |= self._good("claims", lambda: tuple(Claim(**claim) for claim in claims), "claim")
        given |= self._good("beats", lambda: tuple(Beat(**beat) for beat in beats), "beat")
        given |= {} if survey is None else self._good("survey", lambda: Survey(**survey), "survey")
        tables.conflicts(Scenario, given, "")
        return given

    def _good(self, field: str, build_it: Callable[[], Any], *places: str) -> dict[str, Any]:
        """The field, built, if no problem was found in these tables."""
        return {field: build_it()} if all(map(self.tables.is_good, places)) else {}

    def _named(self, names: list[tuple[str, str]], events: list[dict[str, Any]], given: dict[str, Any]) -> dict[str, str]:
        """What a story may name, with its kind of reading: the ends, the parts, and connectors that fail."""
        receives = given.get("direction") == "receive"
        failing = sum(event.get("happens") == "connector fails" for event in events)
        connectors = {BAD_CONNECTOR if k == 1 else f"{BAD_CONNECTOR} {k}": "network" for k in range(1, failing + 1)}
        ends = {"antenna": "transmitter"} if receives else {"transmitter": "transmitter"}
        return ends | dict(names) | connectors | ({"receiver": "antenna"} if receives else {"antenna": "antenna"})

    def _narration(self, found: object) -> Any:
        """The cues of the WebVTT file beside the scenario."""
        name = self.tables.text(found, "narration", "narration")
        if isinstance(name, str) and self.folder is None:
            reason = f"{quote(name)} would stand beside the scenario, and a text has no folder"
            self.tables.add("narration", reason, "Save the scenario as a file, beside the narration")
        elif isinstance(name, str):
            try:
                return narration_beside(self.folder or Path(), name, "narration")
            except ScenarioError as error:
                self.tables.problems.extend(error.problems)
        return UNREADABLE

    def _section(self, model: type[Frozen], data: dict[str, Any], key: str, needs: str = "") -> dict[str, Any]:
        if key in data:
            return self.tables.table(model, data[key], key, key) or {}
        self.tables.add(key, "is missing", f"Add [{key}] with {needs}")
        return {}


def _happening(events: list[dict[str, Any]]) -> list[str]:
    """What happens, each once."""
    return list(dict.fromkeys(event["happens"] for event in events if isinstance(event.get("happens"), str)))
