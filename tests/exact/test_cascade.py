"""The lattice of several lines: against the series of one, the phasors, its own boundary conditions, and hand-worked samples."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from bouncesim import exact
from bouncesim.exact.bounces import Bounces, Cascade
from tests.exact.stations import FREQUENCY, lossless, station

# Sums of products of a few numbers near 1, in another order.
SAMPLE = 1e-13


@pytest.mark.parametrize(("source", "load"), [(0.0, 230.0), (20.0, math.inf), (500.0, 0.0), (50.0, 50.0)])
def test_equal_lines_are_one(source, load):
    """Three lines of one impedance are one line: no junction is felt."""
    drive = np.sin(0.37 * np.arange(300))
    parts = Cascade(((75.0, 3), (75.0, 5), (75.0, 4)), source, load).solve_samples(drive)
    voltage, current = Bounces(75.0, 1.0, source, load).solve_samples(drive, 12)
    for first, (v, i) in zip((0, 3, 8), parts, strict=True):
        width = v.shape[1]
        np.testing.assert_allclose(v, voltage[:, first : first + width], atol=SAMPLE * np.max(np.abs(voltage)))
        np.testing.assert_allclose(i, current[:, first : first + width], atol=SAMPLE * np.max(np.abs(current)))


def test_first_samples_by_hand():
    """A matched source, 1 ohm into 3 ohm into an open end, one cell each: 4 enters, 6 passes on and 2 comes back; 12 at the end; the 6 that
    returns from there passes on 3 and sends 3 back the other way."""
    (first, one), (second, two) = Cascade(((1.0, 1), (3.0, 1)), 1.0, math.inf).solve_samples([8.0, 0, 0, 0, 0])
    np.testing.assert_array_equal(first, [[4, 0], [0, 6], [2, 0], [0, 3], [3, 0]])
    np.testing.assert_array_equal(second, [[0, 0], [6, 0], [0, 12], [3, 0], [0, -6]])
    np.testing.assert_array_equal(one[:, 0], [4, 0, -2, 0, -3])
    np.testing.assert_array_equal(two[:, 0], [0, 2, 0, -3, 0])
    assert np.all(two[:, -1] == 0)


def test_voltage_and_current_pass_every_junction():
    """Neither jumps from a line to the next; source and load keep their law; on lines of any delays."""
    rng = np.random.default_rng(7)
    drive = rng.normal(size=500)
    lines = Cascade(((50.0, 7), (300.0, 2), (75.0, 11), (600.0, 1)), 15.0, 40.0).solve_samples(drive)
    for (v, i), (v_next, i_next) in pairwise(lines):
        np.testing.assert_allclose(v[:, -1], v_next[:, 0], atol=SAMPLE * np.max(np.abs(v)))
        np.testing.assert_allclose(i[:, -1], i_next[:, 0], atol=SAMPLE * np.max(np.abs(i)))
    (v, i), (v_last, i_last) = lines[0], lines[-1]
    np.testing.assert_allclose(v[:, 0], drive - 15 * i[:, 0], atol=10 * SAMPLE)
    np.testing.assert_allclose(v_last[:, -1], 40 * i_last[:, -1], atol=10 * SAMPLE)


def test_a_carrier_settles_to_the_phasors():
    """Two lines of 0.7 and 0.4 wavelengths, 40 samples a period: sample by sample, a keyed carrier becomes the steady state."""
    scenario = station([lossless(50, 0.7), lossless(300, 0.4)], 120.0, source=30.0)
    count = 40 * 400
    turn = 2 * math.pi * np.arange(count) / 40
    lines = Cascade(((50.0, 28), (300.0, 16)), 30.0, 120.0).solve_samples(scenario.transmitter.emf_v_peak * np.sin(turn))
    for line, (voltage, current) in zip(scenario.lines, lines, strict=True):
        place = np.linspace(0, line.length_m, voltage.shape[1])
        v, i = exact.profile(scenario, line.name, place)
        rotating = np.exp(1j * turn[-40:])[:, None]
        scale = scenario.transmitter.emf_v_peak
        np.testing.assert_allclose(voltage[-40:], (v * rotating).imag, atol=1e-10 * scale)  # rounding of w t at 400 periods
        np.testing.assert_allclose(current[-40:], (i * rotating).imag, atol=1e-10 * scale / 30)
    assert scenario.transmitter.frequency_hz == FREQUENCY
