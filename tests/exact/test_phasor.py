"""Chain matrices against scikit-rf and 40-digit arithmetic, and where other ways of writing them break down."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
import skrf

from bouncesim.exact import phasor
from tests.exact.stations import FREQUENCY

# Products of a few matrices of double numbers against another order of the same operations.
CASCADE = 1e-11
# Double arithmetic against 40 digits: a few units in the last place, and the rounding of beta l over many wavelengths.
DOUBLE = 1e-13


def test_random_cascades_against_scikit_rf():
    """Shunt capacitor, series coil, lossy line, shunt resistor: scikit-rf cascades scattering matrices, and never sees a chain matrix."""
    rng = np.random.default_rng(20)
    band = skrf.Frequency.from_f(np.array([1.9e6, 7.1e6, 14.1e6, 29.0e6]), unit="Hz")
    omega = 2 * np.pi * band.f
    for _ in range(25):
        r, induct, g, cap = rng.uniform(0, 1), rng.uniform(1e-7, 1e-6), rng.uniform(0, 1e-4), rng.uniform(2e-11, 2e-10)
        length, shunt_c, series_l, shunt_r = rng.uniform(0.5, 60), rng.uniform(1e-11, 1e-9), rng.uniform(1e-7, 1e-5), rng.uniform(20, 2000)
        media = skrf.media.DistributedCircuit(frequency=band, C=cap, L=induct, R=r, G=g, z0_port=50)
        theirs = (
            media.shunt_capacitor(shunt_c)
            ** media.inductor(series_l)
            ** media.line(length, "m")
            ** media.shunt(media.resistor(shunt_r) ** media.short())
        )
        ours = phasor.cascade(
            [
                phasor.shunt(1j * omega * shunt_c),
                phasor.series(phasor.inductor(series_l, band.f)),
                phasor.line(phasor.PerMetre(r, induct, g, cap), length, band.f),
                phasor.shunt(1 / shunt_r),
            ]
        ).full()
        expected = skrf.network.s2a(theirs.s, theirs.z0)
        np.testing.assert_allclose(ours, expected, rtol=CASCADE, atol=0)


@pytest.mark.parametrize(
    ("constants", "length"),
    [
        ((0.0, 2.5e-7, 0.0, 1e-10), 5.0),  # a quarter wave, exactly
        ((0.0, 2.5e-7, 0.0, 1e-10), 1234.5),
        ((0.05, 2.5e-7, 1e-6, 1e-10), 31.0),
        ((2.0, 2.5e-7, 1e-4, 1e-10), 900.0),  # 160 dB
        ((900.0, 2.5e-7, 0.5, 1e-10), 3.0),  # the loss outweighs the reactance
    ],
)
def test_line_against_forty_digits(constants, length):
    r, induct, g, cap = constants
    with mpmath.workdps(40):
        omega = 2 * mpmath.pi * mpmath.mpf(FREQUENCY)
        z, y = mpmath.mpc(r, omega * mpmath.mpf(induct)), mpmath.mpc(g, omega * mpmath.mpf(cap))
        gamma = mpmath.sqrt(z) * mpmath.sqrt(y)
        gl, z0 = gamma * mpmath.mpf(length), mpmath.sqrt(z) / mpmath.sqrt(y)
        scale = mpmath.exp(-gl.real)
        expected = np.array(
            [
                [complex(mpmath.cosh(gl) * scale), complex(z0 * mpmath.sinh(gl) * scale)],
                [complex(mpmath.sinh(gl) * scale / z0), complex(mpmath.cosh(gl) * scale)],
            ]
        )
        gamma, z0, radians = complex(gamma), complex(z0), float(abs(gl.imag))
    chain = phasor.line(phasor.PerMetre(*constants), length, FREQUENCY)
    per_entry = DOUBLE * max(1.0, radians)
    size = np.array([[1.0, abs(z0)], [1 / abs(z0), 1.0]])
    assert np.all(np.abs(chain.matrix - expected) <= per_entry * size)
    ours = complex(phasor.propagation(phasor.PerMetre(*constants), FREQUENCY))
    assert ours.real == pytest.approx(gamma.real, rel=DOUBLE)  # even where alpha is a millionth of beta
    assert ours.imag == pytest.approx(gamma.imag, rel=DOUBLE)
    assert complex(phasor.characteristic(phasor.PerMetre(*constants), FREQUENCY)) == pytest.approx(z0, rel=DOUBLE)


def test_small_loss_keeps_its_digits():
    """alpha a billionth of beta: a square root of the product alone would leave seven digits of it."""
    constants = phasor.PerMetre(3e-8, 2.5e-7, 0.0, 1e-10)
    with mpmath.workdps(40):
        omega = 2 * mpmath.pi * mpmath.mpf(FREQUENCY)
        expected = float(
            (mpmath.sqrt(mpmath.mpc(3e-8, omega * mpmath.mpf(2.5e-7))) * mpmath.sqrt(mpmath.mpc(0, omega * mpmath.mpf(1e-10)))).real
        )
    assert complex(phasor.propagation(constants, FREQUENCY)).real == pytest.approx(expected, rel=DOUBLE)


def test_no_overflow_on_an_endless_lossy_line():
    """20,000 dB: the antenna gets nothing, the input meets the line's own impedance, nothing overflows."""
    constants = phasor.PerMetre(2.3, 2.5e-7, 0.0, 1e-10)
    walk = phasor.walk([phasor.line(constants, 1e5, FREQUENCY)], 10.0, 50.0, 12 - 80j)
    assert np.all(np.isfinite(walk.voltage))
    assert walk.power[-1] == 0
    assert walk.voltage[0] / walk.current[0] == pytest.approx(complex(phasor.characteristic(constants, FREQUENCY)), rel=DOUBLE)


@pytest.mark.parametrize("load", [0.0, math.inf, complex(math.inf, 0)])
def test_shorted_and_open_ends(load):
    """A lossless stub: j Z0 tan(beta l) shorted, -j Z0 / tan(beta l) open; and no power."""
    line = phasor.line(phasor.PerMetre(0.0, 2.5e-7, 0.0, 1e-10), np.array([0.7, 2.5, 3.1, 9.0]), FREQUENCY)
    walk = phasor.walk([line], 10.0, 50.0, load)
    tangent = np.tan(2 * np.pi * np.array([0.7, 2.5, 3.1, 9.0]) / 20)
    expected = 50j * tangent if load == 0 else -50j / tangent
    np.testing.assert_allclose(walk.voltage[0] / walk.current[0], expected, rtol=1e-13)
    assert np.all(walk.power[-1] == 0)


def test_quarter_wave_short_is_open():
    """An exact quarter wave turns a short into an open circuit, but for the rounding of pi."""
    walk = phasor.walk([phasor.line(phasor.PerMetre(0.0, 2.5e-7, 0.0, 1e-10), 5.0, FREQUENCY)], 10.0, 50.0, 0.0)
    assert abs(walk.current[0]) < 1e-15
    assert walk.voltage[0] == pytest.approx(10.0, rel=1e-15)


def test_direct_current():
    """Without frequency a line is its resistances: a distortionless ladder has Z0 = sqrt(R/G), a lossless one is a piece of wire."""
    chain = phasor.line(phasor.PerMetre(0.5, 2.5e-7, 0.002, 1e-9), 30.0, 0.0).full()
    root = math.sqrt(0.5 * 0.002) * 30
    expected = [[math.cosh(root), math.sqrt(250) * math.sinh(root)], [math.sinh(root) / math.sqrt(250), math.cosh(root)]]
    np.testing.assert_allclose(chain, expected, rtol=1e-14)
    np.testing.assert_array_equal(phasor.line(phasor.PerMetre(0.0, 2.5e-7, 0.0, 1e-10), 30.0, 0.0).full(), np.eye(2))


def test_looking_back_is_the_thevenin_source():
    """Behind a line and a coil: the output impedance n/d and the open-circuit voltage EMF exp(-nepers)/d give any load's voltage."""
    chains = [phasor.line(phasor.PerMetre(0.3, 2.5e-7, 0.0, 1e-10), 23.0, FREQUENCY), phasor.series(40j), phasor.shunt(0.003j)]
    n, d, nepers = phasor.looking_back(chains, 15.0)
    for load in (7 + 3j, 400 - 900j):
        expected = phasor.walk(chains, 10.0, 15.0, load).voltage[-1]
        assert 10 * np.exp(-nepers) / d * load / (n / d + load) == pytest.approx(expected, rel=1e-12)
