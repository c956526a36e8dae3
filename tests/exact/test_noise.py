"""Noise on receive and S-units: by hand, and against the standards."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bouncesim import exact
from bouncesim.account.s_units import dbm, s_label, s_reading
from bouncesim.errors import ScenarioError
from bouncesim.exact import noise
from bouncesim.exact.dipole import dipole_current
from tests.exact.stations import lossless, station, with_emf
from tests.reference import case

ROUNDING = 1e-12
PRINTED = 0.05  # dB: half of the last digit


def test_median_figures_by_hand() -> None:
    """At 10 MHz the logarithm is 1: c - d. At 1 MHz it is 0: c."""
    for surroundings, expected in (("city", 49.1), ("residential", 44.8), ("rural", 39.5), ("quiet rural", 25.0), ("galactic", 29.0)):
        assert float(noise.external_noise_db(surroundings, 10e6)) == pytest.approx(expected, rel=ROUNDING)
    assert noise.external_noise_db("rural", [1e6, 10e6]) == pytest.approx([67.2, 39.5], rel=ROUNDING)


def test_surroundings_and_frequencies_that_are_not_known() -> None:
    with pytest.raises(ScenarioError) as caught:
        noise.external_noise_db("garden", 7e6)
    assert str(caught.value) == ('receiver.surroundings: "garden" is not known. Allowed: city, residential, rural, quiet rural, galactic')
    for frequency in (0.1e6, 2e8, math.nan):
        with pytest.raises(ScenarioError, match=r"0\.3 to 100 MHz"):
            noise.external_noise_db("city", [7e6, frequency])


def test_thermal_noise() -> None:
    """-174 dBm in 1 Hz at 290 K (common practice, no source)."""
    assert dbm(float(noise.noise_power_w(0.0, 1.0))) == pytest.approx(-174, abs=PRINTED)


def test_the_field_that_external_noise_stands_for() -> None:
    """ITU-R P.372, section 2: E = Fa + 20 log f/MHz + B - 95.5 dB(uV/m) for a short vertical monopole over perfect ground.

    Its available power is (E times its effective height)^2/(4 R): half the height and half the resistance of a doublet of twice its length,
    whose current the integral equation gives."""
    frequency, fa, bandwidth = 1.8e6, 60.0, 2700.0
    found = dipole_current(frequency, 2.0, 1e-3, 4e-3)
    height = abs(np.trapezoid(found.current_a, found.place_m) / found.terminal_a)
    resistance = (1 / found.terminal_a).real / 2
    field = math.sqrt(float(noise.noise_power_w(fa, bandwidth)) * 4 * resistance) / height
    expected = fa + 20 * math.log10(1.8) + 10 * math.log10(bandwidth) - 95.5
    assert 20 * math.log10(field / 1e-6) == pytest.approx(expected, abs=PRINTED)


def test_by_hand() -> None:
    """Half lost at 290 K, 10 dB of external noise, a receiver of 3.0103 dB (f = 2): 5 from outside, 0.5 of the path, 1 of the receiver; the
    signal is down to 1/2, the noise from 11 to 6.5: 10 log (0.5 * 11/6.5) = -0.7255 dB."""
    found = noise.noise_after(0.5, 10.0, 10 * math.log10(2))
    assert (float(found.external), float(found.path), float(found.receiver)) == pytest.approx((5, 0.5, 1), rel=ROUNDING)
    assert float(found.change_db) == pytest.approx(10 * math.log10(5.5 / 6.5), rel=ROUNDING)
    assert float(found.external_share) == pytest.approx(5 / 6.5, rel=ROUNDING)
    cold = noise.noise_after(0.5, 10.0, 10 * math.log10(2), match=0.8, path_temperature_k=145.0)
    assert (float(cold.external), float(cold.path), float(cold.receiver)) == pytest.approx((4, 0.2, 1), rel=ROUNDING)
    assert float(cold.change_db) == pytest.approx(10 * math.log10(0.4 * 11 / 5.2), rel=ROUNDING)


def test_a_path_alone_has_its_loss_as_noise_figure() -> None:
    """With no external noise but that of 290 K and a perfect receiver, signal to noise falls by just the loss (Pozar, section 10.1)."""
    loss = np.array([0.0, 1.0, 3.0, 20.0])
    found = noise.noise_after(10 ** (-loss / 10), 0.0, 0.0)
    assert found.change_db == pytest.approx(-loss, abs=ROUNDING)


def test_friis() -> None:
    """The path and the receiver in cascade: f = 1/G + (f_r - 1)/G, against f_r alone (Pozar, eq. 10.22)."""
    gain, receiver = 0.25, 6.0
    cascade = 1 / gain + (10**0.6 - 1) / gain
    assert float(noise.noise_after(gain, 0.0, receiver).change_db) == pytest.approx(10 * math.log10(10**0.6 / cascade), rel=ROUNDING)


def test_on_the_low_bands_loss_costs_next_to_nothing() -> None:
    """Common practice, no source: on 80 m, 6 dB of loss take an S-unit from signal and noise alike, and nothing from their ratio."""
    for surroundings in ("residential", "quiet rural"):
        assert -0.05 < float(noise.noise_after(0.25, noise.external_noise_db(surroundings, 3.6e6), 10.0).change_db) < 0
    assert float(noise.noise_after(0.25, noise.external_noise_db("quiet rural", 28.5e6), 10.0).change_db) < -3  # on 10 m they are felt


@given(
    gain=st.floats(1e-6, 1),
    external=st.floats(0, 80),
    receiver=st.floats(0, 30),
    match=st.floats(0.01, 1),
)
def test_loss_never_helps_and_never_costs_more_than_itself(gain: float, external: float, receiver: float, match: float) -> None:
    found = noise.noise_after(gain, external, receiver, match)
    assert 10 * math.log10(gain * match) - 1e-9 <= float(found.change_db) <= 1e-9
    assert 0 <= float(found.external_share) <= 1


def test_arrays_broadcast() -> None:
    found = noise.noise_after(np.array([[1.0], [0.5]]), np.array([10.0, 20.0, 30.0]), 5.0)
    assert {part.shape for part in found} == {(2, 3)}
    assert found.change_db[0] == pytest.approx(np.zeros(3), abs=ROUNDING)
    assert float(noise.noise_after(0.0, 10.0, 5.0).change_db) == -math.inf


def test_signal_to_noise() -> None:
    """S9 (-73 dBm) in 1 kHz, 40 dB of external noise: -174 + 30 + 40 = -104 dBm, 31 dB below it; the receiver adds next to nothing."""
    signal = 1e-3 * 10**-7.3
    straight = float(noise.signal_to_noise_db(signal, 1e3, 40.0, 10.0))
    assert straight == pytest.approx(31, abs=2 * PRINTED)
    path = noise.noise_after(0.1, 40.0, 10.0)
    assert float(noise.signal_to_noise_db(signal, 1e3, 40.0, 10.0, path)) == pytest.approx(straight + float(path.change_db), rel=ROUNDING)


def test_g01_s_units() -> None:
    figures = case("G01")

    def power(reading: float, frequency: float = 7e6) -> float:
        """The power of a reading, by bisection."""
        low, high = 1e-20, 1.0
        for _ in range(200):
            middle = math.sqrt(low * high)
            low, high = (middle, high) if s_reading(middle, frequency) < reading else (low, middle)
        return low

    def microvolt(watt: float) -> float:
        return 1e6 * math.sqrt(watt * figures.inputs["R"])

    figures.check_all(
        {
            "S9_uV": microvolt(power(9)),
            "S8_dBm": dbm(power(8)),
            "S8_uV": microvolt(power(8)),
            "S1_uV": microvolt(power(1)),
            "VHF_S9_uV": microvolt(power(9, 50e6)),
            "half_power_S": s_reading(1.0, 7e6) - s_reading(0.5, 7e6),
        }
    )


def test_s_labels() -> None:
    for level, label in ((-73, "S9"), (-58, "S9 + 15 dB"), (-79, "S8"), (-81.9, "S8"), (-121, "S1"), (-130, "below S1")):
        assert s_label(1e-3 * 10 ** (level / 10), 14e6) == label
    assert s_label(0.0, 14e6) == "below S1"
    assert s_label(1e-3 * 10**-9.3, 50e6) == "S9"


def test_g02_peak_envelope_power() -> None:
    """A key-down carrier of 100 V peak at a 50 ohm antenna: power is peak envelope power."""
    figures = case("G02")
    given = figures.inputs
    scenario = with_emf(station([lossless(given["R"], 0.3)], given["R"], source=given["R"]), 2 * given["PEV"])
    figures.check_all({"PEP": exact.solve(scenario).antenna.power_w})
