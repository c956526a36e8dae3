"""Many stations of one survey solved at once: their paths as arrays of two-ports, their tuners set, and one walk over all of them."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim.errors import BouncesimError, TooMuchWork
from bouncesim.exact import phasor
from bouncesim.exact.antenna import known_antenna
from bouncesim.exact.matching import set_tuner
from bouncesim.exact.parts import element_impedance, part_chains, stub_admittance, windings
from bouncesim.exact.phasor import Chain, Complex, PerMetre, Real
from bouncesim.exact.station import SHORT
from bouncesim.scenario import Antenna, Element, Line, Network, Part, Scenario, Stub, Transformer, Tuner
from bouncesim.survey.stations import Indices, Load, Stations
from bouncesim.survey.tuners import Bools, Parts, set_tuners

# What became of a station.
SOLVED, NO_MATCH, NO_ANTENNA, ENDLESS, NOT_SETTLED, DIVERGED, TOO_SHORT = range(7)
OUTCOMES = (
    "solved",
    "no match",  # no setting of its tuner does
    "antenna not known",  # at this frequency
    "endless current",  # an ideal source looks into a short
    "not settled",
    "diverged",
    "line too short",  # for the time domain
)


@dataclass(frozen=True)
class LineArrays:
    """One line of the path in every station, (n,) each: constants a metre at the carrier, and what follows."""

    length: Real
    reference: Real  # sqrt(L/C)
    resistance: Real
    conductance: Real
    gamma: Complex
    impedance: Complex
    chain: Chain


@dataclass(frozen=True)
class Span:
    """A part and the places of the walk in front of it and behind it; what it is in every station, where its readings need that."""

    part: Part
    first: int
    last: int
    line: LineArrays | None = None
    tuner: Parts | None = None
    there: Bools | None = None  # of a tuner that some stations do without
    impedances: tuple[Complex, ...] = ()  # of a network's elements; of a transformer's windings and core (admittance); a stub's admittance


@dataclass(frozen=True)
class Batch:
    """Solved stations: n of them, places as in phasor.Walk."""

    frequency: Real
    power: Real  # that the transmitter is rated for
    load: Complex
    heat_share: Real  # of the antenna's power
    outcome: NDArray[np.int64]
    walk: phasor.Walk
    spans: tuple[Span, ...]

    def line(self, name: str) -> LineArrays:
        """The line of this name. KeyError if there is none."""
        found = next((span.line for span in self.spans if span.part.name == name and span.line), None)
        if found is None:
            raise KeyError(name)
        return found


@dataclass
class Solver:
    """Solves batches of one survey; what depends on the frequency alone is worked out once."""

    stations: Stations
    _known: dict[int, tuple[Antenna | None]] = field(default_factory=dict)
    _fixed: dict[tuple[str, int], tuple[list[Chain], tuple[complex, ...]]] = field(default_factory=dict)
    _constants: dict[tuple[str, int, int], tuple[float, ...]] = field(default_factory=dict)

    def solve(self, first: int, count: int) -> Batch:
        """Stations first .. first + count - 1."""
        s = self.stations
        index = s.indices(first, count)
        frequency, power = np.array(s.frequencies)[index[0]], np.array(s.powers)[index[5]]
        lines = {part.name: self._line(part, index, frequency) for part in s.base.path if isinstance(part, Line)}
        load, heat_share, outcome = self._load(index, lines[s.base.lines[-1].name].reference)
        parts = list(s.base.path)
        chains: list[list[Chain]] = [self._chains(part, index[0], lines) for part in parts]
        tuned: dict[str, tuple[Parts, Bools]] = {}
        for place in reversed([k for k, part in enumerate(parts) if isinstance(part, Tuner)]):
            tuner = parts[place]
            assert isinstance(tuner, Tuner)
            shapes = np.array([shape or tuner.shape for shape in s.tuners])[index[4]]
            target, seen = self._target(parts, chains, place, lines, count), _seen(chains[place + 1 :], load)
            found, good = set_tuners(tuner, shapes, target, seen, frequency, functools.partial(self._one_by_one, tuner.name, first))
            tuned[tuner.name], chains[place] = (found, shapes != "none"), found.chains(frequency)
            outcome = np.where((outcome == SOLVED) & ~good, NO_MATCH, outcome)
        walk = self._walk(chains, power, load)
        outcome = np.where((outcome == SOLVED) & self._is_endless(walk), ENDLESS, outcome)
        spans = self._spans(parts, chains, index[0], lines, tuned)
        return Batch(frequency, power, load, heat_share, outcome, walk, spans)

    def station(self, number: int) -> Scenario:
        """One station by its number, its antenna known, its tuner not yet set."""
        station = self.stations.station(number)
        if self.stations.loads != (Load(),):
            return station
        f = int(self.stations.indices(number, 1)[0][0])
        known = self._antenna(f)[0]
        return station if known is None else station.model_copy(update={"antenna": known})

    def _one_by_one(self, tuner: str, first: int, number: int) -> tuple[Element, ...] | None:
        """The parts of one tuner of station first + number, by exact.matching; None if it cannot be set."""
        try:
            part = next(part for part in set_tuner(self.station(first + number)).path if part.name == tuner)
        except BouncesimError:
            return None
        assert isinstance(part, Network)
        return part.elements

    def at(self, number: int) -> Scenario:
        """The station at one of the frequencies, as the base has it."""
        transmitter = self.stations.base.transmitter.model_copy(update={"frequency_hz": self.stations.frequencies[number]})
        return self.stations.base.model_copy(update={"transmitter": transmitter})

    def _load(self, index: tuple[Indices, ...], reference: Real) -> tuple[Complex, Real, NDArray[np.int64]]:
        """The antenna's impedance and share of heat, and what became of it."""
        loads = self.stations.loads
        count = len(reference)
        if loads == (Load(),):
            numbers, inverse = np.unique(index[0], return_inverse=True)
            antennas = [self._antenna(int(f))[0] for f in numbers]
            z = np.array([1.0 if antenna is None else antenna.at_carrier_ohm for antenna in antennas], dtype=complex)
            heat = np.array([0.0 if antenna is None else antenna.heat_share for antenna in antennas])
            outcome = np.array([NO_ANTENNA if antenna is None else SOLVED for antenna in antennas])
            return z[inverse], heat[inverse], outcome[inverse]
        if loads[0].swr is None:
            z = np.array([load.impedance_ohm for load in loads], dtype=complex)[index[3]]
        else:
            reflection = np.array([load.reflection for load in loads])[index[3]]
            z = reference * (1 + reflection) / (1 - reflection)
        return z, np.zeros(count), np.full(count, SOLVED, dtype=np.int64)

    def _antenna(self, f: int) -> tuple[Antenna | None]:
        """The station's own antenna at a frequency; None where it is not known there."""
        if f not in self._known:
            try:
                self._known[f] = (known_antenna(self.at(f)).antenna,)
            except TooMuchWork:
                raise
            except BouncesimError:
                self._known[f] = (None,)
        return self._known[f]

    def _line(self, part: Line, index: tuple[Indices, ...], frequency: Real) -> LineArrays:
        s, varied = self.stations, part.name == self.stations.line
        kinds = index[1] if varied else np.zeros_like(index[1])
        pairs, inverse = np.unique(index[0] * len(s.types) + kinds, return_inverse=True)
        rows = [self._metre(part, *divmod(int(pair), len(s.types))) for pair in pairs]
        r, x, g, b, reference = np.array(rows).T[:, inverse]
        lengths = [part.length_m if length is None else length for length in s.lengths] if varied else [part.length_m]
        length = np.array(lengths)[index[2] if varied else np.zeros_like(index[2])]
        constants = PerMetre(r, x, g, b)
        gamma, own = phasor.propagation(constants, frequency), phasor.characteristic(constants, frequency)
        return LineArrays(length, reference, r, g, gamma, own, phasor.line(constants, length, frequency))

    def _metre(self, part: Line, f: int, kind: int) -> tuple[float, ...]:
        """R, L, G, C of a line at a frequency, what its branches are there reckoned in; and sqrt(L/C)."""
        key = (part.name, f, kind)
        if key not in self._constants:
            line = self.stations.part(part, kind, 0, 0)
            assert isinstance(line, Line)
            frequency = self.stations.frequencies[f]
            k, omega = line.constants(frequency), 2 * np.pi * frequency
            inductance, capacitance = k.inductance, k.capacitance
            z, y = complex(phasor.series_impedance(k, frequency)), complex(phasor.shunt_admittance(k, frequency))
            if k.series_branches or k.shunt_branches:
                inductance, capacitance = z.imag / omega, y.imag / omega
            self._constants[key] = (z.real, inductance, y.real, capacitance, k.impedance_ohm)
        return self._constants[key]

    def _chains(self, part: Part, f: Indices, lines: dict[str, LineArrays]) -> list[Chain]:
        """The two-ports of a part in every station; of a tuner none yet."""
        if isinstance(part, Tuner):
            return []
        if isinstance(part, Line):
            return [lines[part.name].chain]
        numbers, inverse = np.unique(f, return_inverse=True)
        columns = zip(*(self._at_frequency(part, int(k))[0] for k in numbers), strict=True)
        return [Chain(np.stack([c.matrix for c in column])[inverse], np.stack([c.nepers for c in column])[inverse]) for column in columns]

    def _at_frequency(self, part: Part, f: int) -> tuple[list[Chain], tuple[complex, ...]]:
        """The two-ports of a part that is the same in every station, and what its readings need."""
        key = (part.name, f)
        if key not in self._fixed:
            frequency = self.stations.frequencies[f]
            inside: tuple[complex, ...] = ()
            if isinstance(part, Network):
                inside = tuple(element_impedance(element, frequency) for element in part.elements)
            elif isinstance(part, Transformer):
                inside = windings(part, frequency)
            elif isinstance(part, Stub):
                inside = (stub_admittance(part, frequency),)
            self._fixed[key] = part_chains(part, frequency), inside
        return self._fixed[key]

    def _target(self, parts: Sequence[Part], chains: list[list[Chain]], place: int, lines: dict[str, LineArrays], count: int) -> Complex:
        """What the tuner at `place` has to present: exact.matching.tuner, over arrays."""
        wanted = np.full(count, self.stations.base.transmitter.rated_load_ohm)
        between: list[Chain] = []
        for k in reversed(range(place)):
            if isinstance(parts[k], Line):
                wanted = lines[parts[k].name].reference
                break
            if isinstance(parts[k], Tuner):
                break
            between = chains[k] + between
        v, i = wanted.astype(complex), np.ones(count, dtype=complex)
        for chain in between:
            m = chain.matrix  # its inverse, as AD - BC = 1
            v, i = m[..., 1, 1] * v - m[..., 0, 1] * i, m[..., 0, 0] * i - m[..., 1, 0] * v
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(i != 0, v / i, np.inf) if between else wanted.astype(complex)

    def _walk(self, chains: list[list[Chain]], power: Real, load: Complex) -> phasor.Walk:
        transmitter = self.stations.base.transmitter
        r0, zs = transmitter.rated_load_ohm, transmitter.source_impedance_ohm
        emf = np.sqrt(2 * power / r0) * (zs + r0)
        with np.errstate(all="ignore"):
            return phasor.walk([chain for of_part in chains for chain in of_part], emf, complex(zs), load)

    def _is_endless(self, walk: phasor.Walk) -> NDArray[np.bool_]:
        transmitter = self.stations.base.transmitter
        v, i = np.abs(walk.voltage[0]), np.abs(walk.current[0])
        short = v < SHORT * transmitter.rated_load_ohm * i if transmitter.source_impedance_ohm == 0 else np.zeros(len(i), dtype=bool)
        return np.asarray(short | ~np.isfinite(i))

    def _spans(
        self,
        parts: Sequence[Part],
        chains: list[list[Chain]],
        f: Indices,
        lines: dict[str, LineArrays],
        tuned: dict[str, tuple[Parts, Bools]],
    ) -> tuple[Span, ...]:
        spans, first = [], 0
        numbers, inverse = np.unique(f, return_inverse=True)
        for part, of_part in zip(parts, chains, strict=True):
            last, more = first + len(of_part), dict[str, Any]()
            if isinstance(part, Line):
                more["line"] = lines[part.name]
            elif isinstance(part, Tuner):
                more["tuner"], more["there"] = tuned[part.name]
            else:
                columns = zip(*(self._at_frequency(part, int(k))[1] for k in numbers), strict=True)
                more["impedances"] = tuple(np.array(column)[inverse] for column in columns)
            spans.append(Span(part, first, last, **more))
            first = last
        return tuple(spans)


def _seen(chains: list[list[Chain]], load: Complex) -> Complex:
    """Impedance at the transmitter's side of these parts, ohm; infinite where no current flows (exact.parts.input_impedance)."""
    v, i = phasor.load_pair(load)
    for chain in reversed([chain for of_part in chains for chain in of_part]):
        v, i = phasor.step_back(chain, v, i)
        size = np.maximum(np.abs(v), np.abs(i))
        v, i = v / size, i / size
    with np.errstate(all="ignore"):
        return np.where(i != 0, v / i, np.inf)
