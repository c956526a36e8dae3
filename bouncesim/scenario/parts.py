"""Reading the parts of the path."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

from bouncesim.quantity import quote
from bouncesim.scenario.catalogue import catalogue
from bouncesim.scenario.components import DEEPEST_STUB, Element, Meter, Network, Part, Stub, Transformer, Tuner
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.names import Unnamed, automatic_names
from bouncesim.scenario.tables import UNREADABLE, Tables, at, keys_of
from bouncesim.scenario.vocabulary import RESERVED

MOST_PARTS, MOST_ELEMENTS = 40, 20
MOST_IN_A_STUB = 10
_MODELS: dict[str, type[Part]] = {
    "meter": Meter,
    "tuner": Tuner,
    "network": Network,
    "transformer": Transformer,
    "stub": Stub,
    "line": Line,
}
_IN_A_STUB = tuple(kind for kind in _MODELS if kind != "tuner")
_SETTINGS = [key for key in keys_of(Tuner) if key not in ("part", "name")]
_KINDS = {"inductor": "inductance", "capacitor": "capacitance", "resistor": "impedance"}
_NAME = re.compile(r"[a-z][a-z0-9]*(?:[ -][a-z0-9]+)*")
_QUALITY = Measured(least=1, most=1e6, example="200")
_END = Measured("impedance", is_complex=True, example="50 - 20j ohm")
_RATIO = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?: ?([0-9]+(?:\.[0-9]+)?)")
_RATIO_REMEDY = "Write the impedances as transmitter's side : antenna's side, for example \"1:4\""


class PathReader:
    """Reads [[path]]. Afterwards `names` holds (name, kind of reading) of every part, as far as they could be read."""

    def __init__(self, tables: Tables, carrier_hz: float) -> None:
        self.tables, self.carrier_hz = tables, carrier_hz  # the carrier is nan where it could not be read
        self.names: list[tuple[str, str]] = []
        self.all_named = True

    def read(self, found: object) -> list[dict[str, Any]]:
        """The fields of every part; to be built into models only if no problem was found anywhere."""
        parts = self._path(found, "path", 0)
        kinds = [part.get("part", "") if part else "" for part in parts]
        if not any(kind in ("line", "") for kind in kinds) and not self.tables.has_problem("path"):
            self.tables.add("path", "there is no line in the path", 'Add a [[path]] with part = "line"')
        self._name(parts)
        return [part for part in parts if part]

    def _path(self, found: object, place: str, depth: int) -> list[dict[str, Any] | None]:
        """The parts of the path, or those of a stub, which is `depth` stubs deep."""
        entries = self.tables.entries(found, place, MOST_IN_A_STUB if depth else MOST_PARTS)
        return [self._part(entry, f"{place}[{count}]", depth) for count, entry in enumerate(entries, 1)]

    def _part(self, found: object, place: str, depth: int) -> dict[str, Any] | None:
        tables, kinds = self.tables, _IN_A_STUB if depth else tuple(_MODELS)
        if not tables.is_table(found, place, "[path]" if depth == 0 else "[path.path]"):
            return None
        assert isinstance(found, dict)
        if "part" not in found:
            tables.add(at(place, "part"), "is missing", f"Say what it is. Allowed: {', '.join(kinds)}")
            return None
        if depth and found["part"] == "tuner":
            tables.add(at(place, "part"), "a tuner cannot stand in a stub", 'Write part = "network" and give its elements')
            return None
        kind = tables.word(found["part"], kinds, at(place, "part"))
        if kind is UNREADABLE:
            return None
        own: dict[str, Any] = {"part": kind}
        if kind in ("network", "tuner"):
            own["elements"] = None
        elif kind == "stub":
            own |= self._branch(found, place, depth + 1)
        elif kind == "transformer":
            own["ratio"] = self._ratio(found, place)
        elif kind == "line":
            own["type"] = tables.word(found["type"], tuple(catalogue()), at(place, "type")) if "type" in found else None
        given = tables.table(_MODELS[kind], found, place, kind, own) or {}
        if kind == "network" or ("elements" in found and kind == "tuner"):
            self._elements(found, given, place)
        return given

    def _branch(self, found: dict[str, Any], place: str, depth: int) -> dict[str, Any]:
        """Path and end of a stub."""
        tables, inside, end = self.tables, at(place, "path"), at(place, "end")
        parts: list[dict[str, Any] | None] = []
        if depth > DEEPEST_STUB:
            tables.add(place, f"this stub is the {depth}th of a nest", f"Allowed: stubs in stubs, {DEEPEST_STUB} deep")
        elif "path" not in found:
            tables.add(inside, "is missing", 'Add a [[path.path]] with part = "line" after the stub\'s own keys')
        else:
            parts = self._path(found["path"], inside, depth)
            if all(part is not None and part["part"] == "meter" for part in parts):
                tables.add(inside, "there is nothing in the stub", 'Add a [[path.path]] with part = "line"')
        return {"path": parts, "end": self._end(found, end)}

    def _end(self, found: dict[str, Any], place: str) -> Any:
        """The end of a stub: a word, or an impedance."""
        allowed = 'Allowed: "open", "short", or an impedance such as "50 - 20j ohm"'
        if "end" not in found:
            self.tables.add(place, "is missing", f"Say how the stub ends. {allowed}")
        elif found["end"] in ("open", "short"):
            return found["end"]
        elif isinstance(found["end"], str) and not re.search("[0-9]", found["end"]):
            self.tables.add(place, f"{quote(found['end'])} is not one of the words known here", allowed)
        else:
            return self.tables.measure(_END, found["end"], place)
        return UNREADABLE

    def _ratio(self, found: dict[str, Any], place: str) -> Any:
        """The ratio of a transformer, "1:4", as antenna's side over transmitter's side."""
        where = at(place, "ratio")
        if "ratio" not in found:
            self.tables.add(where, "is missing", _RATIO_REMEDY)
            return UNREADABLE
        match = _RATIO.fullmatch(found["ratio"].strip()) if isinstance(found["ratio"], str) and len(found["ratio"]) < 40 else None
        sides = [float(side) for side in match.groups()] if match else []
        if not match:
            self.tables.add(where, f"{quote(found['ratio'])} is not a ratio of impedances", _RATIO_REMEDY)
        elif 0 in sides or not 1e-4 <= sides[1] / sides[0] <= 1e4:
            self.tables.add(where, f"{quote(found['ratio'])} is out of range", "Allowed: 10000:1 to 1:10000")
        else:
            return sides[1] / sides[0]
        return UNREADABLE

    def _elements(self, found: dict[str, Any], given: dict[str, Any], place: str) -> None:
        """Read the elements into `given`, which becomes those of a network."""
        where, tuner = at(place, "elements"), given["part"] == "tuner"
        if settings := [key for key in _SETTINGS if key in found and tuner]:
            reason = f"the tuner has both explicit elements and settings ({', '.join(settings)})"
            self.tables.add(where, reason, "Give the elements, or the settings and let it be set for the carrier")
        given.update(elements=self.elements(found, where), is_tuner=tuner)

    def elements(self, found: dict[str, Any], where: str) -> list[dict[str, Any] | None]:
        """The elements of a network or an antenna."""
        entries = self.tables.entries(found["elements"], where, MOST_ELEMENTS, brackets=False) if "elements" in found else []
        if not entries:
            remedy = 'List them, for example [ { shunt = "capacitor", value = "470 pF" } ]'
            self.tables.add(where, "is empty" if "elements" in found else "is missing", remedy)
        return [self._element(entry, f"{where}[{count}]") for count, entry in enumerate(entries, 1)]

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

    def _name(self, parts: list[dict[str, Any] | None]) -> None:
        """Give every part its name, and find names that will not do."""
        flat = list(_flat(parts, "path"))
        earlier: dict[str, str] = {}  # name -> place
        for part, place, _ in flat:
            name = (part or {}).get("name")
            if isinstance(name, str):
                self._check_name(name, earlier, place)
                earlier.setdefault(name, place)
            self.all_named &= part is not None and name is not UNREADABLE
        for (part, _, inside), name in zip(flat, automatic_names(_unnamed(parts)), strict=True):
            if part:
                part["name"] = name
                kind = part["part"]
                if kind in ("meter", "line"):
                    self.names.append((name, kind))
                elif not inside:  # the account of a stub is one: only its lines and meters are read apart
                    self.names.append((name, "network"))

    def _check_name(self, name: str, earlier: dict[str, str], part_place: str) -> None:
        place = at(part_place, "name")
        if not _NAME.fullmatch(name):
            self.tables.add(place, f"{quote(name)} will not do as a name", 'Write lower-case words, for example "feed line"')
        elif name in RESERVED:
            self.tables.add(place, f"{quote(name)} means something else already", "Choose another name")
        elif name in earlier:
            self.tables.add(place, f"{quote(name)} is the name of {earlier[name]} too", "Give each part a name of its own")


def _flat(parts: list[dict[str, Any] | None], place: str, inside: bool = False) -> Iterator[tuple[dict[str, Any] | None, str, bool]]:
    """Every part with its place, and whether it is inside a stub; a stub before the parts inside it."""
    for count, part in enumerate(parts, 1):
        yield part, f"{place}[{count}]", inside
        yield from _flat((part or {}).get("path", []), f"{place}[{count}].path", True)


def _unnamed(parts: list[dict[str, Any] | None]) -> tuple[Unnamed, ...]:
    names = [name if isinstance(name := (part or {}).get("name"), str) else None for part in parts]
    return tuple(
        Unnamed((part or {}).get("part", ""), name, _unnamed((part or {}).get("path", []))) for part, name in zip(parts, names, strict=True)
    )


def build(given: dict[str, Any]) -> Part:
    """The model of one part, from fields in which no problem was found."""
    if "elements" in given:
        elements = tuple(Element(**element) for element in given["elements"])
        return Network(name=given["name"], elements=elements, is_tuner=given["is_tuner"])
    if given["part"] == "stub":
        return Stub(**given | {"path": tuple(map(build, given["path"]))})
    return _MODELS[given["part"]](**given)
