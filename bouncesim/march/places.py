"""Places of the networks whose largest voltage and current are kept: the two ends of the station, and every part between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bouncesim.march.packing import Gauge, Rows
from bouncesim.march.station import Plan

COIL, CAPACITOR = "coil current", "capacitor voltage"


@dataclass(frozen=True)
class Place:
    """A voltage or current to keep an eye on: whose, which, and what loop.watch_places makes it up from."""

    name: str
    quantity: str  # "voltage", "current", COIL or CAPACITOR
    rows: tuple[int, int]
    weights: tuple[float, float]


def watched_places(plan: Plan, gauges: Sequence[Gauge], rows: Rows) -> list[Place]:
    """Voltage and current at the source, in front of every part and at the load; of coils the current, of capacitors the voltage."""
    at_probe = {gauge.probe: gauge for gauge in reversed(gauges)}
    found: list[Place] = []
    probes = {"transmitter": 0, **{name: probe for name, probe in plan.before.items() if plan.belongs[name] == name}}
    probes["antenna"] = next(gauge.probe for gauge in gauges if gauge.name == "antenna")
    for name, probe in probes.items():
        found += _ends(name, at_probe[probe], rows)
    for row, (part, kind) in rows.watched.items():
        found.append(Place(part, COIL if kind == "L" else CAPACITOR, (row, row), (1.0, 0.0)))
    return found


def _ends(name: str, gauge: Gauge, rows: Rows) -> Iterator[Place]:
    """Voltage and current from the two waves of a gauge, V = sqrt(Z) (a + b) and I = (a - b)/sqrt(Z)."""
    row, root = rows.gauges[gauge.name], math.sqrt(gauge.reference_ohm)
    yield Place(name, "voltage", (row, row + 1), (root, root))
    yield Place(name, "current", (row, row + 1), (1 / root, -1 / root))
