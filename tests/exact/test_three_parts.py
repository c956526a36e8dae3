"""Pi and T tuners: every setting matches, none is outside its range, and the least heat is the least of all settings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bouncesim import exact
from bouncesim.errors import ScenarioError
from bouncesim.exact.antenna import known_antenna
from bouncesim.exact.matching import Ranges, ThreeParts, l_sections, set_tuner, three_parts
from bouncesim.exact.matching.l_sections import LARGEST_SHUNT_OHM
from bouncesim.exact.parts import element_impedance
from bouncesim.scenario import Antenna, Element, Keying, Line, Meter, Network, Scenario, Stub, Transformer, Transmitter, Tuner
from tests.exact.stations import FREQUENCY, lossless, station
from tests.exact.strategies import sizes
from tests.exact.test_matching import loads, qualities, raw, seen_through

OMEGA = 2 * math.pi * FREQUENCY
# A reflection by exact algebra; reactances of up to ten thousand times the target cancel in it.
MATCHED = 1e-10
# A part at its limit is found by a quadratic; rounding of its coefficients.
LIMIT = 1e-9
# The search stops where the heat no longer changes in the last digits of a double.
LEAST = 1e-11

shapes = st.sampled_from(["pi", "T"])
coils = st.one_of(st.none(), sizes(3e-7, 1e-4))
largest = st.one_of(st.none(), sizes(1e-10, 5e-9))
smallest = st.one_of(st.none(), sizes(1e-12, 5e-11))


def families(q: st.SearchStrategy = qualities) -> st.SearchStrategy[ThreeParts]:
    targets = st.one_of(sizes(10.0, 700.0).map(complex), st.builds(complex, sizes(5.0, 500.0), st.floats(-200.0, 200.0)))
    return st.builds(ThreeParts, shapes, targets, loads, st.just(FREQUENCY), q, q, st.builds(Ranges, coils, largest, smallest))


def assert_setting(family: ThreeParts, elements: tuple[Element, ...], heat: float, loaded_q: float) -> None:
    """It matches, its parts are what they are said to be, and its heat is that of the network, reckoned element by element."""
    z, left = seen_through(elements, family.load_ohm)
    left_out = abs(family.target_ohm) / LARGEST_SHUNT_OHM
    assert abs((z - family.target_ohm) / (z + family.target_ohm.conjugate())) < MATCHED + left_out
    assert heat == pytest.approx(1 - left, abs=1e-9)
    order = ["shunt", "series", "shunt"] if family.shape == "pi" else ["series", "shunt", "series"]
    if len(elements) == 3:
        assert [element.position for element in elements] == order
        assert [element.kind for element in elements] == ["capacitor", "inductor", "capacitor"]
    ranges = family.ranges
    for element in elements:
        own, q = element_impedance(element, FREQUENCY), family.coil_q if element.kind == "inductor" else family.capacitor_q
        assert own.real == pytest.approx(abs(own.imag) / q if q else 0.0, rel=1e-12)
        most = ranges.largest_coil_h if element.kind == "inductor" else ranges.largest_capacitor_f
        least = None if element.kind == "inductor" else ranges.smallest_capacitor_f
        assert most is None or element.value <= most * (1 + LIMIT)
        assert least is None or element.value >= least * (1 - LIMIT)
    assert loaded_q >= 0


@settings(max_examples=60, deadline=None)
@given(families())
def test_every_setting_matches_within_its_ranges(family):
    found = [family.least_heat(), *(family.with_loaded_q(q) for q in (1.0, 5.0, 20.0))]
    for wanted, sizes_of in zip((None, 1.0, 5.0, 20.0), found, strict=True):
        if sizes_of is not None:
            loaded_q = float(family.loaded_q(sizes_of))
            assert_setting(family, family.elements(sizes_of), float(family.heat(sizes_of)), loaded_q)
            assert wanted is None or loaded_q == pytest.approx(wanted, rel=1e-6)
            assert family.heat(found[0]) <= family.heat(sizes_of) + LEAST
    if found[0] is None:
        assert all(each is None for each in found)


def other_settings(family: ThreeParts, far_f: np.ndarray) -> list[tuple[float, tuple[Element, ...]]]:
    """Heat and elements for so many far capacitors (F), in range or not: each joined to the load, and an L section put in front of both."""
    found = []
    for value in far_f:
        loss = 1 / (OMEGA * value * family.capacitor_q) if family.capacitor_q else 0.0
        position = "series" if family.shape == "T" else "shunt"
        far = Element(position=position, kind="capacitor", value=float(value), loss_ohm=loss)
        beyond, left = seen_through((far,), family.load_ohm)
        for section in l_sections(family.target_ohm, beyond, family.coil_q, family.capacitor_q):
            is_t = section.shunt_at == "antenna" and section.series_ohm < 0 < section.shunt_ohm
            is_pi = section.shunt_at == "transmitter" and section.shunt_ohm < 0 < section.series_ohm
            if is_t if family.shape == "T" else is_pi:
                found.append((section.heat + (1 - section.heat) * (1 - left), (*section.elements(FREQUENCY), far)))
    return found


def is_in_range(elements: tuple[Element, ...], ranges: Ranges) -> bool:
    coil_h, most_f, least_f = ranges.largest_coil_h or math.inf, ranges.largest_capacitor_f or math.inf, ranges.smallest_capacitor_f or 0.0
    return all(e.value <= coil_h if e.kind == "inductor" else least_f <= e.value <= most_f for e in elements)


@settings(max_examples=25, deadline=None)
@given(families(sizes(20.0, 2000.0)))
def test_no_setting_has_less_heat(family):
    """A dense scan of L sections with a far capacitor behind them, which shares no equation with the search for the least."""
    ranges = family.ranges
    scan = np.geomspace(ranges.smallest_capacitor_f or 1e-13, ranges.largest_capacitor_f or 1e-7, 800)
    heats = [heat for heat, elements in other_settings(family, scan) if is_in_range(elements, ranges)]
    least = family.least_heat()
    if heats:
        assert least is not None
        assert float(family.heat(least)) <= min(heats) + LEAST


@pytest.mark.parametrize("shape", ["pi", "T"])
@pytest.mark.parametrize("load", [8 - 160j, 700 + 300j, 55.0])
def test_the_least_is_found_between_limits(shape, load):
    """Against a scan of far capacitors, which comes near the least from above: where another part is at its limit, the heat changes by at
    most a few times as much as the far capacitor from one step to the next."""
    ranges = Ranges(largest_coil_h=2.5e-5, largest_capacitor_f=4e-10, smallest_capacitor_f=1.5e-11)
    family = ThreeParts(shape, 50.0, complex(load), FREQUENCY, 120.0, 900.0, ranges)
    scan = np.geomspace(1.5e-11, 4e-10, 5_000)
    near = 5 * math.log(scan[1] / scan[0])
    heats = [heat for heat, elements in other_settings(family, scan) if is_in_range(elements, ranges)]
    least = family.least_heat()
    if not heats:
        assert least is None
        return
    heat = float(family.heat(least))
    assert min(heats) * (1 - near) <= heat <= min(heats) + LEAST


def test_a_lossless_tuner_takes_the_least_reactive_power():
    """All its settings make no heat. Between two resistances the L section stores least: the far capacitor is left out."""
    family = ThreeParts("pi", 50.0, complex(12.0), FREQUENCY)
    elements = family.elements(family.least_heat())
    section = l_sections(50.0, 12.0)[0].elements(FREQUENCY)
    assert [(element.position, element.kind) for element in elements] == [("shunt", "capacitor"), ("series", "inductor")]
    assert [element.value for element in elements] == pytest.approx([element.value for element in section], rel=1e-12)
    assert float(family.heat(family.least_heat())) == 0.0


def message(tuner: Tuner, antenna: complex = 8 - 160j) -> str:
    with pytest.raises(ScenarioError) as caught:
        set_tuner(raw([tuner, lossless(50, 0.5)], antenna))
    return str(caught.value)


def test_the_message_says_which_part_limits():
    """And a part of the size that it names is just enough."""
    another = "Allow for that part, or choose another shape of tuner"
    sees = "path[1]: the tuner sees 8 - 160j ohm; "
    assert message(Tuner(shape="T", smallest_capacitor_f=1.5e-11, largest_coil_h=2e-7)) == (
        f"{sees}no T setting is within its range: it would need a coil of at least 1.827 µH (largest: 200 nH). {another}"
    )
    told = message(Tuner(largest_coil_h=1e-7, kind="series coil"))
    assert told.startswith(
        f"{sees}no L setting with a series coil is within its range: the series coil would have to be 2.838 µH (largest: 100 nH)"
    )
    assert "or the series coil would have to be 6.324 µH (largest: 100 nH)" in told  # the other solution's
    wasteful = Tuner(shape="T", coil_q=5, largest_capacitor_f=2e-11, largest_coil_h=5e-7)
    assert "no T setting is within its range, whichever one of its limits is lifted" in message(wasteful)
    for limit, fits in ((1.8265e-6, False), (1.8275e-6, True)):
        tuner = Tuner(shape="T", smallest_capacitor_f=1.5e-11, largest_coil_h=limit)
        if fits:
            assert exact.solve(set_tuner(raw([tuner, lossless(50, 0.5)], 8 - 160j))).transmitter.swr == pytest.approx(1.0, abs=MATCHED)
        else:
            assert "at least" in message(tuner)


def test_tuners_at_both_ends():
    """The one at the antenna makes the line flat; the one at the shack makes the transmitter see its rated load."""
    scenario = station([Tuner(name="shack", shape="T"), Meter(), lossless(75, 0.8), Tuner(name="far", shape="pi")], 20 - 90j, rated=50.0)
    readings = exact.solve(scenario)
    assert readings.lines[0].swr_in == pytest.approx(1.0, abs=1e-9)
    assert readings.transmitter.impedance_ohm == pytest.approx(50.0, rel=1e-10)
    assert readings.antenna.power_w == pytest.approx(40.0, rel=1e-10)
    assert [part.is_tuner for part in scenario.path if isinstance(part, Network)] == [True, True]


def test_what_stands_between_is_reckoned_in():
    """A balun, a stub and a filter between the line and the tuner: the line still sees its own impedance."""
    balun = Transformer(impedance_ratio=4.0, leakage_inductance_h=1e-7, winding_resistance_ohm=0.2)
    stub = Stub(path=(lossless(300, 0.1),), end="open")
    for between in ([balun], [stub], [balun, stub, Meter()]):
        scenario = station([lossless(50, 0.8), *between, Tuner(), lossless(300, 0.3)], 120 - 200j)
        readings = exact.solve(scenario)
        assert readings.lines[0].swr_out == pytest.approx(1.0, abs=1e-10)
        filtered = station([*between, Tuner(), lossless(300, 0.3)], 120 - 200j)
        assert exact.solve(filtered).transmitter.impedance_ohm == pytest.approx(50.0, rel=1e-10)


def test_what_stands_between_may_make_it_impossible():
    pad = Network(name="pad", elements=(Element(position="series", kind="resistor", value=80.0),))
    with pytest.raises(ScenarioError) as caught:
        station([pad, Tuner(), lossless(50, 0.3)], 20 - 60j)
    assert str(caught.value) == (
        "path[2]: nothing that the tuner could present makes the transmitter see 50 ohm through pad. "
        "Move the tuner in front of it, or let it lose less"
    )


@pytest.mark.parametrize("shape", ["pi", "T"])
def test_rounding_makes_no_work(shape, monkeypatch):
    """A load that takes next to nothing: rounding leaves thousands of settings on the scan that cost less than their neighbours."""
    refined = []
    monkeypatch.setattr(three_parts, "_golden", lambda price, low, high, known: refined.append(known) or known)
    line = Line(length_m=1.153e-3, impedance_ohm=22.06, velocity_factor=1.0, loss_db_per_m=0.00309)
    scenario = Scenario(
        title="starved",
        transmitter=Transmitter(frequency_hz=211.41, power_w=1.0),
        keying=Keying(shape="step"),
        path=(Tuner(name="tuner", shape=shape, coil_q=100.0, capacitor_q=1e6), line),
        antenna=Antenna(elements=(Element(position="shunt", kind="capacitor", value=2.39e-13),)),
    )
    set_tuner(known_antenna(scenario))
    assert 0 < len(refined) <= 2 * three_parts.REFINED
