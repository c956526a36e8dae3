"""Every network that matches a station: it does match, costs and bears what the station with it says, and stays matched over its band."""

from __future__ import annotations

import math

import numpy as np
import pytest
import skrf
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bouncesim import exact
from bouncesim.errors import ScenarioError
from bouncesim.exact.matching import set_tuner, stub_sections
from bouncesim.exact.matching.line_sections import quarter_waves, stubs
from bouncesim.exact.matching.nearest import nearest
from bouncesim.exact.matching.networks import every_match
from bouncesim.exact.parts import input_impedance, part_chains
from bouncesim.exact.phasor import characteristic, propagation
from bouncesim.exact.retuned import antenna_law, at_frequency
from bouncesim.scenario import Antenna, Dipole, Element, Keying, Line, Meter, Network, Scenario, Stub, Transmitter, Tuner
from tests.exact.stations import FREQUENCY, lossless, real_impedance
from tests.exact.strategies import sizes
from tests.reference import case, number

OMEGA = 2 * math.pi * FREQUENCY
# Newton's method stops at a reflection of 1e-11; a station in front adds rounding of a line's many radians.
MATCHED = 1e-10
# A band's limit is found to 1e-10 of |Gamma|^2; the other program takes its own roundings.
LIMIT = 1e-6

lossy = st.builds(
    lambda loss, share, factor: Line(
        name="cable", length_m=10.0, impedance_ohm=50.0, velocity_factor=factor, loss_db_per_m=loss, dielectric_share=share
    ),
    st.one_of(st.just(0.0), sizes(1e-4, 0.05)),
    st.floats(0.0, 1.0),
    st.floats(0.6, 0.95),
)


def plain(path, antenna: Antenna | complex, power: float = 30.0) -> Scenario:
    antenna = antenna if isinstance(antenna, Antenna) else Antenna(impedance_ohm=antenna)
    transmitter = Transmitter(frequency_hz=FREQUENCY, power_w=power)
    return Scenario(title="test", transmitter=transmitter, keying=Keying(shape="step"), path=tuple(path), antenna=antenna)


def seen(parts, load: complex, frequency: float = FREQUENCY) -> complex:
    return input_impedance([chain for part in parts for chain in part_chains(part, frequency)], load)


@settings(max_examples=25, deadline=None)
@given(lossy, st.builds(complex, sizes(5.0, 1000.0), st.floats(-500.0, 500.0)), sizes(20.0, 200.0))
def test_what_is_made_of_line_matches(line, load, target):
    for section in (*stubs(target, load, line, FREQUENCY), *quarter_waves(target, load, line, FREQUENCY)):
        z = seen(section.parts, load)
        assert abs((z - target) / (z + target)) < MATCHED


@settings(max_examples=30, deadline=None)
@given(st.builds(complex, sizes(5.0, 1000.0), st.floats(-500.0, 500.0)), sizes(20.0, 200.0))
def test_without_loss_a_stub_is_that_of_the_closed_form(load, impedance):
    """On a line of the target's impedance, by the rule of exact.matching.stubs, which was written apart."""
    assume(abs(load - impedance) > 1e-6 * impedance)  # a match but for rounding needs no stub
    wavelength = 2e8 / FREQUENCY
    expected = sorted((s.end, s.distance, s.length) for s in stub_sections(load, impedance))
    found = []
    for section in stubs(impedance, load, lossless(impedance, 1.0), FREQUENCY):
        branch, *rest = section.parts
        found.append((section.end, sum(part.length_m for part in rest) / wavelength, branch.path[0].length_m / wavelength))
    assert np.array([each[1:] for each in sorted(found)]) == pytest.approx(np.array([each[1:] for each in expected]), abs=1e-8)


@pytest.mark.parametrize("name", ["B19", "B20", "B21"])
def test_published_stubs(name):
    """Place and length in wavelengths, as printed."""
    figures = case(name)
    load, impedance = number(figures.inputs["ZL"]), figures.inputs["Z0"]
    found = [s for s in stubs(impedance, load, lossless(impedance, 1.0), FREQUENCY) if s.end == "short"]
    one, two = sorted((s.parts[1].length_m, s.parts[0].path[0].length_m) for s in found)
    wavelength = 2e8 / FREQUENCY
    expected = {"B19": {"d1": one[0], "l1": one[1], "d2": two[0], "l2": two[1]}}
    expected |= {"B20": {"dB": one[0], "dA": two[0], "stub_len_short": min(one[1], two[1]), "stub_len_long": max(one[1], two[1])}}
    expected |= {"B21": {"distance": one[0], "stub_length": one[1]}}
    for quantity, metres in expected[name].items():
        figures.check(quantity, metres / wavelength)


def test_published_quarter_waves_and_the_band_of_one():
    """B16 to B18: the impedance; and of 10 to 50 ohm how far apart the frequencies are where the SWR is 1.5."""
    for name, load, target, quantity in (("B16", "ZL", "Z0", "Z1"), ("B17", "ZL", "Z0", "Z1"), ("B18", "Z1", "Z2", "Z0")):
        figures = case(name)
        both = quarter_waves(figures.inputs[target], figures.inputs[load], lossless(50.0, 1.0), FREQUENCY)
        (direct,) = (section for section in both if len(section.parts) == 1)
        figures.check(quantity, direct.section_ohm)
    figures = case("B16")
    load = figures.inputs["ZL"]
    (found,) = every_match(plain([lossless(load, 1e-6)], load))
    match = next(m for m in found.matches if m.candidate.kind == "quarter wave" and len(m.candidate.parts) == 1)
    assert match.bands[0].swr == figures.inputs["SWR_max"]
    figures.check("fractional_bandwidth", match.bands[0].width_hz / FREQUENCY)


def test_bands_against_another_program():
    """At both limits of every band the reflection of the whole station, cascaded by scikit-rf from the line's gamma and Z0, is that of the
    limit; and a little nearer to the carrier less."""
    line = Line(name="cable", length_m=17.0, impedance_ohm=75.0, velocity_factor=0.8, loss_db_per_m=0.03, dielectric_share=0.2)
    scenario = plain([Tuner(coil_q=150, capacitor_q=900), line], 30 + 90j)
    (found,) = every_match(scenario)
    kinds = set()
    for match in found.matches:
        kinds.add(match.candidate.kind)
        for band in match.bands:
            for limit in (band.low_hz, band.high_hz):
                inside = limit + 1e-3 * (FREQUENCY - limit)
                at_limit, nearer = by_skrf(match.candidate.parts, line, 30 + 90j, [limit, inside])
                assert at_limit == pytest.approx((band.swr - 1) / (band.swr + 1), rel=LIMIT)
                assert nearer < at_limit
    assert kinds == {"L", "pi", "T", "stub", "quarter wave"}


def by_skrf(parts, line: Line, antenna: complex, frequencies: list[float]) -> list[float]:
    """|Gamma| at the transmitter, 50 ohm. The antenna is a resistance and a coil."""
    found = []
    for f in frequencies:
        frequency = skrf.Frequency.from_f([f], unit="hz")
        omega = 2 * math.pi * f
        z_load = complex(antenna.real, antenna.imag * f / FREQUENCY)
        chain = skrf_load(frequency, z_load)
        for part in reversed((*parts, line)):
            if isinstance(part, Line):
                chain = skrf_line(frequency, part, f) ** chain
            elif isinstance(part, Stub):
                end = skrf_load(frequency, 1e12 if part.end == "open" else 1e-9)
                y = 1 / (skrf_line(frequency, part.path[0], f) ** end).z[0, 0, 0]
                chain = skrf_two_port(frequency, 1, 0, y, 1) ** chain
            else:
                for element in reversed(part.elements):
                    x = omega * element.value if element.kind == "inductor" else -1 / (omega * element.value)
                    z = element.loss_ohm + 1j * x
                    chain = (
                        skrf_two_port(frequency, 1, z, 0, 1) if element.position == "series" else skrf_two_port(frequency, 1, 0, 1 / z, 1)
                    ) ** chain
        found.append(float(abs(chain.s[0, 0, 0])))
    return found


def skrf_two_port(frequency, a, b, c, d):
    s = skrf.network.a2s(np.array([[[a, b], [c, d]]], dtype=complex), 50)
    return skrf.Network(frequency=frequency, s=s, z0=50)


def skrf_load(frequency, z: complex):
    return skrf.Network(frequency=frequency, s=np.array([[[(z - 50) / (z + 50)]]]), z0=50)


def skrf_line(frequency, line: Line, f: float):
    """Its loss as the nominal law has it away from the frequency where it was told."""
    k = line.model_copy(update={"loss_at_hz": FREQUENCY if line.loss_db_per_m else None}).constants(f)
    media = skrf.media.DefinedGammaZ0(frequency, z0=complex(characteristic(k, f)), gamma=complex(propagation(k, f)))
    made = media.line(line.length_m, "m")
    made.renormalize(50)
    return made


def test_costs_and_stresses_are_those_of_the_station():
    tuner = Tuner(name="atu", shape="pi", coil_q=150, capacitor_q=800, largest_capacitor_f=2e-9)
    scenario = plain([Meter(), tuner, real_impedance(50, 1.0), Tuner(name="far", coil_q=90, kind="series capacitor")], 300 + 80j, 25.0)
    near, far = every_match(scenario, by_loaded_q=True)
    resolved = set_tuner(scenario)
    assert (near.tuner.name, far.tuner.name, far.load_ohm) == ("atu", "far", 300 + 80j)
    for each, network in ((near, resolved.path[1]), (far, resolved.path[3])):
        (own,) = [match for match in each.matches if match.candidate.is_set]
        assert own.candidate.parts[0].elements == network.elements
        heats = [match.heat_w for match in each.matches if not match.candidate.obstacle]
        assert heats == pytest.approx(sorted(heats), rel=1e-8)  # equal ones by their loaded Q
        for match in each.matches:
            readings = exact.solve(match.scenario)
            assert readings.transmitter.swr == pytest.approx(1.0, abs=1e-9)
            names = {part.name for part in match.candidate.parts}
            heat = sum(part.heat_w for part in (*readings.networks, *readings.lines) if part.name in names)
            assert match.heat_w == pytest.approx(heat, rel=1e-12)
    assert not any(match.candidate.is_set for match in every_match(plain([real_impedance(50, 1.0)], 20 - 60j))[0].matches)


def test_no_name_is_given_twice():
    taken = [Line(name=name, length_m=3.0, impedance_ohm=50, velocity_factor=0.7) for name in ("tuner", "stub line", "added line")]
    (found,) = every_match(plain(taken, 20 - 60j))
    for match in found.matches:
        Scenario.model_validate(match.scenario.model_dump())


def test_what_cannot_be_matched_says_how_near_it_comes():
    """The pi cannot; a stub still can. With no power entering, nothing can."""
    tuner = Tuner(shape="pi", largest_coil_h=1e-7, largest_capacitor_f=5e-11, smallest_capacitor_f=1e-11)
    (found,) = every_match(plain([tuner, real_impedance(50, 1.0)], 300 + 80j))
    assert "a capacitor of at least" in found.why_not
    assert found.best.candidate.kind == "stub"
    seen_ohm = seen((Network(elements=found.nearest.elements),), found.load_ohm)
    rho = abs((seen_ohm - 50) / (seen_ohm + 50))
    assert found.nearest.swr == pytest.approx((1 + rho) / (1 - rho), rel=1e-9)
    with pytest.raises(ScenarioError, match="next to no power can enter"):
        every_match(plain([Tuner(), lossless(50, 0.3)], -60j))


@pytest.mark.parametrize("shape", ["L", "pi", "T"])
def test_the_nearest_is_a_match_where_there_is_one(shape):
    """Within ranges that hold a setting of this shape the search comes down to SWR 1."""
    found = nearest(tuner_within(shape, 2e-6, 1.5e-9), 50, 20 - 35j, FREQUENCY)
    assert found.swr < 1.0001


LAYOUTS = {
    "pi": (("shunt", "capacitor"), ("series", "inductor"), ("shunt", "capacitor")),
    "T": (("series", "capacitor"), ("shunt", "inductor"), ("series", "capacitor")),
    "L": (("shunt", "capacitor"), ("series", "inductor")),
}


def tuner_within(shape: str, coil: float, capacitor: float) -> Tuner:
    return Tuner(shape=shape, coil_q=200, capacitor_q=1000, largest_coil_h=coil, largest_capacitor_f=capacitor, smallest_capacitor_f=2e-11)


@pytest.mark.parametrize("shape", LAYOUTS)
def test_nearest_is_not_beaten_by_chance(shape):
    """No random setting within the ranges leaves a smaller SWR."""
    tuner, rng = tuner_within(shape, 4e-7, 1.2e-10), np.random.default_rng(5)
    found = nearest(tuner, 50, 8 - 120j, FREQUENCY)
    assert found.swr > 1.5
    for _ in range(300):
        elements = []
        for position, kind in LAYOUTS[shape]:
            value = rng.uniform(1e-9, 4e-7) if kind == "inductor" else rng.uniform(2e-11, 1.2e-10)
            x, q = (OMEGA * value, 200) if kind == "inductor" else (1 / (OMEGA * value), 1000)
            elements.append(Element(position=position, kind=kind, value=value, loss_ohm=x / q))
        z = seen((Network(elements=tuple(elements)),), 8 - 120j)
        rho = abs((z - 50) / (z + 50))
        assert (1 + rho) / (1 - rho) >= found.swr


def test_a_station_at_another_frequency():
    """An antenna told as one impedance stays its R and C; a doublet is what it is there; loss follows its law; tuners are set anew."""
    line = Line(name="cable", length_m=17.0, impedance_ohm=50.0, velocity_factor=0.8, loss_db_per_m=0.03)
    moved = at_frequency(plain([Tuner(), line], Antenna(impedance_ohm=25 - 60j, loss_resistance_ohm=5.0)), 2 * FREQUENCY)
    assert moved.antenna.at_carrier_ohm == pytest.approx(25 - 30j)
    assert moved.antenna.heat_share == pytest.approx(0.2)
    assert moved.lines[0].constants(2 * FREQUENCY).resistance == pytest.approx(
        math.sqrt(2) * line.constants(FREQUENCY).resistance, rel=1e-4
    )
    assert exact.solve(set_tuner(moved)).transmitter.swr == pytest.approx(1.0)
    doublet = plain([line], Antenna(dipole=Dipole(length_m=14.0, wire_m=0.002)))
    there = antenna_law(at_frequency(doublet, 1.5 * FREQUENCY)).impedance(1.5 * FREQUENCY)
    assert there == antenna_law(doublet).impedance(1.5 * FREQUENCY)
    assert abs(there - antenna_law(doublet).impedance(FREQUENCY)) > 10


def test_a_load_that_takes_next_to_nothing_has_no_quarter_wave_of_an_imaginary_impedance():
    """A capacitor at the end of a millimetre of line, at 211 Hz: by rounding its resistance comes out below 0 somewhere on the way back."""
    line = Line(length_m=1.153e-3, impedance_ohm=22.06, velocity_factor=1.0, loss_db_per_m=0.00309)
    quarter = [quarter_waves(50 + 0j, complex(r, -3e9), line, 211.41) for r in (1e-9, 1e-7, 1e-5, 1e-3, 0.1)]
    assert not any(quarter)
