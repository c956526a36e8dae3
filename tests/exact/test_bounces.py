"""The lattice series itself: its ends, its limit, and the two ways of writing it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bouncesim import exact
from bouncesim.exact.bounces import Bounces
from tests.exact.stations import FREQUENCY, lossless, station

# Sums of a few hundred terms of geometric series, in another order.
SAMPLE = 1e-13


@pytest.mark.parametrize("source", [0.0, 20.0, 50.0, 900.0])
@pytest.mark.parametrize("load", [0.0, 7.0, 50.0, math.inf])
@pytest.mark.parametrize("transit", [1.0, 0.83])
def test_boundary_conditions(source, load, transit):
    """At all times the source obeys V = e - Rs I and the load V = RL I: what the lattice was made from, found again in its sum."""
    line = Bounces(50.0, 30e-9, source, load, transit)
    time = np.linspace(1e-9, 700e-9, 1999)

    def drive(t: np.ndarray) -> np.ndarray:
        return np.sin(2 * np.pi * 31e6 * t) + t * 1e6

    v, i = line.solve(drive, 0.0, time)
    np.testing.assert_allclose(v, drive(time) - source * i, atol=SAMPLE * np.max(np.abs(v)))
    v, i = line.solve(drive, 1.0, time)
    if math.isinf(load):
        np.testing.assert_allclose(i, 0, atol=SAMPLE)
    else:
        np.testing.assert_allclose(v, load * i, atol=SAMPLE * max(np.max(np.abs(v)), 1))
    assert np.all(v[time < 30e-9] == 0)


@pytest.mark.parametrize(("source", "load", "transit"), [(0.0, 230.0, 1.0), (20.0, math.inf, 1.0), (500.0, 0.0, 0.9)])
def test_samples_equal_the_series(source, load, transit):
    """Half-step samples, fewer and more than a round trip, on 12 cells of 1 s each."""
    line = Bounces(75.0, 12.0, source, load, transit)

    def drive(t: np.ndarray) -> np.ndarray:
        return np.sin(0.37 * t) + 0.1 * t

    for count in (5, 24, 25, 200):
        time = np.arange(count) + 0.5
        voltage, current = line.solve_samples(drive(time), 12)
        assert voltage.shape == (count, 13)
        v, i = line.solve(drive, np.arange(13) / 12, time[:, None])
        np.testing.assert_allclose(voltage, v, atol=SAMPLE * np.max(np.abs(v)))
        np.testing.assert_allclose(current, i, atol=SAMPLE * np.max(np.abs(i)))


def test_first_samples_by_hand():
    """Two cells, an ideal source, 3 Z0 at the end (coefficients -1 and 1/2); one sample of 8 V travels 8, comes back 4, leaves as -4."""
    voltage, current = Bounces(1.0, 2.0, 0.0, 3.0).solve_samples([8.0, 0, 0, 0, 0, 0, 0, 0], 2)
    expected = [[8, 0, 0], [0, 8, 0], [0, 0, 12], [0, 4, 0], [0, 0, 0], [0, -4, 0], [0, 0, -6], [0, -2, 0]]
    np.testing.assert_array_equal(voltage, expected)
    np.testing.assert_array_equal(current[:, 0], [8, 0, 0, 0, -8, 0, 0, 0])
    np.testing.assert_array_equal(current[:, 2], voltage[:, 2] / 3)


def test_a_carrier_settles_to_the_phasors():
    """After 200 round trips a keyed carrier is the steady state of the same station, everywhere on the line."""
    scenario = station([lossless(50, 1.3)], 230.0, source=20.0)
    length = scenario.lines[0].length_m
    line = Bounces(50.0, length / scenario.lines[0].constants(FREQUENCY).velocity, 20.0, 230.0)
    omega, emf = 2 * math.pi * FREQUENCY, scenario.transmitter.emf_v_peak
    place, time = np.linspace(0, 1, 9), 400 * line.delay_s
    voltage, current = line.solve(lambda t: emf * np.sin(omega * t), place, time)
    v, i = exact.profile(scenario, "line", place * length)
    turn = np.exp(1j * omega * time)
    np.testing.assert_allclose(voltage, (v * turn).imag, atol=1e-10 * emf)  # rounding of w t at 520 periods
    np.testing.assert_allclose(current, (i * turn).imag, atol=1e-10 * emf / 50)
