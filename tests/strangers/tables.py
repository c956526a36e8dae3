"""Scenarios made from the JSON schema, and lessons changed key by key: they are mostly valid, so that they get deep."""

from __future__ import annotations

import functools
import json
import random
import re
from typing import Any

from bouncesim.scenario.json_schema import schema
from tests.strangers.words import odd_number, odd_quantity, odd_word

Table = dict[str, Any]
_RANGE = re.compile(r"; from (.+) to (.+?)\.( |$)")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_WAYS = {  # keys that go together: without them most of what is drawn would be refused
    "line": (
        ("type",),
        ("impedance", "velocity_factor"),
        ("impedance", "velocity_factor", "loss"),
        ("impedance", "velocity_factor", "loss", "loss_at", "dielectric_share"),
        ("resistance", "inductance", "conductance", "capacitance"),
        ("wire_diameter", "spacing"),
        ("inner_diameter", "outer_diameter", "permittivity"),
    ),
}

_APART = {"survey", "receiver", "narration", "measurement", "within"}  # that need something beside them
_OWNED = {"threshold", "floor", "holds", "level", "drive_limit", "attack", "release", "text", "words_per_minute", "dot", "width", "form"}
_KEYS: tuple[Table, ...] = (
    {"shape": "step"},
    {"rise": "1 us"},
    {"shape": "linear", "rise": "3 us"},
    {"shape": "morse", "rise": "2 us", "text": "e", "dot": "10 us"},
    {"shape": "pulse", "width": "40 ns"},
)
_BEHAVIOURS: tuple[Table, ...] = (
    {},
    {"behaviour": "fold-back", "floor": 0.2, "attack": "20 us"},
    {"behaviour": "level-controlled", "holds": "delivered", "release": "5 us"},
    {"behaviour": "isolated"},
)


class Raw(str):
    """What is written as it stands, without quotes."""


@functools.cache
def whole() -> Table:
    return schema()


def toml(value: object) -> str:
    """A value in TOML."""
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{toml_key(key)} = {toml(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False) if not isinstance(value, float) else repr(value)


def toml_key(key: str) -> str:
    return key if _BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)


def document(tables: Table) -> bytes:
    """A whole file, a line for each key at the top."""
    return "".join(f"{toml_key(key)} = {toml(value)}\n" for key, value in tables.items()).encode("utf-8", "replace")


class Drawing:
    """Draws values of a schema; `wild` is the share of them that is anything at all."""

    def __init__(self, chance: random.Random, wild: float) -> None:
        self.chance, self.wild = chance, wild

    def value(self, found: Table, depth: int = 0) -> Any:
        """A value that the schema `found` allows, in most cases."""
        chance = self.chance
        if chance.random() < self.wild:
            return self.anything(depth)
        if "$ref" in found:
            return self.value(whole()["$defs"][found["$ref"].rpartition("/")[2]], depth)
        for key in ("const", "enum"):
            if key in found:
                return chance.choice(found[key]) if key == "enum" else found[key]
        if "anyOf" in found and "properties" not in found:
            return self.value(chance.choice(found["anyOf"]), depth)
        kind = found.get("type")
        if kind == "object" or "properties" in found:
            return self.table(found, depth)
        if kind == "array":
            return [self.value(found["items"], depth + 1) for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 5)))] if depth < 5 else []
        if kind in ("number", "integer"):
            return self.number(found, kind == "integer")
        return self.text(found)

    def number(self, found: Table, is_whole: bool) -> Any:
        low = found.get("minimum", found.get("exclusiveMinimum", -1e3))
        high = found.get("maximum", max(1e3, 10 * abs(low)))
        if self.chance.random() < 0.2:
            value = self.chance.choice((low, high))
        elif low >= 0 and high > 100 * max(low, 1e-3):
            value = min(high, max(low, 10 ** self.chance.uniform(-3, 3)))
        else:
            value = self.chance.uniform(low, high)
        return int(value) if is_whole else float(value)

    def text(self, found: Table) -> Any:
        if "examples" not in found:
            return self.chance.choice(("feed line", "transmitter", "a word", "another", "antenna.power_w", odd_word(self.chance)))
        example = self.chance.choice(found["examples"])
        if self.chance.random() < 0.3:
            return example
        size = self.chance.choice((0.3, 0.3, 1, 1, 3, 8))
        return re.sub(r"[0-9.]+(?=[ j])", lambda match: f"{float(match[0]) * 10 ** self.chance.gauss(0, size):.4g}", example, count=2)

    def table(self, found: Table, depth: int) -> Table:
        chance, properties = self.chance, found.get("properties", {})
        part = properties.get("part", {})
        if len(part.get("enum", ())) > 1:  # an entry of the path: draw what it is, then its table
            kinds = [kind for kind in part["enum"] if depth == 1 or kind != "tuner"]
            kind = chance.choice([*kinds, "line", "line"] if depth < 5 else ["line"])
            own = whole()["$defs"][kind]
            return self.table(own, depth) | {"part": kind}
        keys = set(found.get("required", ()))
        label = part.get("enum", [""])[0]
        choices = _WAYS.get(label) or [
            ways["required"] for ways in (*found.get("anyOf", ()), *found.get("oneOf", ())) if "required" in ways
        ]
        keys |= set(chance.choice(choices)) if choices else set()
        others = {key for ways in choices for key in ways} - keys
        share = chance.choice((0.0, 0.1, 0.1, 0.3))
        likely = [key for key in properties if key not in others | _APART]  # in an order that is the same every time
        keys |= {key for key in likely if chance.random() < share * (0.1 if key in _OWNED else 1)}
        keys |= {"within"} & properties.keys() if "about" in keys else set()
        made = {key: self.value(properties[key], depth + 1) for key in properties if key in keys}
        if chance.random() < self.wild:
            made[odd_word(chance)] = self.anything(depth)
        return made

    def anything(self, depth: int) -> Any:
        draw = self.chance.random()
        if draw < 0.3:
            return Raw(odd_number(self.chance))
        if draw < 0.6:
            return odd_quantity(self.chance)
        if draw < 0.9:
            return odd_word(self.chance)
        return self.chance.choice(([], {}, [[]], {"a": 1}, ["x"] * 3, [{}] * 3, True))


def drawn(chance: random.Random) -> Table:
    """A scenario drawn from the schema."""
    made = Drawing(chance, chance.choice((0.0, 0.0, 0.02, 0.2))).table(whole(), 0)
    if chance.random() < 0.8:
        made |= {"title": "A station", "keying": chance.choice(_KEYS)}
    if chance.random() < 0.5 and isinstance(made.get("transmitter"), dict):
        made["transmitter"] |= chance.choice(_BEHAVIOURS)
    path = made.get("path")
    if path is None or (isinstance(path, list) and not any(isinstance(part, dict) and part.get("part") == "line" for part in path)):
        made["path"] = [{"part": "line", "length": "31 m", "impedance": "50 ohm", "velocity_factor": 0.66}]
    return made


def at_edges(tables: Table, chance: random.Random) -> Table:
    """A scenario with one or two of its values, or keys that it did not have, at the edge of what is allowed."""
    made = {key: value for key, value in json.loads(json.dumps(tables, default=str)).items() if key not in ("claim", "beat", "narration")}
    places = [
        (where, key, edges)
        for where, found in _tables(made, whole())
        for key, told in found.get("properties", {}).items()
        if (edges := _edges(told)) and (key in where or chance.random() < 0.1)
    ]
    for where, key, edges in chance.sample(places, min(len(places), chance.choice((1, 1, 2, 3)))):
        where[key] = chance.choice(edges)
    return made


def _edges(found: Table) -> list[Any]:
    """The least and the most of a value, as written in a file."""
    if found.get("type") == "number":
        low = found.get("minimum", found.get("exclusiveMinimum", -1e18)) or 1e-19
        return [float(low), float(found.get("maximum", 1e18))]
    told = _RANGE.search(found.get("description", ""))
    if found.get("type") != "string" or not told:
        return []
    low, high = (words.replace("\u00b5", "u") for words in told.groups()[:2])
    unit = high.split(" ")[1]
    return [f"1e-19 {unit.lstrip('kMGmunp') if len(unit) > 1 and unit != 'm' else unit}" if low == "0" else low, high]


def changed(tables: Table, chance: random.Random) -> Table:
    """A scenario with a few of its values drawn anew, keys added or taken out, parts moved, copied or put in."""
    drawing = Drawing(chance, chance.choice((0.0, 0.0, 0.0, 0.3)))
    made = json.loads(json.dumps(tables, default=str))
    if chance.random() < 0.6:  # nothing that names a part or a moment
        made = {key: value for key, value in made.items() if key not in ("claim", "beat", "narration")}
    for _ in range(chance.choice((1, 1, 2, 3, 6))):
        where, found = chance.choice(list(_tables(made, whole())))
        properties = found.get("properties") or {"": {}}
        key = chance.choice(list(where) or [""])
        act = chance.random()
        if act < 0.5 and key in where and key in properties and not isinstance(where[key], dict | list):
            where[key] = drawing.value(properties[key], 2)
        elif act < 0.75:
            key = chance.choice(list(properties))
            where[key] = drawing.value(properties[key], 1 if where is made else 2)
        elif act < 0.82 and where:
            del where[key]
        else:
            _move(made, drawing)
    return made


def _move(made: Table, drawing: Drawing) -> None:
    """Something about the order of parts, claims, beats or events."""
    chance = drawing.chance
    name = chance.choice(
        [key for key in ("path", "path", "claim", "beat", "event") if isinstance(made.get(key), list) and made[key]] or [""]
    )
    if not name:
        return
    entries = made[name]
    act = chance.randrange(4)
    if act == 0:
        chance.shuffle(entries)
    elif act == 1:
        copied = json.loads(json.dumps(chance.choice(entries)))
        if isinstance(copied, dict):
            copied.pop("name", None)
        entries.insert(chance.randrange(len(entries) + 1), copied)
    elif act == 2:
        del entries[chance.randrange(len(entries))]
    else:
        found = whole()["properties"][name]["items"]
        found = whole()["$defs"]["part"] if name == "path" else found
        entries.insert(chance.randrange(len(entries) + 1), drawing.value(found, 1))


def _tables(made: Any, found: Table) -> Any:
    """Every table of a scenario with its schema."""
    if "$ref" in found:
        found = whole()["$defs"][found["$ref"].rpartition("/")[2]]
    if isinstance(made, dict):
        own = whole()["$defs"].get(made["part"], found) if isinstance(made.get("part"), str) else found
        yield made, own
        for key, value in made.items():
            yield from _tables(value, own.get("properties", {}).get(key, {}))
    elif isinstance(made, list):
        for value in made:
            yield from _tables(value, found.get("items", {}))
