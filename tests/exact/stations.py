"""Stations built from the scenario's own models, in few words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bouncesim import exact
from bouncesim.exact import matching
from bouncesim.scenario import Antenna, Keying, Line, Part, Scenario, Transmitter

FREQUENCY = 10e6
VELOCITY = 2e8


def lossless(impedance: float, wavelengths: float, frequency: float = FREQUENCY, velocity: float = VELOCITY) -> Line:
    """A line without loss of so many wavelengths."""
    return Line(
        length_m=wavelengths * velocity / frequency,
        inductance_h_per_m=impedance / velocity,
        capacitance_f_per_m=1 / (impedance * velocity),
    )


def real_impedance(impedance: float, matched_db: float, length: float = 10.0, velocity_factor: float = 0.7) -> Line:
    """A line with loss and a real Z0: half of the loss in the dielectric, R/L = G/C."""
    return Line(
        length_m=length,
        impedance_ohm=impedance,
        velocity_factor=velocity_factor,
        loss_db_per_m=matched_db / length,
        dielectric_share=0.5,
    )


def station(
    path: Sequence[Part],
    antenna: complex,
    power: float = 40.0,
    rated: float = 50.0,
    source: float | None = None,
    frequency: float = FREQUENCY,
) -> Scenario:
    """A station with its tuner set, if it has one; the source impedance is the rated load unless given."""
    transmitter = Transmitter(
        frequency_hz=frequency, power_w=power, rated_load_ohm=rated, source_impedance_ohm=rated if source is None else source
    )
    keying = Keying(shape="step")
    return matching.set_tuner(
        Scenario(title="test", transmitter=transmitter, keying=keying, path=tuple(path), antenna=Antenna(impedance_ohm=antenna))
    )


def with_emf(scenario: Scenario, emf_v_peak: float) -> Scenario:
    """The station with its power chosen so that its EMF is this."""
    factor = (emf_v_peak / scenario.transmitter.emf_v_peak) ** 2
    transmitter = scenario.transmitter.model_copy(update={"power_w": scenario.transmitter.power_w * factor})
    return scenario.model_copy(update={"transmitter": transmitter})


def input_impedance(path: Sequence[Part], antenna: complex, frequency: float = FREQUENCY) -> complex:
    """What the transmitter sees, ohm."""
    return exact.solve(station(path, antenna, frequency=frequency)).transmitter.impedance_ohm


def decibel(ratio: float) -> float:
    return 10 * math.log10(ratio)
