"""Reading the antenna, and the events."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bouncesim.errors import ScenarioError
from bouncesim.quantity import quote
from bouncesim.scenario.components import Element
from bouncesim.scenario.ends import Antenna, Dipole
from bouncesim.scenario.events import Event
from bouncesim.scenario.parts import PathReader
from bouncesim.scenario.sweep import read_beside
from bouncesim.scenario.tables import UNREADABLE, Tables

MOST_EVENTS = 10
_TOUCHSTONE = "antenna.touchstone"


class EndsReader:
    """Reads [antenna] and [[event]]; `path` knows how to read elements at the carrier, `folder` is that of the scenario, if it has one."""

    def __init__(self, tables: Tables, path: PathReader, folder: Path | None) -> None:
        self.tables, self.path, self.folder = tables, path, folder

    def antenna(self, data: dict[str, Any]) -> dict[str, Any]:
        """The fields of the antenna."""
        if "antenna" not in data:
            self.tables.add("antenna", "is missing", "Add [antenna] with impedance")
            return {}
        found = data["antenna"]
        own: dict[str, Any] = {"elements": None, "dipole": None}
        if isinstance(found, dict) and "elements" in found:
            own["elements"] = self._elements(found)
        if isinstance(found, dict) and "dipole" in found:
            own["dipole"] = self._dipole(found["dipole"])
        if isinstance(found, dict) and "touchstone" in found:
            own["touchstone"] = self.tables.text(found["touchstone"], _TOUCHSTONE, "touchstone")
            own["measurement"] = self._measurement(own["touchstone"])
        return self.tables.table(Antenna, found, "antenna", "antenna", own) or {}

    def _elements(self, found: dict[str, Any]) -> Any:
        """The elements; those with a problem too, as far as they could be read, so that the last one can be judged."""
        elements = self.path.elements(found, "antenna.elements")
        return tuple(Element.model_construct(**element) for element in elements if element) or UNREADABLE

    def _dipole(self, found: object) -> Any:
        fields = self.tables.table(Dipole, found, "antenna.dipole", "antenna.dipole")
        return Dipole(**fields) if fields is not None and self.tables.is_good("antenna.dipole") else UNREADABLE

    def _measurement(self, name: Any) -> Any:
        """What the Touchstone file holds."""
        if name is UNREADABLE:
            return UNREADABLE
        if self.folder is None:
            reason = f"{quote(name)} would stand beside the scenario, and a text has no folder"
            self.tables.add(_TOUCHSTONE, reason, "Save the scenario as a file, beside the measurement")
            return UNREADABLE
        try:
            return read_beside(self.folder, name, _TOUCHSTONE)
        except ScenarioError as error:
            self.tables.problems.extend(error.problems)
            return UNREADABLE

    def events(self, found: object) -> list[dict[str, Any]]:
        """The fields of every event."""
        entries = self.tables.entries(found, "event", MOST_EVENTS)
        return [self.tables.table(Event, entry, f"event[{count}]", "event") or {} for count, entry in enumerate(entries, 1)]
