"""A station's lumped parts as one linear circuit, C x' + G x = b e(t), by modified nodal analysis: for transients.

The unknowns x are node voltages, and the currents of all branches that have no admittance of their own: coils, the source, short circuits,
ideal ratios (C.-W. Ho, A. E. Ruehli and P. A. Brennan, IEEE Trans. CAS-22, 1975, from memory). C may be singular; whoever steps it in time
takes a rule that stands that. What a line is to its two nodes is the caller's choice: a ladder of cells, or delays.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from bouncesim.exact.phasor import Real
from bouncesim.scenario import Element, Line, Meter, Network, Part, Scenario
from bouncesim.scenario.ends import port_of
from bouncesim.scenario.model import Stub, Transformer
from bouncesim.scenario.oneport import Lumped, OnePort

GROUND = -1
Entries = list[tuple[int, int, float]]


@dataclass
class Circuit:
    """Unknowns counted from 0; GROUND is no unknown. `storing` and `passing`: entries (row, column, value) of C and of G, which add up."""

    unknowns: int = 0
    emf: int = GROUND  # the row of the EMF
    storing: Entries = field(default_factory=list)
    passing: Entries = field(default_factory=list)

    def unknown(self) -> int:
        """A new node, or a new branch current."""
        self.unknowns += 1
        return self.unknowns - 1

    def _enter(self, entries: Entries, row: int, column: int, value: float) -> None:
        if GROUND not in (row, column) and value:
            entries.append((row, column, value))

    def across(self, a: int, b: int = GROUND, *, siemens: float = 0.0, farad: float = 0.0) -> None:
        """A conductance and a capacitance between two nodes."""
        for entries, value in ((self.passing, siemens), (self.storing, farad)):
            for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                self._enter(entries, row, column, sign * value)

    def branch(self, a: int, b: int = GROUND, *, ohm: float = 0.0, henry: float = 0.0) -> int:
        """A resistance and an inductance in series from a to b, both may be 0; returns the unknown that is its current."""
        current = self.unknown()
        for node, sign in ((a, 1.0), (b, -1.0)):
            self._enter(self.passing, node, current, sign)
            self._enter(self.passing, current, node, sign)
        self._enter(self.passing, current, current, -ohm)
        self._enter(self.storing, current, current, -henry)
        return current

    def in_line(self, current: int, *, ohm: float, henry: float) -> None:
        """A resistance and an inductance in parallel to each other, put in series into the branch that has this current."""
        inner = self.unknown()  # the current of the inductance; the drop is ohm (current - inner)
        for row, column, value in ((current, current, -ohm), (current, inner, ohm), (inner, current, ohm), (inner, inner, -ohm)):
            self._enter(self.passing, row, column, value)
        self._enter(self.storing, inner, inner, -henry)

    def ratio(self, a: int, b: int, turns: float) -> None:
        """An ideal transformer: `turns` times the voltage of a at b, and a turns-th of its current."""
        current = self.unknown()
        for node, share in ((a, 1.0), (b, -1 / turns)):
            self._enter(self.passing, node, current, share)
            self._enter(self.passing, current, node, share)

    def matrices(self) -> tuple[Real, Real]:
        """C and G as dense arrays, shape (unknowns, unknowns)."""
        dense = np.zeros((2, self.unknowns, self.unknowns))
        for matrix, entries in zip(dense, (self.storing, self.passing), strict=True):
            for row, column, value in entries:
                matrix[row, column] += value
        return dense[0], dense[1]


AddLine = Callable[[Circuit, Line, int, int], None]
Ends = dict[str, tuple[int, int]]  # name of a line -> its nodes, nearest the transmitter first


def lay_out(scenario: Scenario, add_line: AddLine) -> tuple[Circuit, Ends]:
    """The circuit of a resolved scenario, path from source to load; add_line(circuit, line, near, far) is called for every line."""
    layout = _Layout(scenario.omega, add_line)
    circuit = layout.circuit
    behind, terminals = circuit.unknown(), circuit.unknown()
    circuit.emf = circuit.branch(behind)
    layout.port(scenario.source_port, behind, terminals)
    layout.port(scenario.load_port, layout.walk(scenario.path, terminals), GROUND)
    return circuit, layout.ends


class _Layout:
    """Walks a path and puts each part where it belongs."""

    def __init__(self, omega: float, add_line: AddLine) -> None:
        self.circuit, self.ends, self.omega, self.add_line = Circuit(), Ends(), omega, add_line

    def walk(self, path: tuple[Part, ...], node: int) -> int:
        """Every part in order from a node; returns the node behind the last."""
        for part in path:
            if isinstance(part, Network):
                for element in part.elements:
                    node = self.element(element, node)
            elif isinstance(part, Line):
                far = self.circuit.unknown()
                self.ends[part.name] = (node, far)
                self.add_line(self.circuit, part, node, far)
                node = far
            elif isinstance(part, Transformer):
                node = self.transformer(part, node)
            elif isinstance(part, Stub):
                end = self.walk(part.path, node)
                if part.end != "open":
                    self.port(port_of(0j if part.end == "short" else complex(part.end), "series", self.omega), end, GROUND)
            elif not isinstance(part, Meter):
                raise ValueError(f"{part.name!r} has no place in a circuit")
        return node

    def element(self, element: Element, node: int) -> int:
        """One element from a node: in shunt to the return conductor, or in series to a new node, which is returned."""
        behind = self.circuit.unknown() if element.position == "series" else GROUND
        if element.kind == "resistor":
            self.circuit.across(node, behind, siemens=1 / element.value)
        elif element.kind == "inductor":
            self.circuit.branch(node, behind, ohm=element.loss_ohm, henry=element.value)
        elif element.loss_ohm:
            inner = self.circuit.unknown()
            self.circuit.across(node, inner, farad=element.value)
            self.circuit.across(inner, behind, siemens=1 / element.loss_ohm)
        else:
            self.circuit.across(node, behind, farad=element.value)
        return node if behind == GROUND else behind

    def transformer(self, part: Transformer, node: int) -> int:
        """Winding and leakage in series, core and magnetising inductance in shunt, then the ratio."""
        if part.winding_resistance_ohm or part.leakage_inductance_h:
            behind = self.circuit.unknown()
            self.circuit.branch(node, behind, ohm=part.winding_resistance_ohm, henry=part.leakage_inductance_h)
            node = behind
        if part.core_resistance_ohm:
            self.circuit.across(node, siemens=1 / part.core_resistance_ohm)
        if part.magnetising_inductance_h:
            self.circuit.branch(node, henry=part.magnetising_inductance_h)
        behind = self.circuit.unknown()
        self.circuit.ratio(node, behind, math.sqrt(part.impedance_ratio))
        return behind

    def port(self, port: OnePort, a: int, b: int) -> None:
        """A one-port between two nodes."""
        if isinstance(port, Lumped):
            if port.kind == "resistor":
                self.circuit.branch(a, b, ohm=port.value)
            elif port.kind == "inductor":
                self.circuit.branch(a, b, henry=port.value)
            else:
                self.circuit.across(a, b, farad=port.value)
        elif port.how == "parallel":
            for member in port.members:
                self.port(member, a, b)
        elif not port.members:
            self.circuit.branch(a, b)
        else:
            nodes = [a, *(self.circuit.unknown() for _ in port.members[1:]), b]
            for member, (start, end) in zip(port.members, itertools.pairwise(nodes), strict=True):
                self.port(member, start, end)
