"""The station, frozen, in SI units.

The same classes serve Python (fields by name, SI numbers) and files (the shorter key of each field, quantities with their units, read
by scenario.reader with the kinds and ranges that stand here). `conflicts` of a class finds what is wrong between its fields; it sees
whatever fields could be read, so that a file gets all its problems at once, and it is asked again whenever a model is built.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from bouncesim.quantity import QuantityError, show
from bouncesim.scenario import lines
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.names import automatic_names

Conflict = tuple[str, str, str]  # the field's key ("" for the whole table), the reason, the remedy
Impedance = Annotated[float, Measured("impedance", above=0, most=1e6)]


class Frozen(BaseModel):
    """A table of the scenario: frozen, and no key beyond those of the class."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """What is wrong between fields. `given`: the fields that were given, by name; one that could not be read stands in as nan, as
        every comparison with nan is false."""
        yield from ()

    @model_validator(mode="after")
    def _agrees(self) -> Frozen:
        found = list(self.conflicts({name: getattr(self, name) for name in type(self).model_fields}))
        if found:
            raise QuantityError("; ".join(f"{key}: {reason}" if key else reason for key, reason, _ in found), found[0][2])
        return self


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


class Element(Frozen):
    """One lumped element, in series with the path or in shunt across it; its loss is a resistance in series with it."""

    position: Literal["series", "shunt"]
    kind: Literal["inductor", "capacitor", "resistor"]
    value: Annotated[float, Measured(above=0, most=1e9)]  # H, F or ohm
    loss_ohm: Annotated[float, Measured("impedance", least=0, most=1e9)] = 0.0

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A resistor is all loss already."""
        if given.get("kind") == "resistor" and given.get("loss_ohm"):
            yield "loss_resistance", "a resistor takes no further loss", "Leave it out"


class Meter(Frozen):
    """A directional wattmeter: takes nothing, changes nothing."""

    part: Literal["meter"] = "meter"
    name: str = ""
    reference_ohm: Impedance = Field(default=50.0, validation_alias="reference")
    directivity_db: float | None = None  # None: a perfect instrument


class Tuner(Frozen):
    """A tuner that is still to be set for the carrier, so that the transmitter sees its rated load.

    L: one coil, one capacitor. pi: capacitors in shunt, a coil in series between them. T: capacitors in series, a coil in shunt between
    them; pi and T have a setting to choose, and take the one with the least heat within the ranges of their parts.
    """

    part: Literal["tuner"] = "tuner"
    name: str = ""
    shape: Literal["L", "pi", "T"] = "L"
    kind: Literal["least heat", "series coil", "series capacitor"] = "least heat"
    coil_q: Annotated[float, Measured(above=0, most=1e6, example="200")] | None = None  # None: lossless
    capacitor_q: Annotated[float, Measured(above=0, most=1e6, example="1000")] | None = None
    largest_coil_h: float | None = None
    largest_capacitor_f: float | None = None
    smallest_capacitor_f: float | None = None


class Transformer(Frozen):
    """A transformer or balun, from the transmitter: winding resistance and leakage inductance in series, magnetising inductance and core
    resistance in shunt (all on the transmitter's side), then the ideal ratio: an impedance Z behind it looks like Z/impedance_ratio in front."""

    part: Literal["transformer"] = "transformer"
    name: str = ""
    impedance_ratio: float  # antenna's side : transmitter's side, 4 for a 1:4 balun
    leakage_inductance_h: float = 0.0
    magnetising_inductance_h: float | None = None  # None: without bound
    winding_resistance_ohm: float = 0.0
    core_resistance_ohm: float | None = None  # None: without bound


class Stub(Frozen):
    """A branch in shunt across the path: its own parts, then its end."""

    part: Literal["stub"] = "stub"
    name: str = ""
    path: tuple[Part, ...]
    end: Literal["open", "short"] | complex  # or an impedance at the carrier (ohm), realised in series form


class Network(Frozen):
    """Explicit elements in order from the transmitter; a tuner once set is one of these."""

    part: Literal["network"] = "network"
    name: str = ""
    elements: tuple[Element, ...]
    is_tuner: bool = False


class Line(Frozen):
    """A uniform line, under one of two laws: nominal (impedance, velocity factor, matched loss) or its four constants a metre."""

    part: Literal["line"] = "line"
    name: str = ""
    length_m: Annotated[float, Measured("length", above=0, most=1e6)] = Field(validation_alias="length")
    impedance_ohm: Impedance | None = Field(default=None, validation_alias="impedance")
    velocity_factor: Annotated[float, Measured(above=0, most=1, example="0.66")] | None = None
    loss_db_per_m: Annotated[float, Measured("loss", least=0, most=1e3)] = Field(default=0.0, validation_alias="loss")
    loss_at_hz: Annotated[float, Measured("frequency", least=1.0, most=1e11)] | None = Field(default=None, validation_alias="loss_at")
    dielectric_share: Annotated[float, Measured(least=0, most=1, example="0.1")] = 0.0  # of the loss, at the frequency of the loss
    resistance_ohm_per_m: Annotated[float, Measured("resistance of a line", least=0, most=1e9)] = Field(
        default=0.0, validation_alias="resistance"
    )
    inductance_h_per_m: Annotated[float, Measured("inductance of a line", above=0, most=1e3)] | None = Field(
        default=None, validation_alias="inductance"
    )
    conductance_s_per_m: Annotated[float, Measured("conductance of a line", least=0, most=1e9)] = Field(
        default=0.0, validation_alias="conductance"
    )
    capacitance_f_per_m: Annotated[float, Measured("capacitance of a line", above=0, most=1e3)] | None = Field(
        default=None, validation_alias="capacitance"
    )

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A line is described in one way, and completely."""
        nominal = [key for name, key in _NOMINAL.items() if given.get(name)]
        constants = [key for name, key in _CONSTANTS.items() if given.get(name)]
        if nominal and constants:
            yield "", f"the line is described in two ways ({', '.join(nominal)}, and {', '.join(constants)})", _ONE_WAY
        elif not nominal and not constants:
            yield "", "the line has a length but no properties", _ONE_WAY
        else:
            needed = ("impedance", "velocity_factor") if nominal else ("inductance", "capacitance")
            for key in needed:
                if key not in (nominal or constants):
                    yield key, "is missing", f"A line with {(nominal or constants)[0]} needs {needed[0]} and {needed[1]}"
        if given.get("loss_at_hz") and "loss_db_per_m" not in given:
            yield "loss_at", "is given without a loss", 'Add loss, for example "2.2 dB/100 m", or leave loss_at out'

    def loss_and_share(self, frequency_hz: float) -> tuple[float, float]:
        """Of the nominal law: matched loss (dB/m) and the dielectric's share of it at a frequency."""
        return lines.loss_at(frequency_hz, self.loss_at_hz or frequency_hz, self.loss_db_per_m, self.dielectric_share)

    def constants(self, frequency_hz: float) -> lines.LineConstants:
        """Constants a metre that hold at (and near) the carrier `frequency_hz`."""
        if self.inductance_h_per_m is not None and self.capacitance_f_per_m is not None:
            return lines.LineConstants(
                self.resistance_ohm_per_m, self.inductance_h_per_m, self.conductance_s_per_m, self.capacitance_f_per_m
            )
        assert self.impedance_ohm is not None, "by conflicts"
        assert self.velocity_factor is not None, "by conflicts"
        return lines.nominal_constants(self.impedance_ohm, self.velocity_factor, *self.loss_and_share(frequency_hz), frequency_hz)


_NOMINAL = {
    "impedance_ohm": "impedance",
    "velocity_factor": "velocity_factor",
    "loss_db_per_m": "loss",
    "loss_at_hz": "loss_at",
    "dielectric_share": "dielectric_share",
}
_CONSTANTS = {
    "resistance_ohm_per_m": "resistance",
    "inductance_h_per_m": "inductance",
    "conductance_s_per_m": "conductance",
    "capacitance_f_per_m": "capacitance",
}
_ONE_WAY = "Give either impedance, velocity_factor and loss, or resistance, inductance, conductance and capacitance"

Part = Annotated[Meter | Tuner | Network | Line | Transformer | Stub, Field(discriminator="part")]
Stub.model_rebuild()


def flat_parts(path: tuple[Part, ...]) -> Iterator[Part]:
    """Every part in the order of the path, a stub before the parts inside it."""
    for part in path:
        yield part
        if isinstance(part, Stub):
            yield from flat_parts(part.path)


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
        if impedance.real < 0:
            reason = f"a resistance of {show(impedance.real, 'ohm')} would make the antenna a source of power"
            yield "impedance", reason, "Allowed: a resistance of 0 ohm or more"
        if abs(impedance) > 1e9:
            yield "impedance", f"{show(abs(impedance), 'ohm')} is too large", "Allowed: up to 1 Gohm"
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
    def _named(cls, path: tuple[Meter | Tuner | Network | Line, ...]) -> tuple[Meter | Tuner | Network | Line, ...]:
        kinds = ["tuner" if isinstance(part, Network) and part.is_tuner else part.part for part in path]
        names = automatic_names(kinds, [part.name or None for part in path])
        return tuple(part.model_copy(update={"name": name}) for part, name in zip(path, names, strict=True))

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A wave needs a line, and a reading needs a name of its own."""
        path = given.get("path")
        if path is not None and not any(isinstance(part, Line) for part in path):
            yield "path", "there is no line in the path", 'Add a part = "line"'
        names = [part.name for part in path or ()]
        for name in sorted({name for name in names if names.count(name) > 1}):
            yield "path", f'two parts are named "{name}"', "Give each part a name of its own"

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
