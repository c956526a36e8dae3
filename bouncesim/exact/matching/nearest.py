"""Where no setting of a tuner within its ranges matches: the one that comes nearest, by the SWR that is left."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from bouncesim.account.readings import swr_of
from bouncesim.exact import phasor
from bouncesim.exact.matching.three_parts import Ranges
from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario import Element, Tuner

Kind = Literal["inductor", "capacitor"]
Position = Literal["series", "shunt"]
WAYS: tuple[tuple[Position, Position], ...] = (("shunt", "series"), ("series", "shunt"))
KINDS: tuple[Kind, ...] = ("inductor", "capacitor")
SHAPES: dict[str, tuple[tuple[tuple[Position, Kind], ...], ...]] = {
    "pi": ((("shunt", "capacitor"), ("series", "inductor"), ("shunt", "capacitor")),),
    "T": ((("series", "capacitor"), ("shunt", "inductor"), ("series", "capacitor")),),
    "L": tuple(((first, one), (second, other)) for (first, second), one, other in product(WAYS, KINDS, KINDS)),
}
POINTS = {2: 120, 3: 36}  # tried of each part's range, by the number of parts
ROUNDS = 12  # each searches two steps around the best of the one before
FREE = 1e3  # a part without a limit is tried down to this part of the impedances around, and up to so many times


@dataclass(frozen=True)
class Nearest:
    """The best within the ranges: its parts in order from the transmitter, and the SWR against what it should present."""

    elements: tuple[Element, ...]
    swr: float


def nearest(tuner: Tuner, target_ohm: complex, load_ohm: complex, frequency_hz: float) -> Nearest:
    """Of a tuner's shape, the setting within its ranges that leaves the least SWR, found on a grid over the ranges that closes in on its
    best point."""
    ranges, found = Ranges(tuner.largest_coil_h, tuner.largest_capacitor_f, tuner.smallest_capacitor_f), []
    for layout in SHAPES[tuner.shape]:
        search = _Search(target_ohm, load_ohm, frequency_hz, layout, tuner.coil_q, tuner.capacitor_q)
        values, reflection = search.best(ranges)
        elements = tuple(
            Element(position=position, kind=kind, value=value, loss_ohm=search.loss(kind, value))
            for (position, kind), value in zip(layout, values, strict=True)
        )
        found.append(Nearest(elements, swr_of(reflection)))
    return min(found, key=lambda each: each.swr)


@dataclass(frozen=True)
class _Search:
    target: complex
    load: complex
    frequency: float
    layout: tuple[tuple[Position, Kind], ...]
    coil_q: float | None
    capacitor_q: float | None

    def best(self, ranges: Ranges) -> tuple[list[float], float]:
        """Values in H or F, and the reflection that they leave."""
        limits = [self._limits(kind, ranges) for _, kind in self.layout]
        around, values, least = limits, [low for low, _ in limits], math.inf
        for _ in range(ROUNDS):
            axes = [np.geomspace(low, high, POINTS[len(self.layout)]) for low, high in around]
            sizes = self._reflection(list(np.meshgrid(*axes, indexing="ij")))
            place = np.unravel_index(int(np.argmin(sizes)), sizes.shape)
            least, values = float(sizes[place]), [float(axis[k]) for axis, k in zip(axes, place, strict=True)]
            ratios = [(high / low) ** (2 / (POINTS[len(self.layout)] - 1)) for low, high in around]
            near = zip(limits, values, ratios, strict=True)
            around = [(max(low, value / ratio), min(high, value * ratio)) for (low, high), value, ratio in near]
        return values, least

    def loss(self, kind: Kind, value: float) -> float:
        """Series resistance of a part by its Q, ohm."""
        q, omega = self.coil_q if kind == "inductor" else self.capacitor_q, 2 * math.pi * self.frequency
        return 0.0 if not q else (omega * value if kind == "inductor" else 1 / (omega * value)) / q

    def _limits(self, kind: Kind, ranges: Ranges) -> tuple[float, float]:
        omega, sizes = 2 * math.pi * self.frequency, (abs(self.load), abs(self.target))
        low, high = min(sizes) / FREE, max(sizes) * FREE
        if kind == "inductor":
            most = ranges.largest_coil_h or high / omega
            return min(low / omega, most / FREE), most
        most = ranges.largest_capacitor_f or 1 / (omega * low)
        return ranges.smallest_capacitor_f or min(1 / (omega * high), most / FREE), most

    def _reflection(self, values: list[Real]) -> Real:
        z: Complex = np.asarray(self.load, dtype=complex)
        for (position, kind), value in zip(reversed(self.layout), reversed(values), strict=True):
            own = phasor.inductor(value, self.frequency) if kind == "inductor" else phasor.capacitor(value, self.frequency)
            q = self.coil_q if kind == "inductor" else self.capacitor_q
            own = own + (np.abs(own) / q if q else 0.0)
            z = z + own if position == "series" else z * own / (z + own)
        return np.asarray(np.abs((z - self.target) / (z + self.target.conjugate())))
