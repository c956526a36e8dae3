"""Tuners set for the carrier: every solution, with loss; the kind wanted; and what cannot be set."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bouncesim import exact
from bouncesim.errors import ScenarioError
from bouncesim.exact.matching import l_sections, pi_section, set_tuner, t_section
from bouncesim.exact.matching.l_sections import LARGEST_SHUNT_OHM, SAME_HEAT
from bouncesim.exact.parts import element_impedance
from bouncesim.scenario import Antenna, Element, Keying, Line, Meter, Network, Scenario, Transmitter, Tuner
from tests.exact.stations import FREQUENCY, lossless, station
from tests.exact.strategies import sizes

# A reflection by exact algebra; the parts' reactances, which cancel in it, may be a thousand times the target.
MATCHED = 1e-11

qualities = st.one_of(st.none(), sizes(1.0, 2000.0))
loads = st.builds(complex, sizes(0.5, 5000.0), st.floats(-3000.0, 3000.0))


def seen_through(elements: tuple[Element, ...], load: complex) -> tuple[complex, float]:
    """Input impedance and the part of the power that the load gets, element by element from the load: no chain matrix."""
    z, left = load, 1.0
    for element in reversed(elements):
        own = element_impedance(element, FREQUENCY)
        if element.position == "series":
            left *= z.real / (z.real + own.real)
            z += own
        else:
            before, together = (1 / z).real, 1 / z + 1 / own
            left *= before / together.real
            z = 1 / together
    return z, left


@settings(max_examples=400)
@given(loads, sizes(10.0, 700.0), qualities, qualities)
def test_every_section_matches(load, target, coil_q, capacitor_q):
    """And there is one of each kind, whatever the load and the loss."""
    sections = l_sections(target, load, coil_q, capacitor_q)
    assert all(any(section.is_kind(kind) for section in sections) for kind in ("series coil", "series capacitor"))
    for section in sections:
        elements = section.elements(FREQUENCY)
        z, left = seen_through(elements, load)
        assert abs((z - target) / (z + target)) < MATCHED + target / LARGEST_SHUNT_OHM
        assert section.heat == pytest.approx(1 - left, abs=1e-9)
        for element in elements:
            own, q = element_impedance(element, FREQUENCY), coil_q if element.kind == "inductor" else capacitor_q
            assert own.real == pytest.approx(abs(own.imag) / q if q else 0.0, rel=1e-12)


@given(loads, sizes(10.0, 700.0))
def test_lossless_sections_are_all_there(load, target):
    """Two with the shunt at the transmitter if the load's resistance is below the target, two with it at the antenna if its
    conductance is below the target's (Pozar, section 5.1); the sections never cost power."""
    assume(min(abs(load.real / target - 1), abs((1 / load).real * target - 1)) > 1e-9)  # at the boundary two are one, without a part
    sections = l_sections(target, load)
    for place, exists in (("transmitter", load.real < target), ("antenna", (1 / load).real < 1 / target)):
        assert sum(section.shunt_at == place for section in sections) == (2 if exists else 0)
    assert all(section.heat == 0 for section in sections)
    assert sections


def test_least_heat_comes_first():
    """A low load reached over a long coil: the capacitor in series, with its far better Q, wins; without loss the series coil does."""
    lossy = l_sections(50.0, 9 - 20j, coil_q=60, capacitor_q=1500)
    assert all(after.heat >= before.heat - SAME_HEAT for before, after in pairwise(lossy))
    assert lossy[0].heat < lossy[-1].heat
    assert l_sections(50.0, 9 - 20j)[0].series_ohm > 0
    tuner = Tuner(coil_q=60, capacitor_q=1500)
    heats = {}
    for kind in ("least heat", "series coil", "series capacitor"):
        scenario = station([tuner.model_copy(update={"kind": kind}), lossless(50, 0.5)], 9 + 20j)
        heats[kind] = exact.solve(scenario).networks[0].heat_w
    assert heats["least heat"] == min(heats.values())


def test_parts_that_are_not_needed_are_left_out():
    """A load that needs nothing, only a series part, or only a shunt part."""
    assert l_sections(50.0, 50.0)[0].elements(FREQUENCY) == ()
    (series,) = l_sections(50.0, 50 - 30j)[0].elements(FREQUENCY)
    assert (series.position, series.kind) == ("series", "inductor")
    (shunt,) = next(s for s in l_sections(50.0, 1 / (0.02 + 0.01j)) if s.series_ohm == 0).elements(FREQUENCY)
    assert (shunt.position, shunt.kind) == ("shunt", "inductor")
    scenario = station([Tuner(kind="series capacitor"), lossless(50, 0.3)], 50.0)
    assert exact.solve(scenario).transmitter.swr == pytest.approx(1.0, abs=1e-12)


def test_the_tuner_becomes_a_network_of_its_name():
    """Meters may stand before it; what stands behind it is kept."""
    scenario = station([Meter(), Tuner(name="atu", coil_q=150), Meter(name="far meter"), lossless(50, 1.3)], 20 - 60j, rated=75.0)
    network = scenario.path[1]
    assert isinstance(network, Network)
    assert (network.name, network.is_tuner) == ("atu", True)
    assert [part.name for part in scenario.path] == ["meter", "atu", "far meter", "line"]
    readings = exact.solve(scenario)
    assert readings.transmitter.impedance_ohm == pytest.approx(75.0, rel=1e-12)
    assert set_tuner(scenario) == scenario


def raw(path: list, antenna: complex = 20 - 60j, **of_transmitter: float) -> Scenario:
    transmitter = Transmitter(**{"frequency_hz": FREQUENCY, "power_w": 40.0, **of_transmitter})
    return Scenario(
        title="test", transmitter=transmitter, keying=Keying(shape="step"), path=tuple(path), antenna=Antenna(impedance_ohm=antenna)
    )


def message(scenario: Scenario) -> str:
    with pytest.raises(ScenarioError) as caught:
        set_tuner(scenario)
    return str(caught.value)


def test_a_load_that_takes_no_power():
    for shape in ("L", "pi", "T"):
        assert message(raw([Tuner(shape=shape), lossless(50, 0.5)], antenna=-60j)) == (
            "path[1]: no tuner matches 0 - 60j ohm, which is what the tuner sees: next to no power can enter it. "
            "Give the antenna a resistance, or shorten the line"
        )


def test_unset_tuner_and_ideal_source_on_a_short():
    with pytest.raises(ScenarioError, match="tuner: this tuner is not set yet"):
        exact.solve(raw([Tuner(), lossless(50, 0.5)]))
    with pytest.raises(ScenarioError, match="an ideal source looks into a short"):
        exact.solve(raw([lossless(50, 0.5)], antenna=0, source_impedance_ohm=0.0))
    with pytest.raises(ScenarioError, match="an ideal source looks into a short"):
        exact.solve(raw([lossless(50, 0.5, FREQUENCY)], antenna=0j, source_impedance_ohm=0.0))


@pytest.mark.parametrize("rule", [pi_section, t_section])
def test_pi_and_t_need_enough_q(rule):
    with pytest.raises(ValueError, match="needs a higher loaded Q than 1"):
        rule(50.0, 1000.0, 1.0)
    at_least = math.sqrt(1000 / 50 - 1)
    assert rule(50.0, 1000.0, at_least * 1.0001).virtual_ohm == pytest.approx(50.0 if rule is pi_section else 1000.0, rel=1e-3)


def test_a_lossy_line_between_tuner_and_antenna():
    line = Line(length_m=30.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.1, dielectric_share=0.1)
    readings = exact.solve(station([Tuner(coil_q=200, capacitor_q=1000), line], 15 + 90j))
    assert readings.transmitter.swr == pytest.approx(1.0, abs=1e-13)
    assert readings.transmitter.power_w == pytest.approx(40.0, rel=1e-13)
