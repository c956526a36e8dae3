"""The scenario file as a JSON schema (draft 2020-12), for editors: keys, words, units and ranges as they are written in a file.

It is made from the models that the reader uses, and from the remarks of the starter. It cannot see everything: whether fields agree with
one another, whether a quantity in quotes is in range, and whether a name is known, only the reader tells.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from bouncesim.quantity import KINDS, show
from bouncesim.scenario.bands import BANDS, REGIONS
from bouncesim.scenario.base import Frozen
from bouncesim.scenario.catalogue import catalogue
from bouncesim.scenario.components import Element, Meter, Network, Stub, Transformer, Tuner
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.model import Antenna, Beat, Claim, Dipole, Event, Keying, Receiver, Scenario, Transmitter
from bouncesim.scenario.survey import MOST_VALUES, Ratings, Survey
from bouncesim.scenario.tables import TEXTS, keys_of, measure_of
from bouncesim.scenario.vocabulary import READINGS, fields_of, kind_of

DRAFT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]

_SPACE = "[ \u00a0\u202f]*"
_UNSIGNED = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_SIGN = "[+\u2212-]"
_REAL = f"{_SIGN}?{_UNSIGNED}"
_IMAGINARY = f"(?:{_UNSIGNED}{_SPACE}j|j{_SPACE}{_UNSIGNED})"
_COMPLEX = f"(?:{_REAL}(?:{_SPACE}{_SIGN}{_SPACE}{_IMAGINARY})?|{_SIGN}?{_SPACE}{_IMAGINARY})"
_PARTS: dict[str, type[Frozen]] = {
    "meter": Meter,
    "tuner": Tuner,
    "network": Network,
    "line": Line,
    "transformer": Transformer,
    "stub": Stub,
}
_LINES = ("type", "impedance", "inductance", "wire_diameter", "inner_diameter")  # a line is told by one of these
_ANTENNAS = ("impedance", "elements", "dipole", "touchstone", "swr")
_KINDS = {"inductor": "inductance", "capacitor": "capacitance", "resistor": "impedance"}


def schema() -> Schema:
    """The schema of a whole file."""
    remarks = _remarks()

    def table(model: type[Frozen], label: str, **own: Schema) -> Schema:
        return _table(model, remarks.get(label, {}), own)

    sections: dict[str, Schema] = {
        "transmitter": table(Transmitter, "transmitter"),
        "keying": table(Keying, "keying"),
        "receiver": table(Receiver, "receiver"),
        "antenna": table(Antenna, "antenna", elements=_ref("elements"), dipole=_table(Dipole, {}, {}), measurement={})
        | {"oneOf": [{"required": [key]} for key in _ANTENNAS]},
        "path": _list(_ref("part")),
        "event": _list(table(Event, "event")),
        "claim": _list(table(Claim, "claim", **{key: {} for key in _BOUNDS}) | _claim()),
        "beat": _list(table(Beat, "beat", until=_until())),
        "survey": _survey(remarks.get("survey", {})),
    }
    return {
        "$schema": DRAFT,
        "title": "A scenario of bouncesim: a station, what is claimed about it, and the story of its film",
        **_table(Scenario, remarks.get("", {}), sections),
        "$defs": {
            "part": _part(),
            **{kind: _table(model, remarks.get(kind, {}), _own_of(kind)) | _more_of(kind) for kind, model in _PARTS.items()},
            "elements": _list(_element()) | {"minItems": 1},
        },
    }


def _table(model: type[Frozen], remarks: Mapping[str, str], own: Mapping[str, Schema]) -> Schema:
    """One table: its keys as written in a file; `own`: keys that the reader reads in its own way."""
    properties, required = {}, []
    for key, name in keys_of(model).items():
        field = model.model_fields[name]
        made = own[key] if key in own else _value(field, key)
        told = [words.rstrip(".") + "." for words in (remarks.get(key), made.get("description")) if words]
        properties[key] = made | ({"description": " ".join(told)} if told else {})
        if field.is_required():
            required.append(key)
    return {"type": "object", "additionalProperties": False, "properties": properties} | ({"required": required} if required else {})


def _value(field: FieldInfo, key: str) -> Schema:
    """One value."""
    if measure := measure_of(field):
        return _measured(measure)
    if get_origin(field.annotation) is not None and (words := _words(field.annotation)):
        return {"enum": words}
    longest, lines = TEXTS[key]
    return {"type": "string", "maxLength": longest} | ({} if lines or key == "about" else {"pattern": "^[^\\n\\r]*\\S[^\\n\\r]*$"})


def _words(annotation: Any) -> list[Any]:
    """The words of a Literal."""
    return [word for word in get_args(annotation) if isinstance(word, str | int)]


def _measured(measure: Measured) -> Schema:
    """A quantity with its unit in quotes, or a pure number with its range."""
    if not measure.kind:
        bounds = {"exclusiveMinimum": measure.above, "minimum": measure.least, "maximum": measure.most}
        return {"type": "number"} | {key: value for key, value in bounds.items() if value is not None}
    kind = KINDS[measure.kind]
    number = _COMPLEX if measure.is_complex else _REAL
    per = f"{_SPACE}/{_SPACE}(?:{_UNSIGNED})?{_SPACE}(?:{_one_of(KINDS['length'].spellings)})" if kind.per_length else ""
    example = measure.example or kind.example
    low = measure.above if measure.above is not None else measure.least
    limits = [show(limit, kind.unit) if limit else "0" for limit in (low, measure.most) if limit is not None]
    told = f'{kind.a[0].upper()}{kind.a[1:]} with its unit, such as "{example}"'
    return {
        "type": "string",
        "pattern": f"^{_SPACE}{number}{_SPACE}(?:{_one_of(kind.spellings)}){per}{_SPACE}$",
        "examples": [example],
        "description": f"{told}; from {limits[0]} to {limits[1]}." if len(limits) == 2 and not measure.is_complex else f"{told}.",
    }


def _one_of(spellings: Iterable[str]) -> str:
    """All spellings, the longer before the shorter."""
    return "|".join(sorted(spellings, key=lambda spelling: (-len(spelling), spelling)))


_BOUNDS = ("at_least", "at_most", "about", "within")


def _claim() -> Schema:
    """What goes beyond the keys of a claim: one test at least, and bounds in the unit of what they bound."""
    fields = {field for kind in READINGS for field in fields_of(kind)}
    cases = []
    for kind in sorted({kind_of(field) for field in fields}):
        names = "|".join(sorted(field.replace(".", r"\.") for field in fields if kind_of(field) == kind))
        bounds = dict.fromkeys(_BOUNDS, _measured(Measured(kind)))
        cases.append({"if": {"properties": {"quantity": {"pattern": rf"\.(?:{names})$"}}}, "then": {"properties": bounds}})
    both = {"about": ["within"], "within": ["about"]}
    return {"dependentRequired": both, "anyOf": [{"required": [key]} for key in _BOUNDS[:3]], "allOf": cases}


def _until() -> Schema:
    """A moment by its name, or a time."""
    moments = ["key down", "antenna reached", "first echo", "round trip 3", "settled", "1.2 us"]
    return {"anyOf": [_measured(Measured("time")), {"type": "string", "pattern": "^[^0-9.+\u2212-]"}], "examples": moments}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _list(item: Schema) -> Schema:
    return {"type": "array", "items": item}


def _part() -> Schema:
    """An entry of the path, which is what its key `part` says."""
    cases = [{"if": {"properties": {"part": {"const": kind}}}, "then": _ref(kind)} for kind in _PARTS]
    told = {"enum": list(_PARTS), "description": "what stands here on the way from the transmitter to the antenna"}
    return {"type": "object", "required": ["part"], "properties": {"part": told}, "allOf": cases}


def _own_of(kind: str) -> dict[str, Schema]:
    """The keys of a part that the reader reads in its own way."""
    end = {"anyOf": [{"enum": ["open", "short"]}, _measured(Measured("impedance", is_complex=True, example="50 - 20j ohm"))]}
    ratio = {"type": "string", "pattern": "^ *[0-9]+(\\.[0-9]+)? ?: ?[0-9]+(\\.[0-9]+)? *$", "examples": ["1:1", "1:4", "9:1"]}
    return {
        "network": {"elements": _ref("elements")},
        "line": {"type": {"enum": list(catalogue())}},
        "transformer": {"ratio": ratio},
        "stub": {"path": _list(_ref("part")) | {"minItems": 1}, "end": end},
    }.get(kind, {})


def _more_of(kind: str) -> Schema:
    """What goes beyond single keys: a tuner may have its elements told, and a line is told in one way."""
    if kind == "tuner":
        told = _table(Tuner, {}, {})
        return {"properties": told["properties"] | {"elements": _ref("elements")}}
    return {"anyOf": [{"required": [key]} for key in _LINES]} if kind == "line" else {}


def _element() -> Schema:
    """One lumped part: where it stands is the key, what it is the word."""
    kinds = {"enum": list(_KINDS)}
    values = [_measured(Measured(kind)) for kind in _KINDS.values()]
    properties = {
        "series": kinds | {"description": "in the way of the current"},
        "shunt": kinds | {"description": "across the path"},
        "value": {"anyOf": values},
        "q": _measured(Measured(least=1, most=1e6)),
        "loss_resistance": _value(Element.model_fields["loss_ohm"], "loss_resistance"),
    }
    where = [{"required": [key]} for key in ("series", "shunt")]
    return {"type": "object", "additionalProperties": False, "properties": properties, "required": ["value"], "oneOf": where}


def _survey(remarks: Mapping[str, str]) -> Schema:
    """[survey]: single values, lists of them, and ranges."""
    own: dict[str, Schema] = {}
    for key, name in keys_of(Survey).items():
        field = Survey.model_fields[name]
        measure = measure_of(field)
        if measure is not None:
            one = _measured(measure)
            own[key] = {
                "anyOf": [one, _list(one) | {"minItems": 1, "maxItems": MOST_VALUES}, *([] if measure.is_complex else [_range(one)])]
            }
    words = {"bands": ("all", *BANDS), "type": tuple(catalogue()), "tuner": ("none", "L", "pi", "T")}
    for key, allowed in words.items():
        own[key] = {"anyOf": [{"enum": list(allowed)}, _list({"enum": list(allowed)}) | {"minItems": 1}]}
    own |= {"region": {"enum": list(REGIONS)}, "line": {"type": "string", "maxLength": TEXTS["name"][0]}}
    own |= {key: {"type": "integer", "minimum": 1, "maximum": most} for key, most in (("phases", 10_000), ("per_band", 1000))}
    own["ratings"] = _table(Ratings, {}, {})
    return _table(Survey, remarks, own)


def _range(one: Schema) -> Schema:
    properties = {
        "from": one,
        "to": one,
        "count": {"type": "integer", "minimum": 2, "maximum": MOST_VALUES},
        "spacing": {"enum": ["even", "ratio"]},
    }
    return {"type": "object", "additionalProperties": False, "properties": properties, "required": ["from", "to", "count"]}


_HEAD = re.compile(r"^(?:# )?\[\[?([a-z.]+)\]\]?")
_KEY = re.compile(r'^(?:#  ?)?([a-z_]+) = ("[^"]*"|[^#]*)(?:#(.*))?$')


def _remarks() -> dict[str, dict[str, str]]:
    """What the starter remarks beside each key: label of the table (of a part: its kind) -> key -> words."""
    found: dict[str, dict[str, str]] = {}
    label = ""
    for line in (files("bouncesim.scenario") / "starter.toml").read_text("utf-8").splitlines():
        if head := _HEAD.match(line):
            label = head.group(1)
        elif key := _KEY.match(line):
            name, value, words = key.groups()
            if name == "part":
                label = value.strip().strip('"')
            if words and words.strip():
                found.setdefault(label, {}).setdefault(name, words.strip())
    return found
