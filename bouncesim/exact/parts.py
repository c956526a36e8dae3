"""What each part of the path is at the carrier: impedances, and the two-ports that it consists of."""

from __future__ import annotations

import math

import numpy as np

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact import phasor
from bouncesim.scenario import Element, Line, Meter, Network, Part
from bouncesim.scenario.model import Stub, Transformer

# A stub that is a short circuit to the last digit counts as so many ohm: what is in front of it sees a short, what is behind it nothing.
LEAST_STUB_OHM = 1e-20


def element_impedance(element: Element, frequency_hz: float) -> complex:
    """Impedance of one lumped element with its loss, ohm."""
    if element.kind == "inductor":
        return complex(phasor.inductor(element.value, frequency_hz, element.loss_ohm))
    if element.kind == "capacitor":
        return complex(phasor.capacitor(element.value, frequency_hz, element.loss_ohm))
    return complex(element.value + element.loss_ohm)


def windings(part: Transformer, frequency_hz: float) -> tuple[complex, complex]:
    """A transformer's series impedance (ohm) and shunt admittance (S), both on the transmitter's side of its ideal ratio."""
    series = phasor.inductor(part.leakage_inductance_h, frequency_hz, part.winding_resistance_ohm)
    shunt = complex(1 / part.core_resistance_ohm if part.core_resistance_ohm else 0.0)
    if part.magnetising_inductance_h:
        shunt += 1 / complex(phasor.inductor(part.magnetising_inductance_h, frequency_hz))
    return complex(series), shunt


def part_chains(part: Part, frequency_hz: float) -> list[phasor.Chain]:
    """The two-ports that one part of the path consists of. ScenarioError for a tuner that is not set yet."""
    if isinstance(part, Meter):
        return [phasor.through()]
    if isinstance(part, Network):
        impedances = [(e.position, element_impedance(e, frequency_hz)) for e in part.elements]
        return [phasor.series(z) if position == "series" else phasor.shunt(1 / z) for position, z in impedances] or [phasor.through()]
    if isinstance(part, Line):
        return [phasor.line(part.constants(frequency_hz), part.length_m, frequency_hz)]
    if isinstance(part, Transformer):
        series, shunt = windings(part, frequency_hz)
        return [phasor.series(series), phasor.shunt(shunt), phasor.ratio(part.impedance_ratio)]
    if isinstance(part, Stub):
        return [phasor.shunt(stub_admittance(part, frequency_hz))]
    raise ScenarioError(Problem(part.name, "this tuner is not set yet", "Set it first: exact.matching.set_tuner does so for the carrier"))


def path_chains(path: tuple[Part, ...], frequency_hz: float) -> list[phasor.Chain]:
    """The two-ports of a path, in order."""
    return [chain for part in path for chain in part_chains(part, frequency_hz)]


def stub_end(part: Stub) -> complex:
    """Impedance at a stub's end, ohm; infinite if it is open."""
    return {"open": complex(math.inf), "short": 0j}[part.end] if isinstance(part.end, str) else part.end


def stub_admittance(part: Stub, frequency_hz: float) -> complex:
    """What a stub is to the path, S."""
    v, i = input_pair(path_chains(part.path, frequency_hz), stub_end(part))
    if abs(v) < LEAST_STUB_OHM * abs(i):
        v = complex(LEAST_STUB_OHM * abs(i))
    return i / v


def input_pair(chains: list[phasor.Chain], load_ohm: complex) -> tuple[complex, complex]:
    """A pair (V, I) in the ratio of the impedance at the transmitter's side of `chains`, for this load at their other side.

    The larger of the two is kept at about 1 (in V and A), so that hundreds of parts neither overflow nor vanish.
    """
    v, i = (complex(each) for each in phasor.load_pair(load_ohm))
    for chain in reversed(chains):
        v, i = (complex(each) for each in phasor.step_back(chain, v, i))
        size = max(abs(v), abs(i))
        v, i = v / size, i / size
    return v, i


def input_impedance(chains: list[phasor.Chain], load_ohm: complex) -> complex:
    """Impedance at the transmitter's side of `chains`, ohm; infinite where no current flows."""
    v, i = input_pair(chains, load_ohm)
    with np.errstate(all="ignore"):
        return complex(v / i) if i else complex(math.inf)
