"""Group C of the reference cases, steps on lines between resistances: the lattice series. (March is held against it elsewhere.)"""

from __future__ import annotations

import math

import numpy as np
import pytest

from bouncesim.exact import phasor
from bouncesim.exact.bounces import Bounces
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
