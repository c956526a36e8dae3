"""Reading tables of a scenario file into fields, and collecting every problem on the way."""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from collections.abc import Collection, Mapping
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from bouncesim.errors import Problem
from bouncesim.quantity import QuantityError, quote
from bouncesim.scenario.base import Frozen
from bouncesim.scenario.measured import Measured

UNREADABLE = math.nan  # stands in for a field that was given but could not be read: every comparison with it is false
_INDEX = re.compile(r"\[[0-9]+\]")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,30}")
# text fields: longest, and whether it may have several lines
TEXTS = {
    "title": (120, False),
    "about": (4000, True),
    "name": (30, False),
    "says": (200, False),
    "quantity": (80, False),
    "caption": (300, True),
    "text": (200, False),
    "behind": (30, False),
    "touchstone": (200, False),
    "narration": (200, False),
}
# fields that follow from other keys
_NOT_IN_FILES = {"is_tuner", "is_mirrored", "circuit", "heat_in_circuit", "circuit_off", "measurement"}

# Beside the control and format characters: letters and marks that are not drawn (Unicode, DerivedCoreProperties.txt,
# Default_Ignorable_Code_Point, from memory), and piles of marks that reach into the lines above and below.
_UNSEEN = re.compile("[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u3164\ufe00-\ufe0f\uffa0\U000e0000-\U000e0fff]")
MOST_MARKS = 4  # on one letter (common practice, no source)


def unseen(text: str) -> str | None:
    """Which character of a text cannot be seen, or is one combining mark too many, in words; None if there is none."""
    marks = 0
    for place, letter in enumerate(text, 1):
        marks = marks + 1 if unicodedata.category(letter) in ("Mn", "Me") else 0
        if not letter.isprintable() or _UNSEEN.match(letter):
            return "a line break" if letter == "\n" else f"U+{ord(letter):04X}, which cannot be seen, as character {place}"
        if marks > MOST_MARKS:
            return f"more than {MOST_MARKS} marks on one letter, before character {place + 1}"
    return None


def nearest(word: str, allowed: Collection[str]) -> str:
    """'Did you mean "...?" ' with the nearest allowed spelling, or nothing; long words are not compared at length."""
    lower = {one.lower(): one for one in allowed}
    near = difflib.get_close_matches(word[:60].lower(), lower, n=1, cutoff=0.6)
    return f'Did you mean "{lower[near[0]]}"? ' if near else ""


def allowed_words(word: str, allowed: Collection[str]) -> str:
    """The remedy for a wrong word: the nearest right one, and all of them."""
    return f"{nearest(word, allowed)}Allowed: {', '.join(allowed)}"


def keys_of(model: type[Frozen]) -> dict[str, str]:
    """Key in the file -> name of the field."""
    fields = model.model_fields.items()
    return {str(field.validation_alias or name): name for name, field in fields if name not in _NOT_IN_FILES}


def measure_of(field: FieldInfo) -> Measured | None:
    """The Measured of a number field; None for other fields."""
    marks = [*field.metadata, *(mark for kind in get_args(field.annotation) for mark in getattr(kind, "__metadata__", ()))]
    return next((mark for mark in marks if isinstance(mark, Measured)), None)


class Tables:
    """Reads tables; what is wrong with them gathers in `problems`."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def add(self, place: str, reason: str, remedy: str = "") -> None:
        """One more problem, unless its place is known to be faulty already."""
        if not self.has_problem(place):
            self.problems.append(Problem(place, reason, remedy))

    def has_problem(self, place: str) -> bool:
        """True if a problem at exactly this place was found."""
        return any(problem.field == place for problem in self.problems)

    def is_good(self, place: str) -> bool:
        """True if no problem was found at this place, or anywhere inside it."""
        return not any(
            problem.field.startswith(place) and problem.field[len(place) :][:1] in ("", ".", "[", " ") for problem in self.problems
        )

    def table(
        self, model: type[Frozen], found: object, place: str, label: str, own: Mapping[str, Any] | None = None
    ) -> dict[str, Any] | None:
        """The fields of one table by name; None if it is no table at all.

        `label` names the table in messages ("line"). The keys in `own` are the caller's, with what it read for them; None: nothing there.
        """
        if not self.is_table(found, place, label):
            return None
        assert isinstance(found, dict)
        own, keys = own or {}, keys_of(model)
        self.unknown_keys(found, [*keys, *(key for key in own if key not in keys and key not in _NOT_IN_FILES)], place, label)
        given: dict[str, Any] = {keys.get(key, key): value for key, value in own.items() if value is not None}
        for key, name in keys.items():
            field = model.model_fields[name]
            if key in own:
                continue
            if key in found:
                given[name] = self.value(field, found[key], at(place, key), key, label)
            elif field.is_required():
                self.missing(field, place, key)
        self.conflicts(model, given, place)
        return given

    def conflicts(self, model: type[Frozen], given: Mapping[str, Any], place: str) -> None:
        """Ask the model what is wrong between its fields."""
        for key, reason, remedy in model.conflicts(given):
            self.add(at(place, key), reason, remedy)

    def is_table(self, found: object, place: str, label: str) -> bool:
        """True for a table; otherwise a problem."""
        if isinstance(found, dict):
            return True
        once = isinstance(found, list)
        self.add(
            place, f"{quote(found)} stands where the table [{label}] belongs", f"Write [{label}] once, in single brackets" if once else ""
        )
        return False

    def entries(self, found: object, place: str, most: int, brackets: bool = True) -> list[Any]:
        """The entries of a list of tables, at most `most` of them."""
        if not isinstance(found, list):
            remedy = (
                f"Write [[{_INDEX.sub('', place)}]], in double brackets, before each entry"
                if brackets
                else "Write a list: [ {...}, {...} ]"
            )
            self.add(place, f"{quote(found)} stands where a list belongs", remedy)
            return []
        if len(found) > most:
            self.add(place, f"there are {len(found)} entries", f"Allowed: at most {most}")
        return found[:most]

    def unknown_keys(self, found: Mapping[str, Any], allowed: Collection[str], place: str, label: str) -> None:
        """Problems for keys that the table does not have."""
        article = "an" if label[0] in "aeiou" else "a"
        for key in found:
            if key in allowed:
                continue
            where = at(place, key if _BARE_KEY.fullmatch(key) else quote(key))
            self.add(where, f"{quote(key)} is not a key of {article} {label}", allowed_words(key, allowed))

    def missing(self, field: FieldInfo, place: str, key: str) -> None:
        """A problem for a required field that was left out."""
        measure = measure_of(field)
        remedy = f"Add it, for example {key} = {measure.sample}" if measure else f'Add it: {key} = "..."'
        if get_origin(field.annotation) is Literal:
            remedy = f"Add it. Allowed: {', '.join(get_args(field.annotation))}"
        self.add(at(place, key), "is missing", remedy)

    def value(self, field: FieldInfo, found: object, place: str, key: str, label: str) -> Any:
        """One value, read as its field wants it; UNREADABLE after a problem."""
        if measure := measure_of(field):
            return self.measure(measure, found, place)
        if get_origin(field.annotation) is Literal:
            return self.word(found, get_args(field.annotation), place)
        return self.text(found, place, key)

    def measure(self, measure: Measured, found: object, place: str) -> Any:
        """A number or quantity in SI; UNREADABLE after a problem."""
        try:
            return measure.read(found)
        except QuantityError as error:
            self.add(place, error.reason, error.remedy)
            return UNREADABLE

    def word(self, found: object, allowed: Collection[str], place: str) -> Any:
        """One of a few words; UNREADABLE after a problem."""
        if isinstance(found, str) and found in allowed:
            return found
        self.add(place, f"{quote(found)} is not one of the words known here", allowed_words(str(found), allowed))
        return UNREADABLE

    def text(self, found: object, place: str, key: str) -> Any:
        """A text of bounded length in which everything can be seen; UNREADABLE after a problem."""
        longest, lines = TEXTS[key]
        if not isinstance(found, str):
            self.add(place, f"{quote(found)} stands where a text belongs", "Write it in quotes")
        elif not found.strip() and key != "about":
            self.add(place, "is empty", "Write a short text")
        elif len(found) > longest:
            self.add(place, f"has {len(found)} characters", f"Allowed: at most {longest}")
        elif found_unseen := unseen(found.replace("\n", " ") if lines else found):
            self.add(place, f"has {found_unseen}", "Write plain text" + ("" if lines else " on one line"))
        else:
            return found.strip()
        return UNREADABLE


def at(place: str, key: str) -> str:
    """The place of a key in a table: "path[2]", "length" -> "path[2].length"."""
    return ".".join(filter(None, (place, key)))
