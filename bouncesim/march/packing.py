"""The networks of a station as the compiled loop takes them: rows in groups of four, and where each input and result lies.

Rows that every step needs (new states, port voltages, heat, the current of the EMF) stand first, for all networks; those that are only read
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

from bouncesim.march.network import Discrete
from bouncesim.march.station import Plan, Watched

Array = NDArray[np.floating]
Index = NDArray[np.int64]

LANES = 4  # rows come in groups of four: as many accumulators stay in registers (a row at a time took three times as long)


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
    """Arrays of loop.step_networks (their shapes are there). busy: how many groups every step needs. emf: see loop.march."""

    matrices: Array
    groups: Index
    ports: Index
    signs: Array
    states: Index
    x: Array
    y: Array
    emf: Index
    busy: int
    rows: Rows


class _Packer:
    """Takes blocks of rows one by one, and knows where each came to lie."""

    def __init__(self) -> None:
        self.blocks: list[Array] = []
        self.groups: list[list[int]] = []
        self.height = 0

    def add(self, rows: Sequence[Array], first_x: int, width: int) -> int:
        """Add rows over the inputs from first_x on; returns the place of the first in y."""
        at = self.height
        padded = np.zeros((-(-len(rows) // LANES) * LANES, width))
        padded[: len(rows)] = np.array(rows).reshape(len(rows), -1)[:, :width]
        self.blocks += list(padded.reshape(-1, LANES, width).transpose(0, 2, 1))
        self.groups += [[first_x, width]] * (len(padded) // LANES)
        self.height += len(padded)
        return at

    def matrices(self) -> Array:
        """All groups in one array, (G, C, 4)."""
        packed = np.zeros((len(self.blocks), max(block.shape[0] for block in self.blocks), LANES))
        for group, block in zip(packed, self.blocks, strict=True):
            group[: block.shape[0]] = block
        return packed


def pack(plan: Plan, discrete: Sequence[Discrete], gauges: Sequence[Gauge], bounds: Index) -> Packed:
    """Lay out the networks; bounds (S, 3): first node, first cell, cells of every section."""
    packer, rows = _Packer(), Rows()
    ports, signs, states, spans = [], [], [], []
    first_x, sources = 0, 2 if plan.ideal_source else 1
    emf = (0, 0)
    for k, (ends, net) in enumerate(zip(plan.ports, discrete, strict=True)):
        n_z, n_p = net.states, net.ports
        width = n_z + n_p + (sources if k == 0 else 0)
        spans.append((first_x, width))
        at_ports = [port.spot.turns * net.voltage_next[port.spot.node] for port in ends]
        current = [-net.current[0]] if k == 0 else []  # out of the EMF's upper end
        resistors = [(b, branch) for b, branch in enumerate(plan.circuits[k].branches) if branch.kind == "R"]
        heat = [math.sqrt(branch.value) * net.current[b] for b, branch in resistors]
        at = packer.add([*net.step, *at_ports, *current, *heat], first_x, width)
        states += [[first_x + z, at + z] for z in range(n_z)]
        for p, port in enumerate(ends):
            v0, i0, n = bounds[port.section]
            node, cell = (v0, i0) if port.sign > 0 else (v0 + n, i0 + n - 1)
            ports.append([node, cell, first_x + n_z + p, at + n_z + p])
            signs.append(port.sign * port.spot.turns)
        if k == 0:
            emf = (n_z + n_p, at + n_z + n_p)
        rows.owners.update({at + n_z + n_p + len(current) + r: branch.owner for r, (_, branch) in enumerate(resistors)})
        first_x += width
    busy = len(packer.groups)
    for k, (start, width) in enumerate(spans):
        _add_read_rows(packer, rows, plan, discrete, gauges, k, start, width)
    rows.count = packer.height
    # One place more than the networks need: where there is no ideal source, the EMF's change goes there, unread.
    return Packed(
        matrices=packer.matrices(),
        groups=np.array(packer.groups, dtype=np.int64),
        ports=np.array(ports, dtype=np.int64),
        signs=np.array(signs),
        states=np.array(states, dtype=np.int64).reshape(-1, 2),
        x=np.zeros(first_x + 1),
        y=np.zeros(packer.height),
        emf=np.array([emf[0], emf[0] + 1 if sources == 2 else first_x, emf[1]], dtype=np.int64),
        busy=busy,
        rows=rows,
    )


def _add_read_rows(
    packer: _Packer, rows: Rows, plan: Plan, discrete: Sequence[Discrete], gauges: Sequence[Gauge], k: int, first_x: int, width: int
) -> None:
    """Gauges and watched elements of network k."""
    here = [gauge for gauge in gauges if plan.probes[gauge.probe].spot.network == k]
    watched = [item for item in plan.watched if item.spot.network == k]
    found: list[Array] = []
    for gauge in here:
        probe, z = plan.probes[gauge.probe], gauge.reference_ohm
        v = probe.spot.turns * discrete[k].voltage[probe.spot.node]
        i = discrete[k].current[probe.branch] / probe.spot.turns
        found += [(v + z * i) / (2 * math.sqrt(z)), (v - z * i) / (2 * math.sqrt(z))]
    found += [_element_row(plan, discrete[k], item) for item in watched]
    at = packer.add(found, first_x, width)
    rows.gauges.update({gauge.name: at + 2 * n for n, gauge in enumerate(here)})
    rows.watched.update({at + 2 * len(here) + n: (item.part, item.kind) for n, item in enumerate(watched)})


def _element_row(plan: Plan, net: Discrete, item: Watched) -> Array:
    """Current of a coil (A) or voltage across a capacitor (V)."""
    branch = plan.circuits[item.spot.network].branches[item.branch]
    if item.kind == "L":
        return np.asarray(net.current[item.branch] / item.spot.turns)
    return np.asarray(item.spot.turns * (net.voltage[branch.start] - net.voltage[branch.end]))
