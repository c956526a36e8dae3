"""A slow, readable twin of a whole station in NumPy, from the equations alone: nothing of the solver is used.

Lines: leapfrog of the telegrapher's equations with loss at the mean of two steps. Networks: modified nodal analysis of every branch as
it stands, no constraint removed, by the implicit midpoint rule: over a step, with mean values,

    resistor i = v/R,   capacitor i = (2C/dt)(v - v_n),   coil v = (2L/dt)(i - i_n),   source v = s,

solved for the mean node voltages and the mean currents of all but capacitors; then v_n+1 = 2 v - v_n, i_n+1 = 2 i - i_n.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from bouncesim.march.line import Section
from bouncesim.scenario import Element, Meter, Network, Scenario
from bouncesim.scenario.oneport import Lumped as OnePortElement
from bouncesim.scenario.oneport import OnePort


@dataclass
class Part:
    """One branch: kind R, L, C or E; its two nodes; its value; whose it is; and what it holds (v of a capacitor, i of a coil)."""

    kind: str
    start: int
    end: int
    value: float
    owner: str
    held: float = 0.0
    mean_v: float = 0.0
    mean_i: float = 0.0


@dataclass
class Lumped:
    """A network of branches between nodes 0 (return conductor) .. nodes - 1, with the ends of lines that hang on it."""

    parts: list[Part] = field(default_factory=list)
    ends: list[tuple[int, int, int]] = field(default_factory=list)  # section, +1 where the line starts or -1 where it ends, node
    nodes: int = 1

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def add(self, kind: str, start: int, end: int, value: float, owner: str) -> Part:
        self.parts.append(Part(kind, start, end, value, owner))
        return self.parts[-1]

    def solve(self, emf: float, into_lines: list[float], dt: float) -> np.ndarray:
        """Mean node voltages of a step; every branch gets its mean voltage and current."""
        with_current = [k for k, part in enumerate(self.parts) if part.kind in "RLE"]
        size = self.nodes + len(with_current)
        a, b = np.zeros((size, size)), np.zeros(size)
        for part in self.parts:
            if part.kind == "C":
                g = 2 * part.value / dt
                a[np.ix_([part.start, part.end], [part.start, part.end])] += g * np.array([[1, -1], [-1, 1]])
                b[[part.start, part.end]] += g * part.held * np.array([1, -1])
        for row, k in enumerate(with_current, start=self.nodes):
            part = self.parts[k]
            a[part.start, row] += 1
            a[part.end, row] -= 1
            a[row, part.start] += 1
            a[row, part.end] -= 1
            if part.kind == "L":
                a[row, row] -= 2 * part.value / dt
                b[row] -= 2 * part.value / dt * part.held
            elif part.kind == "R":
                a[row, row] -= part.value
            else:
                b[row] += emf if part.owner == "emf" else 0.0
        for (_, _, node), current in zip(self.ends, into_lines, strict=True):
            b[node] -= current
        answer = np.concatenate([[0.0], np.linalg.solve(a[1:, 1:], b[1:])])
        for k, part in enumerate(self.parts):
            part.mean_v = answer[part.start] - answer[part.end]
            if part.kind == "C":
                part.mean_i = 2 * part.value / dt * (part.mean_v - part.held)
            else:
                part.mean_i = answer[self.nodes + with_current.index(k)]
        return answer[: self.nodes]

    def energy(self) -> float:
        return sum(part.value * part.held**2 / 2 for part in self.parts if part.kind in "LC")


def _element(lumped: Lumped, element: Element, start: int, end: int, owner: str) -> None:
    if element.kind == "resistor":
        lumped.add("R", start, end, element.value, owner)
        return
    behind = end
    if element.loss_ohm:
        behind = lumped.node()
        lumped.add("R", behind, end, element.loss_ohm, owner)
    lumped.add({"inductor": "L", "capacitor": "C"}[element.kind], start, behind, element.value, owner)


def _one_port(lumped: Lumped, port: OnePort, start: int, end: int, owner: str) -> None:
    """Elements in series get nodes between them, elements in parallel share both; nothing in series is a short."""
    if isinstance(port, OnePortElement):
        heat = owner == "antenna" and port.kind == "resistor" and not port.radiates
        lumped.add(
            {"resistor": "R", "inductor": "L", "capacitor": "C"}[port.kind], start, end, port.value, f"{owner} heat" if heat else owner
        )
    elif port.how == "parallel":
        for member in port.members:
            _one_port(lumped, member, start, end, owner)
    else:
        for k, member in enumerate(port.members):
            behind = end if k == len(port.members) - 1 else lumped.node()
            _one_port(lumped, member, start, behind, owner)
            start = behind
        if not port.members:
            lumped.add("E", start, end, 0.0, owner)


def _antenna(lumped: Lumped, scenario: Scenario, start: int, end: int, owner: str) -> None:
    """Series: R + jX, part of R may be a loss; parallel: 1/R' + 1/(jX') with the same value at the carrier; 0 ohm: a short."""
    antenna, omega = scenario.antenna, 2 * np.pi * scenario.transmitter.frequency_hz
    if antenna.circuit is not None:
        _one_port(lumped, antenna.circuit, start, end, owner)
        return
    loss = antenna.loss_resistance_ohm
    if loss:
        behind = lumped.node()
        lumped.add("R", start, behind, loss, "antenna heat" if owner == "antenna" else owner)
        start = behind
    z = antenna.impedance_ohm - loss
    if z == 0:
        lumped.add("E", start, end, 0.0, owner)
    elif antenna.form == "series":
        middle = lumped.node() if z.real and z.imag else (start if not z.real else end)
        if z.real:
            lumped.add("R", start, middle, z.real, owner)
        if z.imag:
            lumped.add("L" if z.imag > 0 else "C", middle, end, z.imag / omega if z.imag > 0 else -1 / (omega * z.imag), owner)
    else:
        y = 1 / z
        if y.real:
            lumped.add("R", start, end, 1 / y.real, owner)
        if y.imag:
            lumped.add("C" if y.imag > 0 else "L", start, end, y.imag / omega if y.imag > 0 else -1 / (omega * y.imag), owner)


class Twin:
    """A station on the same grid as a stepper: V (N+1,) at whole steps and I (N,) at half steps of every line, and its books."""

    def __init__(self, scenario: Scenario, sections: list[Section], dt: float) -> None:
        self.sections, self.dt = sections, dt
        at_antenna = any(event.happens.startswith("antenna") for event in scenario.events)
        self.contacts: dict[str, Part] | None = {} if at_antenna else None
        self.turning: dict[str, float] = {}  # contacts that have another resistance from the next step on
        self.v = [np.zeros(section.cells + 1) for section in sections]
        self.i = [np.zeros(section.cells) for section in sections]
        self.mid_v = [np.zeros(section.cells + 1) for section in sections]
        self.mid_i = [np.zeros(section.cells + 1) for section in sections]
        self.q = [0.0 for _ in sections]  # heat rate in the line's R at the last whole step
        self.heat: dict[str, float] = {}
        self.emf_energy = self.stored = 0.0
        self.meters: dict[str, Part] = {}
        self.networks = [Lumped()]
        self._lay_out(scenario)

    def _lay_out(self, scenario: Scenario) -> None:
        lumped = self.networks[0]
        node = lumped.node()
        lumped.add("E", node, 0, 0.0, "emf")
        if scenario.direction == "receive":
            terminal = lumped.node()
            _antenna(lumped, scenario, node, terminal, "source")
            node = terminal
        elif scenario.transmitter.source_impedance_ohm:
            terminal = lumped.node()
            lumped.add("R", node, terminal, scenario.transmitter.source_impedance_ohm, "source")
            node = terminal
        index = 0
        for part in scenario.path:
            if isinstance(part, Meter):
                behind = lumped.node()
                lumped.add("E", node, behind, 0.0, part.name)
                self.meters[part.name] = lumped.parts[-1]
                node = behind
            elif isinstance(part, Network):
                for element in part.elements:
                    behind = node if element.position == "shunt" else lumped.node()
                    _element(lumped, element, node, 0 if element.position == "shunt" else behind, part.name)
                    node = behind
            else:
                self._end(lumped, index, +1, node)
                lumped = Lumped()
                self.networks.append(lumped)
                node = lumped.node()
                self._end(lumped, index, -1, node)
                index += 1
        if scenario.direction == "receive":
            lumped.add("R", node, 0, scenario.receiver.impedance_ohm, "antenna")
        elif self.contacts is None:
            _antenna(lumped, scenario, node, 0, "antenna")
        else:
            self._contacts(lumped, scenario, node)

    def _contacts(self, lumped: Lumped, scenario: Scenario, node: int) -> None:
        """Every antenna that there will be, each behind a contact, and a contact across the end."""
        in_time = sorted(scenario.events, key=lambda event: event.at_s)
        changed = [event.impedance_ohm for event in in_time if event.impedance_ohm is not None]
        for k, z in enumerate([scenario.antenna.impedance_ohm, *changed]):
            behind = lumped.node()
            self.contacts[f"antenna {k}"] = lumped.add("R", node, behind, 1e9 if k else 1e-3, "switch")
            one = scenario.model_copy(update={"antenna": scenario.antenna.model_copy(update={"impedance_ohm": z, "form": "series"})})
            _antenna(lumped, one if k else scenario, behind, 0, "antenna")
        if any(event.happens == "antenna shorts" for event in scenario.events):
            self.contacts["across"] = lumped.add("R", node, 0, 1e9, "switch")

    def _end(self, lumped: Lumped, index: int, sign: int, node: int) -> None:
        """Half a cell of the line's C and G hangs on the node."""
        section = self.sections[index]
        lumped.add("C", node, 0, section.capacitance / 2, section.name)
        if section.conductance:
            lumped.add("R", node, 0, 2 / section.conductance, section.name)
        lumped.ends.append((index, sign, node))

    def _book(self, owner: str, joule: float) -> None:
        self.heat[owner] = self.heat.get(owner, 0.0) + joule

    def step(self, emf: float) -> None:
        """One step; the books then stand at the whole step before (`stored` too), as the energy there needs the currents after it."""
        dt = self.dt
        self.stored = sum(lumped.energy() for lumped in self.networks)
        new_v, rates = [], []
        for s, section in enumerate(self.sections):
            r, l, g, c = section.resistance, section.inductance, section.conductance, section.capacitance
            v, old = self.v[s], self.i[s]
            now = ((l / dt - r / 2) * old + v[:-1] - v[1:]) / (l / dt + r / 2)
            mean = (now + old) / 2
            loss_volts = r * mean
            inner = v[1:-1]
            self.stored += np.sum(c * inner**2) / 2 + np.sum(l * now * old / 2 - dt / 4 * (now - old) * loss_volts)
            rates.append(float(np.sum(r * mean**2)))
            moved = ((c / dt - g / 2) * inner + now[:-1] - now[1:]) / (c / dt + g / 2)
            new_v.append(np.concatenate([[0.0], moved, [0.0]]))
            self.i[s] = now
        self._close(rates)
        for contact, ohm in self.turning.items():
            self.contacts[contact].value = ohm
        for lumped in self.networks:
            self._move(lumped, emf, new_v)
        for s, section in enumerate(self.sections):
            mean, rate = (new_v[s] + self.v[s]) / 2, (new_v[s] - self.v[s]) / dt
            half = (section.capacitance * rate + section.conductance * mean) / 2
            self.mid_v[s] = mean
            self.mid_i[s] = np.concatenate([[self.i[s][0] + half[0]], (self.i[s][1:] + self.i[s][:-1]) / 2, [self.i[s][-1] - half[-1]]])
        self.v = new_v

    def _close(self, rates: list[float]) -> None:
        """Book what the step before did, now that the heat rates of its end are known."""
        for s, section in enumerate(self.sections):
            inner = self.mid_v[s][1:-1]
            joule = self.dt * np.sum(section.conductance * inner**2) + self.dt / 2 * (self.q[s] + rates[s])
            self._book(section.name, float(joule))
            self.q[s] = rates[s]
        for lumped in self.networks:
            for part in lumped.parts:
                if part.kind == "R":
                    self._book(part.owner, self.dt * part.value * part.mean_i**2)
                elif part.owner == "emf":
                    self.emf_energy -= self.dt * part.mean_v * part.mean_i

    def _move(self, lumped: Lumped, emf: float, new_v: list[np.ndarray]) -> None:
        into = [sign * self.i[s][0 if sign > 0 else -1] for s, sign, _ in lumped.ends]
        voltages = lumped.solve(emf, into, self.dt)
        for s, sign, node in lumped.ends:
            at = 0 if sign > 0 else -1
            new_v[s][at] = 2 * voltages[node] - self.v[s][at]
        for part in lumped.parts:
            if part.kind == "C":
                part.held = 2 * part.mean_v - part.held
            elif part.kind == "L":
                part.held = 2 * part.mean_i - part.held
