"""One-ports of lumped elements: hand-worked impedances, ends that are open or short, and where the power goes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st
from skrf.media import DefinedGammaZ0

from bouncesim.exact.oneport import impedance, split
from bouncesim.scenario.oneport import Joined, Lumped, OnePort
from tests.march.grids import capacitor, coil, parallel, resistor, series

ROUNDING = 1e-12  # a handful of operations in double precision, and the cancellation near a resonance of moderate Q
NEAR_RESONANCE = 1e-6  # of the apparent power: elements a thousand million times apart cancel to fewer digits
SKRF_OPEN = 1e-9  # the reference works with reflection coefficients: it loses digits far from 50 ohm


def test_by_hand_at_one_radian_a_second() -> None:
    """R = 2, L = 3, C = 1/4 in series: 2 + 3j - 4j. The same in parallel: Y = 1/2 - j/3 + j/4 = (6 - j)/12."""
    parts = (resistor(2), coil(3), capacitor(0.25))
    assert complex(impedance(series(*parts), 1.0)) == pytest.approx(2 - 1j, rel=ROUNDING)
    assert complex(impedance(parallel(*parts), 1.0)) == pytest.approx(12 / (6 - 1j), rel=ROUNDING)
    nested = series(resistor(1), parallel(coil(3), series(resistor(2), capacitor(0.25))))
    assert complex(impedance(nested, 1.0)) == pytest.approx(1 + 3j * (2 - 4j) / (3j + 2 - 4j), rel=ROUNDING)


def test_open_and_short_ends() -> None:
    short, gap = series(), parallel()
    assert complex(impedance(short, 1.0)) == 0
    for port in (
        gap,
        series(gap, gap),
        series(resistor(5), gap),
        parallel(gap, gap),
        parallel(coil(1), capacitor(1)),
        series(gap, short),
    ):
        assert complex(impedance(port, 1.0)) == complex(math.inf)
    for port in (parallel(resistor(5), short), parallel(short, short), series(coil(1), capacitor(1)), parallel(gap, short)):
        assert complex(impedance(port, 1.0)) == 0
    assert complex(impedance(parallel(resistor(5), gap), 1.0)) == 5
    assert complex(impedance(capacitor(1e-9), 0.0)) == complex(math.inf)  # direct current
    assert complex(impedance(coil(1e-9), 0.0)) == 0


def test_arrays_keep_their_shape() -> None:
    w = np.array([[0.0, 1.0], [2.0, 4.0]])
    z = impedance(parallel(coil(1), capacitor(1)), w)
    assert z.shape == (2, 2)
    assert not np.isnan(z).any()
    assert z[1, 0] == pytest.approx(1 / (2j + 1 / 2j), rel=ROUNDING)


def test_against_scikit_rf() -> None:
    frequency = skrf.Frequency(1.8e6, 30e6, 40, "hz")
    medium = DefinedGammaZ0(frequency, z0=50)
    chain = medium.inductor(2e-6) ** medium.shunt_capacitor(80e-12) ** medium.resistor(30) ** medium.short()
    port = series(coil(2e-6), parallel(capacitor(80e-12), resistor(30)))
    reference = chain.z[:, 0, 0]
    assert np.abs(impedance(port, frequency.w) / reference - 1).max() < SKRF_OPEN


def test_power_by_hand() -> None:
    """1 V on (2 ohm radiating in series with [1 ohm of heat parallel j ohm]): I = 1/(2 + j/(1 + j)) = 1/(2.5 + 0.5j), |I|^2 = 1/6.5;
    radiated 1/2 * 2/6.5, heat 1/2 |0.5 + 0.5j|^2/6.5/1."""
    port = series(resistor(2), parallel(resistor(1, radiates=False), coil(1)))
    current = 1 / complex(impedance(port, 1.0))
    radiated, heat = split(port, 1.0, 1.0, current)
    assert float(radiated) == pytest.approx(1 / 6.5, rel=ROUNDING)
    assert float(heat) == pytest.approx(0.25 / 6.5, rel=ROUNDING)
    assert split(series(resistor(5), parallel()), 1.0, 1.0, 0.0) == (0.0, 0.0)
    assert split(parallel(resistor(5), series()), 1.0, 0.0, 1.0) == (0.0, 0.0)


ELEMENT = st.builds(Lumped, kind=st.sampled_from(["resistor", "inductor", "capacitor"]), value=st.floats(0.01, 100), radiates=st.booleans())
PORT = st.recursive(
    ELEMENT,
    lambda inner: st.builds(Joined, how=st.sampled_from(["series", "parallel"]), members=st.lists(inner, max_size=3).map(tuple)),
    max_leaves=8,
)


@given(port=PORT, w=st.floats(0.01, 100))
def test_any_port_is_passive_and_its_parts_take_all_of_its_power(port: OnePort, w: float) -> None:
    z = complex(impedance(port, w))
    assert not math.isnan(z.real)
    assert not math.isnan(z.imag)
    if math.isinf(z.real) or z == 0:
        return
    current = 1 / abs(z) ** 0.5
    radiated, heat = split(port, w, z * current, current)
    apparent = abs(z) * current**2 / 2
    assert min(float(radiated), float(heat)) >= 0
    assert float(radiated + heat) == pytest.approx(z.real * current**2 / 2, abs=NEAR_RESONANCE * apparent)
