"""Reading the parts of the path."""

from __future__ import annotations

import math
import re
from typing import Any

from bouncesim.quantity import quote
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.model import Element, Line, Meter, Network, Tuner
from bouncesim.scenario.names import automatic_names
from bouncesim.scenario.tables import LATER_WORDS, UNREADABLE, Tables, at
from bouncesim.scenario.vocabulary import RESERVED

MOST_PARTS, MOST_ELEMENTS = 40, 20
_MODELS: dict[str, type[Meter | Tuner | Network | Line]] = {"meter": Meter, "tuner": Tuner, "network": Network, "line": Line}
_KINDS = {"inductor": "inductance", "capacitor": "capacitance", "resistor": "impedance"}
_NAME = re.compile(r"[a-z][a-z0-9]*(?:[ -][a-z0-9]+)*")
_QUALITY = Measured(above=0, most=1e6, example="200")


class PathReader:
    """Reads [[path]]. Afterwards `names` holds (name, kind of reading) of every part, as far as they could be read."""

    def __init__(self, tables: Tables, carrier_hz: float) -> None:
        self.tables, self.carrier_hz = tables, carrier_hz  # the carrier is nan where it could not be read
        self.names: list[tuple[str, str]] = []
        self.all_named = True

    def read(self, found: object) -> list[dict[str, Any]]:
        """The fields of every part; to be built into models only if no problem was found anywhere."""
        entries = self.tables.entries(found, "path", MOST_PARTS)
        parts = [self._part(entry, f"path[{count}]") for count, entry in enumerate(entries, 1)]
        kinds = [part.get("part", "") if part else "" for part in parts]
        if not any(kind in ("line", "") for kind in kinds) and not self.tables.has_problem("path"):
            self.tables.add("path", "there is no line in the path", 'Add a [[path]] with part = "line"')
        self._name(parts, kinds)
        return [part for part in parts if part]

    def _part(self, found: object, place: str) -> dict[str, Any] | None:
        tables = self.tables
        if not tables.is_table(found, place, "[path]"):
            return None
        assert isinstance(found, dict)
        if "part" not in found:
            tables.add(at(place, "part"), "is missing", f"Say what it is. Allowed: {', '.join(_MODELS)}")
            return None
        kind = tables.word(found["part"], tuple(_MODELS), at(place, "part"), LATER_WORDS["path.part"])
        if kind is UNREADABLE:
            return None
        own: dict[str, Any] = {"part": kind}
        if kind in ("network", "tuner"):
            own["elements"] = None
        given = tables.table(_MODELS[kind], found, place, kind, own) or {}
        if kind == "network" or ("elements" in found and kind == "tuner"):
            self._elements(found, given, place)
        return given

    def _elements(self, found: dict[str, Any], given: dict[str, Any], place: str) -> None:
        """Read the elements into `given`, which becomes those of a network."""
        where, tuner = at(place, "elements"), given["part"] == "tuner"
        if settings := [key for key in ("shape", "kind", "coil_q", "capacitor_q") if key in found and tuner]:
            reason = f"the tuner has both explicit elements and settings ({', '.join(settings)})"
            self.tables.add(where, reason, "Give the elements, or the settings and let it be set for the carrier")
        entries = self.tables.entries(found["elements"], where, MOST_ELEMENTS, brackets=False) if "elements" in found else []
        if not entries:
            remedy = 'List them, for example [ { shunt = "capacitor", value = "470 pF" } ]'
            self.tables.add(where, "is empty" if "elements" in found else "is missing", remedy)
        elements = [self._element(entry, f"{where}[{count}]") for count, entry in enumerate(entries, 1)]
        for key in ("shape", "kind", "coil_q", "capacitor_q"):
            given.pop(key, None)
        given.update(elements=elements, is_tuner=tuner)

    def _element(self, found: object, place: str) -> dict[str, Any] | None:
        tables = self.tables
        if not isinstance(found, dict):
            tables.add(place, f"{quote(found)} stands where an element belongs", '{ series = "inductor", value = "1.2 uH" } is one')
            return None
        tables.unknown_keys(found, ("series", "shunt", "value", "q", "loss_resistance"), place, "element")
        positions = [key for key in ("series", "shunt") if key in found]
        if len(positions) != 1:
            reason = "is both in series and in shunt" if positions else "is neither in series nor in shunt"
            tables.add(place, reason, 'Write one of series = "inductor" and shunt = "inductor" (or capacitor, resistor)')
        kind = tables.word(found[positions[0]], tuple(_KINDS), at(place, positions[0])) if positions else UNREADABLE
        value: Any = UNREADABLE
        if "value" not in found:
            tables.add(at(place, "value"), "is missing", 'Add it, for example "470 pF" or "1.2 uH"')
        elif kind in _KINDS:
            value = tables.measure(Measured(_KINDS[kind], above=0, most=1e9), found["value"], at(place, "value"))
        loss = self._loss(found, kind, value, place)
        given = {"kind": kind, "value": value} | ({} if loss is None else {"loss_ohm": loss})
        tables.conflicts(Element, given, place)
        return given | {"position": positions[0] if positions else UNREADABLE}

    def _loss(self, found: dict[str, Any], kind: Any, value: Any, place: str) -> Any:
        """Series resistance of an element in ohm: as given, or from its Q, w L/Q or 1/(w C Q) at the carrier; None without any."""
        tables = self.tables
        if "q" in found and "loss_resistance" in found:
            tables.add(at(place, "q"), "the loss is given in two ways (q and loss_resistance)", "Leave one of them out")
        if "loss_resistance" in found:
            return tables.measure(Measured("impedance", least=0, most=1e9), found["loss_resistance"], at(place, "loss_resistance"))
        if "q" not in found:
            return None
        if kind == "resistor":
            tables.add(at(place, "q"), "a resistor has no Q", "Leave it out")
            return None
        quality = tables.measure(_QUALITY, found["q"], at(place, "q"))
        reactance = 2 * math.pi * self.carrier_hz * value
        return reactance / quality if kind == "inductor" else 1 / (reactance * quality)

    def _name(self, parts: list[dict[str, Any] | None], kinds: list[str]) -> None:
        """Give every part its name, and find names that will not do."""
        given: list[str | None] = []
        for count, part in enumerate(parts, 1):
            name, place = (part or {}).get("name"), f"path[{count}].name"
            if isinstance(name, str):
                self._check_name(name, given, place)
            given.append(name if isinstance(name, str) else None)
            self.all_named &= part is not None and name is not UNREADABLE
        for part, kind, name in zip(parts, kinds, automatic_names(kinds, given), strict=True):
            if part:
                part["name"] = name
                self.names.append((name, "network" if kind == "tuner" else kind))

    def _check_name(self, name: str, earlier: list[str | None], place: str) -> None:
        if not _NAME.fullmatch(name):
            self.tables.add(place, f"{quote(name)} will not do as a name", 'Write lower-case words, for example "feed line"')
        elif name in RESERVED:
            self.tables.add(place, f"{quote(name)} means something else already", "Choose another name")
        elif name in earlier:
            self.tables.add(place, f"{quote(name)} is the name of path[{earlier.index(name) + 1}] too", "Give each part a name of its own")


def build(given: dict[str, Any]) -> Meter | Tuner | Network | Line:
    """The model of one part, from fields in which no problem was found."""
    if "elements" in given:
        elements = tuple(Element(**element) for element in given["elements"])
        return Network(name=given["name"], elements=elements, is_tuner=given["is_tuner"])
    return _MODELS[given["part"]](**given)
