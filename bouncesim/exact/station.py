"""A solved station: phasors at every place of the path and inside every stub, and the waves on every line."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact import phasor
from bouncesim.exact.parts import part_chains, stub_admittance, stub_end
from bouncesim.exact.waves import Waves
from bouncesim.scenario import Line, Part, Scenario
from bouncesim.scenario.model import Stub

# Below this part of the rated load, the impedance of a station on an ideal source is rounding of an exact short.
SHORT = 1e-12
# A stub's inside is driven by the voltage across it, behind a resistance that is added to both: so a short circuit divides by no zero.
STUB_OHM = 1.0


@dataclass(frozen=True)
class Place:
    """Peak phasors and net power at one place; the current, and the power, toward the end of the path that the place is on."""

    v: complex
    i: complex
    power_w: float


@dataclass(frozen=True)
class Span:
    """One part and the places that it lies between: in front of it, between its elements, behind it. Of a stub: `entry`, at its root."""

    part: Part
    places: tuple[Place, ...]
    entry: Place | None = None

    @property
    def first(self) -> Place:
        return self.places[0]

    @property
    def last(self) -> Place:
        return self.places[-1]


@dataclass(frozen=True)
class Station:
    """A solved station: phasors along the main path, and every part in the order in which one comes past (a stub before its inside)."""

    scenario: Scenario
    walk: phasor.Walk
    spans: tuple[Span, ...]

    def span(self, name: str) -> Span:
        """The span of the part called `name`; KeyError if there is none."""
        for span in self.spans:
            if span.part.name == name:
                return span
        raise KeyError(name)

    def waves(self, name: str) -> Waves:
        """The waves on the line called `name`, on the path or in a stub; KeyError if there is none."""
        span = self.span(name)
        if not isinstance(span.part, Line):
            raise KeyError(name)
        frequency = self.scenario.transmitter.frequency_hz
        constants = span.part.constants(frequency)
        gamma, z0 = complex(phasor.propagation(constants, frequency)), complex(phasor.characteristic(constants, frequency))
        forward, back = (span.first.v + z0 * span.first.i) / 2, (span.last.v - z0 * span.last.i) / 2
        return Waves(forward, back, gamma, z0, span.part.length_m)


def station(scenario: Scenario) -> Station:
    """Solve the phasors of a scenario at full drive. ScenarioError if its tuner is not set, an ideal source looks into a short, or numbers
    cannot hold what the path makes of a voltage."""
    transmitter = scenario.transmitter
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        chains = _chains(scenario.path, transmitter.frequency_hz)
        flat = [chain for of_part in chains for chain in of_part]
        walk = phasor.walk(flat, scenario.emf_v_peak, scenario.source_ohm, scenario.load_ohm)
    v, i = abs(walk.voltage[0]), abs(walk.current[0])
    is_short = scenario.source_ohm == 0 and v < SHORT * transmitter.rated_load_ohm * i
    if scenario.source_ohm != 0 and not np.isfinite(walk.power).all():
        remedy = "Take out elements that let next to nothing through"
        raise ScenarioError(Problem("path", "what its parts make of a voltage together is beyond all numbers", remedy))
    if is_short or not math.isfinite(i):
        remedy = "Give the transmitter a source impedance, or change the line's length or the antenna"
        raise ScenarioError(Problem("transmitter.source_impedance", "an ideal source looks into a short: the current has no limit", remedy))
    return Station(scenario, walk, tuple(_spans(scenario.path, chains, walk, transmitter.frequency_hz)))


def profile(scenario: Scenario, line: str, x_m: ArrayLike) -> tuple[phasor.Complex, phasor.Complex]:
    """V(x) and I(x), peak phasors along the line called `line`, x in metres from its end nearest the transmitter, any shape."""
    waves = station(scenario).waves(line)
    return waves.voltage(x_m), waves.current(x_m)


def _chains(path: tuple[Part, ...], frequency_hz: float) -> list[list[phasor.Chain]]:
    return [part_chains(part, frequency_hz) for part in path]


def _spans(path: tuple[Part, ...], chains: list[list[phasor.Chain]], walk: phasor.Walk, frequency_hz: float) -> Iterator[Span]:
    """The spans of a path that is solved, and of the stubs on it."""
    places = [Place(complex(v), complex(i), float(p)) for v, i, p in zip(walk.voltage, walk.current, walk.power, strict=True)]
    first = 0
    for part, of_part in zip(path, chains, strict=True):
        last = first + len(of_part)
        here = tuple(places[first : last + 1])
        if isinstance(part, Stub):
            root, inside = here[0], _chains(part.path, frequency_hz)
            driving = root.v * (1 + STUB_OHM * stub_admittance(part, frequency_hz))
            flat = [chain for each in inside for chain in each]
            own = phasor.walk(flat, driving, STUB_OHM, stub_end(part))
            yield Span(part, here, Place(complex(own.voltage[0]), complex(own.current[0]), float(own.power[0])))
            yield from _spans(part.path, inside, own, frequency_hz)
        else:
            yield Span(part, here)
        first = last
