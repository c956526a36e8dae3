"""The networks of a station as the compiled loop takes them: the rows of one network behind those of another, and where each input and
result lies.

Rows that every step needs (new states, port voltages, heat, the current of the EMF) stand first in each network; those that are only read
(gauges, watched coils and capacitors) behind them, so that a stretch of steps that nobody watches leaves them out.

Of the rows, those that are booked are each the root of a power (W^1/2): one a resistor, sqrt(R) i; two a gauge, forward and reflected,
(V +- Z I)/(2 sqrt Z), for a place and a real reference Z. Apart from them, the current of the EMF (A).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bouncesim.march.loop import AT_ONCE
from bouncesim.march.network import Discrete
from bouncesim.march.station import Plan, Watched

Array = NDArray[np.floating]
Index = NDArray[np.integer]

LANES = 4  # rows come in fours, which fill a register of the usual size


@dataclass(frozen=True)
class Gauge:
    """A directional reading of a place: against a real reference, under a name."""

    name: str
    probe: int
    reference_ohm: float


@dataclass
class Rows:
    """Where each row of y is: heat owners by row; gauge name -> row of its forward wave (the reflected one follows); watched coils ("L",
    A) and capacitors ("C", V) by row, with their part."""

    owners: dict[int, str] = field(default_factory=dict)
    gauges: dict[str, int] = field(default_factory=dict)
    watched: dict[int, tuple[str, str]] = field(default_factory=dict)
    count: int = 0


@dataclass(frozen=True)
class Packed:
    """Arrays of loop.step_networks (their shapes are there). emf: see loop.march. Indices are unsigned: the compiler then need not ask of
    each whether it counts from the end, which took a tenth of a step."""

    matrices: Array
    blocks: Index
    ports: Index
    signs: Array
    states: Index
    x: Array
    y: Array
    emf: Index
    rows: Rows


class _Packer:
    """Takes networks one by one, and knows where each came to lie."""

    def __init__(self) -> None:
        self.columns: list[Array] = []
        self.blocks: list[list[int]] = []
        self.height = self.inputs = 0

    def add(self, stepped: Sequence[Array], read: Sequence[Array], width: int) -> tuple[int, int]:
        """Add a network of so many inputs; returns the places in y of the first row that is stepped, and of the first one that is read."""
        parts = [np.zeros((-(-len(rows) // LANES) * LANES, max(width, AT_ONCE))) for rows in (stepped, read)]
        for padded, rows in zip(parts, (stepped, read), strict=True):
            padded[: len(rows), :width] = np.array(rows).reshape(len(rows), -1)[:, :width]
        first = self.height
        behind, self.height = first + len(parts[0]), first + len(parts[0]) + len(parts[1])
        self.columns.append(np.concatenate(parts).T)
        self.blocks.append([first, behind, self.height, self.inputs, len(self.columns[-1])])
        self.inputs += len(self.columns[-1])
        return first, behind

    def matrices(self) -> Array:
        """All networks in one array, (C, Y)."""
        packed = np.zeros((max(len(columns) for columns in self.columns), self.height))
        for (first, _, end, _, count), columns in zip(self.blocks, self.columns, strict=True):
            packed[:count, first:end] = columns
        return packed


def pack(plan: Plan, discrete: Sequence[Discrete], gauges: Sequence[Gauge], bounds: Index) -> Packed:
    """Lay out the networks; bounds (S, 3): first node, first cell, cells of every section."""
    packer, rows = _Packer(), Rows()
    ports, signs, states = [], [], []
    sources = 2 if plan.ideal_source else 1
    emf = (0, 0)
    for k, (ends, net) in enumerate(zip(plan.ports, discrete, strict=True)):
        n_z, n_p, first_x = net.states, net.ports, packer.inputs
        at_ports = [port.spot.turns * net.voltage_next[port.spot.node] for port in ends]
        current = [-net.current[0]] if k == 0 else []  # out of the EMF's upper end
        resistors = [(b, branch) for b, branch in enumerate(plan.circuits[k].branches) if branch.kind == "R"]
        heat = [math.sqrt(branch.value) * net.current[b] for b, branch in resistors]
        here = [gauge for gauge in gauges if plan.probes[gauge.probe].spot.network == k]
        watched = [item for item in plan.watched if item.spot.network == k]
        read = [row for gauge in here for row in _gauge_rows(plan, net, gauge)] + [_element_row(plan, net, item) for item in watched]
        at, behind = packer.add([*net.step, *at_ports, *current, *heat], read, n_z + n_p + (sources if k == 0 else 0))
        states += [[first_x + z, at + z] for z in range(n_z)]
        for p, port in enumerate(ends):
            v0, i0, n = bounds[port.section]
            node, cell = (v0, i0) if port.sign > 0 else (v0 + n, i0 + n - 1)
            ports.append([node, cell, first_x + n_z + p, at + n_z + p])
            signs.append(port.sign * port.spot.turns)
        if k == 0:
            emf = (n_z + n_p, at + n_z + n_p)
        rows.owners.update({at + n_z + n_p + len(current) + r: branch.owner for r, (_, branch) in enumerate(resistors)})
        rows.gauges.update({gauge.name: behind + 2 * n for n, gauge in enumerate(here)})
        rows.watched.update({behind + 2 * len(here) + n: (item.part, item.kind) for n, item in enumerate(watched)})
    rows.count = packer.height
    # One place more than the networks need: where there is no ideal source, the EMF's change goes there, unread.
    return Packed(
        matrices=packer.matrices(),
        blocks=np.array(packer.blocks, dtype=np.uint32),
        ports=np.array(ports, dtype=np.uint32),
        signs=np.array(signs),
        states=np.array(states, dtype=np.uint32).reshape(-1, 2),
        x=np.zeros(packer.inputs + 1),
        y=np.zeros(packer.height),
        emf=np.array([emf[0], emf[0] + 1 if sources == 2 else packer.inputs, emf[1]], dtype=np.uint32),
        rows=rows,
    )


def _gauge_rows(plan: Plan, net: Discrete, gauge: Gauge) -> list[Array]:
    """Forward and reflected wave of a gauge, W^1/2."""
    probe, z = plan.probes[gauge.probe], gauge.reference_ohm
    v = probe.spot.turns * net.voltage[probe.spot.node]
    i = net.current[probe.branch] / probe.spot.turns
    return [(v + z * i) / (2 * math.sqrt(z)), (v - z * i) / (2 * math.sqrt(z))]


def _element_row(plan: Plan, net: Discrete, item: Watched) -> Array:
    """Current of a coil (A) or voltage across a capacitor (V)."""
    branch = plan.circuits[item.spot.network].branches[item.branch]
    if item.kind == "L":
        return np.asarray(net.current[item.branch] / item.spot.turns)
    return np.asarray(item.spot.turns * (net.voltage[branch.start] - net.voltage[branch.end]))
