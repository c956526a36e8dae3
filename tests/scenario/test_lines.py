"""What a line is: against hand-worked and published figures, and against other programs' arithmetic."""

import cmath
import math

import mpmath
import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st
from skrf.media import DistributedCircuit

from bouncesim.quantity import parse
from bouncesim.scenario import Line, LineConstants
from bouncesim.scenario.lines import DB_PER_NEPER, SPEED_OF_LIGHT, loss_at, nominal_constants

# Some ten operations in double precision, each good to 1.1e-16.
ROUNDING = 1e-14


@given(
    impedance=st.floats(5, 1000),
    factor=st.floats(0.1, 1),
    loss=st.floats(1e-6, 30),  # dB/m; 30 is over five times the loss at which attenuation and phase are equal at 30 MHz
    share=st.floats(0, 1),
    frequency=st.floats(1e5, 1e9),
)
def test_the_matched_loss_is_exact_at_the_carrier(impedance: float, factor: float, loss: float, share: float, frequency: float) -> None:
    line = nominal_constants(impedance, factor, loss, share, frequency)
    with mpmath.workdps(40):  # an independent root, of the product, with digits to spare
        w = 2 * mpmath.pi * mpmath.mpf(frequency)
        squared = mpmath.mpc(line.resistance, w * line.inductance) * mpmath.mpc(line.conductance, w * line.capacitance)
        gamma = mpmath.sqrt(squared)
        impedance_then = mpmath.sqrt(mpmath.mpc(line.resistance, w * line.inductance) / mpmath.mpc(line.conductance, w * line.capacitance))
    assert float(gamma.real) * DB_PER_NEPER == pytest.approx(loss, rel=ROUNDING)
    assert line.loss_db_per_m(frequency) == pytest.approx(loss, rel=ROUNDING)
    assert line.propagation(frequency) == pytest.approx(complex(gamma), rel=ROUNDING)
    assert line.complex_impedance_ohm(frequency) == pytest.approx(complex(impedance_then), rel=ROUNDING)
    assert line.impedance_ohm == pytest.approx(impedance, rel=ROUNDING)
    assert line.velocity == pytest.approx(factor * SPEED_OF_LIGHT, rel=ROUNDING)
    assert line.resistance >= 0
    assert line.conductance >= 0


def test_constants_against_numpy_and_scikit_rf() -> None:
    line, frequency = LineConstants(0.3, 250e-9, 2e-6, 100e-12), 7e6
    w = 2 * np.pi * frequency
    roots = np.sqrt(np.array([0.3 + 1j * w * 250e-9, 2e-6 + 1j * w * 100e-12]))
    assert line.propagation(frequency) == pytest.approx(complex(roots[0] * roots[1]), rel=ROUNDING)
    medium = DistributedCircuit(skrf.Frequency(frequency, frequency, 1, "hz"), C=100e-12, L=250e-9, R=0.3, G=2e-6)
    assert line.propagation(frequency) == pytest.approx(complex(medium.gamma[0]), rel=ROUNDING)
    assert line.complex_impedance_ohm(frequency) == pytest.approx(complex(medium.z0_characteristic[0]), rel=ROUNDING)
    assert line.phase_velocity(frequency) == pytest.approx(w / complex(medium.gamma[0]).imag, rel=ROUNDING)


def test_conductor_loss_turns_the_impedance_one_way_and_dielectric_loss_the_other() -> None:
    w = 2 * math.pi * 3.6e6
    conductor, dielectric = (nominal_constants(50, 0.66, 0.5, share, 3.6e6) for share in (0.0, 1.0))
    assert conductor.conductance == 0
    assert dielectric.resistance == 0
    turn = math.atan(conductor.resistance / (w * conductor.inductance)) / 2
    assert cmath.phase(conductor.complex_impedance_ohm(3.6e6)) == pytest.approx(-turn, rel=ROUNDING)
    assert cmath.phase(dielectric.complex_impedance_ohm(3.6e6)) == pytest.approx(turn, rel=ROUNDING)
    assert conductor.phase_velocity(3.6e6) < conductor.velocity  # loss slows the phase


def test_equal_shares_leave_a_line_without_distortion() -> None:
    """Heaviside's condition R/L = G/C: real impedance, loss and velocity the same at every frequency."""
    line = nominal_constants(50, 0.66, 0.5, 0.5, 3.6e6)
    assert line.resistance / line.inductance == pytest.approx(line.conductance / line.capacitance, rel=ROUNDING)
    for frequency in (1e5, 3.6e6, 3e8):
        assert line.complex_impedance_ohm(frequency) == pytest.approx(50, rel=ROUNDING)
        assert line.loss_db_per_m(frequency) == pytest.approx(0.5, rel=ROUNDING)
        assert line.phase_velocity(frequency) == pytest.approx(0.66 * SPEED_OF_LIGHT, rel=ROUNDING)


def test_loss_at_another_frequency_by_hand() -> None:
    """2 dB at 10 MHz, a quarter of it in the dielectric, at 40 MHz: conductor 1.5 dB times 2, dielectric 0.5 dB times 4."""
    assert loss_at(40e6, 10e6, 2.0, 0.25) == pytest.approx((5.0, 0.4), rel=ROUNDING)
    line = Line(length_m=1, impedance_ohm=50, velocity_factor=0.66, loss_db_per_m=2.0, loss_at_hz=10e6, dielectric_share=0.25)
    assert line.loss_and_share(40e6) == pytest.approx((5.0, 0.4), rel=ROUNDING)
    assert line.constants(40e6).loss_db_per_m(40e6) == pytest.approx(5.0, rel=ROUNDING)
    plain = line.model_copy(update={"loss_at_hz": None})  # the loss is said of the carrier
    assert plain.constants(40e6).loss_db_per_m(40e6) == pytest.approx(2.0, rel=ROUNDING)


def test_a_lossless_line_has_no_loss() -> None:
    line = Line(length_m=1, impedance_ohm=50, velocity_factor=0.66).constants(7e6)
    assert (line.resistance, line.conductance) == (0, 0)
    assert line.propagation(7e6).real == 0


def in_metres(resistance: str, inductance: str, conductance: str, capacitance: str) -> LineConstants:
    """Constants as the reader takes them from text."""
    kinds = ("resistance", "inductance", "conductance", "capacitance")
    texts = (resistance, inductance, conductance, capacitance)
    return LineConstants(*(parse(text, f"{kind} of a line") for kind, text in zip(kinds, texts, strict=True)))


# Published figures, seen as the output of the worked companions to these textbooks (FOSSEE Python Textbook Companions, commit d34b2ae).
# Tolerances are half a unit of the last printed digit, with the rounding of doubles on top.


def test_secondary_constants_at_an_audio_frequency() -> None:
    """Bird, 2nd ed., chapter 44, problem 9, p. 880."""
    line = in_metres("25 ohm/km", "5 mH/km", "80 uS/km", "0.04 uF/km")
    impedance, gamma = line.complex_impedance_ohm(1000), line.propagation(1000) * 1000
    assert abs(impedance) == pytest.approx(390.16, abs=0.00501)
    assert math.degrees(cmath.phase(impedance)) == pytest.approx(-10.43, abs=0.00501)
    assert gamma.real == pytest.approx(0.0484, abs=0.0000501)
    assert gamma.imag == pytest.approx(0.0908, abs=0.0000501)


def test_secondary_constants_at_a_microwave_frequency() -> None:
    """Liao, Microwave Devices and Circuits, 3rd ed., example 3.1.1, p. 84. (Its front would outrun light; the algebra stands.)"""
    line = in_metres("2 ohm/m", "8 nH/m", "0.5 mS/m", "0.23 pF/m")
    impedance, gamma = line.complex_impedance_ohm(1e9), line.propagation(1e9)
    assert impedance.real == pytest.approx(179.43, abs=0.00501)
    assert impedance.imag == pytest.approx(26.51, abs=0.00501)
    assert gamma.real == pytest.approx(0.051, abs=0.000501)
    assert gamma.imag == pytest.approx(0.273, abs=0.000501)


def test_power_through_a_matched_cable() -> None:
    """Blake, example 14.11, p. 481: 45 m of 4 dB/100 m, 100 W wanted at the antenna."""
    loss = Line(length_m=45, impedance_ohm=50, velocity_factor=0.66, loss_db_per_m=parse("4 dB/100 m", "loss")).constants(50e6)
    assert 100 * math.exp(2 * loss.propagation(50e6).real * 45) == pytest.approx(151.356, abs=0.000501)


def test_power_lost_in_a_matched_cable() -> None:
    """Stanley and Jeffords, example 14.8, p. 481: 800 W into 50 m of 0.01 dB/m."""
    line = Line(length_m=50, impedance_ohm=50, velocity_factor=0.66, loss_db_per_m=0.01).constants(10e6)
    ratio = math.exp(2 * line.propagation(10e6).real * 50)
    assert ratio == pytest.approx(1.122018, abs=0.000000501)
    assert 400**2 / 4 / 50 / ratio == pytest.approx(713.0, abs=0.0501)


def test_constants_of_a_line_without_distortion() -> None:
    """Sadiku, 3rd ed., example 11.2, p. 483: 60 ohm, 20 mNp/m, 0.6 c (with c = 3e8 m/s) at 100 MHz."""
    line = nominal_constants(60, 1.8e8 / SPEED_OF_LIGHT, 0.02 * DB_PER_NEPER, 0.5, 100e6)
    assert line.resistance == pytest.approx(1.2, abs=0.005)  # ohm/m, "1.2": read as 1.20
    assert line.inductance == pytest.approx(333e-9, abs=0.501e-9)
    assert line.conductance == pytest.approx(333e-6, abs=0.501e-6)
    assert line.capacitance == pytest.approx(92.59e-12, abs=0.00501e-12)
    assert line.phase_velocity(100e6) / 100e6 == pytest.approx(1.8, rel=ROUNDING)


def test_cable_constants_in_feet() -> None:
    """Beasley and Miller, 9th ed., examples 12.1 and 12.3 to 12.5, pp. 573-581."""
    line = in_metres("0 ohm/ft", "73.75 nH/ft", "0 S/ft", "29.5 pF/ft")
    foot = parse("1 ft", "length")
    assert line.impedance_ohm == pytest.approx(50.0, abs=0.05)
    assert foot / line.velocity == pytest.approx(1.475e-9, abs=0.000501e-9)
    assert line.velocity / foot == pytest.approx(6.78e8, abs=0.00501e8)
    assert line.velocity / SPEED_OF_LIGHT == pytest.approx(0.69, abs=0.00501)
