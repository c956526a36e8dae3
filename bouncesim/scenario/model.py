"""The station, frozen, in SI units.

The same classes serve Python (fields by name, SI numbers) and files (the shorter key of each field, quantities with their units, read
by scenario.reader with the kinds and ranges that stand here). `conflicts` of a class finds what is wrong between its fields; it sees
whatever fields could be read, so that a file gets all its problems at once, and it is asked again whenever a model is built.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator

from bouncesim.quantity import show
from bouncesim.scenario.base import Conflict, Frozen
from bouncesim.scenario.components import (
    DEEPEST_STUB,
    Element,
    Meter,
    Network,
    Part,
    Stub,
    Transformer,
    Tuner,
    depth,
    flat_parts,
    named,
)
from bouncesim.scenario.ends import Antenna, Dipole, Receiver, Transmitter, port_of
from bouncesim.scenario.events import Event, at_end, connectors
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.keying import Keying
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.mirror import mirrored
from bouncesim.scenario.narration import Cue
from bouncesim.scenario.oneport import OnePort
from bouncesim.scenario.survey import Survey, survey_conflicts
from bouncesim.scenario.vocabulary import RESERVED

__all__ = [
    "Antenna",
    "Beat",
    "Claim",
    "Dipole",
    "Element",
    "Event",
    "Keying",
    "Line",
    "Meter",
    "Network",
    "Part",
    "Receiver",
    "Scenario",
    "Stub",
    "Transformer",
    "Transmitter",
    "Tuner",
    "flat_parts",
]


class Claim(Frozen):
    """A statement about one reading, to be judged: a range, or a value with how near it must come."""

    says: str
    quantity: str  # such as "antenna.power_w": see scenario.vocabulary
    at_least: float | None = None
    at_most: float | None = None
    about: float | None = None
    within: float | None = None
    # without a tuner, for every source impedance of the range, or only for the one that the scenario gives
    source: Literal["every", "its own"] = "every"

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A claim names one test, and a test that something can pass."""
        least, most = given.get("at_least"), given.get("at_most")
        about, within = given.get("about"), given.get("within")
        if (about is None) != (within is None):
            there, missing = ("about", "within") if within is None else ("within", "about")
            yield missing, "is missing", f"{there} needs {missing} beside it: a value, and how near it must come"
        if within is not None and within < 0:
            yield "within", "is negative", "Give the distance from about that still counts, 0 or more"
        if all(bound is None for bound in (least, most, about, within)):
            yield "", "the claim says nothing that could fail", "Add at_least, at_most, or about with within"
        if (least is not None or most is not None) and (about is not None or within is not None):
            yield "", "the claim is given in two ways", "Give at_least and at_most, or about with within"
        if least is not None and most is not None and least > most:
            yield "at_least", "is more than at_most, so nothing can hold", "Exchange them"


class Beat(Frozen):
    """One step of the film's story."""

    until: str | float  # a named moment (scenario.vocabulary), or seconds
    # the pace: s of film from the end of the beat before it, or how many times slower than life; neither if a narration times the beats
    lasts_s: Annotated[float, Measured("time", above=0, most=600, example="3 s")] | None = Field(default=None, validation_alias="lasts")
    slowed: Annotated[float, Measured(above=0, most=1e15, example="20_000_000")] | None = None
    # s of film for which the picture then stands still
    pause_s: Annotated[float, Measured("time", least=0, most=60, example="2 s")] = Field(default=0.0, validation_alias="pause")
    caption: str = Field(max_length=300)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A beat has one pace."""
        if given.get("lasts_s") is not None and given.get("slowed") is not None:
            yield "slowed", "the pace is given in two ways", 'Give lasts = "3 s" or slowed = 20_000_000'


class Scenario(Frozen):
    """A station and its story."""

    title: str
    about: str = ""
    direction: Literal["transmit", "receive"] = "transmit"
    transmitter: Transmitter
    keying: Keying = Field(default_factory=lambda given: Keying(rise_s=2 / given["transmitter"].frequency_hz))
    path: tuple[Part, ...]  # from the transmitter to the antenna; from the antenna to the receiver once it is `mirrored`
    antenna: Antenna
    receiver: Receiver | None = None
    events: tuple[Event, ...] = Field(default=(), validation_alias="event")
    claims: tuple[Claim, ...] = Field(default=(), validation_alias="claim")
    beats: tuple[Beat, ...] = Field(default=(), validation_alias="beat")
    narration: tuple[Cue, ...] = ()  # when the beats are told, one cue each; in a file, the name of a WebVTT file
    survey: Survey | None = None  # what `bouncesim survey` varies; every other command takes the station as it stands
    is_mirrored: bool = False

    @field_validator("path")
    @classmethod
    def _named(cls, path: tuple[Part, ...]) -> tuple[Part, ...]:
        return named(path)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A wave needs a line, a reading a name of its own, and a stub an end in sight."""
        if given.get("path") is not None:
            yield from _path_conflicts(given["path"])
        yield from _event_conflicts(given)
        yield from _story_conflicts(given)
        yield from _direction_conflicts(given)
        yield from _band_conflicts(given)
        yield from survey_conflicts(given)

    @property
    def source_name(self) -> str:
        """What drives the station: the transmitter, or the antenna of a station that receives."""
        return "transmitter" if self.direction == "transmit" else "antenna"

    @property
    def load_name(self) -> str:
        """What stands at the other end."""
        return "antenna" if self.direction == "transmit" else "receiver"

    @property
    def is_controlled(self) -> bool:
        """True where a reading controls the drive: never while the station receives."""
        return self.direction == "transmit" and self.transmitter.is_controlled

    @property
    def has_dump_load(self) -> bool:
        """True where what returns to the source ends in a dump load."""
        return self.direction == "transmit" and self.transmitter.behaviour == "isolated"

    @property
    def last_event_s(self) -> float:
        """When the last event happens; 0 without any."""
        return max((event.at_s for event in self.events), default=0.0)

    @property
    def carrier_until_s(self) -> float:
        """When the carrier first goes off, s; inf where it stays."""
        return min([self.keying.carrier_until_s, *(event.at_s for event in self.events if event.happens == "key up")])

    @property
    def omega(self) -> float:
        """Of the carrier, rad/s."""
        return 2 * math.pi * self.transmitter.frequency_hz

    @property
    def source_port(self) -> OnePort:
        """What stands behind the EMF. ValueError if the antenna is not resolved."""
        if self.direction == "receive":
            return self.antenna.port(self.omega)
        return port_of(complex(self.transmitter.source_impedance_ohm), "series", self.omega)

    @property
    def source_ohm(self) -> complex:
        """Impedance of `source_port` at the carrier."""
        return self.antenna.at_carrier_ohm if self.direction == "receive" else complex(self.transmitter.source_impedance_ohm)

    @property
    def emf_v_peak(self) -> float:
        """Peak EMF at full drive; of an antenna that receives, |V|^2 = 8 R P for the available power P."""
        if self.direction == "receive":
            return math.sqrt(8 * self.antenna.at_carrier_ohm.real * (self.receiver or Receiver()).signal_w)
        return self.transmitter.emf_v_peak

    @property
    def load_port(self) -> OnePort:
        """What stands at the end of the path. ValueError if the antenna is not resolved."""
        return self.antenna.port(self.omega) if self.direction == "transmit" else port_of(self.load_ohm, "series", self.omega)

    @property
    def load_ohm(self) -> complex:
        """Impedance of `load_port` at the carrier."""
        if self.direction == "transmit":
            return self.antenna.at_carrier_ohm
        return complex((self.receiver or Receiver()).impedance_ohm)

    @property
    def source_reference_ohm(self) -> float:
        """What forward and reflected power at the source's terminals refer to: its rated load, or the line at an antenna that receives."""
        if self.direction == "transmit":
            return self.transmitter.rated_load_ohm
        return self.lines[0].constants(self.transmitter.frequency_hz).impedance_ohm

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines of the path in their order from the transmitter; those inside stubs are not among them."""
        return tuple(part for part in self.path if isinstance(part, Line))

    @property
    def all_lines(self) -> tuple[Line, ...]:
        """Every line, those inside stubs too, in the order in which one comes past them."""
        return tuple(part for part in flat_parts(self.path) if isinstance(part, Line))

    def driven(self) -> Scenario:
        """The scenario with its path in order from the source to the load: turned round once for a station that receives."""
        if self.direction == "transmit" or self.is_mirrored:
            return self
        return self.model_copy(update={"path": mirrored(self.path), "is_mirrored": True})

    def as_transmitting(self) -> Scenario:
        """The same station, driven from its transmitter."""
        path = mirrored(self.path) if self.is_mirrored else self.path
        return self.model_copy(update={"direction": "transmit", "path": path, "is_mirrored": False})

    def at_end(self) -> Scenario:
        """The station as the last event leaves it, without events; a key that goes up counts as still down."""
        path, antenna = at_end(self.path, self.antenna, self.events)
        return self.model_copy(update={"path": path, "antenna": antenna, "events": ()})

    def to_json(self) -> str:
        """The scenario in SI, with the names of the fields; `from_json` gives back an equal one."""
        return self.model_dump_json(indent=1)

    @classmethod
    def from_json(cls, text: str) -> Scenario:
        """The scenario that `to_json` wrote. Raises pydantic.ValidationError (a ValueError)."""
        return cls.model_validate_json(text)


def _path_conflicts(path: tuple[Part, ...]) -> Iterator[Conflict]:
    """A wave needs a line, a reading a name of its own, and a stub an end in sight."""
    if not any(isinstance(part, Line) for part in path):
        yield "path", "there is no line in the path", 'Add a part = "line"'
    names = [part.name for part in flat_parts(path)]
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield "path", f'two parts are named "{name}"', "Give each part a name of its own"
    for name in sorted(set(names) & set(RESERVED)):
        yield "path", f'the name "{name}" means something else already', "Choose another name"
    for stub in (part for part in flat_parts(path) if isinstance(part, Stub)):
        if any(isinstance(part, Tuner) for part in stub.path):
            yield "path", f'there is a tuner in the stub "{stub.name}"', "A tuner stands in the path itself; in a stub, use a network"
        if all(isinstance(part, Meter) for part in stub.path):
            yield "path", f'there is nothing in the stub "{stub.name}"', "Give it a line or a network at least"
    if depth(path) > DEEPEST_STUB:
        yield "path", f"stubs are nested {depth(path)} deep", f"Allowed: at most {DEEPEST_STUB} deep"


def _event_conflicts(given: Mapping[str, Any]) -> Iterator[Conflict]:
    """An event needs a part that is there, a time after the key goes down, and a station that transmits a carrier."""
    events, keying, path = given.get("events", ()), given.get("keying"), given.get("path")
    if path is not None:
        names = [part.name for part in path]
        for count, event in enumerate(events, 1):
            if event.behind and event.behind not in names:
                yield f"event[{count}].behind", f'there is no part "{event.behind}" on the path', f"Allowed: {', '.join(names)}"
        for name in (name for name, _ in connectors(events) if name in [part.name for part in flat_parts(path)]):
            yield "path", f'the name "{name}" is that of the connector that fails', "Choose another name"
    if events and given.get("direction") == "receive":
        yield "event", "a station that receives has no events", "Leave them out, or let it transmit"
    if events and isinstance(keying, Keying) and keying.shape in ("morse", "pulse"):
        yield "event", f"a {keying.shape} key goes with no events", 'Leave them out, or write shape = "raised-cosine"'
    ups = [event.at_s for event in events if event.happens == "key up"]
    if len(ups) > 1 or (ups and ups[0] < max(event.at_s for event in events)):
        yield "event", "nothing can happen after the key has gone up", "Let it be the last event"


def _story_conflicts(given: Mapping[str, Any]) -> Iterator[Conflict]:
    """Every beat has a pace of its own, or a cue of the narration."""
    beats, cues = given.get("beats", ()), given.get("narration", ())
    if not isinstance(cues, tuple):
        return  # a file that could not be read
    for count, beat in enumerate(beats, 1):
        if beat.lasts_s is None and beat.slowed is None and not cues:
            yield f"beat[{count}].lasts", "is missing", 'Add it, for example lasts = "3 s", or give slowed = 20_000_000'
    if beats and cues and len(beats) != len(cues):
        reason = f"it has {len(cues)} cue{'s' if len(cues) > 1 else ''}, and the story {len(beats)} beat{'s' if len(beats) > 1 else ''}"
        yield "narration", reason, "One cue tells one beat: put sentences that belong together into one cue, or add beats"


def _direction_conflicts(given: Mapping[str, Any]) -> Iterator[Conflict]:
    """A station that receives is linear."""
    transmitter, antenna = given.get("transmitter"), given.get("antenna")
    if given.get("direction") != "receive":
        if given.get("receiver") is not None:
            yield "receiver", "a station that transmits has no receiver", 'Leave it out, or write direction = "receive"'
        return
    if isinstance(transmitter, Transmitter) and transmitter.is_controlled:
        yield "transmitter.behaviour", "nothing controls the drive of a station that receives", "Leave it out"
    if isinstance(antenna, Antenna) and antenna.impedance_ohm is not None and antenna.impedance_ohm.real <= 0:
        yield "antenna.impedance", "an antenna without resistance receives nothing", "Give it a resistance of more than 0 ohm"


def _band_conflicts(given: Mapping[str, Any]) -> Iterator[Conflict]:
    """A measured antenna is known within its band."""
    transmitter, antenna = given.get("transmitter"), given.get("antenna")
    if not isinstance(transmitter, Transmitter) or not isinstance(antenna, Antenna) or antenna.measurement is None:
        return
    low, high = antenna.measurement.band_hz
    if not low <= transmitter.frequency_hz <= high:
        band, carrier = f"{show(low, 'Hz', 6)} to {show(high, 'Hz', 6)}", show(transmitter.frequency_hz, "Hz", 6)
        reason = f'"{antenna.touchstone}" tells of {band}, and the carrier is at {carrier}'
        yield "antenna.touchstone", reason, "Measure the antenna at the carrier, or move the carrier into the band"
