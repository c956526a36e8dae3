"""A line of the path."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from bouncesim.scenario import lines
from bouncesim.scenario.base import Conflict, Frozen, Impedance
from bouncesim.scenario.measured import Measured


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
