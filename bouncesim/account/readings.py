"""What a station reads in steady state: one set of dataclasses, filled by both engines.

Field names carry their unit as a suffix (`_w`, `_v_peak`, `_v_rms`, `_a_rms`, `_ohm`, `_s`, `_db`, `_m`); a name without a suffix
is a pure number. The account is NET power: forward and reflected power are readings and are never booked.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any, Literal

from bouncesim.errors import Diverged

RATIOS = ("swr", "loss_db", "impedance_ohm")  # readings that may be infinite


@dataclass(frozen=True)
class TransmitterReading:
    """At the transmitter's terminals; `swr` is against its rated load. For a station that receives: at the terminals of its antenna, which
    is the source, and `swr` against the line there."""

    power_w: float  # net power leaving the terminals
    impedance_ohm: complex  # the impedance that the transmitter sees
    swr: float
    voltage_v_rms: float
    current_a_rms: float
    drive: float = 1.0  # where a control of the drive comes to rest, as a share of the full power
    dump_load_w: float = 0.0  # heat in the dump load of an isolated transmitter


@dataclass(frozen=True)
class PartReading:
    """A tuner, network, transformer or stub; the power going into and out of it along the path, so that heat = power in - power out in
    steady state. A stub's heat is all that it takes: in its lines, its parts and its end. `coil_a_peak` and `capacitor_v_peak` are the
    largest among the elements of a tuner or network, 0 if it has none."""

    name: str
    power_in_w: float
    power_out_w: float
    heat_w: float
    coil_a_peak: float = 0.0
    capacitor_v_peak: float = 0.0


@dataclass(frozen=True)
class MeterReading:
    """A directional wattmeter of real reference impedance; forward - reflected is the true net power whatever the reference. `least` and
    `most` give the range that a real instrument may show (account.meters)."""

    name: str
    forward_w: float
    reflected_w: float
    swr: float
    reflected_least_w: float
    reflected_most_w: float
    swr_least: float
    swr_most: float


@dataclass(frozen=True)
class LineReading:
    """One line section. Forward and reflected refer to the real impedance sqrt(L/C) of the line (`reference_ohm`)."""

    name: str
    reference_ohm: float
    power_in_w: float
    power_out_w: float
    heat_w: float
    forward_in_w: float
    reflected_in_w: float
    forward_out_w: float
    reflected_out_w: float
    swr_in: float
    swr_out: float
    matched_loss_db: float
    loss_db: float  # as operated: 10 log10(power in / power out)
    largest_v_peak: float
    largest_v_at_m: float  # from the line's end nearest the transmitter; the nearest such place if several are equal
    largest_a_peak: float
    largest_a_at_m: float


@dataclass(frozen=True)
class AntennaReading:
    """At the antenna's terminals; `swr` is against sqrt(L/C) of the line that feeds it. For a station that receives: at those of its
    receiver."""

    power_w: float
    voltage_v_rms: float
    current_a_rms: float
    swr: float
    radiated_w: float = 0.0
    heat_w: float = 0.0  # in the antenna's loss resistance; power_w = radiated_w + heat_w


@dataclass(frozen=True)
class Echoes:
    """How the forward power on a single line builds up, carrier quasi-steady, echo by echo (exact side only)."""

    line: str
    reflection_at_input: complex  # looking toward the antenna from the line's input, against sqrt(L/C)
    reflection_looking_back: complex  # looking back toward the transmitter from the line's input, against sqrt(L/C)
    forward_after_round_trips_w: tuple[float, ...]  # at the line's input; entry n: after n round trips

    def numbers(self) -> dict[str, float]:
        """What claims and captions may name: the share of an echo's power that sets out again at each pass, the forward power of the first
        wave alone and of all of them together, and both reflections at the line's input, seen toward the antenna and looking back: where
        the real part is negative, a voltage turns over."""
        powers = self.forward_after_round_trips_w
        return {
            "sent_again": abs(self.reflection_looking_back) ** 2,
            "forward_first_w": powers[0],
            "forward_together_w": powers[-1],
            "from_antenna.real": self.reflection_at_input.real,
            "from_antenna.imag": self.reflection_at_input.imag,
            "looking_back.real": self.reflection_looking_back.real,
            "looking_back.imag": self.reflection_looking_back.imag,
        }


@dataclass(frozen=True)
class Readings:
    """Every steady-state reading of a station, parts in the order of the path."""

    transmitter: TransmitterReading
    networks: tuple[PartReading, ...]
    meters: tuple[MeterReading, ...]
    lines: tuple[LineReading, ...]
    antenna: AntennaReading
    echoes: Echoes | None = None
    # receive: `transmitter` is the antenna, which drives the station, and `antenna` is the receiver
    direction: Literal["transmit", "receive"] = "transmit"

    @property
    def ends(self) -> tuple[str, str]:
        """What the source and the load are called."""
        return ("transmitter", "antenna") if self.direction == "transmit" else ("antenna", "receiver")

    def flatten(self) -> dict[str, float]:
        """Every number under its path, such as `antenna.power_w` or `feed line.loss_db`; complex ones as `.real` and `.imag`."""
        flat: dict[str, float] = {}
        source, load = self.ends
        groups: list[tuple[str, Any]] = [(source, self.transmitter), (load, self.antenna)]
        parts: tuple[PartReading | MeterReading | LineReading, ...] = (*self.networks, *self.meters, *self.lines)
        groups += [(part.name, part) for part in parts]
        for name, group in groups:
            for field in dataclasses.fields(group):
                value = getattr(group, field.name)
                if isinstance(value, complex):
                    flat[f"{name}.{field.name}.real"] = value.real
                    flat[f"{name}.{field.name}.imag"] = value.imag
                elif not isinstance(value, str):
                    flat[f"{name}.{field.name}"] = float(value)
        return flat

    def driven(self, share: float) -> Readings:
        """The same station driven with `share` of the power: powers in proportion, voltages and currents as its root."""
        if share == 1.0:
            return self
        groups: dict[str, Any] = {
            name: tuple(_scaled(part, share) for part in getattr(self, name)) for name in ("networks", "meters", "lines")
        }
        ends: dict[str, Any] = {name: _scaled(getattr(self, name), share) for name in ("transmitter", "antenna")}
        ends["transmitter"] = dataclasses.replace(ends["transmitter"], drive=share)
        echoes = self.echoes and _scaled(self.echoes, share)
        return dataclasses.replace(self, echoes=echoes, **groups, **ends)

    def numbers(self) -> dict[str, float]:
        """`flatten`, what can be told of the echoes (`echoes.sent_again` and so on), and shares of the power that leaves the transmitter:
        `NAME.heat_share` of every part and line, `antenna.power_share`. Unlike the powers they do not depend on the transmitter."""
        echoes = self.echoes.numbers() if self.echoes else {}
        flat = self.flatten() | {f"echoes.{name}": value for name, value in echoes.items()}
        if self.transmitter.power_w > 0:
            heated: tuple[PartReading | LineReading, ...] = (*self.networks, *self.lines)
            flat |= {f"{part.name}.heat_share": part.heat_w / self.transmitter.power_w for part in heated}
            flat[f"{self.ends[1]}.power_share"] = self.antenna.power_w / self.transmitter.power_w
        return flat


def sound(readings: Readings) -> Readings:
    """The same readings, whichever engine they come from. Raises Diverged if one of them cannot be right: it is not a number, or infinite
    and no ratio of what may be nothing."""
    wrong = [
        name
        for name, value in readings.numbers().items()
        if math.isnan(value) or (math.isinf(value) and not any(ratio in name.split(".")[1] for ratio in RATIOS))
    ]
    if wrong:
        raise Diverged(f"no figure can be told: {', '.join(wrong[:3])}{' and others' * (len(wrong) > 3)} came out as no number")
    return readings


def _scaled(part: Any, share: float) -> Any:
    """One reading at another drive, by the suffixes of its fields."""
    change: dict[str, Any] = {}
    for field in dataclasses.fields(part):
        value, name = getattr(part, field.name), field.name
        factor = share if name.endswith("_w") else math.sqrt(share) if name.endswith(("_v_peak", "_v_rms", "_a_peak", "_a_rms")) else None
        if factor is not None:
            change[name] = tuple(x * factor for x in value) if isinstance(value, tuple) else value * factor
    return dataclasses.replace(part, **change)


def swr_of(reflection: float) -> float:
    """SWR from the size of a reflection coefficient, (1 + rho)/(1 - rho); infinite from 1 upward."""
    return (1 + reflection) / (1 - reflection) if reflection < 1 else math.inf


def swr_of_powers(forward_w: float, reflected_w: float) -> float:
    """SWR that a directional wattmeter's two powers amount to; 1 where both are nothing."""
    if forward_w <= 0:
        return 1.0 if reflected_w <= 0 else math.inf
    return swr_of(math.sqrt(max(reflected_w, 0.0) / forward_w))
