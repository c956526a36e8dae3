"""A line of the path: how it may be described, and what follows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator

from bouncesim.quantity import QuantityError, show
from bouncesim.scenario import geometry, lines
from bouncesim.scenario.base import Conflict, Frozen, Impedance
from bouncesim.scenario.catalogue import LineType, catalogue
from bouncesim.scenario.measured import Measured

Diameter = Annotated[float, Measured("length", above=0, most=10.0, example="2 mm")]


class Line(Frozen):
    """A uniform line, described in one of five ways: a type of the catalogue; nominal figures (impedance, velocity factor, matched
    loss); its four constants a metre; two copper wires in air; copper coax."""

    part: Literal["line"] = "line"
    name: str = ""
    length_m: Annotated[float, Measured("length", above=0, most=1e6)] = Field(validation_alias="length")
    impedance_ohm: Impedance | None = Field(default=None, validation_alias="impedance")
    velocity_factor: Annotated[float, Measured(least=0.01, most=1, example="0.66")] | None = None
    loss_db_per_m: Annotated[float, Measured("loss", least=0, most=1e3)] = Field(default=0.0, validation_alias="loss")
    loss_at_hz: Annotated[float, Measured("frequency", least=100.0, most=1e11)] | None = Field(default=None, validation_alias="loss_at")
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
    type: str | None = None  # a name in the catalogue
    wire_diameter_m: Diameter | None = Field(default=None, validation_alias="wire_diameter")
    spacing_m: Annotated[float, Measured("length", above=0, most=100.0, example="15 cm")] | None = Field(
        default=None, validation_alias="spacing"
    )  # between the centres of the wires
    inner_diameter_m: Diameter | None = Field(default=None, validation_alias="inner_diameter")
    outer_diameter_m: Diameter | None = Field(default=None, validation_alias="outer_diameter")  # inner diameter of the outer conductor
    permittivity: Annotated[float, Measured(least=1, most=100, example="2.26")] | None = None  # relative
    loss_tangent: Annotated[float, Measured(least=0, most=0.5, example="0.0003")] = 0.0
    # "carrier": R and G constant, right at the carrier; "wideband": they follow skin effect and dielectric loss
    loss_law: Literal["carrier", "wideband"] = "carrier"

    @field_validator("type")
    @classmethod
    def _is_a_type(cls, name: str | None) -> str | None:
        if name is not None and name not in catalogue():
            raise QuantityError(f'"{name}" is not a type of line', f"Allowed: {', '.join(catalogue())}")
        return name

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A line is described in one way, and completely."""
        ways = {way: found for way, keys in _WAYS.items() if (found := [key for name, key in keys.items() if given.get(name)])}
        if not ways:
            yield "", "the line has a length but no properties", _ONE_WAY
        elif len(ways) > 1:
            yield "", f"the line is described in two ways ({', and '.join(', '.join(found) for found in ways.values())})", _ONE_WAY
        else:
            ((way, found),) = ways.items()
            for key in (key for key in _NEEDED[way] if key not in found):
                yield key, "is missing", f"A line with {found[0]} needs {_listed(_NEEDED[way])}"
        if given.get("loss_at_hz") and not given.get("loss_db_per_m"):
            yield "loss_at", "is given without a loss", 'Add loss, for example "2.2 dB/100 m", or leave loss_at out'
        inductance, capacitance = given.get("inductance_h_per_m"), given.get("capacitance_f_per_m")
        if inductance and capacitance and (factor := 1 / math.sqrt(inductance * capacitance) / lines.SPEED_OF_LIGHT) < SLOWEST:
            reason = f"with this capacitance, waves would go at {factor:.3g} of the speed of light"
            yield "inductance", reason, f"Allowed: {SLOWEST:g} and more, for example with 250 nH/m and 100 pF/m"
        if given.get("loss_law") == "wideband" and "constants" in ways:
            remedy = "Give impedance, velocity_factor and loss instead, a type, or dimensions"
            yield "loss_law", "a line given by its four constants has no wideband law", remedy
        for small, large in (("wire_diameter", "spacing"), ("inner_diameter", "outer_diameter")):
            low, high = given.get(f"{small}_m") or 0, given.get(f"{large}_m") or 0
            if 0 < high <= low:
                yield small, f"{show(low, 'm')} is not less than the {large} of {show(high, 'm')}", "The conductors would touch"

    def loss_and_share(self, frequency_hz: float) -> tuple[float, float]:
        """Of the nominal law: matched loss (dB/m) and the dielectric's share of it at a frequency."""
        return lines.loss_at(frequency_hz, self.loss_at_hz or frequency_hz, self.loss_db_per_m, self.dielectric_share)

    def constants(self, frequency_hz: float) -> lines.LineConstants:
        """Constants a metre that hold at the carrier `frequency_hz`; with loss_law "wideband", branches make them hold far around it."""
        exact = self._given_constants(frequency_hz)
        if exact is not None and self.loss_law == "carrier":
            return exact
        impedance, factor, conductor, dielectric = self._nominal(frequency_hz, exact)
        if self.loss_law == "wideband":
            from bouncesim.scenario.wideband import wideband_constants

            return wideband_constants(impedance, factor, conductor, dielectric, frequency_hz)
        loss = conductor + dielectric
        return lines.nominal_constants(impedance, factor, loss, dielectric / loss if loss else 0.0, frequency_hz)

    def _given_constants(self, frequency_hz: float) -> lines.LineConstants | None:
        """The constants where they are given or follow from dimensions."""
        if self.inductance_h_per_m is not None and self.capacitance_f_per_m is not None:
            return lines.LineConstants(
                self.resistance_ohm_per_m, self.inductance_h_per_m, self.conductance_s_per_m, self.capacitance_f_per_m
            )
        if self.wire_diameter_m is not None and self.spacing_m is not None:
            return geometry.open_wire(self.wire_diameter_m, self.spacing_m, frequency_hz)
        if self.inner_diameter_m is not None and self.outer_diameter_m is not None and self.permittivity is not None:
            return geometry.coax(self.inner_diameter_m, self.outer_diameter_m, self.permittivity, self.loss_tangent, frequency_hz)
        return None

    def _nominal(self, frequency_hz: float, exact: lines.LineConstants | None) -> tuple[float, float, float, float]:
        """Impedance (ohm), velocity factor, and matched loss in the conductors and in the dielectric (dB/m) at a frequency."""
        if exact is not None:  # to the first order in the loss: R/2 Z0 and G Z0/2
            impedance = exact.impedance_ohm
            conductor = lines.DB_PER_NEPER * exact.resistance / (2 * impedance)
            dielectric = lines.DB_PER_NEPER * exact.conductance * impedance / 2
            return impedance, exact.velocity / lines.SPEED_OF_LIGHT, conductor, dielectric
        if (kind := self.line_type) is not None:
            return kind.impedance_ohm, kind.velocity_factor, *kind.loss_parts_db_per_m(frequency_hz)
        assert self.impedance_ohm is not None, "by conflicts"
        assert self.velocity_factor is not None, "by conflicts"
        loss, share = self.loss_and_share(frequency_hz)
        return self.impedance_ohm, self.velocity_factor, loss * (1 - share), loss * share

    @property
    def line_type(self) -> LineType | None:
        """The type in the catalogue, if the line is described by one."""
        return None if self.type is None else catalogue()[self.type]

    @property
    def working_voltage_v_rms(self) -> float | None:
        """The voltage that the line's type is made for; None where it is not known."""
        return self.line_type.working_voltage_v_rms if self.line_type else None

    def notes(self, frequency_hz: float) -> tuple[str, ...]:
        """What to know before trusting the line's figures at a frequency, in sentences without a full stop; nothing for a line that is
        given by figures of its own."""
        if self.line_type is not None:
            return self.line_type.notes_at(frequency_hz)
        diameter = self.wire_diameter_m or self.inner_diameter_m
        if diameter is None:
            return ()
        found = ["Loss is computed for clean copper without spreaders, radiation and ground: a lower bound. Wet line loses more"]
        if self.inner_diameter_m:
            found = ["Loss is computed for smooth solid copper: strands and braid lose more, often by a third"]
        depth = geometry.skin_depth_m(frequency_hz)
        if diameter < THICK * depth:
            reason = f"The skin depth is {show(depth, 'm')}, and a conductor of {show(diameter, 'm')} is thin against it"
            found.append(f"{reason}: the true loss is well above the computed one")
        return tuple(found)


SLOWEST = 0.01  # of the speed of light: the least that a line's waves may have
THICK = 8  # skin depths in a diameter: there the surface resistance is 12 % below that of a round wire (exact: Bessel functions)
_WAYS: dict[str, dict[str, str]] = {
    "type": {"type": "type"},
    "nominal": {
        "impedance_ohm": "impedance",
        "velocity_factor": "velocity_factor",
        "loss_db_per_m": "loss",
        "loss_at_hz": "loss_at",
        "dielectric_share": "dielectric_share",
    },
    "constants": {
        "resistance_ohm_per_m": "resistance",
        "inductance_h_per_m": "inductance",
        "conductance_s_per_m": "conductance",
        "capacitance_f_per_m": "capacitance",
    },
    "open wire": {"wire_diameter_m": "wire_diameter", "spacing_m": "spacing"},
    "coax": {
        "inner_diameter_m": "inner_diameter",
        "outer_diameter_m": "outer_diameter",
        "permittivity": "permittivity",
        "loss_tangent": "loss_tangent",
    },
}
_NEEDED = {
    "type": ("type",),
    "nominal": ("impedance", "velocity_factor"),
    "constants": ("inductance", "capacitance"),
    "open wire": ("wire_diameter", "spacing"),
    "coax": ("inner_diameter", "outer_diameter", "permittivity"),
}
_ONE_WAY = (
    "Give one of: a type; impedance, velocity_factor and loss; resistance, inductance, conductance and capacitance; wire_diameter and "
    "spacing; inner_diameter, outer_diameter and permittivity"
)


def _listed(keys: tuple[str, ...]) -> str:
    """The keys as words: "a, b and c"."""
    return " and ".join(filter(None, (", ".join(keys[:-1]), keys[-1])))
