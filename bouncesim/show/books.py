"""The net account by kinds: into the antenna, heat in each kind of part, stored. Together they are what left the transmitter."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bouncesim.scenario.events import connectors
from bouncesim.scenario.model import Network, Part, Scenario
from bouncesim.show.words import ENGLISH, Words

SWITCH = "switch"  # under which a run books the contacts at the antenna
OTHER = "other heat"  # mark of heats that are shown as one
NAME_LENGTH = 12  # characters of a part's own name up to which it stands for its kind


@dataclass(frozen=True)
class Account:
    """Joules so far, or watts; left = antenna + sum of heat + stored."""

    left: float
    antenna: float
    stored: float
    heat: dict[str, float]  # by kind

    def of(self, kinds: Sequence[str]) -> float:
        """What is booked under these kinds together."""
        return sum({"antenna": self.antenna, "stored": self.stored, **self.heat}[kind] for kind in kinds)


@dataclass(frozen=True)
class Item:
    """One share of the account: the kinds booked in it, its name in full and in short, its mark (theme.MARKS)."""

    kinds: tuple[str, ...]
    name: str
    short: str
    mark: str


def heat_kinds(scenario: Scenario) -> dict[str, tuple[str, ...]]:
    """What can make heat, by kind: of the main path "tuner", "network", "transformer", "stub", "line"; and where something happens on the
    way, "connector", of those that fail, and "contact", of those that turn at the antenna."""
    found: dict[str, tuple[str, ...]] = {}
    for kind in ("tuner", "network", "transformer", "stub", "line"):
        names = tuple(part.name for part in scenario.path if _kind(part) == kind)
        if names:
            found[kind] = names
    if failing := tuple(name for name, _ in connectors(scenario.events)):
        found["connector"] = failing
    if any(event.happens.startswith("antenna") for event in scenario.events):
        found["contact"] = (SWITCH,)
    return found


def _kind(part: Part) -> str:
    return "tuner" if isinstance(part, Network) and part.is_tuner else part.part


def items(
    kinds: dict[str, tuple[str, ...]],
    heat: dict[str, float],
    fits: Callable[[list[str]], bool],
    words: Words = ENGLISH,
    load: str = "antenna",
) -> tuple[list[Item], list[str]]:
    """The shares and their labels: in full if these fit, else in short; else the least of the heats (J or W at the end) become one.

    `load` is the key of what stands at the end of the path.
    """
    shares = [_item(kind, names, words) for kind, names in kinds.items()]
    end = Item(("antenna",), words("into_load", name=words(load)), words("into_load_short", name=words(load)), "antenna")
    stored = Item(("stored",), words("stored"), words("stored"), "stored")
    while True:
        found = [end, *shares, stored]
        for labels in ([item.name for item in found], [item.short for item in found]):
            if fits(labels) or len(shares) < 2:
                return found, labels
        other = [item for item in shares if item.mark == OTHER]
        own = [item for item in shares if item.mark != OTHER]
        least = sorted(own, key=lambda item: sum(heat[kind] for kind in item.kinds))[: 2 - len(other)]
        merged = tuple(kind for item in [*other, *least] for kind in item.kinds)
        shares = [*(item for item in own if item not in least), Item(merged, words("other_heat"), words("other_heat"), OTHER)]


def _item(kind: str, names: tuple[str, ...], words: Words) -> Item:
    """ "heat in the balun", "heat in the lines", "into the stub"."""
    many = len(names) > 1
    own = not many and kind in ("network", "transformer") and len(names[0]) <= NAME_LENGTH
    part = names[0] if own else words(kind + ("s" if many else ""))
    if kind == "stub":
        return Item((kind,), words("into_part", part=part), words("into_part_short", part=part), "into the stub")
    short = words("heat_short", part=names[0] if own else words(kind))
    return Item((kind,), words("heat_in", part=part), short, f"{kind} heat")
