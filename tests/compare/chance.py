"""Random stations of the kind that users build, and some that they had better not."""

from __future__ import annotations

import math

import numpy as np

from bouncesim.scenario import Antenna, Element, Line, Meter, Network, Scenario, Transmitter, Tuner

FREQUENCY = 10e6
OMEGA = 2 * math.pi * FREQUENCY
WAVELENGTH_M = 20.0  # at a velocity factor of 2/3


def _size(chance: np.random.Generator, least: float, most: float) -> float:
    """Spread evenly over orders of magnitude."""
    return float(np.exp(chance.uniform(math.log(least), math.log(most))))


def _element(chance: np.random.Generator) -> Element:
    kind = str(chance.choice(["inductor", "capacitor", "resistor"], p=[0.45, 0.45, 0.1]))
    ohm = _size(chance, 3.0, 1000.0)
    value = {"inductor": ohm / OMEGA, "capacitor": 1 / (ohm * OMEGA), "resistor": ohm}[kind]
    loss = 0.0 if kind == "resistor" or chance.random() < 1 / 3 else ohm / _size(chance, 20.0, 2000.0)
    return Element(position=str(chance.choice(["series", "shunt"])), kind=kind, value=value, loss_ohm=loss)


def _network(chance: np.random.Generator) -> Network:
    return Network(elements=tuple(_element(chance) for _ in range(chance.integers(1, 4))))


def _line(chance: np.random.Generator) -> Line:
    length = _size(chance, 0.03, 3.0) * WAVELENGTH_M
    loss = 0.0 if chance.random() < 1 / 3 else _size(chance, 0.003, 10.0) / length
    return Line(
        length_m=length,
        impedance_ohm=_size(chance, 20.0, 600.0),
        velocity_factor=chance.uniform(0.5, 1.0),
        loss_db_per_m=loss,
        dielectric_share=float(chance.choice([0.0, 0.5, chance.uniform()])),
    )


def random_station(chance: np.random.Generator) -> Scenario:
    """A tuner, a network or nothing, perhaps a meter, one to three lines with networks between; any antenna, any source."""
    path: list[Tuner | Network | Meter | Line] = []
    first = chance.random()
    if first < 0.4:
        path.append(Tuner(coil_q=[None, 200.0][chance.integers(2)], capacitor_q=[None, 1000.0][chance.integers(2)]))
    elif first < 0.6:
        path.append(_network(chance))
    if chance.random() < 0.5:
        path.append(Meter(reference_ohm=_size(chance, 25.0, 300.0)))
    for _ in range(chance.choice([1, 1, 2, 3])):
        path.append(_line(chance))
        if chance.random() < 0.2:
            path.append(_network(chance))
    antenna = complex(_size(chance, 5.0, 2000.0), chance.choice([-1.0, 0.0, 1.0]) * _size(chance, 1.0, 800.0))
    return Scenario(
        title="test",
        transmitter=Transmitter(
            frequency_hz=FREQUENCY,
            power_w=_size(chance, 1.0, 500.0),
            source_impedance_ohm=float(chance.choice([0.0, 15.0, 50.0, 50.0, _size(chance, 1.0, 2000.0)])),
        ),
        path=tuple(path),
        antenna=Antenna(impedance_ohm=antenna, form=str(chance.choice(["series", "parallel"]))),
    )
