"""Random passive stations for hypothesis, small enough to march: lines of a few cells, networks with and without Q, any source."""

from __future__ import annotations

import math

from hypothesis import strategies as st

from bouncesim.scenario import Element, Keying, Line, Meter, Network, Scenario
from tests.march.grids import FREQUENCY, LENGTH, line, station

OMEGA = 2 * math.pi * FREQUENCY


def sizes(least: float, most: float) -> st.SearchStrategy[float]:
    """Numbers spread evenly over orders of magnitude."""
    return st.floats(math.log(least), math.log(most)).map(math.exp)


@st.composite
def elements(draw: st.DrawFn, kinds: tuple[str, ...] = ("inductor", "capacitor", "resistor")) -> Element:
    position, kind = draw(st.sampled_from(["series", "shunt"])), draw(st.sampled_from(kinds))
    ohm = draw(sizes(3.0, 1000.0))
    value = {"inductor": ohm / OMEGA, "capacitor": 1 / (ohm * OMEGA), "resistor": ohm}[kind]
    loss = 0.0 if kind == "resistor" else draw(st.one_of(st.just(0.0), st.floats(0.001, 0.1))) * ohm
    return Element(position=position, kind=kind, value=value, loss_ohm=loss)


@st.composite
def lines(draw: st.DrawFn, longest: float = 1.5) -> Line:
    """0.1 to `longest` wavelengths; up to some 6 dB of loss, in the conductor and in the dielectric."""
    z0 = draw(sizes(20.0, 600.0))
    wavelengths = draw(st.floats(0.1, longest))
    nepers = [draw(st.one_of(st.just(0.0), sizes(1e-4, 0.4))) for _ in range(2)]
    length = wavelengths * LENGTH
    return line(z0, length, resistance=2 * nepers[0] * z0 / length, conductance=2 * nepers[1] / (z0 * length))


def networks(kinds: tuple[str, ...] = ("inductor", "capacitor", "resistor")) -> st.SearchStrategy[Network]:
    """Up to four elements: L, pi and T shapes and whatever else they make."""
    return st.lists(elements(kinds), min_size=1, max_size=4).map(lambda found: Network(elements=tuple(found)))


antennas = st.one_of(
    st.builds(complex, sizes(1.0, 2000.0), st.one_of(st.just(0.0), st.floats(-1000.0, 1000.0))),
    st.just(0j),
    sizes(5.0, 500.0).map(lambda x: complex(0, x)),
    sizes(5.0, 500.0).map(lambda x: complex(0, -x)),
)
keys = st.one_of(
    st.just(Keying(shape="step")),
    st.builds(
        lambda shape, rise: Keying(shape=shape, rise_s=rise / FREQUENCY), st.sampled_from(["linear", "raised-cosine"]), sizes(0.2, 20.0)
    ),
)


@st.composite
def stations(draw: st.DrawFn, most_lines: int = 3, sources: st.SearchStrategy[float] | None = None) -> Scenario:
    """One to three lines, with networks and meters before, between and behind them."""
    between = st.lists(st.one_of(networks(), st.just(Meter())), max_size=1)
    path = draw(between)
    for _ in range(draw(st.integers(1, most_lines))):
        path += [draw(lines()), *draw(between)]
    antenna = draw(antennas)
    form = draw(st.sampled_from(["series", "parallel"])) if antenna else "series"
    source = draw(sources if sources is not None else st.one_of(st.just(0.0), sizes(1.0, 1e3)))
    return station(path, antenna, source, form, draw(keys))
