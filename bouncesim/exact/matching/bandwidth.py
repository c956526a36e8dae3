"""How far from its carrier a matched station stays matched: the SWR at the transmitter over frequency, every part left as it was set."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bouncesim.exact import phasor
from bouncesim.exact.parts import LEAST_STUB_OHM, part_chains, stub_end
from bouncesim.exact.phasor import Chain, Complex, Real
from bouncesim.exact.retuned import AntennaLaw, pin_losses, pinned_part
from bouncesim.scenario import Line, Network, Part, Scenario, Stub
from bouncesim.scenario.model import Meter

SWRS = (1.5, 2.0)  # whose limits are told
SPAN = 2.0  # searched from the carrier: down to a half of it, up to twice
NEAREST = 1e-6  # of the carrier: the first step away from it
GROWTH = 1.06  # of the distance, from step to step
RIPPLE = 16  # steps in one turn of the reflection at the end of the path
MOST_STEPS = 3000
REFINEMENTS = 40  # halvings of a step: to rounding


@dataclass(frozen=True)
class Band:
    """Where the SWR at the transmitter stays within a limit around the carrier, Hz; a limit that lies beyond what was searched is None."""

    swr: float
    low_hz: float | None
    high_hz: float | None

    @property
    def width_hz(self) -> float | None:
        """From limit to limit; None where one of them was not found."""
        return None if self.low_hz is None or self.high_hz is None else self.high_hz - self.low_hz


class Spectrum:
    """A station with a gap where its match goes: what stands in front of the gap, and what the gap sees, over frequency."""

    def __init__(self, scenario: Scenario, front: Sequence[Part], tail: Sequence[Part], antenna: AntennaLaw) -> None:
        pinned = pin_losses(scenario.model_copy(update={"path": (*front, *tail)})).path
        self.front, self.tail, self.antenna = pinned[: len(front)], pinned[len(front) :], antenna
        self.carrier, self.rated = scenario.transmitter.frequency_hz, scenario.transmitter.rated_load_ohm
        self._steps = self._outward(scenario)
        self._known = [self._seen(f) for f in self._steps]

    def bands(self, parts: Sequence[Part]) -> tuple[Band, ...]:
        """For every limit of `SWRS`, with these parts in the gap. Beyond a limit at its carrier already, its band is empty."""
        pinned = tuple(pinned_part(part, self.carrier) for part in parts)
        sides = [self._side(pinned, f, load) for f, load in zip(self._steps, self._known, strict=True)]
        return tuple(Band(swr, sides[0][k], sides[1][k]) for k, swr in enumerate(SWRS))

    def reflection(self, parts: Sequence[Part], frequency_hz: Real, load_ohm: Complex | None = None) -> Real:
        """|Gamma| at the transmitter against its rated load, shape (n,), at frequencies of that shape; `load_ohm`: what the gap sees."""
        v, i = phasor.load_pair(self._seen(frequency_hz) if load_ohm is None else load_ohm)
        v, i = _through((*self.front, *parts), frequency_hz, self.carrier, v, i)
        return np.asarray(np.abs((v - self.rated * i) / (v + self.rated * i)))

    def _side(self, parts: tuple[Part, ...], steps: Real, load: Complex) -> list[float | None]:
        """The first frequency on one side at which each limit is passed."""
        sizes = self.reflection(parts, steps, load)
        found: list[float | None] = []
        for swr in SWRS:
            limit = (swr - 1) / (swr + 1)
            beyond = np.flatnonzero(sizes > limit)
            if not beyond.size:
                found.append(None)
            elif beyond[0] == 0:
                found.append(self.carrier)
            else:
                found.append(self._between(parts, float(steps[beyond[0] - 1]), float(steps[beyond[0]]), limit))
        return found

    def _between(self, parts: tuple[Part, ...], inside: float, outside: float, limit: float) -> float:
        """Where the limit is passed, between two frequencies: regula falsi with the Illinois rule on |Gamma|^2."""
        at = [float(self.reflection(parts, np.array([f]))[0]) ** 2 - limit**2 for f in (inside, outside)]
        kept = 0
        for _ in range(REFINEMENTS):
            middle = (inside * at[1] - outside * at[0]) / (at[1] - at[0])
            here = float(self.reflection(parts, np.array([middle]))[0]) ** 2 - limit**2
            if abs(here) < 1e-10 or middle in (inside, outside):
                return middle
            if here > 0:
                outside, at[1] = middle, here
                at[0] = at[0] / 2 if kept > 0 else at[0]
                kept = 1
            else:
                inside, at[0] = middle, here
                at[1] = at[1] / 2 if kept < 0 else at[1]
                kept = -1
        return middle

    def _outward(self, scenario: Scenario) -> tuple[Real, Real]:
        """Frequencies to try, from the carrier downward and upward: denser near it, and never coarser than the path's own ripple."""
        lines = [part for part in (*self.front, *self.tail) if isinstance(part, Line)]
        delay = sum(line.length_m / line.constants(self.carrier).velocity for line in lines)
        widest = max(1 / (2 * delay * RIPPLE) if delay else math.inf, self.carrier * SPAN / MOST_STEPS)
        low, high = max(self.carrier / SPAN, self.antenna.band_hz[0]), min(self.carrier * SPAN, self.antenna.band_hz[1])
        both = []
        for end in (low, high):
            offsets, step = [0.0], NEAREST * self.carrier
            while offsets[-1] < abs(end - self.carrier):
                offsets.append(min(offsets[-1] + step, abs(end - self.carrier)))
                step = min(step * GROWTH, widest)
            both.append(self.carrier + math.copysign(1.0, end - self.carrier) * np.array(offsets))
        return both[0], both[1]

    def _seen(self, frequency_hz: Real) -> Complex:
        v, i = _through(self.tail, frequency_hz, self.carrier, *phasor.load_pair(self.antenna.over(frequency_hz)))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(i != 0, v / i, complex(math.inf)))


def _through(parts: Sequence[Part], frequency_hz: Real, carrier_hz: float, v: Complex, i: Complex) -> tuple[Complex, Complex]:
    """A pair (V, I) in front of parts, from that behind them, over frequencies (n,); kept at a size of about 1."""
    for part in reversed(parts):
        for chain in reversed(_chains(part, frequency_hz, carrier_hz)):
            v, i = phasor.step_back(chain, v, i)
            size = np.maximum(np.abs(v), np.abs(i))
            v, i = v / size, i / size
    return v, i


def _chains(part: Part, frequency_hz: Real, carrier_hz: float) -> list[Chain]:
    """The two-ports of one part over frequencies (n,)."""
    if isinstance(part, Meter):
        return []
    if isinstance(part, Network):
        found = []
        for element in part.elements:
            z = {"inductor": phasor.inductor, "capacitor": phasor.capacitor}.get(element.kind, _resistor)(
                element.value, frequency_hz, element.loss_ohm
            )
            found.append(phasor.series(z) if element.position == "series" else phasor.shunt(1 / z))
        return found
    if isinstance(part, Line):
        return [phasor.line(_constants(part, frequency_hz, carrier_hz), part.length_m, frequency_hz)]
    if isinstance(part, Stub):
        v, i = _through(part.path, frequency_hz, carrier_hz, *phasor.load_pair(np.full(frequency_hz.shape, stub_end(part))))
        return [phasor.shunt(i / np.where(np.abs(v) < LEAST_STUB_OHM * np.abs(i), LEAST_STUB_OHM * np.abs(i), v))]
    each = [phasor.cascade(part_chains(part, float(f))) for f in frequency_hz]
    return [Chain(np.stack([chain.matrix for chain in each]), np.stack([chain.nepers for chain in each]))]


def _constants(line: Line, frequency_hz: Real, carrier_hz: float) -> phasor.Constants:
    """Of a line over frequencies (n,): a wideband law holds at all of them as it stands, any other is told at each."""
    if line.loss_law == "wideband":
        return line.constants(carrier_hz)
    each = [line.constants(float(f)) for f in frequency_hz]
    r, l, g, c = np.array([(k.resistance, k.inductance, k.conductance, k.capacitance) for k in each]).T
    return phasor.PerMetre(r, l, g, c)


def _resistor(value: float, frequency_hz: Real, loss_ohm: float) -> Complex:
    return np.full(frequency_hz.shape, value + loss_ohm, dtype=complex)
