"""Stations on grids that a test chooses: cells and Courant number by hand, any drive."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from bouncesim.march.grid import split
from bouncesim.march.simulation import gauges_of
from bouncesim.march.station import plan_station
from bouncesim.march.stepper import Stepper
from bouncesim.march.transmitter import Carrier, Drive, Waveform
from bouncesim.scenario import Antenna, Element, Keying, Line, Meter, Network, Receiver, Scenario, Transmitter, Tuner
from bouncesim.scenario.oneport import Joined, Lumped, OnePort

FREQUENCY = 10e6
VELOCITY = 2e8
LENGTH = 20.0  # m: one wavelength, 100 ns, of `line`
DELAY = LENGTH / VELOCITY

Volts = Callable[[np.ndarray], np.ndarray]


def line(impedance: float = 50.0, length: float = LENGTH, resistance: float = 0.0, conductance: float = 0.0) -> Line:
    """A line of impedance sqrt(L/C), with R (ohm/m) and G (S/m)."""
    return Line(
        length_m=length,
        resistance_ohm_per_m=resistance,
        inductance_h_per_m=impedance / VELOCITY,
        conductance_s_per_m=conductance,
        capacitance_f_per_m=1 / (impedance * VELOCITY),
    )


def element(position: str, kind: str, value: float, loss: float = 0.0) -> Element:
    return Element(position=position, kind=kind, value=value, loss_ohm=loss)


def network(*elements: Element) -> Network:
    return Network(elements=elements)


def resistor(value: float, radiates: bool = True) -> Lumped:
    return Lumped(kind="resistor", value=value, radiates=radiates)


def coil(value: float) -> Lumped:
    return Lumped(kind="inductor", value=value)


def capacitor(value: float) -> Lumped:
    return Lumped(kind="capacitor", value=value)


def series(*members: OnePort) -> Joined:
    return Joined(how="series", members=members)


def parallel(*members: OnePort) -> Joined:
    return Joined(how="parallel", members=members)


def made_of(circuit: OnePort, at_carrier: complex = 50.0) -> Antenna:
    """An antenna as it is once it is known: a circuit, and its impedance at the carrier."""
    return Antenna(impedance_ohm=at_carrier, circuit=circuit)


def station(
    path: Sequence[Meter | Network | Line | Tuner],
    antenna: complex | Antenna = 50.0,
    source: float = 50.0,
    form: str = "series",
    keying: Keying | None = None,
    power: float = 40.0,
) -> Scenario:
    """A station at FREQUENCY, keyed by a step unless told otherwise."""
    return Scenario(
        title="test",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=power, source_impedance_ohm=source),
        keying=keying or Keying(shape="step"),
        path=tuple(path),
        antenna=antenna if isinstance(antenna, Antenna) else Antenna(impedance_ohm=antenna, form=form),
    )


def receiving(path: Sequence[Meter | Network | Line], antenna: Antenna, ohm: float = 50.0, keying: Keying | None = None) -> Scenario:
    """A station driven from its antenna, as the march takes it: `path` in order from the antenna to a receiver of so many ohms."""
    return Scenario(
        title="test",
        direction="receive",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=40.0),
        keying=keying or Keying(shape="step"),
        path=tuple(path),
        antenna=antenna,
        receiver=Receiver(impedance_ohm=ohm, signal_w=0.3),
        is_mirrored=True,
    )


def on_grid(scenario: Scenario, cells: Sequence[int], nu: float, volts: Volts | None = None) -> Stepper:
    """A station at rest on a grid: cells of every line, Courant number of the first line. `volts`: the EMF against time; else its carrier,
    whose period must then be a whole number of steps."""
    first = split(scenario.lines[0], scenario.lines[0].constants(FREQUENCY), cells[0], nu)
    dt = nu * first.delay_s / cells[0]
    sections = []
    for one, count in zip(scenario.lines, cells, strict=True):
        constants = one.constants(FREQUENCY)
        sections.append(split(one, constants, count, count * dt * constants.velocity / one.length_m))
    plan = plan_station(scenario, sections)
    points = round(1 / (FREQUENCY * dt))
    drive: Drive = Waveform(volts, dt) if volts else Carrier(scenario.emf_v_peak, scenario.keying, points, dt)
    return Stepper(plan, gauges_of(scenario, plan), dt, drive)


def step_of(volts: float) -> Volts:
    """A step of so many volts at t = 0."""
    return lambda time: np.full_like(time, volts)


def histories(stepper: Stepper, steps: int) -> tuple[np.ndarray, np.ndarray]:
    """V and I of every node at t_n+1/2 for n = 0 .. steps - 1, each (steps, K)."""
    voltage, current = np.empty((steps, stepper.v.size)), np.empty((steps, stepper.v.size))
    for n in range(steps):
        stepper.advance(1)
        voltage[n], current[n] = stepper.waves_now()
    return voltage, current
