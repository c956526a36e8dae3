"""Every steady-state reading of a station, in closed form, from the scenario's own numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.account.meters import meter_reading
from bouncesim.account.readings import (
    AntennaReading,
    Echoes,
    LineReading,
    MeterReading,
    PartReading,
    Readings,
    TransmitterReading,
    swr_of,
    swr_of_powers,
)
from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact import phasor
from bouncesim.exact.echoes import echoes
from bouncesim.exact.waves import Waves
from bouncesim.scenario import Element, Line, Meter, Network, Part, Scenario

# Below this part of the rated load, the impedance of a station on an ideal source is rounding of an exact short.
SHORT = 1e-12
DB_PER_NEPER = 20 / math.log(10)


def element_impedance(element: Element, frequency_hz: float) -> complex:
    """Impedance of one lumped element with its loss, ohm."""
    if element.kind == "inductor":
        return complex(phasor.inductor(element.value, frequency_hz, element.loss_ohm))
    if element.kind == "capacitor":
        return complex(phasor.capacitor(element.value, frequency_hz, element.loss_ohm))
    return complex(element.value + element.loss_ohm)


def part_chains(part: Part, frequency_hz: float) -> list[phasor.Chain]:
    """The two-ports that one part of the path consists of. ScenarioError for a tuner that is not set yet."""
    if isinstance(part, Meter):
        return [phasor.through()]
    if isinstance(part, Network):
        impedances = [(e.position, element_impedance(e, frequency_hz)) for e in part.elements]
        return [phasor.series(z) if position == "series" else phasor.shunt(1 / z) for position, z in impedances] or [phasor.through()]
    if isinstance(part, Line):
        return [phasor.line(part.constants(frequency_hz), part.length_m, frequency_hz)]
    raise ScenarioError(Problem(part.name, "this tuner is not set yet", "Set it first: exact.matching.set_tuner does so for the carrier"))


@dataclass(frozen=True)
class Station:
    """A solved station: phasors at every place, and which places each part lies between."""

    scenario: Scenario
    walk: phasor.Walk
    spans: tuple[tuple[Part, int, int], ...]  # part, its first place, its last place

    def waves(self, name: str) -> Waves:
        """The waves on the line called `name`; KeyError if there is none."""
        for part, first, last in self.spans:
            if isinstance(part, Line) and part.name == name:
                frequency = self.scenario.transmitter.frequency_hz
                constants = part.constants(frequency)
                gamma, z0 = complex(phasor.propagation(constants, frequency)), complex(phasor.characteristic(constants, frequency))
                v, i = self.walk.voltage, self.walk.current
                forward, back = complex(v[first] + z0 * i[first]) / 2, complex(v[last] - z0 * i[last]) / 2
                return Waves(forward, back, gamma, z0, part.length_m)
        raise KeyError(name)


def station(scenario: Scenario) -> Station:
    """Solve the phasors of a scenario. ScenarioError if its tuner is not set, or an ideal source looks into a short."""
    transmitter = scenario.transmitter
    chains: list[phasor.Chain] = []
    spans = []
    for part in scenario.path:
        of_part = part_chains(part, transmitter.frequency_hz)
        spans.append((part, len(chains), len(chains) + len(of_part)))
        chains += of_part
    with np.errstate(divide="ignore", invalid="ignore"):
        walk = phasor.walk(chains, transmitter.emf_v_peak, transmitter.source_impedance_ohm, scenario.antenna.impedance_ohm)
    v, i = abs(walk.voltage[0]), abs(walk.current[0])
    is_short = transmitter.source_impedance_ohm == 0 and v < SHORT * transmitter.rated_load_ohm * i
    if is_short or not math.isfinite(i):
        remedy = "Give the transmitter a source impedance, or change the line's length or the antenna"
        raise ScenarioError(Problem("transmitter.source_impedance", "an ideal source looks into a short: the current has no limit", remedy))
    return Station(scenario, walk, tuple(spans))


def profile(scenario: Scenario, line: str, x_m: ArrayLike) -> tuple[phasor.Complex, phasor.Complex]:
    """V(x) and I(x), peak phasors along the line called `line`, x in metres from its end nearest the transmitter, any shape."""
    waves = station(scenario).waves(line)
    return waves.voltage(x_m), waves.current(x_m)


def solve(scenario: Scenario) -> Readings:
    """Every reading of a scenario whose tuner is already an explicit network. ScenarioError as in `station`."""
    solved = station(scenario)
    spans = solved.spans
    return Readings(
        transmitter=_transmitter(solved),
        networks=tuple(_network(solved, part, first) for part, first, _ in spans if isinstance(part, Network)),
        meters=tuple(_meter(solved, part, first) for part, first, _ in spans if isinstance(part, Meter)),
        lines=tuple(_line(solved, part, first, last) for part, first, last in spans if isinstance(part, Line)),
        antenna=_antenna(solved),
        echoes=_echoes(solved),
    )


def over_sources(scenario: Scenario, source_impedances_ohm: Iterable[float]) -> dict[float, Readings]:
    """Readings by source impedance, the rated power kept: the EMF is raised or lowered to deliver it into the rated load."""
    readings = {}
    for ohm in source_impedances_ohm:
        transmitter = scenario.transmitter.model_copy(update={"source_impedance_ohm": float(ohm)})
        readings[float(ohm)] = solve(scenario.model_copy(update={"transmitter": transmitter}))
    return readings


def directional(v: complex, i: complex, reference_ohm: float) -> tuple[float, float]:
    """Forward and reflected power |V +- Zref I|^2/(8 Zref), W, for a real reference: their difference is the net power."""
    return abs(v + reference_ohm * i) ** 2 / (8 * reference_ohm), abs(v - reference_ohm * i) ** 2 / (8 * reference_ohm)


def _at(solved: Station, place: int) -> tuple[complex, complex, float]:
    walk = solved.walk
    return complex(walk.voltage[place]), complex(walk.current[place]), float(walk.power[place])


def _swr(v: complex, i: complex, reference_ohm: float) -> float:
    return swr_of(abs(v - reference_ohm * i) / abs(v + reference_ohm * i))


def _transmitter(solved: Station) -> TransmitterReading:
    v, i, power = _at(solved, 0)
    seen = v / i if i else complex(math.inf)
    swr = _swr(v, i, solved.scenario.transmitter.rated_load_ohm)
    return TransmitterReading(power, seen, swr, abs(v) / math.sqrt(2), abs(i) / math.sqrt(2))


def _network(solved: Station, part: Network, first: int) -> PartReading:
    """Heat is summed over the elements, not taken as a difference of powers, so a lossless network has exactly none."""
    heat = 0.0
    for place, element in enumerate(part.elements, start=first):
        v, i, _ = _at(solved, place)
        z = element_impedance(element, solved.scenario.transmitter.frequency_hz)
        current = abs(i) if element.position == "series" else abs(v / z)
        heat += current**2 * z.real / 2
    power_out = _at(solved, first + max(len(part.elements), 1))[2]
    return PartReading(part.name, _at(solved, first)[2], power_out, heat)


def _meter(solved: Station, part: Meter, first: int) -> MeterReading:
    v, i, _ = _at(solved, first)
    forward, reflected = directional(v, i, part.reference_ohm)
    return meter_reading(part.name, forward, reflected, part.directivity_db)


def _line(solved: Station, part: Line, first: int, last: int) -> LineReading:
    k = part.constants(solved.scenario.transmitter.frequency_hz)
    waves = solved.waves(part.name)
    reference = k.impedance_ohm
    (v_in, i_in, power_in), (v_out, i_out, power_out) = _at(solved, first), _at(solved, last)
    forward_in, reflected_in = directional(v_in, i_in, reference)
    forward_out, reflected_out = directional(v_out, i_out, reference)
    heat = waves.heat_w(k.resistance, k.conductance)
    largest_v, largest_v_at = waves.largest_voltage()
    largest_a, largest_a_at = waves.largest_current()
    return LineReading(
        name=part.name,
        reference_ohm=reference,
        power_in_w=power_in,
        power_out_w=power_out,
        heat_w=heat,
        forward_in_w=forward_in,
        reflected_in_w=reflected_in,
        forward_out_w=forward_out,
        reflected_out_w=reflected_out,
        swr_in=swr_of_powers(forward_in, reflected_in),
        swr_out=swr_of_powers(forward_out, reflected_out),
        matched_loss_db=DB_PER_NEPER * waves.gamma.real * part.length_m,
        loss_db=_loss_db(heat, power_out),
        largest_v_peak=largest_v,
        largest_v_at_m=largest_v_at,
        largest_a_peak=largest_a,
        largest_a_at_m=largest_a_at,
    )


def _loss_db(heat_w: float, power_out_w: float) -> float:
    """10 log10(power in/power out) as 10 log10(1 + heat/power out): exactly 0 without loss, infinite if nothing comes out."""
    if heat_w == 0:
        return 0.0
    return 10 * math.log1p(heat_w / power_out_w) / math.log(10) if power_out_w > 0 else math.inf


def _antenna(solved: Station) -> AntennaReading:
    """SWR against the last line of the path."""
    v, i, power = _at(solved, -1)
    reference = solved.scenario.lines[-1].constants(solved.scenario.transmitter.frequency_hz).impedance_ohm
    return AntennaReading(power, abs(v) / math.sqrt(2), abs(i) / math.sqrt(2), _swr(v, i, reference))


def _echoes(solved: Station) -> Echoes | None:
    """Echoes, for a path with exactly one line."""
    scenario, transmitter = solved.scenario, solved.scenario.transmitter
    if len(scenario.lines) != 1:
        return None
    place, (line, first) = next((n, (part, first)) for n, (part, first, _) in enumerate(solved.spans) if isinstance(part, Line))
    before = [chain for part in scenario.path[:place] for chain in part_chains(part, transmitter.frequency_hz)]
    n, d, _ = phasor.looking_back(before, transmitter.source_impedance_ohm)
    v, i, _ = _at(solved, first)
    reference = line.constants(transmitter.frequency_hz).impedance_ohm
    own = solved.waves(line.name).impedance
    return echoes(line.name, reference, own, v, i, (complex(n), complex(d)), transmitter.emf_v_peak)
