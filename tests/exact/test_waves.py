"""The standing wave on a line: places and sizes of the largest voltage and current, heat, and the profile itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from scipy.integrate import quad

from bouncesim import exact
from bouncesim.exact import formulas
from bouncesim.exact.station import station as solved
from bouncesim.exact.waves import EQUAL
from bouncesim.scenario import Line, Network, Scenario
from tests.exact.stations import FREQUENCY, VELOCITY, lossless, real_impedance, station
from tests.exact.strategies import stations

WAVELENGTH = VELOCITY / FREQUENCY
# A place is where the slope vanishes: its rounding, over the curvature of the standing wave.
PLACE = 1e-12


@pytest.mark.parametrize(("load", "wavelengths"), [(370, 1.3), (8, 2.7), (30 - 80j, 0.9), (12 + 5j, 40.3), (5000j + 1, 3.21)])
def test_largest_on_a_lossless_line(load, wavelengths):
    """Closed form: |V+| (1 + rho), first where the phase of Gamma at the load, 2 beta (l - x) back, comes round to nothing."""
    reading = exact.solve(station([lossless(50, wavelengths)], load)).lines[0]
    gamma = complex(formulas.reflection(load, 50))
    volts = math.sqrt(2 * 50 * reading.forward_in_w)
    for size, place, turn in (
        (reading.largest_v_peak, reading.largest_v_at_m, 0.0),
        (50 * reading.largest_a_peak, reading.largest_a_at_m, math.pi),
    ):
        back = ((np.angle(gamma) - turn) % (2 * math.pi)) / (4 * math.pi)  # wavelengths from the load to the nearest place
        assert size == pytest.approx(volts * (1 + abs(gamma)), rel=1e-12)
        assert place / WAVELENGTH == pytest.approx((wavelengths - back) % 0.5, abs=PLACE * wavelengths)
    assert float(formulas.largest_voltage_v_rms(reading.power_in_w, 50, reading.swr_in)) * math.sqrt(2) == pytest.approx(
        reading.largest_v_peak, rel=1e-10
    )
    assert float(formulas.largest_current_a_rms(reading.power_in_w, 50, reading.swr_in)) * math.sqrt(2) == pytest.approx(
        reading.largest_a_peak, rel=1e-10
    )


def test_short_line_without_a_place_of_its_own():
    """0.1 wavelength at 200 ohm: the voltage only rises toward the antenna, the current toward the transmitter."""
    reading = exact.solve(station([lossless(50, 0.1)], 200)).lines[0]
    assert reading.largest_v_at_m == pytest.approx(0.1 * WAVELENGTH, rel=1e-15)
    assert reading.largest_a_at_m == 0.0


def test_flat_line_is_largest_at_the_transmitter():
    """The nearest of equal places; also where rounding leaves a ripple, behind a second flat line."""
    for path in ([lossless(50, 1.7)], [lossless(50, 1.7), lossless(50, 0.3)], [real_impedance(50, 2.0)]):
        for line in exact.solve(station(path, 50)).lines:
            assert line.largest_v_at_m == 0.0
            assert line.largest_a_at_m == 0.0


def test_equal_places_give_the_nearest():
    """1.5 wavelengths at 200 ohm: the voltage is largest at 0, 0.5, 1 and 1.5 wavelengths, the current a quarter wave on."""
    reading = exact.solve(station([lossless(50, 1.5)], 200)).lines[0]
    assert reading.largest_v_at_m == pytest.approx(0.0, abs=PLACE * WAVELENGTH)
    assert reading.largest_a_at_m == pytest.approx(0.25 * WAVELENGTH, rel=PLACE)


@settings(max_examples=60)
@given(stations())
def test_nothing_is_larger_than_the_largest(scenario):
    """On 4000 places of each line, its ends included; and the place has the value."""
    readings = exact.solve(scenario)
    for line, reading in zip(scenario.all_lines, readings.lines, strict=True):
        voltage, current = exact.profile(scenario, line.name, np.linspace(0, line.length_m, 4000))
        for values, largest in ((voltage, reading.largest_v_peak), (current, reading.largest_a_peak)):
            assert np.max(np.abs(values)) <= largest * (1 + 2 * EQUAL)
        at, _ = exact.profile(scenario, line.name, reading.largest_v_at_m)
        assert abs(at) == pytest.approx(reading.largest_v_peak, rel=1e-9)


def lossy_station(load: complex, share: float = 0.0) -> Scenario:
    line = Line(name="feed", length_m=43.0, impedance_ohm=75.0, velocity_factor=0.66, loss_db_per_m=0.2, dielectric_share=share)
    return station([Network(elements=()), line], load)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_the_profile_obeys_the_telegrapher_equations(share):
    """dV/dx = -(R + j w L) I and dI/dx = -(G + j w C) V, by central differences; and its ends are the terminals."""
    scenario = lossy_station(12 - 80j, share)
    k, omega, h = scenario.lines[0].constants(FREQUENCY), 2 * math.pi * FREQUENCY, 1e-4
    x = np.linspace(1, 42, 57)
    v, i = exact.profile(scenario, "feed", x)
    (v_next, i_next), (v_last, i_last) = exact.profile(scenario, "feed", x + h), exact.profile(scenario, "feed", x - h)
    error = 1e-7  # h^2 beta^2/6 = 1e-10, and rounding of 1e-16 over 2 h beta
    np.testing.assert_allclose((v_next - v_last) / (2 * h), -(k.resistance + 1j * omega * k.inductance) * i, rtol=error)
    np.testing.assert_allclose((i_next - i_last) / (2 * h), -(k.conductance + 1j * omega * k.capacitance) * v, rtol=error)
    readings = exact.solve(scenario)
    ends = exact.profile(scenario, "feed", np.array([0.0, 43.0]))
    assert abs(ends[0][0]) / math.sqrt(2) == pytest.approx(readings.transmitter.voltage_v_rms, rel=1e-12)
    assert ends[0][1] / ends[1][1] == pytest.approx(12 - 80j, rel=1e-12)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("load", [75.0, 3 + 200j, 4000.0])
def test_heat_is_the_integral_of_the_losses(load, share):
    """(R |I|^2 + G |V|^2)/2 along the line, by quadrature on the profile."""
    scenario = lossy_station(load, share)
    k, waves = scenario.lines[0].constants(FREQUENCY), solved(scenario).waves("feed")

    def density(x: float) -> float:
        return (k.resistance * abs(waves.current(x)) ** 2 + k.conductance * abs(waves.voltage(x)) ** 2) / 2

    heat, _ = quad(density, 0, 43.0, epsabs=0, epsrel=1e-12, limit=500)
    assert exact.solve(scenario).lines[0].heat_w == pytest.approx(heat, rel=1e-11)


def test_unknown_line():
    with pytest.raises(KeyError):
        exact.profile(lossy_station(75), "tuner", 0.0)
