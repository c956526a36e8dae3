"""Random passive stations of up to six parts, stubs, transformers and wideband lines among them: their books close at every step, both
engines agree under refinement, they are reciprocal, and never pass on more than there is."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bouncesim import perform
from bouncesim.compare.check import check
from bouncesim.errors import NotSettled
from bouncesim.march.grid import least_points
from bouncesim.march.simulation import build
from bouncesim.scenario import Antenna, Element, Keying, Line, Network, Scenario, Transmitter
from bouncesim.scenario.model import Stub, Transformer

FREQUENCY = 10e6
OMEGA = 2 * math.pi * FREQUENCY
A_STEP = 1e-12  # what the ledger promises everywhere, relative to the largest energy so far
A_RUN = 1e-11
AGREE = 1e-9  # of the largest power about: what extrapolation reaches
POINTS = 24
STEPS = 3000
ROUNDING = 1e-12  # of the EMF's available power, in the closed form


def sizes(least: float, most: float) -> st.SearchStrategy[float]:
    """Numbers spread evenly over orders of magnitude."""
    return st.floats(math.log(least), math.log(most)).map(math.exp)


def maybe(strategy: st.SearchStrategy[float], otherwise: float | None) -> st.SearchStrategy[float | None]:
    return st.one_of(st.just(otherwise), strategy)


@st.composite
def lines(draw: st.DrawFn, longest: float = 1.5) -> Line:
    """0.05 to `longest` wavelengths; every fourth with its loss over many frequencies."""
    length = draw(st.floats(0.05, longest)) * 20.0
    loss = draw(maybe(sizes(0.01, 6.0), 0.0)) / length
    wide = loss > 0 and draw(st.integers(0, 3)) == 0
    return Line(
        length_m=length,
        impedance_ohm=draw(st.sampled_from([50.0, 75.0, 450.0])),
        velocity_factor=draw(st.floats(0.6, 0.97)),
        loss_db_per_m=loss,
        dielectric_share=draw(st.sampled_from([0.0, 0.3, 1.0])),
        loss_law="wideband" if wide else "carrier",
    )


@st.composite
def networks(draw: st.DrawFn) -> Network:
    elements = []
    for _ in range(draw(st.integers(1, 3))):
        kind, ohm = draw(st.sampled_from(["inductor", "capacitor", "resistor"])), draw(sizes(10.0, 400.0))
        value = {"inductor": ohm / OMEGA, "capacitor": 1 / (ohm * OMEGA), "resistor": ohm}[kind]
        loss = 0.0 if kind == "resistor" else draw(maybe(sizes(0.002, 0.05), 0.0)) * ohm
        elements.append(Element(position=draw(st.sampled_from(["series", "shunt"])), kind=kind, value=value, loss_ohm=loss))
    return Network(elements=tuple(elements))


transformers = st.fixed_dictionaries(
    {
        "impedance_ratio": sizes(0.2, 6.0),
        "leakage_inductance_h": maybe(sizes(5e-8, 1e-6), 0.0),
        "magnetising_inductance_h": maybe(sizes(3e-6, 5e-5), None),
        "winding_resistance_ohm": st.sampled_from([0.0, 0.5]),
        "core_resistance_ohm": st.sampled_from([None, 3000.0]),
    }
).map(lambda fields: Transformer(**fields))
ends = st.one_of(st.just("open"), st.just("short"), st.builds(complex, sizes(5.0, 500.0), st.floats(-200.0, 200.0)))
stubs = st.builds(lambda one, rest, end: Stub(path=(one, *rest), end=end), lines(0.6), st.lists(networks(), max_size=1), ends)
parts = st.one_of(lines(), networks(), transformers, stubs)


@st.composite
def stations(draw: st.DrawFn) -> Scenario:
    before, behind = draw(st.lists(parts, max_size=3)), draw(st.lists(parts, max_size=2))
    source = draw(st.one_of(st.sampled_from([0.0, 15.0, 50.0, 500.0]), sizes(1.0, 1000.0)))
    antenna = Antenna(
        impedance_ohm=complex(draw(sizes(5.0, 2000.0)), draw(st.floats(-500.0, 500.0))), form=draw(st.sampled_from(["series", "parallel"]))
    )
    return Scenario(
        title="test",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=10.0, source_impedance_ohm=source),
        keying=Keying(shape="raised-cosine", rise_s=4 / FREQUENCY),
        path=(*before, draw(lines()), *behind),
        antenna=antenna,
    )


@settings(max_examples=40, deadline=None)
@given(stations())
def test_books_close(scenario):
    march = build(scenario, least_points(scenario.all_lines, FREQUENCY, POINTS))
    march.advance(STEPS)
    assert march.worst_residual <= A_STEP
    assert march.accumulated_residual() <= A_RUN
    assert march.stored >= 0
    assert min(march.heat_totals().values()) >= -A_RUN * march.emf_total


@settings(max_examples=100, deadline=None)
@given(stations())
def test_never_more_than_there_is(scenario):
    readings, source = perform.solve_exact(scenario), scenario.transmitter.source_impedance_ohm
    slack = ROUNDING * max(line.forward_in_w for line in readings.lines) + ROUNDING * scenario.transmitter.power_w
    assert readings.antenna.power_w <= readings.transmitter.power_w + slack
    if source > 0:
        assert readings.transmitter.power_w <= scenario.transmitter.emf_v_peak**2 / (8 * source) * (1 + ROUNDING)


def agree(scenario: Scenario) -> None:
    try:
        verdict = check(scenario)
    except NotSettled:
        return  # a station that rings for very long has no steady state to compare
    assert [row for row in verdict.rows if not row.holds] == []
    powers = [row for row in verdict.rows if row.quantity.endswith("_w")]
    largest = max(abs(row.exact) for row in powers)
    assert max(abs(row.simulated - row.exact) for row in powers) <= AGREE * largest


@settings(max_examples=2, deadline=None)
@given(stations())
def test_both_engines_agree(scenario):
    agree(scenario)


@pytest.mark.slow
@settings(max_examples=80, deadline=None)
@given(stations())
def test_both_engines_agree_on_many(scenario):
    agree(scenario)
