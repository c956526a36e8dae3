"""What happens to a station while it is on the air, and the station that is left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from bouncesim.quantity import show
from bouncesim.scenario.base import Conflict, Frozen, misplaced, not_passive
from bouncesim.scenario.components import Element, Network, Part
from bouncesim.scenario.ends import Antenna
from bouncesim.scenario.measured import Measured

OPEN_OHM = 1e9  # of a contact that is open
CLOSED_OHM = 1e-3  # of a contact that is closed
BAD_CONNECTOR = "bad connector"


class Event(Frozen):
    """Something that happens at a time after key-down.

    The antenna opens, shorts, or changes to another impedance; a connector behind a part goes bad: a resistance in series; the key goes up.
    """

    at_s: Annotated[float, Measured("time", above=0, most=1.0, example="2 us")] = Field(validation_alias="at")
    happens: Literal["antenna opens", "antenna shorts", "antenna changes", "connector fails", "key up"]
    impedance_ohm: Annotated[complex, Measured("impedance", is_complex=True, example="25 - 60j ohm")] | None = Field(
        default=None, validation_alias="impedance"
    )  # of the new antenna
    behind: str = ""  # the part that the connector follows
    resistance_ohm: Annotated[float, Measured("impedance", above=0, most=1e6)] | None = Field(default=None, validation_alias="resistance")

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """Each kind of event has its own particulars."""
        happens, impedance = given.get("happens"), given.get("impedance_ohm")
        yield from misplaced(given, "happens", happens, _OWNERS)
        for name, (key, kinds) in _OWNERS.items():
            if happens in kinds and name not in given:
                yield key, "is missing", f"Add it, for example {key} = {_EXAMPLES[key]}"
        if impedance is not None:
            yield from not_passive(impedance, "impedance", "antenna")
            if impedance == impedance and abs(impedance) < CLOSED_OHM:
                yield "impedance", f"{show(abs(impedance), 'ohm')} is a short circuit", 'Write happens = "antenna shorts"'


_OWNERS = {  # of the particulars, which are all needed
    "impedance_ohm": ("impedance", ("antenna changes",)),
    "behind": ("behind", ("connector fails",)),
    "resistance_ohm": ("resistance", ("connector fails",)),
}
_EXAMPLES = {"impedance": '"25 - 60j ohm"', "behind": '"feed line"', "resistance": '"20 ohm"'}


def connectors(events: tuple[Event, ...]) -> list[tuple[str, Event]]:
    """The connectors that fail, with a name each, in order."""
    failing = [event for event in events if event.happens == "connector fails"]
    return [(BAD_CONNECTOR if k == 0 else f"{BAD_CONNECTOR} {k + 1}", event) for k, event in enumerate(failing)]


def with_connectors(path: tuple[Part, ...], events: tuple[Event, ...], before: bool = False) -> tuple[Part, ...]:
    """The path with every connector that fails as a resistance in series behind its part; `before`: while it was still good."""
    for name, event in connectors(events):
        ohm = CLOSED_OHM if before or event.resistance_ohm is None else event.resistance_ohm
        part = Network(name=name, elements=(Element(position="series", kind="resistor", value=ohm),))
        at = next(k for k, one in enumerate(path) if one.name == event.behind) + 1
        path = (*path[:at], part, *path[at:])
    return path


def at_end(path: tuple[Part, ...], antenna: Antenna, events: tuple[Event, ...]) -> tuple[tuple[Part, ...], Antenna]:
    """Path and antenna as the last event leaves them."""
    for event in sorted(events, key=lambda event: event.at_s):
        if event.happens == "antenna opens":
            antenna = Antenna(impedance_ohm=OPEN_OHM)
        elif event.happens == "antenna shorts":
            antenna = Antenna(impedance_ohm=0j)
        elif event.happens == "antenna changes":
            antenna = Antenna(impedance_ohm=event.impedance_ohm)
    return with_connectors(path, events), antenna
