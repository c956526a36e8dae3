"""More of group C of the reference cases, marched: cascades, reactances at and between lines, and lines with loss.

The closed-form sides of C09 to C17 are in tests/exact. Steps are marched at nu = 1, where they stay sharp.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from bouncesim.scenario import Line
from tests.march.grids import DELAY, FREQUENCY, LENGTH, histories, line, network, on_grid, station, step_of
from tests.march.grids import element as lumped
from tests.reference import case

OMEGA = 2 * math.pi * FREQUENCY
CELLS = 40


def test_c05_charged_line_discharges():
    """A line charged to V0, open at its far end, closed by R at the other: V0 plus the answer to a step of -V0 behind R. The open end is
    a gigaohm, which takes 1e-9 of the current; so the printed figures are met to 1e-6 of V0."""
    figures = case("C05")
    charge, z0 = figures.inputs["V0"], 300.0
    march = on_grid(station([line(z0)], 1e9, figures.inputs["R_over_Z0"] * z0), [CELLS], 1.0, step_of(-charge))
    near = histories(march, 8 * CELLS)[0][:, 0]
    for begins, label in ((0, "0-2T"), (2, "2T-4T"), (4, "4T-6T"), (6, "6T-8T")):
        assert abs(charge + near[(begins + 1) * CELLS] - figures.expected[label].value) <= 1e-6 * charge


def test_c09_three_lines():
    """The surge comes along the first line (a source that matches it); the last line is matched and sends nothing back."""
    figures = case("C09")
    first, middle, last = figures.inputs["Z"]
    march = on_grid(station([line(first), line(middle), line(last)], last, first), [CELLS] * 3, 1.0, step_of(2 * figures.inputs["e"]))
    start_of_last = histories(march, 5 * CELLS)[0][:, 2 * (CELLS + 1)]
    figures.check_all({"first": float(start_of_last[3 * CELLS - 1]), "second": float(start_of_last[5 * CELLS - 1])})


def test_c10_junction():
    figures = case("C10")
    before, behind, surge = figures.inputs["Z1"], figures.inputs["Z2"], figures.inputs["vf_kV"]
    march = on_grid(station([line(before), line(behind)], behind, before), [CELLS] * 2, 1.0, step_of(2 * surge))
    voltage, current = histories(march, round(1.5 * CELLS))
    middle = CELLS // 2  # of the first line: the surge passes at 0.5 transits, its echo comes at 1.5
    passing, passing_i = voltage[round(0.75 * CELLS), middle], current[round(0.75 * CELLS), middle]
    at, at_i = voltage[-1, CELLS], current[-1, CELLS]
    assert passing == pytest.approx(surge, rel=1e-12)
    values = {"rho": (at - passing) / passing, "Vt": voltage[-1, CELLS + 1], "It": 1e3 * current[-1, CELLS + 1]}
    figures.check_all({k: float(v) for k, v in (values | {"Vr": at - passing, "Ir": 1e3 * (at_i - passing_i)}).items()})


def test_c13_capacitor_at_the_end():
    figures = case("C13")
    e, z0, c, t = (figures.inputs[name] for name in ("E_kV", "Z", "C", "t"))
    march = on_grid(station([line(z0)], 1 / (1j * OMEGA * c), z0), [CELLS], 1.0, step_of(2 * e))
    steps = CELLS + round(t / march.dt)
    far = histories(march, steps + 1)[0][steps - 1 : steps + 1, -1].mean()
    figures.check_all({"v": float(far)})
    assert far == pytest.approx(2 * e * -math.expm1(-t / (z0 * c)), rel=1e-5)  # (dt/tau)^2/8 is 1e-6


def test_c14_inductor_between_two_lines():
    figures = case("C14")
    e, z0, induct, t = (figures.inputs[name] for name in ("E_kV", "Z", "L", "t"))
    path = [line(z0), network(lumped("series", "inductor", induct)), line(z0)]
    march = on_grid(station(path, z0, z0), [CELLS, CELLS], 1.0, step_of(2 * e))
    steps = CELLS + round(t / march.dt)
    behind = histories(march, steps + 1)[0][steps - 1 : steps + 1, CELLS + 1].mean()
    figures.check_all({"v": float(behind)})
    assert behind == pytest.approx(e * -math.expm1(-2 * z0 * t / induct), rel=1e-5)


def test_c16_line_without_distortion_comes_to_rest():
    """R/L = G/C with exp(-alpha l) = 0.8, an ideal source and an open end (a gigaohm)."""
    figures = case("C16")
    alpha = -math.log(figures.inputs["transit_factor"]) / LENGTH
    lossy = line(50.0, resistance=50 * alpha, conductance=alpha / 50)
    march = on_grid(station([lossy], 1e9, figures.inputs["Rs"]), [CELLS], 1.0, step_of(1.0))
    march.advance(200 * CELLS)
    figures.check_all({"V_final": float(march.waves_now()[0][-1])})


def test_c17_a_pulse_shrinks_and_keeps_its_shape():
    """Marched on the published constants: behind a matched line the bump comes out exp(-alpha l) times as high, one delay later."""
    figures = case("C17")
    z0, alpha = figures.inputs["Z0"], figures.inputs["alpha_Np"]
    lossy = Line(
        length_m=LENGTH,
        resistance_ohm_per_m=alpha * z0,
        inductance_h_per_m=z0 / figures.inputs["v"],
        conductance_s_per_m=alpha / z0,
        capacitance_f_per_m=1 / (z0 * figures.inputs["v"]),
    )
    long = 0.5 * DELAY

    def bump(t):
        return np.where(t < long, 0.5 - 0.5 * np.cos(2 * np.pi * t / long), 0.0)

    cells = 400
    march = on_grid(station([lossy], z0, z0), [cells], 1.0, bump)
    voltage = histories(march, 2 * cells)[0]
    sent, arrived = voltage[:cells, 0], voltage[cells:, -1]
    np.testing.assert_allclose(arrived, math.exp(-alpha * LENGTH) * sent, rtol=0, atol=2e-5)  # h^2: 2e-5 at 400 cells


def test_c21_step_on_a_long_line_with_loss():
    """An ideal unit step seen 30 m along a line that is long enough to count as endless. The front stays sharp at nu = 1 and what follows
    errs as h^2, so two grids extrapolate; a cubic takes the values between the half steps. An ideal source starts from rest and rises
    over its first step, so its step stands at dt/2."""
    figures = case("C21")
    given = figures.inputs
    constants = {"inductance_h_per_m": given["L"], "capacitance_f_per_m": given["C"]}
    lossy = Line(length_m=120.0, resistance_ohm_per_m=given["R"], conductance_s_per_m=given["Gs"], **constants)
    times = {label: float(label.split(",")[1][:-3]) * 1e-9 for label in figures.expected}
    found = {}
    for cells in (2400, 4800):
        march = on_grid(station([lossy], 50.0, 0.0), [cells], 1.0, step_of(1.0))
        place, volts = cells // 4, []
        for _ in range(round(max(times.values()) / march.dt) + 3):
            march.advance(1)
            volts.append(march.waves_now()[0][place])
        for label, time in times.items():
            n = round(time / march.dt)
            first = max(n - 1, place + 1)  # the first sample behind the front
            near = (np.arange(first, first + 4) + 0.5) * march.dt
            cubic = np.polynomial.Polynomial.fit(near, volts[first : first + 4], 3)
            found[cells, label] = float(cubic(time + march.dt / 2))
    for label in times:
        value = found[4800, label] + (found[4800, label] - found[2400, label]) / 3
        figures.check(label, value)
