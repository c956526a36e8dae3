"""Names of the parts of the path: the user's, or automatic ones."""

from __future__ import annotations

from collections.abc import Sequence


def automatic_names(kinds: Sequence[str], given: Sequence[str | None]) -> list[str]:
    """A name a part: the given one, or else its kind, numbered from the second of a kind on: "line", "line 2"."""
    taken = {name for name in given if name}
    names: list[str] = []
    for kind, name in zip(kinds, given, strict=True):
        chosen, count = name or kind, 1
        while not name and chosen in taken:
            count += 1
            chosen = f"{kind} {count}"
        taken.add(chosen)
        names.append(chosen)
    return names
