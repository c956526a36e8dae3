"""The waves on either side of a tuner, and what each is made of.

With the tuner's scattering parameters against real references R1 (transmitter's side) and R2 (line), b1 = S11 a1 + S12 a2 and
b2 = S21 a1 + S22 a2, where a = (V + R I)/(2 sqrt(2R)) comes in and b = (V - R I)/(2 sqrt(2R)) goes out, I into the tuner; the square of
the size of each is a power. Source of the conversion from chain matrices: Pozar, Microwave Engineering, section 4.4, with the two
references apart: D = A R2 + B + C R1 R2 + D R1, S11 = (A R2 + B - C R1 R2 - D R1)/D, S21 = S12 = 2 sqrt(R1 R2)/D and
S22 = (-A R2 + B - C R1 R2 + D R1)/D of a reciprocal two-port.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from bouncesim.exact import phasor
from bouncesim.exact.parts import part_chains
from bouncesim.exact.station import station
from bouncesim.scenario import Scenario


class TunerWaves(NamedTuple):
    """In root watts; phases from that of the wave that comes from the transmitter's side."""

    through: complex  # S21 a1
    sent_again: complex  # S22 a2
    turned_back: complex  # S11 a1
    let_through: complex  # S12 a2
    echo_w: float  # |a2|^2
    antenna_w: float
    accepted_w: float  # net, from the transmitter


def scattering(chain: phasor.Chain, r1: float, r2: float) -> tuple[complex, complex, complex]:
    """S11, S21 = S12 and S22 of a reciprocal two-port against the real references r1 and r2 (ohm)."""
    (a, b), (c, d) = (tuple(map(complex, row)) for row in chain.full())
    total = a * r2 + b + c * r1 * r2 + d * r1
    across = 2 * math.sqrt(r1 * r2) / total
    return (a * r2 + b - c * r1 * r2 - d * r1) / total, across, (-a * r2 + b - c * r1 * r2 + d * r1) / total


def tuner_waves(scenario: Scenario, tuner: str, r1: float, r2: float) -> TunerWaves:
    """The waves at the part called `tuner` of a resolved scenario. ScenarioError as in `station`."""
    solved = station(scenario)
    span = solved.span(tuner)
    chain = phasor.cascade(part_chains(span.part, scenario.transmitter.frequency_hz))
    s11, across, s22 = scattering(chain, r1, r2)
    a1 = (span.first.v + r1 * span.first.i) / (2 * math.sqrt(2 * r1))
    a2 = (span.last.v - r2 * span.last.i) / (2 * math.sqrt(2 * r2))  # the line's current flows out of the tuner
    turn = a1.conjugate() / abs(a1)
    return TunerWaves(
        *(across * a1 * turn, s22 * a2 * turn, s11 * a1 * turn, across * a2 * turn),
        *(abs(a2) ** 2, float(solved.walk.power[-1]), float(solved.walk.power[0])),
    )
