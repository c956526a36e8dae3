"""The forward power, echo by echo: against the lattice in time, against a power series, and its limit."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given

from bouncesim import exact
from bouncesim.errors import ScenarioError
from bouncesim.exact import phasor
from bouncesim.exact.bounces import Bounces
from bouncesim.exact.echoes import CLOSE, ENTRIES
from bouncesim.exact.station import station as solved
from bouncesim.scenario import Element, Line, Network, Tuner
from tests.exact.stations import FREQUENCY, VELOCITY, lossless, real_impedance, station
from tests.exact.strategies import stations


def amplitude_squared(line: Bounces, emf: float, time: float) -> float:
    """Of the forward wave at the input, from two instants a quarter period apart: sin^2 + cos^2 = 1."""

    def carrier(t: np.ndarray) -> np.ndarray:
        return emf * np.sin(2 * np.pi * FREQUENCY * t)

    forward, _ = line.waves(carrier, 0.0, np.array([time, time + 0.25 / FREQUENCY]))
    return float(np.sum(forward**2))


@pytest.mark.parametrize("source", [0.0, 15.0, 500.0])
@pytest.mark.parametrize("matched_db", [0.0, 1.2])
def test_against_the_lattice_in_time(source, matched_db):
    """A carrier keyed by a step, three wavelengths of line: between echoes it is a steady carrier, and each stair is one entry.

    With loss: a line without distortion, which is a pure delay and a factor a transit.
    """
    line = lossless(50, 3.2) if matched_db == 0 else real_impedance(50, matched_db, 3.2 * VELOCITY / FREQUENCY)
    scenario = station([line], 230.0, source=source)
    echoes = exact.solve(scenario).echoes
    delay = line.length_m / line.constants(FREQUENCY).velocity
    lattice = Bounces(50.0, delay, source, 230.0, 10 ** (-matched_db / 20))
    assert len(echoes.forward_after_round_trips_w) > 3
    for n, power in enumerate(echoes.forward_after_round_trips_w[:12]):
        in_time = amplitude_squared(lattice, scenario.transmitter.emf_v_peak, (2 * n + 1) * delay) / (2 * 50)
        assert power == pytest.approx(in_time, rel=1e-11)  # rounding of w t over tens of periods


def test_against_a_power_series_where_z0_is_complex():
    """Each echo is one power of q = exp(-2 gamma l) in the exact answer: its Taylor polynomial of order n is n round trips."""
    line = Line(length_m=17.0, resistance_ohm_per_m=9.0, inductance_h_per_m=2.5e-7, capacitance_f_per_m=1e-10)
    tuner = Network(
        elements=(Element(position="shunt", kind="capacitor", value=2e-10), Element(position="series", kind="inductor", value=1e-6))
    )
    scenario = station([tuner, line], 8 + 60j, source=15.0)
    readings = exact.solve(scenario)
    constants = line.constants(FREQUENCY)
    z0 = complex(phasor.characteristic(constants, FREQUENCY))
    assert abs(z0.imag) > 10  # complex indeed
    q = complex(np.exp(-2 * phasor.propagation(constants, FREQUENCY) * line.length_m))
    omega = 2 * math.pi * FREQUENCY
    parallel = 1 / (1 / 15 + 1j * omega * 2e-10)
    behind, emf = parallel + 1j * omega * 1e-6, scenario.transmitter.emf_v_peak * parallel / 15
    at_load, zr = (8 + 60j - z0) / (8 + 60j + z0), 50.0

    def forward(power):
        seen = z0 * (1 + at_load * power) / (1 - at_load * power)
        return emf * (seen + zr) / (seen + behind) / 2

    powers = readings.echoes.forward_after_round_trips_w
    with mpmath.workdps(40):
        series = mpmath.taylor(forward, 0, len(powers) - 1)
    for n, power in enumerate(powers):
        total = sum(complex(term) * q**k for k, term in enumerate(series[: n + 1]))
        assert power == pytest.approx(abs(total) ** 2 / (2 * zr), rel=1e-10)
    assert powers[-1] == pytest.approx(readings.lines[0].forward_in_w, rel=CLOSE)


@given(stations())
def test_the_limit_is_the_steady_forward_power(scenario):
    """Given for one line only; the last entry is the limit unless the entries ran out."""
    readings = exact.solve(scenario)
    if len(scenario.lines) != 1:
        assert readings.echoes is None
        return
    line = next(line for line in readings.lines if line.name == scenario.lines[0].name)
    powers = readings.echoes.forward_after_round_trips_w
    assert len(powers) <= ENTRIES
    if len(powers) < ENTRIES:
        assert powers[-1] == pytest.approx(line.forward_in_w, rel=2 * CLOSE)
    assert abs(readings.echoes.reflection_at_input) ** 2 * line.forward_in_w == pytest.approx(line.reflected_in_w, rel=1e-9)


@pytest.mark.parametrize("load", [370.0, 12 - 35j])
def test_lossless_tuner_looking_back(load):
    """Source impedance equal to the rated load: looking back is as large as looking in, and its conjugate. Another source: not."""
    for source, equal in ((50.0, True), (15.0, False)):
        echoes = exact.solve(station([Tuner(), lossless(50, 1.3)], load, source=source)).echoes
        same = abs(echoes.reflection_looking_back - echoes.reflection_at_input.conjugate()) < 1e-12
        assert same == equal
        assert abs(echoes.reflection_looking_back) <= 1


def test_source_impedances():
    """Behind a tuner the steady state does not depend on it; without one it does. The power into the rated load is kept."""
    ohms = (5.0, 50.0, 500.0)
    tuned = exact.over_sources(station([Tuner(), lossless(50, 1.3)], 230.0), ohms)
    bare = exact.over_sources(station([lossless(50, 1.3)], 230.0), ohms)
    assert tuple(tuned) == ohms
    for readings in tuned.values():
        assert readings.antenna.power_w == pytest.approx(40.0, rel=1e-12)
    assert len({round(readings.antenna.power_w) for readings in bare.values()}) == 3
    matched = exact.over_sources(station([lossless(50, 1.3)], 50.0), ohms)
    for readings in matched.values():
        assert readings.antenna.power_w == pytest.approx(40.0, rel=1e-12)


def test_looking_back_into_an_ideal_source():
    scenario = station([lossless(50, 0.4)], 230.0, source=0.0)
    assert exact.solve(scenario).echoes.reflection_looking_back == -1
    assert abs(solved(scenario).walk.voltage[0]) == pytest.approx(scenario.transmitter.emf_v_peak, rel=1e-15)


def test_what_is_beyond_all_numbers_is_refused():
    """Six dividers of 1e-30 each, one behind the other: their product, squared, has no number."""
    divider = (Element(position="series", kind="capacitor", value=1e-18), Element(position="shunt", kind="resistor", value=1e-20))
    for count, refused in ((1, False), (6, True)):
        scenario = station([Network(elements=count * divider), lossless(50, 0.4)], 50.0)
        if refused:
            with pytest.raises(ScenarioError, match="beyond all numbers"):
                exact.solve(scenario)
        else:
            assert 0 < exact.solve(scenario).antenna.power_w < 1e-50
