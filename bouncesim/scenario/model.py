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
from bouncesim.scenario.base import Conflict, Frozen, Impedance, not_passive
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
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.measured import Measured

__all__ = [
    "Antenna",
    "Beat",
    "Claim",
    "Element",
    "Keying",
    "Line",
    "Meter",
    "Network",
    "Part",
    "Scenario",
    "Stub",
    "Transformer",
    "Transmitter",
    "Tuner",
    "flat_parts",
]


class Transmitter(Frozen):
    """A linear source: an EMF behind `source_impedance_ohm` (real, 0 or 1 ohm to 100 kohm; the rated load unless given)."""

    frequency_hz: Annotated[float, Measured("frequency", least=1.0, most=1e11)] = Field(validation_alias="frequency")
    # key-down carrier power that it delivers into its rated load
    power_w: Annotated[float, Measured("power", above=0, most=1e9)] = Field(validation_alias="power")
    rated_load_ohm: Impedance = Field(default=50.0, validation_alias="rated_load")
    source_impedance_ohm: Annotated[float, Measured("impedance", least=0, most=1e5)] = Field(
        default_factory=lambda given: given.get("rated_load_ohm", 50.0), validation_alias="source_impedance"
    )
    behaviour: Literal["linear"] = "linear"

    @property
    def emf_v_peak(self) -> float:
        """Peak EMF: power = 1/2 |Vs|^2 R0/(Zs + R0)^2 into the rated load R0."""
        r0 = self.rated_load_ohm
        return math.sqrt(2 * self.power_w / r0) * (self.source_impedance_ohm + r0)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """Between 0 and 1 ohm a source is neither ideal nor worth stepping in time."""
        impedance = given.get("source_impedance_ohm", 0.0)
        if 0 < impedance < 1:
            yield (
                "source_impedance",
                f"{show(impedance, 'ohm')} is neither 0 nor at least 1 ohm",
                'Write "0 ohm" for an ideal source, or 1 ohm to 100 kohm',
            )


class Keying(Frozen):
    """How the carrier's envelope rises from nothing; `rise_s` is the whole rise, 0 for a step."""

    shape: Literal["step", "linear", "raised-cosine"] = "raised-cosine"
    rise_s: Annotated[float, Measured("time", least=0, most=1.0)] = Field(default=0.0, validation_alias="rise")

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A step has no rise; the other shapes need one."""
        shape, rise = given.get("shape", "raised-cosine"), given.get("rise_s")
        if shape == "step" and rise:
            yield "rise", f"a step has no rise, but {show(rise, 's')} is given", 'Leave "rise" out, or choose shape = "raised-cosine"'
        if shape in ("linear", "raised-cosine") and not rise:
            reason = "is missing" if rise is None else f"a {shape} rise of 0 s is a step"
            yield "rise", reason, 'Give the time of the whole rise, for example "4 us", or write shape = "step"'


class Antenna(Frozen):
    """The load at the end of the path: its impedance at the carrier, realised as R, L or C in series or in parallel."""

    impedance_ohm: Annotated[complex, Measured("impedance", is_complex=True, example="25 - 60j ohm")] = Field(validation_alias="impedance")
    form: Literal["series", "parallel"] = "series"

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """An antenna gives nothing back, and no parallel circuit is a short circuit."""
        impedance = given.get("impedance_ohm")
        if impedance is None:
            return
        yield from not_passive(impedance, "impedance", "antenna")
        if impedance == 0 and given.get("form") == "parallel":
            yield "form", "0 ohm cannot be made of parallel parts", 'Write form = "series"'


class Claim(Frozen):
    """A statement about one reading, to be judged: a range, or a value with how near it must come."""

    says: str
    quantity: str  # such as "antenna.power_w": see scenario.vocabulary
    at_least: float | None = None
    at_most: float | None = None
    about: float | None = None
    within: float | None = None

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
    lasts_s: Annotated[float, Measured("time", above=0, most=600, example="3 s")] = Field(validation_alias="lasts")
    caption: str = Field(max_length=300)


class Scenario(Frozen):
    """A station and its story."""

    title: str
    about: str = ""
    direction: Literal["transmit"] = "transmit"
    transmitter: Transmitter
    keying: Keying = Field(default_factory=lambda given: Keying(rise_s=2 / given["transmitter"].frequency_hz))
    path: tuple[Part, ...]
    antenna: Antenna
    claims: tuple[Claim, ...] = Field(default=(), validation_alias="claim")
    beats: tuple[Beat, ...] = Field(default=(), validation_alias="beat")

    @field_validator("path")
    @classmethod
    def _named(cls, path: tuple[Part, ...]) -> tuple[Part, ...]:
        return named(path)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A wave needs a line, a reading a name of its own, and a stub an end in sight."""
        path = given.get("path")
        if path is None:
            return
        if not any(isinstance(part, Line) for part in path):
            yield "path", "there is no line in the path", 'Add a part = "line"'
        names = [part.name for part in flat_parts(path)]
        for name in sorted({name for name in names if names.count(name) > 1}):
            yield "path", f'two parts are named "{name}"', "Give each part a name of its own"
        for stub in (part for part in flat_parts(path) if isinstance(part, Stub)):
            if any(isinstance(part, Tuner) for part in stub.path):
                yield "path", f'there is a tuner in the stub "{stub.name}"', "A tuner stands in the path itself; in a stub, use a network"
            if all(isinstance(part, Meter) for part in stub.path):
                yield "path", f'there is nothing in the stub "{stub.name}"', "Give it a line or a network at least"
        if depth(path) > DEEPEST_STUB:
            yield "path", f"stubs are nested {depth(path)} deep", f"Allowed: at most {DEEPEST_STUB} deep"

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines of the path in their order from the transmitter; those inside stubs are not among them."""
        return tuple(part for part in self.path if isinstance(part, Line))

    @property
    def all_lines(self) -> tuple[Line, ...]:
        """Every line, those inside stubs too, in the order in which one comes past them."""
        return tuple(part for part in flat_parts(self.path) if isinstance(part, Line))

    def to_json(self) -> str:
        """The scenario in SI, with the names of the fields; `from_json` gives back an equal one."""
        return self.model_dump_json(indent=1)

    @classmethod
    def from_json(cls, text: str) -> Scenario:
        """The scenario that `to_json` wrote. Raises pydantic.ValidationError (a ValueError)."""
        return cls.model_validate_json(text)
