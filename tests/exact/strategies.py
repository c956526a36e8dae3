"""Random passive stations for hypothesis."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from bouncesim.scenario import Element, Line, Meter, Network, Part, Scenario
from bouncesim.scenario.model import Stub, Transformer
from tests.exact.stations import FREQUENCY, station

OMEGA = 2 * math.pi * FREQUENCY


def sizes(least: float, most: float) -> st.SearchStrategy[float]:
    """Numbers spread evenly over orders of magnitude."""
    return st.floats(math.log(least), math.log(most)).map(math.exp)


@st.composite
def elements(draw: st.DrawFn) -> Element:
    position, kind = draw(st.sampled_from(["series", "shunt"])), draw(st.sampled_from(["inductor", "capacitor", "resistor"]))
    ohm = draw(sizes(1.0, 3000.0))
    value = {"inductor": ohm / OMEGA, "capacitor": 1 / (ohm * OMEGA), "resistor": ohm}[kind]
    loss = 0.0 if kind == "resistor" else draw(st.one_of(st.just(0.0), st.floats(0.001, 0.1))) * ohm
    return Element(position=position, kind=kind, value=value, loss_ohm=loss)


@st.composite
def lines(draw: st.DrawFn) -> Line:
    return Line(
        length_m=draw(sizes(0.1, 400.0)),
        impedance_ohm=draw(sizes(10.0, 700.0)),
        velocity_factor=draw(st.floats(0.5, 1.0)),
        loss_db_per_m=draw(st.one_of(st.just(0.0), sizes(1e-4, 0.5))),
        dielectric_share=draw(st.floats(0.0, 1.0)),
    )


networks = st.lists(elements(), max_size=3).map(lambda found: Network(elements=tuple(found)))
meters = sizes(10.0, 700.0).map(lambda ohm: Meter(reference_ohm=ohm))
antennas = st.builds(complex, sizes(0.1, 5000.0), st.floats(-3000.0, 3000.0))
sources = st.one_of(st.just(0.0), sizes(1.0, 1e4))


@st.composite
def transformers(draw: st.DrawFn) -> Transformer:
    return Transformer(
        impedance_ratio=draw(sizes(0.05, 20.0)),
        leakage_inductance_h=draw(st.one_of(st.just(0.0), sizes(0.1, 100.0))) / OMEGA,
        magnetising_inductance_h=draw(st.one_of(st.none(), sizes(50.0, 1e4).map(lambda ohm: ohm / OMEGA))),
        winding_resistance_ohm=draw(st.one_of(st.just(0.0), sizes(0.01, 5.0))),
        core_resistance_ohm=draw(st.one_of(st.none(), sizes(200.0, 1e5))),
    )


@st.composite
def stubs(draw: st.DrawFn, deep: bool = True) -> Stub:
    """One line or two, with something between or behind, maybe a stub on the stub; any end."""
    inside = st.one_of(networks, meters, transformers(), *([stubs(deep=False)] if deep else []))
    path = [draw(lines()), *draw(st.lists(inside, max_size=1)), *draw(st.lists(lines(), max_size=1))]
    return Stub(path=tuple(path), end=draw(st.one_of(st.sampled_from(["open", "short"]), antennas)))


@st.composite
def stations(draw: st.DrawFn) -> Scenario:
    """Up to six parts in the path, one to three of them lines, the others networks, meters, transformers and stubs anywhere."""
    beside = st.lists(st.one_of(networks, meters, transformers(), stubs()), max_size=3)
    path: list[Part] = [*draw(st.lists(lines(), min_size=1, max_size=3)), *draw(beside)]
    path = draw(st.permutations(path))
    return station(path, draw(antennas), power=draw(sizes(1e-3, 1e3)), rated=draw(sizes(10.0, 700.0)), source=draw(sources))
