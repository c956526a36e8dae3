"""A part of a scenario file replaced in its text, so that every remark and the order of everything else stay as they were.

Only what is safe to edit is edited: a [[path]] that stands in a line of its own, outside of texts and lists. What is taken out stays as a
remark. Whoever uses this reads the result again before trusting it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import KINDS, show
from bouncesim.scenario.components import Element, Network, Part, Stub
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.tables import keys_of, measure_of

DIGITS = 9
_HEADER = re.compile(r"\s*\[\[\s*path\s*\]\]\s*(#.*)?$")
_SUBTABLE = re.compile(r"\s*\[\[?\s*path\s*\.")
_TABLE = re.compile(r"\s*\[")
_KEEPS = re.compile(r"\s*(?:part|name|\"part\"|\"name\")\s*=")
_UNITS = {"inductor": "H", "capacitor": "F", "resistor": "ohm"}


def with_part(text: str, place: int | None, parts: Sequence[Part], coil_q: float | None, capacitor_q: float | None) -> str:
    """The text with `parts` in the place of the [[path]] that is number `place` (from 0), which is a tuner; None: before the first one.

    `coil_q`, `capacitor_q`: what the loss of coils and capacitors is written as. ScenarioError where the text cannot be edited safely."""
    lines = text.split("\n")
    outside = list(_outside(lines))
    headers = [k for k, line in enumerate(lines) if outside[k] and _HEADER.match(line)]
    if not headers or (place is not None and place >= len(headers)):
        raise _not_safe("its parts do not each stand under a [[path]] of their own")
    if place is None:
        first = headers[0]
        while first > 0 and outside[first - 1] and lines[first - 1].lstrip().startswith("#"):
            first -= 1  # remarks right above a table belong to it
        new = [row for part in parts for row in (*_written(part, coil_q, capacitor_q), "")]
        return "\n".join([*lines[:first], *new, *lines[first:]])
    start = headers[place]
    end = next((k for k in range(start + 1, len(lines)) if outside[k] and _TABLE.match(lines[k])), len(lines))
    if end < len(lines) and _SUBTABLE.match(lines[end]):
        raise _not_safe("the part has tables of its own")
    body, trailing = _split_trailing(lines[start + 1 : end])
    if len(parts) == 1 and isinstance(parts[0], Network):
        new = [lines[start], *_kept(body, outside[start + 1 :]), *_elements(parts[0], coil_q, capacitor_q)]
    else:
        new = [f"# {row}".rstrip() for row in (lines[start], *body)]
        for part in parts:
            new += ["", *_written(part, coil_q, capacitor_q)]
    return "\n".join([*lines[:start], *new, *trailing, *lines[end:]])


def _not_safe(why: str) -> ScenarioError:
    remedy = "Write the parts into a copy yourself: each under a [[path]] of its own"
    return ScenarioError(Problem("path", f"the file cannot be edited safely: {why}", remedy))


def _outside(lines: Sequence[str]) -> Iterator[bool]:
    """For every line: whether it begins outside of all texts, lists and inline tables."""
    text, depth = "", 0  # the quotes that a text will end with; brackets of values that are open
    for line in lines:
        yield not text and not depth
        k, is_value = 0, bool(depth)
        while k < len(line):
            if text:
                if text[0] == '"' and line[k] == "\\":
                    k += 2
                elif line.startswith(text, k):
                    k, text = k + len(text), ""
                else:
                    k += 1
                continue
            mark = line[k]
            if mark == "#":
                break
            if mark in "\"'":
                text = mark * 3 if line.startswith(mark * 3, k) else mark
                k += len(text)
                continue
            is_value |= mark == "="
            if is_value:
                depth += (mark in "[{") - (mark in "]}")
            k += 1
        if len(text) == 1:  # not TOML: a reader will say so
            text = ""


def _split_trailing(body: list[str]) -> tuple[list[str], list[str]]:
    """A table's own lines, and the empty lines and remarks at its end, which belong to what follows."""
    end = len(body)
    while end > 0 and (not body[end - 1].strip() or body[end - 1].lstrip().startswith("#")):
        end -= 1
    return body[:end], body[end:]


def _kept(body: list[str], outside: list[bool]) -> list[str]:
    """The lines of a tuner: its kind and name as they are, its settings as remarks."""
    kept, is_kept = [], True
    for row, is_new in zip(body, outside, strict=False):
        if is_new:
            is_kept = bool(_KEEPS.match(row)) or not row.strip() or row.lstrip().startswith("#")
        kept.append(row if is_kept else f"# {row}")
    return kept


def _written(part: Part, coil_q: float | None, capacitor_q: float | None, table: str = "path") -> list[str]:
    """One part as a table of its own."""
    head = [f"[[{table}]]"]
    if isinstance(part, Network):
        return [
            *head,
            f'part = "{"tuner" if part.is_tuner else "network"}"',
            f'name = "{part.name}"',
            *_elements(part, coil_q, capacitor_q),
        ]
    if isinstance(part, Stub):
        inside = [row for inner in part.path for row in _written(inner, coil_q, capacitor_q, f"{table}.path")]
        return [*head, 'part = "stub"', f'name = "{part.name}"', f'end = "{part.end}"', *inside]
    assert isinstance(part, Line)
    return [*head, 'part = "line"', *(f"{key} = {value}" for key, value in _fields(part))]


def _fields(line: Line) -> Iterator[tuple[str, str]]:
    """Keys and values of a line, as far as they differ from what is taken anyway."""
    for key, name in keys_of(Line).items():
        field, value = Line.model_fields[name], getattr(line, name)
        if key == "part" or value == field.default:
            continue
        measure = measure_of(field)
        yield key, _value(value, measure.kind) if measure else f'"{value}"'


def _value(value: Any, kind: str) -> str:
    """A number as it is written in a file; show() knows no prefix that the reader does not."""
    if not kind:
        return f"{value:.{DIGITS}g}"
    return f'"{show(value, KINDS[kind].unit, DIGITS).replace("µ", "u")}"'


def _elements(network: Network, coil_q: float | None, capacitor_q: float | None) -> list[str]:
    if not network.elements:
        return ["elements = []"]
    return ["elements = [", *(f"  {_element(element, coil_q, capacitor_q)}," for element in network.elements), "]"]


def _element(element: Element, coil_q: float | None, capacitor_q: float | None) -> str:
    q = coil_q if element.kind == "inductor" else capacitor_q
    value = show(element.value, _UNITS[element.kind], DIGITS).replace("µ", "u")
    loss = f", q = {q:.{DIGITS}g}" if q else ""
    return f'{{ {element.position} = "{element.kind}", value = "{value}"{loss} }}'
