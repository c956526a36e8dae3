"""A scenario as circuits and line sections: what hangs on which node, and where it is read.

Lumped parts own every node where lines end: transmitter, tuner, junction, stub, antenna are all a network with one or more line ports. A
branch of no resistance in the path is a probe: it carries the current of that place, and the node before it has its voltage. Probes stand
behind the transmitter, behind every part, and so in front of every line; a meter reads the probe where it stands.

An ideal ratio is no branch at all: behind it every voltage is kept divided by the turns, and every current multiplied (C t^2, L/t^2,
R/t^2 for turns t), which is what it looks like from in front. Ports and probes carry their turns, to tell the real voltage and current.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from bouncesim.march.graph import GROUND, Circuit
from bouncesim.march.line import Section
from bouncesim.march.switches import ANTENNA, Turn, contacts
from bouncesim.scenario import Element, Network, Part, Scenario
from bouncesim.scenario.ends import port_of
from bouncesim.scenario.events import CLOSED_OHM, connectors
from bouncesim.scenario.model import Stub, Transformer
from bouncesim.scenario.oneport import Joined, Lumped, OnePort

SOURCE = "source"  # owner of the heat inside the linear equivalent source
ANTENNA_HEAT = "antenna heat"  # owner of what the antenna does not radiate
PROBE = "probe"
SHORT = Joined(how="series")
HEAT_OF = {ANTENNA: ANTENNA_HEAT}
KINDS = {"resistor": "R", "inductor": "L", "capacitor": "C"}


@dataclass(frozen=True)
class Spot:
    """Where the path has got to: a node of a network, and the turns between it and the network's own side."""

    network: int
    node: int
    turns: float = 1.0


@dataclass(frozen=True)
class Port:
    """An end of a line: which section, whether the line starts (+1) or ends (-1) here, and where."""

    section: int
    sign: int
    spot: Spot


@dataclass(frozen=True)
class Probe:
    """A place of the path: voltage of a spot's node, current of a branch behind it."""

    spot: Spot
    branch: int


@dataclass(frozen=True)
class Watched:
    """A coil or capacitor of a tuner or network, by the branch that is the element itself."""

    part: str
    kind: str  # "L" or "C"
    spot: Spot
    branch: int


@dataclass
class Plan:
    """The whole station: circuits and their ports in order, the sections between them, probes in the order in which they were set.

    before, after: part name -> probe in front of it and behind it. belongs: part name -> the part of the main path that holds it (a stub,
    for those inside it; otherwise itself). The EMF is branch 0 of circuit 0.
    """

    sections: list[Section]
    omega: float
    circuits: list[Circuit] = field(default_factory=list)
    ports: list[list[Port]] = field(default_factory=list)
    probes: list[Probe] = field(default_factory=list)
    watched: list[Watched] = field(default_factory=list)
    before: dict[str, int] = field(default_factory=dict)
    after: dict[str, int] = field(default_factory=dict)
    belongs: dict[str, str] = field(default_factory=dict)
    turns: list[Turn] = field(default_factory=list)
    ideal_source: bool = False
    _lines: int = 0

    @property
    def delay_s(self) -> float:
        """Of all lines, one way."""
        return sum(section.delay_s for section in self.sections)

    def open_network(self) -> Spot:
        """A new network, with its first node."""
        self.circuits.append(Circuit())
        self.ports.append([])
        return Spot(len(self.circuits) - 1, self.circuits[-1].node())

    def node(self, spot: Spot) -> Spot:
        """A new node of the same network and turns."""
        return Spot(spot.network, self.circuits[spot.network].node(), spot.turns)

    def add(self, kind: str, start: Spot, end: Spot | None, value: float, owner: str) -> int:
        """A branch between two spots, or from a spot to the return conductor; its value as it really is."""
        t2 = start.turns**2
        referred = {"C": value * t2, "L": value / t2, "R": value / t2}.get(kind, value)
        return self.circuits[start.network].add(kind, start.node, GROUND if end is None else end.node, referred, owner)

    def probe(self, spot: Spot) -> Spot:
        """Put a probe behind this spot; returns the spot behind the probe."""
        behind = self.node(spot)
        self.probes.append(Probe(spot, self.add("E", spot, behind, 0.0, PROBE)))
        return behind

    def line_end(self, index: int, sign: int, spot: Spot) -> None:
        """Hang half a cell of this section, and its port, on the spot."""
        section = self.sections[index]
        self.add("C", spot, None, section.capacitance / 2, section.name)
        if section.conductance > 0:
            self.add("R", spot, None, 2 / section.conductance, section.name)
        for conductance, capacitance in section.shunt_branches:
            inner = self.node(spot)
            self.add("R", spot, inner, 2 / conductance, section.name)
            self.add("C", inner, None, capacitance / 2, section.name)
        self.add("J", spot, None, 0.0, section.name)
        self.ports[spot.network].append(Port(index, sign, spot))

    def line(self, spot: Spot) -> Spot:
        """The next section, from this spot; returns the spot at its far end, in a network of its own."""
        index, self._lines = self._lines, self._lines + 1
        self.line_end(index, +1, spot)
        far = self.open_network()
        self.line_end(index, -1, far)
        return far

    def element(self, element: Element, start: Spot, end: Spot | None, owner: str) -> None:
        """One element and its series loss resistance between two spots, or from a spot to the return conductor."""
        if element.kind == "resistor":
            self.add("R", start, end, element.value, owner)
            return
        inner = end
        if element.loss_ohm > 0:
            inner = self.node(start)
            self.add("R", inner, end, element.loss_ohm, owner)
        kind = "L" if element.kind == "inductor" else "C"
        self.watched.append(Watched(owner, kind, start, self.add(kind, start, inner, element.value, owner)))

    def ladder(self, network: Network, spot: Spot) -> Spot:
        """Elements in order from this spot; returns the spot behind them."""
        for element in network.elements:
            if element.position == "shunt":
                self.element(element, spot, None, network.name)
            else:
                behind = self.node(spot)
                self.element(element, spot, behind, network.name)
                spot = behind
        return spot

    def transformer(self, part: Transformer, spot: Spot) -> Spot:
        """Series losses and leakage, shunt magnetising branch, then the ratio."""
        for kind, value in (("R", part.winding_resistance_ohm), ("L", part.leakage_inductance_h)):
            if value > 0:
                behind = self.node(spot)
                self.add(kind, spot, behind, value, part.name)
                spot = behind
        for kind, shunt in (("R", part.core_resistance_ohm), ("L", part.magnetising_inductance_h)):
            if shunt is not None:
                self.add(kind, spot, None, shunt, part.name)
        return Spot(spot.network, spot.node, spot.turns * math.sqrt(part.impedance_ratio))

    def one_port(self, port: OnePort, start: Spot, end: Spot | None, owner: str) -> None:
        """A one-port between two spots, or from a spot to the return conductor; what of it makes heat, not radiation, apart."""
        if isinstance(port, Lumped):
            apart = port.kind == "resistor" and not port.radiates
            self.add(KINDS[port.kind], start, end, port.value, HEAT_OF.get(owner, owner) if apart else owner)
        elif port.how == "parallel":
            for member in port.members:
                self.one_port(member, start, end, owner)
        elif not port.members:
            self.add("E", start, end, 0.0, owner)
        else:
            for member in port.members[:-1]:
                inner = self.node(start)
                self.one_port(member, start, inner, owner)
                start = inner
            self.one_port(port.members[-1], start, end, owner)

    def stub(self, part: Stub, spot: Spot, holder: str) -> None:
        """A branch across this spot, to its end."""
        end = self.walk(part.path, self.probe(spot), holder)
        if part.end != "open":
            port = SHORT if part.end == "short" else port_of(complex(part.end), "series", self.omega)
            self.one_port(port, end, None, part.name)

    def walk(self, path: tuple[Part, ...], spot: Spot, holder: str | None = None) -> Spot:
        """Every part in order from a probed spot; returns the (probed) spot behind the last one. holder: the stub that we are in."""
        at = len(self.probes) - 1
        for part in path:
            self.before[part.name] = at
            self.belongs[part.name] = holder or part.name
            if part.part == "network":
                spot = self.ladder(part, spot)
            elif part.part == "transformer":
                spot = self.transformer(part, spot)
            elif part.part == "line":
                spot = self.line(spot)
            elif part.part == "stub":
                self.stub(part, spot, holder or part.name)
            elif part.part != "meter":
                raise ValueError(f"part {part.name!r} must be resolved before the run")
            if part.part != "meter":
                spot = self.probe(spot)
                at = len(self.probes) - 1
            self.after[part.name] = at
        return spot


def plan_station(scenario: Scenario, sections: list[Section]) -> Plan:
    """Lay out a scenario that is resolved (tuners set, antenna known, path from source to load); `sections` in the order of its lines,
    those inside stubs too. Connectors that fail stand in its path already, still good."""
    port = scenario.source_port
    plan = Plan(sections, scenario.omega, ideal_source=passes_edges(port))
    spot = plan.open_network()
    plan.add("E", spot, None, 0.0, SOURCE)
    if port != SHORT:
        behind = plan.node(spot)
        plan.one_port(port, spot, behind, SOURCE)
        spot = behind
    end = plan.walk(scenario.path, plan.probe(spot))
    events = sorted(scenario.events, key=lambda event: event.at_s)
    contacts(plan, scenario.load_port, end, events)
    for name, event in connectors(scenario.events):
        assert event.resistance_ohm is not None
        plan.turns.append(_connector(plan, name, event.at_s, event.resistance_ohm))
    return plan


def passes_edges(port: OnePort) -> bool:
    """True where a step of voltage passes without resistance: through nothing, or through capacitors alone."""
    if isinstance(port, Lumped):
        return port.kind == "capacitor"
    passing = [passes_edges(member) for member in port.members]
    return all(passing) if port.how == "series" else any(passing)


def _connector(plan: Plan, name: str, at_s: float, ohm: float) -> Turn:
    """The turn of the connector that is the part `name`."""
    for c, circuit in enumerate(plan.circuits):
        for b, branch in enumerate(circuit.branches):
            if branch.owner == name and branch.kind == "R":
                return Turn(at_s, c, b, branch.value * ohm / CLOSED_OHM)
    raise ValueError(f"there is no connector {name!r}")
