"""Reading [survey]: lists and ranges of what a survey varies."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bouncesim.quantity import quote
from bouncesim.scenario.bands import BANDS, REGIONS
from bouncesim.scenario.catalogue import catalogue
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.survey import MOST_VALUES, Ratings, Survey
from bouncesim.scenario.tables import UNREADABLE, Tables, at, measure_of

_NUMBERS = ("frequency", "length", "antenna", "swr", "power")
_WORDS: dict[str, Callable[[], tuple[str, ...]]] = {
    "bands": lambda: ("all", *BANDS),
    "type": lambda: tuple(catalogue()),
    "tuner": lambda: ("none", "L", "pi", "T"),
}
_COUNTS = {"phases": 10_000, "per_band": 1000}
_SPACINGS = ("even", "ratio")


class SurveyReader:
    """Reads one [survey]."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables

    def read(self, found: object) -> dict[str, Any]:
        """The fields of Survey; good only without problems."""
        given = found if isinstance(found, dict) else {}
        own: dict[str, Any] = {key: self._numbers(key, given[key]) if key in given else None for key in _NUMBERS}
        own |= {key: self._words(key, given[key]) if key in given else None for key in _WORDS}
        own |= {key: self._count(key, given[key], most) if key in given else None for key, most in _COUNTS.items()}
        own["region"] = self._region(given["region"]) if "region" in given else None
        own["line"] = self.tables.text(given["line"], "survey.line", "name") if "line" in given else None
        own["ratings"] = self._ratings(given["ratings"]) if "ratings" in given else None
        read = self.tables.table(Survey, found, "survey", "survey", own) or {}
        if isinstance(found, dict) and self.tables.is_good("survey") and not any(given.get(key) for key in (*_NUMBERS, *_WORDS)):
            remedy = 'Add at least one, for example bands = ["40 m", "20 m"]'
            self.tables.add("survey", f"nothing is varied: none of {', '.join((*_NUMBERS, *_WORDS))}", remedy)
        return read

    def _ratings(self, found: object) -> Any:
        read = self.tables.table(Ratings, found, "survey.ratings", "survey.ratings")
        return Ratings(**read) if read is not None and self.tables.is_good("survey.ratings") else UNREADABLE

    def _measure(self, key: str) -> Measured:
        fields = Survey.model_fields.values()
        measure = next(measure_of(field) for field in fields if field.validation_alias == key)
        assert measure is not None
        return measure

    def _numbers(self, key: str, found: object) -> Any:
        """A list of values, a range, or a single value."""
        place, measure = at("survey", key), self._measure(key)
        if isinstance(found, dict):
            return self._range(found, measure, place)
        if not isinstance(found, list):
            return (self.tables.measure(measure, found, place),)
        if not self._is_few(found, place):
            return ()
        return tuple(self.tables.measure(measure, one, f"{place}[{k}]") for k, one in enumerate(found, 1))

    def _is_few(self, found: list[Any], place: str) -> bool:
        if not found:
            self.tables.add(place, "is empty", "Give at least one value, or leave it out")
        elif len(found) > MOST_VALUES:
            self.tables.add(place, f"there are {len(found):,} values", f"Allowed: at most {MOST_VALUES:,}")
        else:
            return True
        return False

    def _range(self, found: dict[str, Any], measure: Measured, place: str) -> tuple[float, ...]:
        """{ from = ..., to = ..., count = ... }, in even steps or in even ratios."""
        if measure.is_complex:
            self.tables.add(place, "impedances have no range", 'List them, for example ["25 - 60j ohm", "200 ohm"]')
            return ()
        self.tables.unknown_keys(found, ("from", "to", "count", "spacing"), place, "range")
        ends = []
        for key in ("from", "to"):
            if key not in found:
                self.tables.add(at(place, key), "is missing", f"Add it, for example {key} = {measure.sample}")
            else:
                ends.append(self.tables.measure(measure, found[key], at(place, key)))
        count = self._count("count", found.get("count"), MOST_VALUES, place, least=2)
        spacing = self.tables.word(found["spacing"], _SPACINGS, at(place, "spacing")) if "spacing" in found else "even"
        if len(ends) < 2 or not self.tables.is_good(place):
            return ()
        low, high = ends
        if not low < high:
            self.tables.add(place, "from is not below to", "Exchange them")
            return ()
        return spread(low, high, count, spacing)

    def _count(self, key: str, found: object, most: int, place: str = "survey", least: int = 1) -> Any:
        where = at(place, key)
        if isinstance(found, int) and not isinstance(found, bool) and least <= found <= most:
            return found
        reason = "is missing" if found is None else f"{quote(found)} is not a whole number from {least} to {most:,}"
        self.tables.add(where, reason, f"Write a whole number without quotes, for example {key} = {min(12, most)}")
        return UNREADABLE

    def _region(self, found: object) -> Any:
        if found in REGIONS and not isinstance(found, bool):
            return found
        reason = f"{quote(found)} is not a region"
        self.tables.add(
            "survey.region", reason, "Allowed: 1 (Europe, Africa, Middle East, northern Asia), 2 (the Americas), 3 (rest of Asia, Pacific)"
        )
        return UNREADABLE

    def _words(self, key: str, found: object) -> tuple[str, ...]:
        """A list of words, or a single one; "all" the bands."""
        place, allowed = at("survey", key), _WORDS[key]()
        several = found if isinstance(found, list) else [found]
        if not self._is_few(several, place):
            return ()
        read = [self.tables.word(one, allowed, f"{place}[{k}]" if isinstance(found, list) else place) for k, one in enumerate(several, 1)]
        if key == "bands" and "all" in read:
            return tuple(BANDS)
        return tuple(read) if self.tables.is_good(place) else ()


def spread(low: float, high: float, count: int, spacing: str) -> tuple[float, ...]:
    """So many values from `low` to `high`, both among them."""
    parts = [k / (count - 1) for k in range(count)]
    inner = [low + (high - low) * part if spacing == "even" else low * (high / low) ** part for part in parts[1:-1]]
    return (low, *inner, high)
