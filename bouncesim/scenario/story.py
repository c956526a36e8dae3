"""Reading claims and beats: the story of a scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bouncesim.quantity import quote, show
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.model import Beat, Claim
from bouncesim.scenario.tables import UNREADABLE, Tables, at, nearest
from bouncesim.scenario.vocabulary import MOMENTS, caption_fields, fields_of, has_broken_field, kind_of, moment_rank

MOST_CLAIMS, MOST_BEATS = 60, 60
_BOUNDS = ("at_least", "at_most", "about", "within")
_TIME = Measured("time", least=0, most=1.0)


class StoryReader:
    """Reads [[claim]] and [[beat]].

    `parts`: kind of reading (vocabulary.READINGS) of every part by its name, the ends of the station among them. `complete`: False if
    some part has no readable name, so that an unknown name may be that part's and is let pass. `events`: what happens on the way, each a
    moment too.
    """

    def __init__(self, tables: Tables, parts: Mapping[str, str], complete: bool, events: Sequence[str] = ()) -> None:
        self.tables, self.complete, self.events = tables, complete, events
        self.parts = dict(parts)

    def claims(self, found: object) -> list[dict[str, Any]]:
        """The fields of every claim."""
        entries = self.tables.entries(found, "claim", MOST_CLAIMS)
        return [self._claim(entry, f"claim[{count}]") for count, entry in enumerate(entries, 1)]

    def beats(self, found: object) -> list[dict[str, Any]]:
        """The fields of every beat."""
        entries = self.tables.entries(found, "beat", MOST_BEATS)
        beats = [self._beat(entry, f"beat[{count}]") for count, entry in enumerate(entries, 1)]
        self._order([beat.get("until") for beat in beats])
        return beats

    def _claim(self, found: object, place: str) -> dict[str, Any]:
        table = found if isinstance(found, dict) else {}
        reading = table.get("quantity")
        is_known = isinstance(reading, str) and self._is_reading(reading, at(place, "quantity"), quote(reading))
        bounds: dict[str, Any] = dict.fromkeys(_BOUNDS)
        for key in _BOUNDS:
            if key in table:  # its unit follows from the reading
                measure = Measured(kind_of(str(reading)))
                bounds[key] = self.tables.measure(measure, table[key], at(place, key)) if is_known else UNREADABLE
        return self.tables.table(Claim, found, place, "claim", bounds) or {}

    def _beat(self, found: object, place: str) -> dict[str, Any]:
        until = None
        if isinstance(found, dict) and "until" in found:
            until = self._until(found["until"], at(place, "until"))
        elif isinstance(found, dict):
            self.tables.add(at(place, "until"), "is missing", f"Add a moment or a time. Allowed: {_moments((*MOMENTS, *self.events))}")
        given = self.tables.table(Beat, found, place, "beat", {"until": until}) or {}
        if isinstance(given.get("caption"), str):
            self._caption(given["caption"], at(place, "caption"))
        return given

    def _until(self, found: object, place: str) -> Any:
        if not isinstance(found, str) or found.strip()[:1] in set("0123456789.+-−"):
            return self.tables.measure(_TIME, found, place)
        try:
            self._rank(found)
        except KeyError:
            moments = (*MOMENTS, *self.events)
            self.tables.add(place, f"{quote(found)} is not a moment", f"{nearest(found, moments)}Allowed: {_moments(moments)}")
            return UNREADABLE
        return found

    def _rank(self, moment: str) -> int | None:
        """Place of a moment among the others; None for an event, and for "settled", which come when they come."""
        return None if moment in self.events else moment_rank(moment)

    def _order(self, moments: list[Any]) -> None:
        """Beats follow one another: a time or a moment earlier than one before it is a mistake."""
        latest: dict[bool, float] = {}  # by whether it is a time; times and moments cannot be compared before the run
        for count, moment in enumerate(moments, 1):
            rank = self._rank(moment) if isinstance(moment, str) else moment
            if rank is None:
                continue
            is_time = not isinstance(moment, str)
            if rank < latest.get(is_time, 0):
                shown = show(moment, "s") if is_time else quote(moment)
                self.tables.add(f"beat[{count}].until", f"{shown} is earlier than a beat before it", "Put the beats in their order in time")
            latest[is_time] = max(rank, latest.get(is_time, 0))

    def _caption(self, caption: str, place: str) -> None:
        if has_broken_field(caption):
            self.tables.add(place, 'a "${" is not closed by "}"', 'Write, for example, "${antenna.power_w}"')
        for name in caption_fields(caption):
            if name != "time":
                self._is_reading(name, place, f'"${{{quote(name)[1:-1]}}}"')

    def _is_reading(self, reading: str, place: str, shown: str) -> bool:
        """True for a reading of this station; otherwise a problem, unless the name may be that of an unreadable part."""
        part, _, field = reading.rpartition(".")
        if field in ("real", "imag"):
            part, _, field = part.rpartition(".")[0], "", f"{part.rpartition('.')[2]}.{field}"
        kinds = self.parts | ({"echoes": "echoes"} if list(self.parts.values()).count("line") == 1 else {})
        if part in kinds:
            fields = fields_of(kinds[part])
            if field not in fields:
                remedy = nearest(reading, [f"{part}.{one}" for one in fields])
                self.tables.add(place, f"{shown} is not a reading", f"{remedy}Readings of {part}: {', '.join(fields)}")
            return field in fields
        if self.complete:
            example = nearest(reading, [f"{name}.{one}" for name, kind in self.parts.items() for one in fields_of(kind)])
            reason = f"{shown} is not a reading"
            self.tables.add(place, reason, f"{example}Write a name, a point and a reading. Names here: {', '.join(self.parts)}")
        return False


def _moments(moments: Sequence[str]) -> str:
    return ", ".join(moments).replace("round trip 1", "round trip 1 (or 2, 3, ...)") + ', or a time such as "1.2 us"'
