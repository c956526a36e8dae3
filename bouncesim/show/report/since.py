"""What changed since an earlier report of the same scenario: the note that corrects a published number.

Both reports come as plain data (`NAME.report.json`). A number has changed where it moved by more than the two error bars together; the
inputs that changed are told first, for a reader must know whether the station or the program is another.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

FORM = 1  # of the data; another number is another form
ROUNDING = 1e-9  # of a number: what moved by less has not moved


@dataclass(frozen=True)
class Moved:
    """A number that changed: before and after (None: it has no finite value), and the error bars of both together."""

    quantity: str
    before: float | None
    after: float | None
    bar: float


@dataclass(frozen=True)
class Turned:
    """A claim whose verdict changed; "" before: it is new, "" after: it is gone."""

    says: str
    before: str
    after: str


@dataclass(frozen=True)
class Since:
    """Everything that changed; `compared`: how many numbers both have."""

    made_at: str  # of the earlier report
    inputs: tuple[tuple[str, str, str], ...]  # place in the scenario, before, after
    versions: tuple[tuple[str, str, str], ...]
    compared: int
    moved: tuple[Moved, ...]
    turned: tuple[Turned, ...]
    gone: tuple[str, ...]
    new: tuple[str, ...]

    @property
    def stands(self) -> bool:
        """True where nothing that was told needs a correction."""
        return not (self.moved or self.turned or self.gone)


def since(earlier: Mapping[str, Any], now: Mapping[str, Any]) -> Since:
    """What changed between the data of two reports. Raises KeyError or TypeError for data of another form."""
    before, after = earlier["numbers"], now["numbers"]
    shared = [name for name in after if name in before]
    moved = [found for name in shared if (found := _moved(name, before[name], after[name])) is not None]
    return Since(
        made_at=str(earlier["made_at"]),
        inputs=tuple(_differences(earlier["scenario"], now["scenario"])),
        versions=tuple(_differences(earlier["versions"], now["versions"])),
        compared=len(shared),
        moved=tuple(sorted(moved, key=_weight, reverse=True)),
        turned=tuple(_turned(earlier["claims"], now["claims"])),
        gone=tuple(name for name in before if name not in after),
        new=tuple(name for name in after if name not in before),
    )


def _moved(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> Moved | None:
    old, new = before["value"], after["value"]
    bar = float(before["error_bar"] or 0.0) + float(after["error_bar"] or 0.0)
    if old is None or new is None:
        return Moved(name, old, new, bar) if (old is None) != (new is None) else None
    far = abs(float(new) - float(old))
    return Moved(name, float(old), float(new), bar) if far > bar + ROUNDING * max(abs(old), abs(new)) else None


def _weight(one: Moved) -> float:
    """By how much of itself a number moved."""
    if one.before is None or one.after is None:
        return math.inf
    size = max(abs(one.before), abs(one.after))
    return abs(one.after - one.before) / size if size else 0.0


def _turned(before: list[Any], after: list[Any]) -> Iterator[Turned]:
    """Claims by their words."""
    old, new = ({claim["says"]: str(claim["outcome"]) for claim in claims} for claims in (before, after))
    for says in dict.fromkeys((*old, *new)):
        if old.get(says, "") != new.get(says, ""):
            yield Turned(says, old.get(says, ""), new.get(says, ""))


def _differences(before: Any, after: Any, place: str = "") -> Iterator[tuple[str, str, str]]:
    """Places where two plain values differ, entries of lists counted from 1."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key in dict.fromkeys((*before, *after)):
            yield from _differences(before.get(key), after.get(key), f"{place}.{key}" if place else str(key))
    elif isinstance(before, list) and isinstance(after, list):
        for k in range(max(len(before), len(after))):
            old, new = (side[k] if k < len(side) else None for side in (before, after))
            yield from _differences(old, new, f"{place}[{k + 1}]")
    elif before != after:
        yield place, _short(before), _short(after)


def _short(value: Any) -> str:
    words = "nothing" if value is None else str(value)
    return words if len(words) <= 60 else words[:57] + "..."
