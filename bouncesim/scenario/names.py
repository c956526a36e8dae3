"""Names of the parts of the path: the user's, or automatic ones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Unnamed:
    """A part on its way to a name: its kind, the name that it was given (none: None or ""), and the parts of its own path (of a stub)."""

    kind: str
    name: str | None = None
    path: tuple[Unnamed, ...] = ()


def automatic_names(path: Sequence[Unnamed]) -> list[str]:
    """A name a part, a stub before the parts inside it: the given one, or else its kind, numbered from the second of a kind on: "line",
    "line 2". Parts inside a stub take the stub's name before their kind: "stub line"."""
    taken = {part.name for part in _flat(path) if part.name}
    names: list[str] = []

    def give(path: Sequence[Unnamed], prefix: str) -> None:
        for part in path:
            name, count = part.name or prefix + part.kind, 1
            while not part.name and name in taken:
                count += 1
                name = f"{prefix}{part.kind} {count}"
            taken.add(name)
            names.append(name)
            give(part.path, f"{name} ")

    give(path, "")
    return names


def _flat(path: Sequence[Unnamed]) -> Iterator[Unnamed]:
    for part in path:
        yield part
        yield from _flat(part.path)
