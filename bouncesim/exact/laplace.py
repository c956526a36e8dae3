"""The transient of one line between any lumped ends, by numerical inversion of its Laplace transform, one arrival at a time.

Between the ends with reflections Gs(s) and Gl(s) a wave that enters as a(s) = E(s) Z0/(n + Z0 d) makes, with T(s) = exp(-gamma l),

    V at the near end = a + (1 + Gs) Gl T^2 a + (1 + Gs) Gs Gl^2 T^4 a + ...,      V at the far end = (1 + Gl) (T a + Gs Gl T^3 a + ...)

and currents likewise, over Z0 and with the signs of waves that run to and fro (the lattice diagram, in s). n and d are those of
exact.phasor.looking_back. A front makes an inversion ring, so each term is inverted alone, without its pure delay: T^m exp(s m tau) at the
time since its arrival. gamma is written sqrt(R + sL) sqrt(G + sC): one combined root takes the wrong branch. The inversion is
mpmath.invertlaplace, as an alternating series summed faster (H. Cohen, F. Rodriguez Villegas and D. Zagier, Experimental Mathematics 9,
2000); of its methods this one stands many turns of a carrier at a fair price. Needs mpmath.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, NamedTuple

import mpmath
import numpy as np

from bouncesim.exact.drive import pieces
from bouncesim.exact.phasor import Real
from bouncesim.scenario import Element, Line, Meter, Network, Part, Scenario
from bouncesim.scenario.model import Stub, Transformer
from bouncesim.scenario.oneport import Lumped, OnePort

# Terms of the series: at least, and so many more a turn of the fastest tone. Measured: 1e-9 of the wave, or better, up to 10 turns.
TERMS = 24
TERMS_A_TURN = 10

Pair = tuple[Any, Any]  # (V, I) or a row of a chain matrix, mpmath numbers


class Ends(NamedTuple):
    """What one s gives: the wave that enters for an EMF of 1, the reflections of both ends, Z0, and gamma l - s tau."""

    entry: Any
    at_source: Any
    at_load: Any
    impedance: Any
    excess: Any


def solve(scenario: Scenario, time_s: Sequence[float], tick: Callable[[int], None] | None = None) -> Real:
    """Shape (4, times): V and I at the near end of a scenario's only line, V and I at its far end, at times in s > 0.

    The path holds meters, networks, transformers and one line, in any order. tick(number of times done) is called after each time.
    ValueError for a path or a key that has no such answer.
    """
    arrivals = _Arrivals(scenario)
    found = np.zeros((4, len(time_s)))
    for n, time in enumerate(time_s):
        found[:, n] = arrivals.sums(time)
        if tick:
            tick(n + 1)
    return found


class _Arrivals:
    def __init__(self, scenario: Scenario) -> None:
        self.scenario, self.pieces = scenario, pieces(scenario)
        lines = scenario.all_lines
        if len(lines) != 1 or any(isinstance(part, Stub) for part in scenario.path):
            raise ValueError("one line in the path itself is needed, and no stub")
        self.line = lines[0]
        self.constants = self.line.constants(scenario.transmitter.frequency_hz)
        self.delay = self.line.length_m / self.constants.velocity
        at = scenario.path.index(self.line)
        self.before, self.behind = scenario.path[:at], scenario.path[at + 1 :]
        self.ends = cache(self._ends)

    def sums(self, time: float) -> list[float]:
        """Near V and I, far V and I: what has arrived so far."""
        total = [0.0] * 4
        for piece in self.pieces:
            for m in range(int((time - piece.start_s) / self.delay) + 1 if time > piece.start_s else 0):
                since = time - piece.start_s - m * self.delay
                if since <= 0:
                    continue
                fastest = max(tone.omega for tone in piece.tones)
                degree = TERMS + math.ceil(TERMS_A_TURN * fastest * since / (2 * math.pi))
                for q in (0, 1) if m % 2 == 0 else (2, 3):
                    total[q] += float(mpmath.invertlaplace(self._term(piece, m, q % 2), since, method="cohen", degree=degree))
        return total

    def _term(self, piece: Any, transits: int, current: int) -> Callable[[Any], Any]:
        """The transform of what arrives after so many transits, without its delay: V or I where it arrives."""

        def transform(s: Any) -> Any:
            e = self.ends(s)
            wave = piece.transform(s) * e.entry * mpmath.exp(-transits * e.excess)
            wave *= (e.at_source * e.at_load) ** ((transits - 1) // 2) if transits else 1
            if transits == 0:
                return wave / e.impedance if current else wave
            if transits % 2:
                return wave * (1 - e.at_load) / e.impedance if current else wave * (1 + e.at_load)
            wave *= e.at_load
            return wave * (e.at_source - 1) / e.impedance if current else wave * (1 + e.at_source)

        return transform

    def _ends(self, s: Any) -> Ends:
        c = self.constants
        series = c.resistance + s * c.inductance + sum(s * l * r / (r + s * l) for r, l in c.series_branches)
        shunt = c.conductance + s * c.capacitance + sum(s * f * g / (g + s * f) for g, f in c.shunt_branches)
        z0 = mpmath.sqrt(series) / mpmath.sqrt(shunt)
        excess = mpmath.sqrt(series) * mpmath.sqrt(shunt) * self.line.length_m - s * self.delay
        # The row (1, Zs) of the source, taken through the chain matrices of what is in front of the line: (d, n).
        d, n = self._forth((mpmath.mpf(1), _impedance(self.scenario.source_port, s)), s)
        v, i = self._back((_impedance(self.scenario.load_port, s), mpmath.mpf(1)), s)
        return Ends(z0 / (n + z0 * d), (n - z0 * d) / (n + z0 * d), (v - z0 * i) / (v + z0 * i), z0, excess)

    def _forth(self, row: Pair, s: Any) -> Pair:
        for kind, value in _two_ports(self.before, s):
            a, b = row
            row = (a, b + a * value) if kind == "series" else (a + b * value, b) if kind == "shunt" else (a / value, b * value)
        return row

    def _back(self, pair: Pair, s: Any) -> Pair:
        for kind, value in reversed(_two_ports(self.behind, s)):
            v, i = pair
            pair = (v + value * i, i) if kind == "series" else (v, i + value * v) if kind == "shunt" else (v / value, i * value)
        return pair


def _impedance(port: OnePort, s: Any) -> Any:
    """Of a one-port, ohm. ValueError where it is open."""
    if isinstance(port, Lumped):
        return port.value if port.kind == "resistor" else s * port.value if port.kind == "inductor" else 1 / (s * port.value)
    if port.how == "series":
        return sum((_impedance(member, s) for member in port.members), mpmath.mpf(0))
    if not port.members:
        raise ValueError("an end without any current has no impedance")
    return 1 / sum(1 / _impedance(member, s) for member in port.members)


def _two_ports(path: Sequence[Part], s: Any) -> list[tuple[str, Any]]:
    """("series", ohm), ("shunt", siemens) or ("ratio", turns), in order from the transmitter."""
    found: list[tuple[str, Any]] = []
    for part in path:
        if isinstance(part, Network):
            for element in part.elements:
                z = _element(element, s)
                found.append((element.position, z if element.position == "series" else 1 / z))
        elif isinstance(part, Transformer):
            core = 1 / part.core_resistance_ohm if part.core_resistance_ohm else 0
            core += 1 / (s * part.magnetising_inductance_h) if part.magnetising_inductance_h else 0
            found += [("series", part.winding_resistance_ohm + s * part.leakage_inductance_h), ("shunt", core)]
            found.append(("ratio", math.sqrt(part.impedance_ratio)))
        elif not isinstance(part, Meter | Line):
            raise ValueError(f"{part.name!r} has no transform here")
    return found


def _element(element: Element, s: Any) -> Any:
    if element.kind == "inductor":
        return element.loss_ohm + s * element.value
    return element.loss_ohm + (1 / (s * element.value) if element.kind == "capacitor" else element.value)
