"""Reading the antenna, and the events."""

from __future__ import annotations

from typing import Any

from bouncesim.scenario.components import Element
from bouncesim.scenario.ends import Antenna, Dipole
from bouncesim.scenario.events import Event
from bouncesim.scenario.parts import PathReader
from bouncesim.scenario.tables import UNREADABLE, Tables

MOST_EVENTS = 10


class EndsReader:
    """Reads [antenna] and [[event]]; `path` knows how to read elements at the carrier."""

    def __init__(self, tables: Tables, path: PathReader) -> None:
        self.tables, self.path = tables, path

    def antenna(self, data: dict[str, Any]) -> dict[str, Any]:
        """The fields of the antenna."""
        tables = self.tables
        if "antenna" not in data:
            tables.add("antenna", "is missing", "Add [antenna] with impedance")
            return {}
        found = data["antenna"]
        own: dict[str, Any] = {"elements": None, "dipole": None}
        if isinstance(found, dict) and "elements" in found:
            own["elements"] = self._elements(found)
        if isinstance(found, dict) and "dipole" in found:
            dipole = tables.table(Dipole, found["dipole"], "antenna.dipole", "antenna.dipole") or {}
            own["dipole"] = UNREADABLE if tables.problems else Dipole(**dipole)
        return tables.table(Antenna, found, "antenna", "antenna", own) or {}

    def _elements(self, found: dict[str, Any]) -> Any:
        """The elements, built; the last one closes the circuit."""
        elements = self.path.elements(found, "antenna.elements")
        if self.tables.problems or not elements:
            return UNREADABLE
        if elements[-1] and elements[-1]["position"] == "series":
            self.tables.add("antenna.elements", "the last element is in series and leads nowhere", 'Write it as shunt = "..."')
        return tuple(Element(**element) for element in elements if element)

    def events(self, found: object) -> list[dict[str, Any]]:
        """The fields of every event."""
        entries = self.tables.entries(found, "event", MOST_EVENTS)
        return [self.tables.table(Event, entry, f"event[{count}]", "event") or {} for count, entry in enumerate(entries, 1)]
