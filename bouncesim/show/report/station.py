"""The parts of a station as a report draws them: a symbol, a name and figures each."""

from __future__ import annotations

from collections.abc import Iterator

from bouncesim.account.run import Run
from bouncesim.quantity import show
from bouncesim.scenario import Element, Line, Meter, Network, Part, Scenario, Stub, Transformer
from bouncesim.show.numbers import ratio
from bouncesim.show.report.content import Drawn, Station
from bouncesim.show.signs import turns

SOURCES = {
    "linear": "linear",
    "fold-back": "lowers its drive when power returns",
    "level-controlled": "holds a level",
    "isolated": "what returns ends in a dump load",
}


def station_of(run: Run) -> Station:
    """Every part of the path between the two ends, in the direction of the power."""
    scenario = run.scenario
    whole = sum(line.length_m for line in scenario.lines)
    parts = [_part(part, run, whole) for part in scenario.path]
    transmits = scenario.direction == "transmit"
    ends = (_transmitter(scenario), _antenna(scenario)) if transmits else (_antenna(scenario), _receiver(scenario))
    return Station((ends[0], *parts, ends[1]))


def _transmitter(scenario: Scenario) -> Drawn:
    own = scenario.transmitter
    told = [f"{show(own.power_w, 'W')} at {show(own.frequency_hz, 'Hz', 6)}", f"rated load {show(own.rated_load_ohm, 'ohm')}"]
    if own.behaviour != "isolated":
        told.append(f"source impedance {show(own.source_impedance_ohm, 'ohm')}")
    return Drawn("transmitter", "transmitter", (*told, SOURCES[own.behaviour]))


def _antenna(scenario: Scenario) -> Drawn:
    own = scenario.antenna
    told = [f"{show(own.at_carrier_ohm, 'ohm')} at the carrier"]
    if own.heat_share:
        told.append(f"{100 * own.heat_share:.3g} % of its power is heat")
    if scenario.direction == "receive" and scenario.receiver is not None:
        told.append(f"it could give {show(scenario.receiver.signal_w, 'W')} at {show(scenario.transmitter.frequency_hz, 'Hz', 6)}")
    return Drawn("antenna", "antenna", tuple(told))


def _receiver(scenario: Scenario) -> Drawn:
    told = () if scenario.receiver is None else (show(scenario.receiver.impedance_ohm, "ohm"),)
    return Drawn("receiver", "receiver", told)


def _part(part: Part, run: Run, whole_m: float) -> Drawn:
    if isinstance(part, Line):
        return Drawn("line", part.name, tuple(_line(part, run)), part.length_m / whole_m)
    if isinstance(part, Meter):
        off = f"directivity {part.directivity_db:.3g} dB" if part.directivity_db is not None else "taken to be perfect"
        return Drawn("meter", part.name, (f"for {show(part.reference_ohm, 'ohm')}", off))
    if isinstance(part, Network):
        return Drawn("tuner" if part.is_tuner else "network", part.name, tuple(map(element_words, part.elements)))
    if isinstance(part, Transformer):
        return Drawn("transformer", part.name, (f"{turns(part.impedance_ratio)} of impedances",))
    assert isinstance(part, Stub), "a tuner has been set by now"
    end = part.end if isinstance(part.end, str) else show(part.end, "ohm")
    return Drawn("stub", part.name, (*(_inside(part)), f"its end: {end}"))


def _inside(stub: Stub) -> Iterator[str]:
    for part in stub.path:
        yield f"{show(part.length_m, 'm')} of line" if isinstance(part, Line) else f"a {part.part}"


def _line(line: Line, run: Run) -> Iterator[str]:
    frequency = run.scenario.transmitter.frequency_hz
    constants, reading = line.constants(frequency), next(one for one in run.readings.lines if one.name == line.name)
    yield f"{show(line.length_m, 'm')}{f' of {line.type}' if line.type else ''}, {show(constants.impedance_ohm, 'ohm')}"
    yield f"{show(line.length_m / constants.velocity * frequency)} wavelengths at the carrier"
    yield f"loss {reading.matched_loss_db:.3g} dB matched, {reading.loss_db:.3g} dB as it is used"
    yield f"SWR {ratio(reading.swr_in)} at its start, {ratio(reading.swr_out)} at its end"


def element_words(element: Element) -> str:
    """Such as "capacitor in shunt, 310 pF"."""
    unit = {"inductor": "H", "capacitor": "F", "resistor": "ohm"}[element.kind]
    loss = f" with {show(element.loss_ohm, 'ohm')}" if element.loss_ohm else ""
    return f"{element.kind} in {element.position}, {show(element.value, unit)}{loss}"
