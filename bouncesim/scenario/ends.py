"""What stands at the two ends of a station: transmitter, antenna, receiver."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from bouncesim.quantity import show
from bouncesim.scenario.base import Conflict, Frozen, Impedance, misplaced, not_passive
from bouncesim.scenario.components import Element
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.oneport import Joined, Lumped, OnePort
from bouncesim.scenario.sweep import Sweep

NEGLIGIBLE = 1e-15  # of an impedance: a part this small is below its rounding
LEAST_DRIVE = 1e-6  # of a level control, which changes the drive by shares of itself: from nothing it could raise nothing
FOLD_BACK_SWR = 2.0  # where a fold-back sets in unless told otherwise (common practice, no source)

_Time = Measured("time", above=0, most=10.0, example="50 us")
_Power = Measured("power", above=0, most=1e9)


class Transmitter(Frozen):
    """An EMF behind `source_impedance_ohm` (real, 0 or 1 ohm to 100 kohm; the rated load unless given), and what controls its drive.

    linear: nothing does. fold-back: the drive is lowered until the reflected reading is down to `threshold_w`, but not below `floor`.
    level-controlled: the drive is raised or lowered until the reading that it `holds` is at `level_w`, up to `drive_limit_db`.
    isolated: linear, its source impedance the rated load; what returns ends in a dump load.
    """

    frequency_hz: Annotated[float, Measured("frequency", least=100.0, most=1e11)] = Field(validation_alias="frequency")
    # key-down carrier power that it delivers into its rated load
    power_w: Annotated[float, _Power] = Field(validation_alias="power")
    # at least 1 ohm, as a source that looks like it has to be
    rated_load_ohm: Annotated[float, Measured("impedance", least=1, most=1e5)] = Field(default=50.0, validation_alias="rated_load")
    source_impedance_ohm: Annotated[float, Measured("impedance", least=0, most=1e5)] = Field(
        default_factory=lambda given: given.get("rated_load_ohm", 50.0), validation_alias="source_impedance"
    )
    behaviour: Literal["linear", "fold-back", "level-controlled", "isolated"] = "linear"
    # fold-back: reflected power where it sets in; None: that of SWR 2 at the rated power
    threshold_w: Annotated[float, _Power] | None = Field(default=None, validation_alias="threshold")
    floor: Annotated[float, Measured(above=0, most=1, example="0.1")] = 0.1  # least share of the full drive power
    holds: Literal["forward", "delivered"] = "forward"
    level_w: Annotated[float, _Power] | None = Field(default=None, validation_alias="level")  # None: the rated power
    # the most that a level control may drive above what the rated power takes
    drive_limit_db: Annotated[float, Measured("ratio", least=0, most=20, example="3 dB")] = Field(
        default=3.0, validation_alias="drive_limit"
    )
    # time constants of lowering and of raising the drive
    attack_s: Annotated[float, _Time] = Field(default=50e-6, validation_alias="attack")
    release_s: Annotated[float, _Time] = Field(default=200e-6, validation_alias="release")

    @property
    def emf_v_peak(self) -> float:
        """Peak EMF at full drive: power = 1/2 |Vs|^2 R0/(Zs + R0)^2 into the rated load R0."""
        r0 = self.rated_load_ohm
        return math.sqrt(2 * self.power_w / r0) * (self.source_impedance_ohm + r0)

    @property
    def is_controlled(self) -> bool:
        """True where the drive depends on a reading."""
        return self.behaviour in _CONTROLLED

    @property
    def held_w(self) -> float:
        """The power that a control holds its reading to: threshold or level."""
        if self.behaviour == "fold-back":
            rho = (FOLD_BACK_SWR - 1) / (FOLD_BACK_SWR + 1)
            return self.power_w * rho**2 if self.threshold_w is None else self.threshold_w
        return self.power_w if self.level_w is None else self.level_w

    @property
    def drive_range(self) -> tuple[float, float]:
        """Least and most drive, as shares of the power that the EMF at full drive stands for."""
        if self.behaviour == "fold-back":
            return self.floor, 1.0
        return (LEAST_DRIVE, 10 ** (self.drive_limit_db / 10)) if self.behaviour == "level-controlled" else (1.0, 1.0)

    @property
    def held_weights(self) -> tuple[float, float]:
        """The reading that a control looks at, as weights of forward and reflected power."""
        if self.behaviour == "fold-back":
            return 0.0, 1.0
        return (1.0, 0.0) if self.holds == "forward" else (1.0, -1.0)

    def drive_at_rest(self, forward_w: float, reflected_w: float) -> float:
        """The drive (a share of the full power) at which the control comes to rest, from the readings at full drive: all of them are in
        proportion to it, so it is held power/reading, as far as its range allows."""
        least, most = self.drive_range
        reading = self.held_weights[0] * forward_w + self.held_weights[1] * reflected_w
        return most if reading * most <= self.held_w else max(least, self.held_w / reading)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """Between 0 and 1 ohm a source is neither ideal nor worth stepping in time; a control needs a source that can be told."""
        impedance = given.get("source_impedance_ohm", given.get("rated_load_ohm", 50.0))
        behaviour = given.get("behaviour", "linear")
        yield from misplaced(given, "behaviour", behaviour, _OWNERS)
        if 0 < impedance < 1:
            yield (
                "source_impedance",
                f"{show(impedance, 'ohm')} is neither 0 nor at least 1 ohm",
                'Write "0 ohm" for an ideal source, or 1 ohm to 100 kohm',
            )
        if impedance == 0 and behaviour in _CONTROLLED:
            yield "source_impedance", f"a {behaviour} transmitter cannot be an ideal source", 'Give it an impedance, for example "50 ohm"'
        rated = given.get("rated_load_ohm", 50.0)
        if behaviour == "isolated" and impedance != rated and impedance == impedance and rated == rated:
            reason = f"an isolated transmitter looks like its rated load, {show(rated, 'ohm')}, not like {show(impedance, 'ohm')}"
            yield "source_impedance", reason, "Leave it out"


_CONTROLLED = ("fold-back", "level-controlled")
_OWNERS = {  # of the fields that only some behaviours have
    "threshold_w": ("threshold", ("fold-back",)),
    "floor": ("floor", ("fold-back",)),
    "holds": ("holds", ("level-controlled",)),
    "level_w": ("level", ("level-controlled",)),
    "drive_limit_db": ("drive_limit", ("level-controlled",)),
    "attack_s": ("attack", _CONTROLLED),
    "release_s": ("release", _CONTROLLED),
}


class Dipole(Frozen):
    """A straight, centre-fed doublet in free space: length over all, diameter of the wire, gap at the feed point."""

    length_m: Annotated[float, Measured("length", least=1e-3, most=2000)] = Field(validation_alias="length")
    wire_m: Annotated[float, Measured("length", least=1e-5, most=1, example="2 mm")] = Field(validation_alias="wire")
    gap_m: Annotated[float, Measured("length", least=1e-5, most=10, example="40 mm")] = Field(default=0.02, validation_alias="gap")

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """The wire is thin and the gap small."""
        length, wire, gap = (given.get(name, math.nan) for name in ("length_m", "wire_m", "gap_m"))
        if wire > length / 50:
            yield "wire", f"{show(wire, 'm')} is no thin wire at a length of {show(length, 'm')}", "Allowed: up to a fiftieth of the length"
        if gap > length / 10:
            yield "gap", f"{show(gap, 'm')} is no small gap at a length of {show(length, 'm')}", "Allowed: up to a tenth of the length"


class Antenna(Frozen):
    """The end of the path, told in one of five ways: its impedance at the carrier, its elements, a doublet, a measured file, an SWR alone.

    Before a station is solved, every way is turned into `impedance_ohm` and, where that says too little, `circuit`.
    """

    impedance_ohm: Annotated[complex, Measured("impedance", is_complex=True, example="25 - 60j ohm")] | None = Field(
        default=None, validation_alias="impedance"
    )
    form: Literal["series", "parallel"] = "series"
    # in order from the feed line; the last is in shunt and closes the circuit
    elements: tuple[Element, ...] = ()
    dipole: Dipole | None = None
    touchstone: str | None = None  # a one-port file in the folder of the scenario
    measurement: Sweep | None = None  # what that file holds
    swr: Annotated[float, Measured(least=1, most=1000, example="3.2")] | None = None  # on the line that feeds it; its phase is unknown
    measured_at: Literal["antenna", "transmitter end"] = "antenna"  # where the impedance or the file was measured
    # how far off the measured impedance may be, as a share of it
    measured_within: Annotated[float, Measured(least=0, most=0.5, example="0.02")] = 0.0
    # the part of the resistance that makes heat, in series at the feed point; of a doublet, on top of what it radiates
    loss_resistance_ohm: Annotated[float, Measured("impedance", least=0, most=1e6)] = Field(default=0.0, validation_alias="loss_resistance")
    circuit: OnePort | None = None  # what the impedance is made of, once it is known
    heat_in_circuit: float = 0.0  # the share of its power that makes heat at the carrier
    circuit_off: float = 0.0  # of a circuit over a band: its largest relative error

    @classmethod
    def computed(cls, impedance_ohm: complex, **fields: Any) -> Antenna:
        """One whose impedance (ohm) was worked out, and may be beyond what a person may give."""
        return cls(impedance_ohm=0j).model_copy(update={"impedance_ohm": impedance_ohm, **fields})

    @property
    def at_carrier_ohm(self) -> complex:
        """The impedance at the carrier. Raises ValueError if the antenna is not resolved yet."""
        if self.impedance_ohm is None:
            raise ValueError("the antenna must be resolved before its impedance is asked for")
        return self.impedance_ohm

    @property
    def heat_share(self) -> float:
        """The share of the antenna's power at the carrier that makes heat."""
        if self.circuit is not None:
            return self.heat_in_circuit
        return self.loss_resistance_ohm / self.at_carrier_ohm.real if self.loss_resistance_ohm else 0.0

    def port(self, omega: float) -> OnePort:
        """What it is made of; `omega` (rad/s) of the carrier turns reactances into coils and capacitors."""
        if self.circuit is not None:
            return self.circuit
        return port_of(self.at_carrier_ohm, self.form, omega, self.loss_resistance_ohm)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """One way to tell it; an antenna gives nothing back, and no parallel circuit is a short circuit."""
        impedance, circuit = given.get("impedance_ohm"), given.get("circuit")
        if circuit is None:
            yield from cls._told_once(given)
        loss = given.get("loss_resistance_ohm")
        if impedance is None:
            return
        yield from not_passive(impedance, "impedance", "antenna")
        if impedance == 0 and given.get("form") == "parallel":
            yield "form", "0 ohm cannot be made of parallel parts", 'Write form = "series"'
        if loss and loss > max(impedance.real, 0) and given.get("measured_at", "antenna") == "antenna":
            reason = f"{show(loss, 'ohm')} is more than the resistance of the antenna, {show(impedance.real, 'ohm')}"
            yield "loss_resistance", reason, "It is the part of that resistance that makes heat"

    @classmethod
    def _told_once(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """One way, with the fields that go with it."""
        told = [key for name, key in _WAYS.items() if name in given]
        if len(told) != 1:
            reason = f"the antenna is given in {len(told)} ways: {', '.join(told)}" if told else "says nothing about the antenna"
            yield (told[1] if told else "impedance"), reason, f"Give one of {', '.join(_WAYS.values())}"
            return
        (way,) = told
        for name, (key, ways) in _GO_WITH.items():
            if name in given and way not in ways:
                yield key, f"goes with {' or '.join(ways)}, and here the antenna is given by {way}", "Leave it out"
        if "loss_resistance_ohm" in given and given.get("form") == "parallel":
            reason = "an antenna in parallel form has no resistance in series to be part of"
            yield "loss_resistance", reason, "Leave it out, or give the impedance in series form"
        elements = given.get("elements")
        if isinstance(elements, tuple) and elements[-1].position == "series":
            yield "elements", "the last element is in series and leads nowhere", 'Write it as shunt = "..."'
        if way == "touchstone" and "measurement" not in given:
            yield "touchstone", "the file has not been read", "Load the scenario from a file, or give the measurement with it"


_WAYS = {"impedance_ohm": "impedance", "elements": "elements", "dipole": "dipole", "touchstone": "touchstone", "swr": "swr"}
_GO_WITH = {  # fields that do not go with every way
    "form": ("form", ("impedance",)),
    "measured_at": ("measured_at", ("impedance", "touchstone")),
    "measured_within": ("measured_within", ("impedance", "touchstone")),
    "measurement": ("measurement", ("touchstone",)),
    "loss_resistance_ohm": ("loss_resistance", ("impedance", "elements", "dipole", "touchstone")),
}


class Receiver(Frozen):
    """The load of a station that is driven from its antenna."""

    impedance_ohm: Impedance = Field(default=50.0, validation_alias="impedance")
    # what the antenna could give to a matched load; unless given, S9: -73 dBm (IARU Region 1 R.1)
    signal_w: Annotated[float, Measured("power", above=0, most=1.0, example="50 pW")] = Field(default=10**-10.3, validation_alias="signal")
    noise_figure_db: Annotated[float, Measured("ratio", least=0, most=60, example="10 dB")] = Field(
        default=10.0, validation_alias="noise_figure"
    )
    bandwidth_hz: Annotated[float, Measured("frequency", above=0, most=1e9, example="2.4 kHz")] = Field(
        default=500.0, validation_alias="bandwidth"
    )
    surroundings: Literal["city", "residential", "rural", "quiet rural"] = "rural"  # for external noise by ITU-R P.372


def port_of(impedance: complex, form: str, omega: float, loss_ohm: float = 0.0) -> OnePort:
    """An impedance at the carrier (rad/s) as R and L or C, in series or in parallel; none at all is a short circuit. `loss_ohm` of the
    resistance (series form) makes heat."""
    part = impedance if form == "series" or impedance == 0 else 1 / impedance
    found: list[OnePort] = []
    resistance = part.real - loss_ohm if form == "series" else part.real
    if resistance > NEGLIGIBLE * abs(part):
        found.append(Lumped(kind="resistor", value=resistance if form == "series" else 1 / resistance))
    if loss_ohm:
        found.append(Lumped(kind="resistor", value=loss_ohm, radiates=False))
    if abs(part.imag) > NEGLIGIBLE * abs(part):
        reactance = part.imag if form == "series" else -1 / part.imag
        kind, value = ("inductor", reactance / omega) if reactance > 0 else ("capacitor", -1 / (omega * reactance))
        found.append(Lumped(kind=kind, value=value))  # type: ignore[arg-type]
    return found[0] if len(found) == 1 else Joined(how="series" if form == "series" or not found else "parallel", members=tuple(found))
