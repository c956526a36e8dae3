"""The station, frozen, in SI units. (Reading TOML is the reader's business.)"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Transmitter(Frozen):
    """A linear source: EMF behind `source_impedance_ohm` (real, 0 or 1 ohm to 100 kohm)."""

    frequency_hz: float
    power_w: float  # key-down carrier power that it delivers into its rated load
    rated_load_ohm: float = 50.0
    source_impedance_ohm: float = 50.0
    behaviour: Literal["linear"] = "linear"

    @property
    def emf_v_peak(self) -> float:
        """Peak EMF: power = 1/2 |Vs|^2 R0/(Zs + R0)^2 into the rated load R0."""
        r0 = self.rated_load_ohm
        return (2 * self.power_w / r0) ** 0.5 * (self.source_impedance_ohm + r0)


class Keying(Frozen):
    shape: Literal["step", "linear", "raised-cosine"] = "raised-cosine"
    rise_s: float = 0.0


class Element(Frozen):
    """One lumped element, in series with the path or in shunt across it; its loss is a resistance in series with it."""

    position: Literal["series", "shunt"]
    kind: Literal["inductor", "capacitor", "resistor"]
    value: float  # H, F or ohm
    loss_ohm: float = 0.0


class Meter(Frozen):
    part: Literal["meter"] = "meter"
    name: str
    reference_ohm: float = 50.0


class Tuner(Frozen):
    """An L tuner that is still to be set for the carrier, so that the transmitter sees its rated load."""

    part: Literal["tuner"] = "tuner"
    name: str
    shape: Literal["L"] = "L"
    kind: Literal["least heat", "series coil", "series capacitor"] = "least heat"
    coil_q: float | None = None  # None: lossless
    capacitor_q: float | None = None


class Network(Frozen):
    """Explicit elements in order from the transmitter; a tuner once set is one of these."""

    part: Literal["network"] = "network"
    name: str
    elements: tuple[Element, ...]
    is_tuner: bool = False


class Line(Frozen):
    """A uniform line. Constants a metre; `impedance_ohm` etc. are what the user said, see scenario.lines."""

    part: Literal["line"] = "line"
    name: str
    length_m: float
    # to be completed by the reader's author: short form (impedance, velocity factor, loss) or R, L, C, G a metre


Part = Annotated[Meter | Tuner | Network | Line, Field(discriminator="part")]


class Antenna(Frozen):
    impedance_ohm: complex  # at the carrier
    form: Literal["series", "parallel"] = "series"


class Claim(Frozen):
    says: str
    quantity: str
    at_least: float | None = None
    at_most: float | None = None
    about: float | None = None
    within: float | None = None


class Beat(Frozen):
    until: str | float  # a named moment, or seconds
    lasts_s: float
    caption: str


class Scenario(Frozen):
    title: str
    about: str = ""
    direction: Literal["transmit"] = "transmit"
    transmitter: Transmitter
    keying: Keying
    path: tuple[Part, ...]
    antenna: Antenna
    claims: tuple[Claim, ...] = ()
    beats: tuple[Beat, ...] = ()
