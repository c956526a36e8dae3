"""The parts of the path, but for the line itself (scenario.feedline)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from bouncesim.quantity import show
from bouncesim.scenario.base import Capacitor, Coil, Conflict, Frozen, Impedance, not_passive
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.names import Unnamed, automatic_names

DEEPEST_STUB = 3  # stubs inside stubs: a stub, one on it, and one on that


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
    # None: a perfect instrument
    directivity_db: Annotated[float, Measured("ratio", above=0, most=100, example="30 dB")] | None = Field(
        default=None, validation_alias="directivity"
    )


class Tuner(Frozen):
    """A tuner that is still to be set for the carrier, so that the transmitter sees its rated load.

    L: one coil, one capacitor. pi: capacitors in shunt, a coil in series between them. T: capacitors in series, a coil in shunt between
    them; pi and T have a setting to choose, and take the one with the least heat within the ranges of their parts.
    """

    part: Literal["tuner"] = "tuner"
    name: str = ""
    shape: Literal["L", "pi", "T"] = "L"
    kind: Literal["least heat", "series coil", "series capacitor"] = "least heat"
    coil_q: Annotated[float, Measured(least=1, most=1e6, example="200")] | None = None  # None: lossless
    capacitor_q: Annotated[float, Measured(least=1, most=1e6, example="1000")] | None = None
    largest_coil_h: Coil | None = Field(default=None, validation_alias="largest_coil")
    largest_capacitor_f: Capacitor | None = Field(default=None, validation_alias="largest_capacitor")
    smallest_capacitor_f: Annotated[float, Measured("capacitance", least=0, most=1.0, example="12 pF")] | None = Field(
        default=None, validation_alias="smallest_capacitor"
    )

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """Only an L comes in two kinds, and a range runs from small to large."""
        shape, kind = given.get("shape", "L"), given.get("kind", "least heat")
        if shape in ("pi", "T") and kind in ("series coil", "series capacitor"):
            yield "kind", f"a {shape} has no kinds to choose from", "Leave it out: the setting with the least heat is taken"
        smallest, largest = given.get("smallest_capacitor_f"), given.get("largest_capacitor_f")
        if smallest is not None and largest is not None and smallest >= largest:
            reason = f"{show(smallest, 'F')} is not below the largest, {show(largest, 'F')}"
            yield "smallest_capacitor", reason, "Give the range of the variable capacitors, from smallest_capacitor to largest_capacitor"


class Transformer(Frozen):
    """A transformer or balun: winding resistance and leakage inductance in series, then magnetising inductance and core resistance in
    shunt, all on the transmitter's side, then the ideal ratio. An impedance Z behind that ratio looks like Z/impedance_ratio in front."""

    part: Literal["transformer"] = "transformer"
    name: str = ""
    # antenna's side : transmitter's side, 4 for a 1:4 balun
    impedance_ratio: Annotated[float, Measured(least=1e-4, most=1e4)] = Field(validation_alias="ratio")
    leakage_inductance_h: Annotated[float, Measured("inductance", least=0, most=100)] = Field(
        default=0.0, validation_alias="leakage_inductance"
    )
    magnetising_inductance_h: Coil | None = Field(default=None, validation_alias="magnetising_inductance")  # None: without bound
    winding_resistance_ohm: Annotated[float, Measured("impedance", least=0, most=1e6)] = Field(
        default=0.0, validation_alias="winding_resistance"
    )
    core_resistance_ohm: Annotated[float, Measured("impedance", above=0, most=1e9)] | None = Field(
        default=None, validation_alias="core_resistance"
    )  # None: without bound


class Stub(Frozen):
    """A branch in shunt across the path: its own parts, then its end."""

    part: Literal["stub"] = "stub"
    name: str = ""
    path: tuple[Part, ...]
    # or an impedance at the carrier (ohm), realised in series form
    end: Literal["open", "short"] | Annotated[complex, Measured("impedance", is_complex=True, example="50 - 20j ohm")]

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A stub gives nothing back."""
        end = given.get("end")
        if isinstance(end, complex):
            yield from not_passive(end, "end", "stub's end")


class Network(Frozen):
    """Explicit elements in order from the transmitter; a tuner once set is one of these."""

    part: Literal["network"] = "network"
    name: str = ""
    elements: tuple[Element, ...]
    is_tuner: bool = False


Part = Annotated[Meter | Tuner | Network | Line | Transformer | Stub, Field(discriminator="part")]
Stub.model_rebuild()


def flat_parts(path: tuple[Part, ...]) -> Iterator[Part]:
    """Every part in the order of the path, a stub before the parts inside it."""
    for part in path:
        yield part
        if isinstance(part, Stub):
            yield from flat_parts(part.path)


def depth(path: tuple[Part, ...]) -> int:
    """How deep stubs are nested: 0 without any, 1 where none holds another."""
    return max((1 + depth(part.path) for part in path if isinstance(part, Stub)), default=0)


def named(path: tuple[Part, ...]) -> tuple[Part, ...]:
    """The parts with a name each, those inside stubs too: the given one, or an automatic one."""
    return _renamed(path, iter(automatic_names(_unnamed(path))))


def _unnamed(path: tuple[Part, ...]) -> tuple[Unnamed, ...]:
    kinds = ["tuner" if isinstance(part, Network) and part.is_tuner else part.part for part in path]
    return tuple(
        Unnamed(kind, part.name, _unnamed(part.path) if isinstance(part, Stub) else ()) for kind, part in zip(kinds, path, strict=True)
    )


def _renamed(path: tuple[Part, ...], names: Iterator[str]) -> tuple[Part, ...]:
    renamed: list[Part] = []
    for part in path:
        update: dict[str, Any] = {"name": next(names)}
        if isinstance(part, Stub):
            update["path"] = _renamed(part.path, names)
        renamed.append(part.model_copy(update=update))
    return tuple(renamed)
