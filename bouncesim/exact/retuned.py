"""A station away from its carrier: what its antenna, its lines and its parts are at another frequency.

Coils, capacitors and their loss resistances stay what they are. A line follows its own law; one whose loss was told without a frequency had
it told at the carrier. Of an antenna that was told as one impedance nothing more is known: it stays the R, L and C that make it up there.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from bouncesim.exact import oneport
from bouncesim.exact.antenna import known_antenna
from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario import Antenna, Line, Part, Scenario
from bouncesim.scenario.model import Stub


@dataclass(frozen=True)
class AntennaLaw:
    """An antenna by frequency: `impedance` of a frequency in Hz; the band over which it can be told; how it is known, in words."""

    impedance: Callable[[float], complex]
    band_hz: tuple[float, float]
    known: str

    def over(self, frequency_hz: Real) -> Complex:
        """Impedances in ohm, shape (n,), at frequencies of that shape."""
        return np.array([self.impedance(float(f)) for f in frequency_hz], dtype=complex)


def antenna_law(scenario: Scenario) -> AntennaLaw:
    """The antenna of a scenario, as it was told, by frequency. ScenarioError as for `known_antenna`."""
    told = scenario.antenna
    if told.circuit is None and (told.dipole is not None or told.measurement is not None):
        band = told.measurement.band_hz if told.measurement is not None else (1.0, math.inf)
        known = "as it was measured" if told.measurement is not None else "as a doublet in free space is"
        return AntennaLaw(lambda f: known_antenna(_carrier(scenario, f)).antenna.at_carrier_ohm, band, known)
    port = known_antenna(scenario).antenna.port(scenario.omega)
    known = "as its elements make it"
    if told.swr is not None:
        known = "as a resistance that has this SWR: its phase is not known, nor how it changes with frequency"
    elif not told.elements and told.circuit is None:
        known = f"as the R, L and C in {told.form} that its one known impedance stands for: a real antenna may differ"
    return AntennaLaw(lambda f: complex(oneport.impedance(port, 2 * math.pi * f)), (1.0, math.inf), known)


def at_frequency(scenario: Scenario, frequency_hz: float) -> Scenario:
    """The scenario with its carrier moved: antenna and lines as this module's head has it, tuners still to be set. Its claims and story,
    which belong to the old carrier, are left out. ScenarioError where the antenna cannot be told there."""
    plain: dict[str, Any] = {"claims": (), "beats": (), "narration": (), "survey": None}
    if frequency_hz == scenario.transmitter.frequency_hz:
        return scenario.model_copy(update=plain)
    told = scenario.antenna
    pinned = pin_losses(scenario).model_copy(update=plain)
    if told.circuit is None and (told.dipole is not None or told.measurement is not None or told.swr is not None):
        return _carrier(pinned, frequency_hz)
    known = known_antenna(scenario).antenna
    port = known.port(scenario.omega)
    z = complex(oneport.impedance(port, 2 * math.pi * frequency_hz))
    radiated, heat = (float(power) for power in oneport.split(port, 2 * math.pi * frequency_hz, z, 1.0))
    share = heat / (radiated + heat) if radiated + heat > 0 else 0.0
    return _carrier(pinned, frequency_hz).model_copy(update={"antenna": Antenna.computed(z, circuit=port, heat_in_circuit=share)})


def pin_losses(scenario: Scenario) -> Scenario:
    """The scenario with the frequency of every line's nominal loss written out: the carrier, where none was given."""
    carrier = scenario.transmitter.frequency_hz
    return scenario.model_copy(update={"path": tuple(pinned_part(part, carrier) for part in scenario.path)})


def pinned_part(part: Part, carrier_hz: float) -> Part:
    """One part of a path, as `pin_losses` has it."""
    if isinstance(part, Stub):
        return part.model_copy(update={"path": tuple(pinned_part(inner, carrier_hz) for inner in part.path)})
    if isinstance(part, Line) and part.loss_db_per_m and part.loss_at_hz is None:
        return part.model_copy(update={"loss_at_hz": carrier_hz})
    return part


def _carrier(scenario: Scenario, frequency_hz: float) -> Scenario:
    transmitter = scenario.transmitter.model_copy(update={"frequency_hz": frequency_hz})
    return scenario.model_copy(update={"transmitter": transmitter})
