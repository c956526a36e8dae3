"""Files that a scenario names: they stand in its own folder or below it, never outside of it.

A scenario may come from a stranger, and may not make us read other files.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import quote


@dataclass(frozen=True)
class Kind:
    """What a file is to be, for messages, and how large it may be (bytes)."""

    what: str  # "a one-port file"
    example: str
    most_bytes: int
    size: str  # why a larger one is not it


def content_beside(folder: Path, name: str, place: str, kind: Kind) -> bytes:
    """What is in the file called `name` in `folder` or below it. ScenarioError at `place`."""

    def wrong(reason: str, remedy: str) -> ScenarioError:
        return ScenarioError(Problem(place, f"{quote(name)} {reason}", remedy))

    if set(name) & set("\\:\0") or name.startswith("/") or ".." in name.split("/"):
        raise wrong("leads away from the scenario's folder", f'Name a file that stands beside the scenario, such as "{kind.example}"')
    try:
        home, file = folder.resolve(), (folder / name).resolve()
        if not file.is_relative_to(home):
            raise wrong("leads away from the scenario's folder", "Put the file itself there, not a link to it")
        if not file.exists():
            raise wrong("is not there", "Put the file into the folder of the scenario, and mind capitals")
        if not file.is_file():
            raise wrong("is not a file", f'Name {kind.what}, such as "{kind.example}"')
        with open(file, "rb") as opened:
            content = opened.read(kind.most_bytes + 1)
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle
        reason = getattr(error, "strerror", None) or "a link that leads nowhere"
        raise wrong(f"cannot be read ({reason})", "Check the file and its permissions") from None
    if len(content) > kind.most_bytes:
        raise wrong(f"is larger than {kind.most_bytes // 1_000_000} MB", f"{kind.size}: is this the right file?")
    return content
