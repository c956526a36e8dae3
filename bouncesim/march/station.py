"""A scenario as circuits and line sections: what hangs on which node, and where it is read.

Lumped parts own every node where lines end. A branch of no resistance in the path is a probe: it carries the current of that place, and
the node before it has its voltage. Probes stand behind the transmitter, behind every part, and so in front of every line; a meter reads
the probe where it stands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from bouncesim.march.graph import GROUND, Circuit
from bouncesim.march.line import Section
from bouncesim.scenario import Antenna, Element, Network, Scenario

SOURCE = "source"  # owner of the heat inside the linear equivalent source
ANTENNA = "antenna"


@dataclass(frozen=True)
class Port:
    """An end of a line: which section, whether the line starts (+1) or ends (-1) at this node, and the node."""

    section: int
    sign: int
    node: int


@dataclass(frozen=True)
class Probe:
    """A place of the path: voltage of a node, current of a branch, in one network."""

    network: int
    node: int
    branch: int


@dataclass
class NetworkPlan:
    circuit: Circuit = field(default_factory=Circuit)
    ports: list[Port] = field(default_factory=list)


@dataclass
class Plan:
    """The whole station: networks in order, the sections between them, and its probes in order of the path.

    before, after: part name -> probe in front of it and behind it. The EMF is branch 0 of network 0.
    """

    sections: list[Section]
    networks: list[NetworkPlan] = field(default_factory=lambda: [NetworkPlan()])
    probes: list[Probe] = field(default_factory=list)
    before: dict[str, int] = field(default_factory=dict)
    after: dict[str, int] = field(default_factory=dict)
    ideal_source: bool = False

    @property
    def circuit(self) -> Circuit:
        return self.networks[-1].circuit

    def probe(self, node: int) -> int:
        """Put a probe behind this node; returns the node behind the probe."""
        behind = self.circuit.node()
        branch = self.circuit.add("E", node, behind, 0.0, "probe")
        self.probes.append(Probe(len(self.networks) - 1, node, branch))
        return behind

    def line_end(self, index: int, sign: int, node: int) -> None:
        """Hang half a cell of this section, and its port, on the node. Ports are added last to each circuit, in order."""
        section = self.sections[index]
        self.circuit.add("C", node, GROUND, section.capacitance / 2, section.name)
        if section.conductance > 0:
            self.circuit.add("R", node, GROUND, 2 / section.conductance, section.name)
        self.circuit.add("J", node, GROUND, 0.0, section.name)
        self.networks[-1].ports.append(Port(index, sign, node))


def add_element(circuit: Circuit, element: Element, start: int, end: int, owner: str) -> None:
    """One element and its series loss resistance between two nodes."""
    if element.kind == "resistor":
        circuit.add("R" if element.value > 0 else "E", start, end, element.value, owner)
        return
    inner = end
    if element.loss_ohm > 0:
        inner = circuit.node()
        circuit.add("R", inner, end, element.loss_ohm, owner)
    circuit.add("L" if element.kind == "inductor" else "C", start, inner, element.value, owner)


def add_network(circuit: Circuit, network: Network, node: int) -> int:
    """A ladder of elements from this node; returns the node behind it."""
    for element in network.elements:
        if element.position == "shunt":
            add_element(circuit, element, node, GROUND, network.name)
        else:
            behind = circuit.node()
            add_element(circuit, element, node, behind, network.name)
            node = behind
    return node


def reactive(position: Literal["series", "shunt"], reactance: float, omega: float) -> Element:
    """The inductor or capacitor of this reactance at the carrier."""
    if reactance > 0:
        return Element(position=position, kind="inductor", value=reactance / omega)
    return Element(position=position, kind="capacitor", value=-1 / (omega * reactance))


def add_antenna(circuit: Circuit, antenna: Antenna, node: int, omega: float) -> None:
    """The antenna's impedance at the carrier as R and L or C, in series or in parallel; no resistance at all is a short circuit."""
    z = antenna.impedance_ohm
    if z == 0:
        circuit.add("E", node, GROUND, 0.0, ANTENNA)
        return
    if antenna.form == "series":
        parts = [Element(position="series", kind="resistor", value=z.real)] if z.real > 0 else []
        parts += [reactive("series", z.imag, omega)] if z.imag else []
        for number, element in enumerate(parts, start=1):
            behind = GROUND if number == len(parts) else circuit.node()
            add_element(circuit, element, node, behind, ANTENNA)
            node = behind
        return
    y = 1 / z
    if y.real > 0:
        circuit.add("R", node, GROUND, 1 / y.real, ANTENNA)
    if y.imag:
        add_element(circuit, reactive("shunt", -1 / y.imag, omega), node, GROUND, ANTENNA)


def plan_station(scenario: Scenario, sections: list[Section]) -> Plan:
    """Lay out a scenario whose tuner is already an explicit network; `sections` in the order of its lines."""
    plan = Plan(sections, ideal_source=scenario.transmitter.source_impedance_ohm == 0)
    source = plan.circuit.node()
    plan.circuit.add("E", source, GROUND, 0.0, SOURCE)
    node = source
    if not plan.ideal_source:
        node = plan.circuit.node()
        plan.circuit.add("R", source, node, scenario.transmitter.source_impedance_ohm, SOURCE)
    node = plan.probe(node)
    index = 0
    for part in scenario.path:
        plan.before[part.name] = len(plan.probes) - 1
        if part.part == "network":
            node = plan.probe(add_network(plan.circuit, part, node))
        elif part.part == "line":
            plan.line_end(index, +1, node)
            plan.networks.append(NetworkPlan())
            node = plan.circuit.node()
            plan.line_end(index, -1, node)
            node = plan.probe(node)
            index += 1
        elif part.part != "meter":
            raise ValueError(f"part {part.name!r} must be resolved before the run")
        plan.after[part.name] = len(plan.probes) - 1
    add_antenna(plan.circuit, scenario.antenna, node, 2 * math.pi * scenario.transmitter.frequency_hz)
    return plan
