"""What an antenna is at the carrier, however it was told; and which other antennas what was told leaves possible."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence

import numpy as np

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact import oneport, phasor
from bouncesim.exact.circuits import carrier_circuit, wideband_circuit
from bouncesim.exact.circuits.loss import with_loss
from bouncesim.exact.dipole import dipole_impedance
from bouncesim.exact.parts import path_chains
from bouncesim.quantity import show
from bouncesim.scenario import Antenna, Element, Line, Scenario, Tuner
from bouncesim.scenario.oneport import Joined, Lumped, OnePort
from bouncesim.scenario.touchstone import at as measured_at

SLOPE_STEP = 1e-4  # of the frequency, to either side
PHASES = 24  # tried of an SWR, or of an uncertainty, whose phase is unknown
BAND_HZ = (1.8e6, 30e6)  # over which a doublet is made into a circuit for pulses
BAND_POINTS = 121


def known_antenna(scenario: Scenario) -> Scenario:
    """The scenario with its antenna's impedance at the carrier, and the circuit that stands for it in time.

    Elements are taken as they are. A doublet and a measured file become R, L and C that match the impedance and the slope of its
    reactance at the carrier; for a pulse, a circuit over the whole band. Of an SWR alone one antenna is taken: the pure resistance above
    the line's impedance; `possible` gives the others. ScenarioError where a measurement cannot be true, or a station could receive nothing.
    """
    antenna = scenario.antenna
    if antenna.circuit is not None or (antenna.impedance_ohm is not None and antenna.measured_at == "antenna"):
        return scenario
    change: dict[str, object]
    if antenna.swr is not None:
        change = _of_circuit(Lumped(kind="resistor", value=_line_ohm(scenario) * antenna.swr), scenario.omega)
    elif antenna.elements:
        change = _of_circuit(with_loss(_ladder(antenna.elements), antenna.loss_resistance_ohm), scenario.omega)
    elif antenna.impedance_ohm is not None:
        change = {"impedance_ohm": _behind_the_line(scenario, antenna.impedance_ohm, scenario.transmitter.frequency_hz)}
        change["measured_at"] = "antenna"
    else:
        change = _of_frequency(scenario)
    known = antenna.model_copy(update=change)
    if scenario.direction == "receive" and known.at_carrier_ohm.real <= 0:
        raise ScenarioError(Problem("antenna", "without resistance it receives nothing", "Give it a resistance of more than 0 ohm"))
    return scenario.model_copy(update={"antenna": known})


def possible(scenario: Scenario) -> list[Scenario]:
    """The scenario with every antenna that what was told leaves possible: around the circle of an SWR, or around a measured value that may
    be off; only itself where nothing is left open."""
    antenna, frequency = scenario.antenna, scenario.transmitter.frequency_hz
    turns = np.exp(2j * np.pi * np.arange(PHASES) / PHASES)
    if antenna.swr is not None and antenna.circuit is None:
        rho = (antenna.swr - 1) / (antenna.swr + 1)
        found = [complex(_line_ohm(scenario) * (1 + rho * turn) / (1 - rho * turn)) for turn in turns]
        return [_with(scenario, z, antenna) for z in found]
    if not antenna.measured_within or antenna.circuit is not None:
        return [known_antenna(scenario)]
    (told,) = _told(scenario)[0]((frequency,))
    off = [told * (1 + antenna.measured_within * complex(turn)) for turn in turns]
    if antenna.measured_at == "transmitter end":
        off = [_taken_out(scenario, one, frequency) for one in off]
    hears = [z for z in off if z.real > 0 or scenario.direction == "transmit"]
    return [_with(scenario, z, antenna) for z in hears if z.real >= antenna.loss_resistance_ohm]


def _with(scenario: Scenario, impedance_ohm: complex, told: Antenna) -> Scenario:
    antenna = Antenna.computed(impedance_ohm, loss_resistance_ohm=told.loss_resistance_ohm)
    return scenario.model_copy(update={"antenna": antenna})


def _line_ohm(scenario: Scenario) -> float:
    """sqrt(L/C) of the line that feeds the antenna."""
    return scenario.lines[-1].constants(scenario.transmitter.frequency_hz).impedance_ohm


def _ladder(elements: tuple[Element, ...]) -> OnePort:
    """Elements in order from the feed line, the last in shunt, as one one-port: from the far end, each in series or in parallel with the
    rest."""
    rest: OnePort = Joined(how="parallel")
    for element in reversed(elements):
        own: OnePort = Lumped(kind=element.kind, value=element.value)
        if element.loss_ohm:
            own = Joined(how="series", members=(own, Lumped(kind="resistor", value=element.loss_ohm, radiates=False)))
        rest = Joined(how="series" if element.position == "series" else "parallel", members=(own, rest))
        if rest.how == "parallel" and rest.members[1] == Joined(how="parallel"):
            rest = own
    return rest


def _of_circuit(circuit: OnePort, omega: float) -> dict[str, object]:
    """The fields of an antenna that is a circuit."""
    z = complex(oneport.impedance(circuit, omega))
    if not cmath.isfinite(z):
        raise ScenarioError(Problem("antenna", "takes no current at the carrier", "Give it a path for the current"))
    radiated, heat = (float(power) for power in oneport.split(circuit, omega, z, 1.0))
    total = radiated + heat
    return {"impedance_ohm": z, "circuit": circuit, "heat_in_circuit": heat / total if total > 0 else 0.0}


def _told(scenario: Scenario) -> tuple[Callable[[Sequence[float]], list[complex]], tuple[float, float]]:
    """The impedances by frequency, as told, and the band over which they are: of a doublet (what it radiates), a file, or a single
    value."""
    antenna = scenario.antenna
    if antenna.dipole is not None:
        wire = antenna.dipole
        return lambda many: dipole_impedance(many, wire.length_m, wire.wire_m / 2, wire.gap_m).tolist(), BAND_HZ
    if antenna.measurement is not None:
        measurement = antenna.measurement.measurement()
        return lambda many: [measured_at(measurement, f, "antenna.touchstone")[0] for f in many], antenna.measurement.band_hz
    single, frequency = antenna.at_carrier_ohm, scenario.transmitter.frequency_hz
    return lambda many: [single for _ in many], (frequency, frequency)


def _of_frequency(scenario: Scenario) -> dict[str, object]:
    """The fields of an antenna that is known over a band."""
    antenna, frequency, (told, band) = scenario.antenna, scenario.transmitter.frequency_hz, _told(scenario)
    out, added = antenna.measured_at == "transmitter end", antenna.dipole is not None

    def impedances(*many: float) -> list[complex]:
        found = told(many)
        return [_behind_the_line(scenario, z, f) for z, f in zip(found, many, strict=True)] if out else found

    change: dict[str, object] = {"measured_at": "antenna"}
    if scenario.keying.shape == "pulse":
        points = np.geomspace(*band, BAND_POINTS)
        points[-1] = band[1]
        circuit, off = wideband_circuit(points, impedances(*points.tolist()), antenna.loss_resistance_ohm, added)
        return _of_circuit(circuit, scenario.omega) | change | {"circuit_off": off}
    low, high = (max(frequency * (1 - SLOPE_STEP), band[0]), min(frequency * (1 + SLOPE_STEP), band[1]))
    z, below, above = impedances(frequency, low, high)  # in one go: a doublet's on one mesh, as the step to another is no slope
    slope = (above - below) / (2 * math.pi * (high - low)) if high > low else 0j
    circuit = carrier_circuit(z, slope, scenario.omega, antenna.loss_resistance_ohm, added).port
    own = z + antenna.loss_resistance_ohm if added else z  # without the rounding of the circuit
    return _of_circuit(circuit, scenario.omega) | change | {"impedance_ohm": own}


def _taken_out(scenario: Scenario, seen_ohm: complex, frequency_hz: float) -> complex:
    """The impedance behind everything from the first line on, of which `seen_ohm` was measured in front: Z = (D Zin - B)/(A - C Zin) from
    [V1; I1] = M [V2; I2]."""
    first = next(k for k, part in enumerate(scenario.path) if isinstance(part, Line))
    if any(isinstance(part, Tuner) for part in scenario.path[first:]):
        reason = "there is a tuner between the line's end and the antenna"
        raise ScenarioError(Problem("antenna.measured_at", reason, "Measure at the antenna, or give the tuner's elements"))
    m = phasor.cascade(path_chains(scenario.path[first:], frequency_hz)).matrix
    return complex((m[1, 1] * seen_ohm - m[0, 1]) / (m[0, 0] - m[1, 0] * seen_ohm))


def _behind_the_line(scenario: Scenario, seen_ohm: complex, frequency_hz: float) -> complex:
    """`_taken_out`, if that is an antenna. ScenarioError if it would be a source of power."""
    z = _taken_out(scenario, seen_ohm, frequency_hz)
    if z.real >= 0:
        return z
    what = f"with the line taken out, {show(seen_ohm, 'ohm', 4)} would leave an antenna of {show(z, 'ohm', 4)}: a source of power"
    remedy = "The line's loss alone sets a limit to what can be measured in front of it: check its length, its loss and the measurement"
    raise ScenarioError(Problem("antenna.impedance", what, remedy))
