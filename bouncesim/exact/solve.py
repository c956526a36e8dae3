"""Every steady-state reading of a station, in closed form, from the scenario's own numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable

from bouncesim.account.meters import meter_reading
from bouncesim.account.readings import (
    AntennaReading,
    Echoes,
    LineReading,
    MeterReading,
    PartReading,
    Readings,
    TransmitterReading,
    sound,
)
from bouncesim.exact import phasor
from bouncesim.exact.echoes import echoes
from bouncesim.exact.parts import element_impedance, path_chains, windings
from bouncesim.exact.station import Place, Span, Station, station
from bouncesim.scenario import Line, Meter, Network, Scenario
from bouncesim.scenario.model import Stub, Transformer

DB_PER_NEPER = 20 / math.log(10)


def solve(scenario: Scenario) -> Readings:
    """Every reading of a scenario that is resolved (tuners set, antenna known, path from source to load), events left out.

    A control of the drive comes to rest where its reading is held (Transmitter.drive_at_rest). ScenarioError as in `station`;
    Diverged for numbers beyond all bounds.
    """
    solved = station(scenario)
    full = sound(_at_full_drive(solved))
    if not scenario.is_controlled:
        return full
    read = directional(solved.spans[0].first, scenario.source_reference_ohm)
    return full.driven(scenario.transmitter.drive_at_rest(*read))


def _at_full_drive(solved: Station) -> Readings:
    scenario = solved.scenario
    main = [span for span in solved.spans if any(part is span.part for part in scenario.path)]
    return Readings(
        transmitter=_transmitter(solved),
        networks=tuple(_part(solved, span) for span in main if isinstance(span.part, Network | Transformer | Stub)),
        meters=tuple(_meter(span.part, span.first) for span in solved.spans if isinstance(span.part, Meter)),
        lines=tuple(_line(solved, span.part, span) for span in solved.spans if isinstance(span.part, Line)),
        antenna=_antenna(solved),
        echoes=_echoes(solved),
        direction=scenario.direction,
    )


def over_sources(scenario: Scenario, source_impedances_ohm: Iterable[float]) -> dict[float, Readings]:
    """Readings by source impedance, the rated power kept: the EMF is raised or lowered to deliver it into the rated load."""
    readings = {}
    for ohm in source_impedances_ohm:
        transmitter = scenario.transmitter.model_copy(update={"source_impedance_ohm": float(ohm)})
        readings[float(ohm)] = solve(scenario.model_copy(update={"transmitter": transmitter}))
    return readings


def directional(place: Place, reference_ohm: float) -> tuple[float, float]:
    """Forward and reflected power |V +- Zref I|^2/(8 Zref), W, for a real reference: their difference is the net power."""
    plus, minus = place.v + reference_ohm * place.i, place.v - reference_ohm * place.i
    return abs(plus) ** 2 / (8 * reference_ohm), abs(minus) ** 2 / (8 * reference_ohm)


def _swr(place: Place, reference_ohm: float) -> float:
    """(1 + rho)/(1 - rho) = (1 + rho)^2/(1 - rho^2), the denominator from the net power: precise at any SWR, infinite where none flows."""
    forward, reflected = directional(place, reference_ohm)
    if place.power_w <= 0:
        return math.inf
    return max(1.0, (math.sqrt(forward) + math.sqrt(reflected)) ** 2 / place.power_w)


def _transmitter(solved: Station) -> TransmitterReading:
    at = solved.spans[0].first
    seen = at.v / at.i if at.i else complex(math.inf)
    scenario = solved.scenario
    reference = scenario.source_reference_ohm
    dumped = directional(at, reference)[1] if scenario.has_dump_load else 0.0
    swr, v, i = _swr(at, reference), abs(at.v) / math.sqrt(2), abs(at.i) / math.sqrt(2)
    return TransmitterReading(at.power_w, seen, swr, v, i, dump_load_w=dumped)


def _part(solved: Station, span: Span) -> PartReading:
    """Heat is summed over the elements, not taken as a difference of powers, so a lossless part has exactly none."""
    part, frequency = span.part, solved.scenario.transmitter.frequency_hz
    heat, coil, capacitor = 0.0, 0.0, 0.0
    if isinstance(part, Stub):
        heat = span.entry.power_w if span.entry else 0.0
    elif isinstance(part, Transformer):
        series, shunt = windings(part, frequency)
        heat = (abs(span.places[0].i) ** 2 * series.real + abs(span.places[1].v) ** 2 * shunt.real) / 2
    elif isinstance(part, Network):
        for place, element in zip(span.places, part.elements, strict=False):
            z = element_impedance(element, frequency)
            current = abs(place.i) if element.position == "series" else abs(place.v / z)
            heat += current**2 * z.real / 2
            if element.kind == "inductor":
                coil = max(coil, current)
            elif element.kind == "capacitor":
                capacitor = max(capacitor, current * abs(z.imag))
    return PartReading(part.name, span.first.power_w, span.last.power_w, heat, coil, capacitor)


def _meter(part: Meter, at: Place) -> MeterReading:
    forward, reflected = directional(at, part.reference_ohm)
    return meter_reading(part.name, forward, reflected, part.directivity_db)


def _line(solved: Station, part: Line, span: Span) -> LineReading:
    frequency = solved.scenario.transmitter.frequency_hz
    k = part.constants(frequency)
    waves = solved.waves(part.name)
    reference = k.impedance_ohm
    forward_in, reflected_in = directional(span.first, reference)
    forward_out, reflected_out = directional(span.last, reference)
    heat = waves.heat_w(float(phasor.series_impedance(k, frequency).real), float(phasor.shunt_admittance(k, frequency).real))
    largest_v, largest_v_at = waves.largest_voltage()
    largest_a, largest_a_at = waves.largest_current()
    return LineReading(
        name=part.name,
        reference_ohm=reference,
        power_in_w=span.first.power_w,
        power_out_w=span.last.power_w,
        heat_w=heat,
        forward_in_w=forward_in,
        reflected_in_w=reflected_in,
        forward_out_w=forward_out,
        reflected_out_w=reflected_out,
        swr_in=_swr(span.first, reference),
        swr_out=_swr(span.last, reference),
        matched_loss_db=DB_PER_NEPER * waves.gamma.real * part.length_m,
        loss_db=_loss_db(heat, span.last.power_w),
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
    """SWR against the last line of the path; heat in its loss resistance apart."""
    v, i, power = (values[-1] for values in solved.walk)
    reference = solved.scenario.lines[-1].constants(solved.scenario.transmitter.frequency_hz).impedance_ohm
    at = Place(complex(v), complex(i), float(power))
    heat = at.power_w * solved.scenario.antenna.heat_share if solved.scenario.direction == "transmit" else 0.0
    return AntennaReading(at.power_w, abs(at.v) / math.sqrt(2), abs(at.i) / math.sqrt(2), _swr(at, reference), at.power_w - heat, heat)


def _echoes(solved: Station) -> Echoes | None:
    """Echoes, for a main path with exactly one line; stubs, networks and transformers beside it count as what they are at the carrier."""
    scenario, transmitter = solved.scenario, solved.scenario.transmitter
    if len(scenario.lines) != 1:
        return None
    line = scenario.lines[0]
    before = path_chains(scenario.path[: scenario.path.index(line)], transmitter.frequency_hz)
    n, d, _ = phasor.looking_back(before, scenario.source_ohm)
    at = solved.span(line.name).first
    reference = line.constants(transmitter.frequency_hz).impedance_ohm
    own = solved.waves(line.name).impedance
    return echoes(line.name, reference, own, at.v, at.i, (complex(n), complex(d)), scenario.emf_v_peak)
