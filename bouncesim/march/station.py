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
from bouncesim.scenario import Element, Network, Part, Scenario
from bouncesim.scenario.model import Stub, Transformer

SOURCE = "source"  # owner of the heat inside the linear equivalent source
ANTENNA = "antenna"
PROBE = "probe"
NEGLIGIBLE = 1e-15  # of an impedance: a part this small is below its rounding


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
    ideal_source: bool = False
    _lines: int = 0

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

    def load(self, impedance: complex, form: str, spot: Spot, owner: str) -> None:
        """An impedance at the carrier as R and L or C, in series or in parallel; none at all is a short circuit."""
        if impedance == 0:
            self.add("E", spot, None, 0.0, owner)
            return
        if form == "parallel":
            y = 1 / impedance
            if y.real > NEGLIGIBLE * abs(y):
                self.add("R", spot, None, 1 / y.real, owner)
            if abs(y.imag) > NEGLIGIBLE * abs(y):
                self._reactance(-1 / y.imag, spot, owner)
            return
        reactive = abs(impedance.imag) > NEGLIGIBLE * abs(impedance)
        if impedance.real > NEGLIGIBLE * abs(impedance):
            end = self.node(spot) if reactive else None
            self.add("R", spot, end, impedance.real, owner)
            spot = end or spot
        if reactive:
            self._reactance(impedance.imag, spot, owner)

    def _reactance(self, ohm: float, spot: Spot, owner: str) -> None:
        """The inductor or capacitor of this reactance at the carrier, to the return conductor."""
        kind, value = ("L", ohm / self.omega) if ohm > 0 else ("C", -1 / (self.omega * ohm))
        self.add(kind, spot, None, value, owner)

    def stub(self, part: Stub, spot: Spot, holder: str) -> None:
        """A branch across this spot, to its end."""
        end = self.walk(part.path, self.probe(spot), holder)
        if part.end != "open":
            self.load(0j if part.end == "short" else complex(part.end), "series", end, part.name)

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
    """Lay out a scenario whose tuners are already explicit networks; `sections` in the order of its lines, those inside stubs too."""
    transmitter = scenario.transmitter
    plan = Plan(sections, 2 * math.pi * transmitter.frequency_hz, ideal_source=transmitter.source_impedance_ohm == 0)
    spot = plan.open_network()
    plan.add("E", spot, None, 0.0, SOURCE)
    if not plan.ideal_source:
        behind = plan.node(spot)
        plan.add("R", spot, behind, transmitter.source_impedance_ohm, SOURCE)
        spot = behind
    end = plan.walk(scenario.path, plan.probe(spot))
    plan.load(scenario.antenna.at_carrier_ohm, scenario.antenna.form, end, ANTENNA)
    return plan
