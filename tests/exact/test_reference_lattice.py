"""Group C of the reference cases, steps on lines between resistances: the lattice series. (March is held against it elsewhere.)"""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from bouncesim.exact import formulas, phasor
from bouncesim.exact.bounces import Bounces, Cascade
from tests.reference import case

JUST_AFTER = 1e-6  # of a transit: a wave that arrives at T is there from T on, not at T


def step(volts: float):
    return lambda time: np.full_like(time, volts)


def test_c01_ideal_source():
    """The printed place is a quarter of the line from the receiving end."""
    figures = case("C01")
    given = figures.inputs
    line = Bounces(given["Zc"], 1.0, given["Zs"], given["R"])
    load, _ = line.solve(step(given["V"]), 1.0, np.array([1, 3, 5, 7]) + JUST_AFTER)
    inside, _ = line.solve(step(given["V"]), 0.75, 6.5)
    names = ("VL_T", "VL_3T", "VL_5T", "VL_7T")
    figures.check_all({**dict(zip(names, load, strict=True)), "v(x=0.25l from load,6.5T)": float(inside)})


def test_c02_two_loads():
    figures = case("C02")
    given, values = figures.inputs, {}
    for load in given["R"]:
        voltage, _ = Bounces(given["Zc"], 1.0, given["Zs"], load).solve(step(given["V"]), 1.0, np.arange(1, 10, 2) + JUST_AFTER)
        values |= {f"{load}:{n}T" if n > 1 else f"{load}:T": v for n, v in zip(range(1, 10, 2), voltage, strict=True)}
    figures.check_all(values)


def test_c04_matched_source():
    figures = case("C04")
    given = figures.inputs
    line = Bounces(given["Z0"], 1.0, given["Rg"], given["RL"])
    forward, _ = line.waves(step(given["V0"]), 0.0, 0.5)
    _, reflected = line.waves(step(given["V0"]), 1.0, 1.5)
    load, _ = line.solve(step(given["V0"]), 1.0, 1.5)
    _, battery = line.solve(step(given["V0"]), 0.0, np.array([0.5, 1.5, 2.5, 9.0]))
    assert battery[0] == battery[1]
    assert battery[2] == pytest.approx(battery[3])
    values = {"V1plus": forward, "V1minus": reflected, "VL_after_T": load, "I_batt_0_2T": battery[0], "I_batt_after_2T": battery[2]}
    figures.check_all({name: float(value) for name, value in values.items()})


def test_c07_ideal_source_on_400_m():
    figures = case("C07")
    given = figures.inputs
    line = Bounces(given["Zc"], given["length"] / given["v"], given["Rs"], given["RL"])
    later = JUST_AFTER * line.delay_s
    load, _ = line.solve(step(given["Vs"]), 1.0, 1e-6 * np.array([2, 6, 10, 14]) + later)
    _, current = line.solve(step(given["Vs"]), 0.0, np.array([0, 4e-6, 400e-6]) + later)
    names = ("VL_2us", "VL_6us", "VL_10us", "VL_14us", "I0_0us", "I0_4us", "Iss")
    figures.check_all(dict(zip(names, (*load, *current), strict=True)))


def test_c08_matched_source_settles_in_one_round_trip():
    figures = case("C08")
    given = figures.inputs
    delay = given["length"] / (given["vf"] * 3e8)  # the book's speed of light
    line = Bounces(given["Z0"], delay, given["Rs"], given["RL"])
    place, time = np.meshgrid(np.linspace(0, 1, 11), delay * np.linspace(2 + JUST_AFTER, 20, 50))
    voltage, _ = line.solve(step(given["Vs"]), place, time)
    figures.check_all({"VL": float(voltage[0, -1]), "T": 1e9 * delay})
    np.testing.assert_allclose(voltage, voltage[0, -1], rtol=1e-15)


def test_c11_waves_at_a_resistive_end():
    figures = case("C11")
    given = figures.inputs
    line = Bounces(given["Zc"], 1.0, given["Zc"], given["R"])
    drive = step(2 * given["vf"])  # half of it enters a line that the source matches
    forward, reflected = line.waves(drive, 1.0, 1.5)
    voltage, current = line.solve(drive, 1.0, 1.5)
    assert forward == given["vf"]
    values = {"rho": line.at_load, "vb": reflected, "v": voltage, "ib": -reflected / given["Zc"], "i": current}
    figures.check_all({name: float(value) for name, value in values.items()})


def test_c16_attenuating_lattice():
    """The lattice's final value on an open line, and the same line at direct current: 1/cosh(alpha l)."""
    figures = case("C16")
    transit = figures.inputs["transit_factor"]
    final, _ = Bounces(50.0, 1.0, figures.inputs["Rs"], math.inf, transit).solve(step(1.0), 1.0, 400.5)
    figures.check_all({"V_final": float(final)})
    alpha = -math.log(transit)  # R/L = G/C: alpha = sqrt(R G), Z0 = sqrt(R/G); length 1
    line = phasor.line(phasor.PerMetre(50 * alpha, 50e-9, alpha / 50, 1e-9 / 50), 1.0, 0.0)
    direct = phasor.walk([line], 1.0, figures.inputs["Rs"], math.inf).voltage[-1].real
    figures.check_all({"V_final": float(direct)})
    assert float(final) == pytest.approx(float(direct), rel=1e-14)


def test_c05_charged_line_discharges():
    """A line charged to V0 and open at its far end, closed by a resistor at the other: V0 plus the answer to -V0 behind the resistor."""
    figures = case("C05")
    charge = figures.inputs["V0"]
    line = Bounces(1.0, 1.0, figures.inputs["R_over_Z0"], math.inf)
    change, _ = line.solve(step(-charge), 0.0, np.array([1.0, 3.0, 5.0, 7.0]))
    figures.check_all(dict(zip(("0-2T", "2T-4T", "4T-6T", "6T-8T"), charge + change, strict=True)))


def test_c09_three_lines():
    """The surge arrives on the first line (a source that matches it); the last line is long enough to send nothing back meanwhile."""
    figures = case("C09")
    first, middle, last = figures.inputs["Z"]
    cascade = Cascade(((first, 1), (middle, 1), (last, 10)), first, last)
    behind = cascade.solve_samples(np.full(6, 2 * figures.inputs["e"]))[2][0][:, 0]
    assert behind[1] == 0
    assert behind[2] == behind[3]
    figures.check_all({"first": behind[2], "second": behind[4]})


def test_c10_junction():
    figures = case("C10")
    before, behind, surge = figures.inputs["Z1"], figures.inputs["Z2"], figures.inputs["vf_kV"]
    (v1, i1), (v2, i2) = Cascade(((before, 2), (behind, 2)), before, behind).solve_samples(np.full(4, 2 * surge))
    arriving, arriving_i = v1[1, 1], i1[1, 1]
    assert arriving == surge
    reflected, reflected_i = v1[3, 1] - arriving, i1[3, 1] - arriving_i  # one cell back from the junction, one sample later
    values = {"rho": reflected / arriving, "Vt": v2[2, 0], "It": 1e3 * i2[2, 0], "Vr": reflected, "Ir": 1e3 * reflected_i}
    figures.check_all({name: float(value) for name, value in values.items()})


def test_c13_capacitor_at_the_end():
    """The published rule; and the rule against the Laplace transform of the same circuit, 2 E behind Z0 into C, inverted numerically."""
    figures = case("C13")
    e, z, c, t = (figures.inputs[name] for name in ("E_kV", "Z", "C", "t"))
    voltage = float(formulas.capacitor_end_v(e, z, c, t))
    figures.check_all({"v": voltage})
    inverted = mpmath.invertlaplace(lambda s: 2 * e / s / (1 + s * z * c), t, method="talbot")
    assert voltage == pytest.approx(float(inverted), rel=1e-12)


def test_c14_inductor_between_two_lines():
    """Likewise: 2 E behind Z0 and L into Z0."""
    figures = case("C14")
    e, z, induct, t = (figures.inputs[name] for name in ("E_kV", "Z", "L", "t"))
    voltage = float(formulas.inductor_between_lines_v(e, z, induct, t))
    figures.check_all({"v": voltage})
    inverted = mpmath.invertlaplace(lambda s: 2 * e / s * z / (2 * z + s * induct), t, method="talbot")
    assert voltage == pytest.approx(float(inverted), rel=1e-12)


def test_c17_distortionless_line():
    """And on these constants every frequency travels alike: the same loss, velocity and impedance."""
    figures = case("C17")
    alpha, velocity, impedance = figures.inputs["alpha_Np"], figures.inputs["v"], figures.inputs["Z0"]
    constants = formulas.distortionless(impedance, alpha, velocity)
    gamma = complex(phasor.propagation(constants, figures.inputs["f"]))
    values = {"R": constants.resistance, "L": 1e9 * constants.inductance, "G": 1e6 * constants.conductance}
    figures.check_all({**values, "C": 1e12 * constants.capacitance, "wavelength": 2 * math.pi / gamma.imag})
    frequency = np.array([1e3, 1e6, 1e9])
    np.testing.assert_allclose(phasor.propagation(constants, frequency), alpha + 2j * math.pi * frequency / velocity, rtol=1e-14)
    np.testing.assert_allclose(phasor.characteristic(constants, frequency), impedance, rtol=1e-14)
