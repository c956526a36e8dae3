"""The scheme's own steady state, as exact algebra: what a run must settle to whatever its grid.

For x_n = Re(X exp(jwt)) and a = w dt/2, a mean of two steps is X cos a at their middle and a change is X 2j sin a. With
wt = (2/dt) tan a = w tan(a)/a, in terms of mean voltages and of the currents at half steps:

    a cell:  (R + j wt L) cos^2 a I = V_k - V_k+1, and (G + j wt C)/2 across each of its ends: a pi;
    lumped:  every impedance as at the frequency wt;    EMF: taken at half steps as it is, times cos a at whole steps (where the source
             passes a step of voltage without resistance: an ideal one, or one whose capacitors lead past its resistors).

Derived here from the equations in march.line and march.network; nothing of either engine is used.
"""

from __future__ import annotations

import math

import numpy as np

from bouncesim.march.line import Section
from bouncesim.scenario import Antenna, Element, Line, Network, Scenario
from bouncesim.scenario.oneport import Lumped, OnePort


def element_impedance(element: Element, wt: float) -> complex:
    if element.kind == "resistor":
        return complex(element.value)
    return element.loss_ohm + (1j * wt * element.value if element.kind == "inductor" else 1 / (1j * wt * element.value))


def antenna_impedance(antenna: Antenna, w: float, wt: float) -> complex:
    """A coil's reactance grows by wt/w, a capacitor's shrinks."""

    def scaled(x: float) -> float:
        return x * wt / w if x > 0 else x * w / wt

    z = antenna.impedance_ohm
    if antenna.form == "series" or z == 0:
        return complex(z.real, scaled(z.imag) if z.imag else 0.0)
    y = 1 / z
    return 1 / complex(y.real, -1 / scaled(-1 / y.imag) if y.imag else 0.0)


def port_impedance(port: OnePort, wt: float) -> complex:
    if isinstance(port, Lumped):
        return {"resistor": complex(port.value), "inductor": 1j * wt * port.value, "capacitor": 1 / (1j * wt * port.value)}[port.kind]
    parts = [port_impedance(member, wt) for member in port.members]
    return complex(sum(parts)) if port.how == "series" else 1 / sum(1 / z for z in parts)


def end_impedance(antenna: Antenna, w: float, wt: float) -> complex:
    return port_impedance(antenna.circuit, wt) if antenna.circuit is not None else antenna_impedance(antenna, w, wt)


def passes_a_step(antenna: Antenna) -> bool:
    """True where its impedance goes to nothing with rising frequency."""
    w = 2 * math.pi * 1e7
    return abs(end_impedance(antenna, w, 1e6 * w)) < 1e-3 * abs(end_impedance(antenna, w, w))


class Discrete:
    """Peak phasors at t_n+1/2: V and I of every node of every line (K,), and of the path's places by part: before[name], after[name]."""

    def __init__(self, scenario: Scenario, sections: list[Section], dt: float) -> None:
        w = 2 * math.pi * scenario.transmitter.frequency_hz
        a = w * dt / 2
        wt = 2 / dt * math.tan(a)
        transmits = scenario.direction == "transmit"
        v, i = end_impedance(scenario.antenna, w, wt) if transmits else complex(scenario.receiver.impedance_ohm), 1 + 0j
        nodes: list[tuple[list[complex], list[complex]]] = []
        before: dict[str, tuple[complex, complex]] = {}
        after: dict[str, tuple[complex, complex]] = {}
        left = list(sections)
        for part in reversed(scenario.path):
            after[part.name] = (v, i)
            if isinstance(part, Network):
                for element in reversed(part.elements):
                    z = element_impedance(element, wt)
                    v, i = (v + z * i, i) if element.position == "series" else (v, i + v / z)
            elif isinstance(part, Line):
                section = left.pop()
                z = math.cos(a) ** 2 * (section.resistance + 1j * wt * section.inductance)
                y = (section.conductance + 1j * wt * section.capacitance) / 2
                along_v, along_i = [v], [i]
                for _ in range(section.cells):
                    i += y * v
                    v += z * i
                    i += y * v
                    along_v.append(v)
                    along_i.append(i)
                nodes.append((along_v[::-1], along_i[::-1]))
            before[part.name] = (v, i)
        if transmits:
            source: complex = scenario.transmitter.source_impedance_ohm
            peak, at_whole_steps = scenario.transmitter.emf_v_peak, source == 0
        else:  # the power that it could give to a matched load is |EMF|^2/(8 R)
            source, at_whole_steps = end_impedance(scenario.antenna, w, wt), passes_a_step(scenario.antenna)
            peak = math.sqrt(8 * scenario.antenna.impedance_ohm.real * scenario.receiver.signal_w)
        emf = -1j * peak * (math.cos(a) if at_whole_steps else 1)  # a sine is Re(-j exp(jwt))
        factor = emf / (v + source * i)
        self.voltage = factor * np.array([x for v, _ in reversed(nodes) for x in v])
        self.current = factor * np.array([x for _, i in reversed(nodes) for x in i])
        self.before = {name: (factor * v, factor * i) for name, (v, i) in before.items()}
        self.after = {name: (factor * v, factor * i) for name, (v, i) in after.items()}
