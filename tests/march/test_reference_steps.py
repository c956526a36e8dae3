"""Groups C and I of the reference cases, marched: steps on lines between resistances and reactances, and facts of the leapfrog grid.

A step is sharp only at nu = 1, so steps are marched there; then what comes out is the published figure to rounding, and the
tolerance of each figure is its printed precision.
"""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from bouncesim.errors import Diverged
from bouncesim.march.line import advance_cells
from bouncesim.march.settling import settle
from bouncesim.scenario import Keying, Line
from tests.march.grids import DELAY, FREQUENCY, VELOCITY, histories, line, on_grid, station, step_of
from tests.reference import case

CELLS = 40
ROUNDING = 1e-12  # of the EMF: a few thousand steps
OMEGA = 2 * math.pi * FREQUENCY


def stepped(impedance: float, source: float, load: complex, volts: float, transits: float, cells: int = CELLS):
    """V and I of every node at t_n+1/2 after a step at nu = 1, shapes (steps, cells + 1)."""
    march = on_grid(station([line(impedance)], load, source), [cells], 1.0, step_of(volts))
    return histories(march, round(transits * cells))


def plateau(history: np.ndarray, begins: int, transits: int = 2, cells: int = CELLS) -> float:
    """What one node holds from the arrival at `begins` transits to the next; the arrival's own sample is left out, as an ideal source's
    step takes one step to rise."""
    held = history[begins * cells + 1 : (begins + transits) * cells]
    assert len(held) > cells / 2
    np.testing.assert_allclose(held, held[0], rtol=0, atol=ROUNDING * np.abs(history).max())
    return float(held[-1])


def test_c01_ideal_source():
    """The printed place is a quarter of the line from the receiving end."""
    figures = case("C01")
    given = figures.inputs
    voltage, _ = stepped(given["Zc"], given["Zs"], given["R"], given["V"], 9)
    values = {f"VL_{n}T" if n > 1 else "VL_T": plateau(voltage[:, -1], n) for n in (1, 3, 5, 7)}
    figures.check_all(values | {"v(x=0.25l from load,6.5T)": float(voltage[int(6.5 * CELLS), 3 * CELLS // 4])})


def test_c02_two_loads():
    """The printout is cut to whole volts, so a figure may be up to 1 V too small."""
    figures = case("C02")
    given, values = figures.inputs, {}
    for load in given["R"]:
        voltage, _ = stepped(given["Zc"], given["Zs"], load, given["V"], 11)
        values |= {f"{load}:{n}T" if n > 1 else f"{load}:T": plateau(voltage[:, -1], n) for n in range(1, 10, 2)}
    figures.check_all(values)


def test_c04_matched_source():
    figures = case("C04")
    given = figures.inputs
    voltage, current = stepped(given["Z0"], given["Rg"], given["RL"], given["V0"], 5)
    at_load, battery = plateau(voltage[:, -1], 1), current[:, 0]
    middle_v, middle_i = voltage[:, CELLS // 2], current[:, CELLS // 2]
    forward, reflected = (middle_v + given["Z0"] * middle_i) / 2, (middle_v - given["Z0"] * middle_i) / 2
    figures.check_all(
        {
            "V1plus": float(forward[CELLS]),
            "V1minus": float(reflected[2 * CELLS]),
            "VL_after_T": at_load,
            "I_batt_0_2T": plateau(battery, 0),
            "I_batt_after_2T": plateau(battery, 2),
        }
    )


def test_c07_ideal_source_on_400_m():
    figures = case("C07")
    given = figures.inputs
    assert given["v"] == VELOCITY
    scenario = station([line(given["Zc"], given["length"])], given["RL"], given["Rs"])
    march = on_grid(scenario, [CELLS], 1.0, step_of(given["Vs"]))
    assert march.dt * CELLS == pytest.approx(2e-6, rel=1e-14)
    voltage, current = histories(march, 200 * CELLS)
    values = {f"VL_{2 * n}us": plateau(voltage[:, -1], n) for n in (1, 3, 5, 7)}
    values |= {f"I0_{2 * n}us": plateau(current[:, 0], n) for n in (0, 2)}
    figures.check_all(values | {"Iss": float(current[-1, 0])})


def test_c08_matched_source_settles_in_one_round_trip():
    figures = case("C08")
    given = figures.inputs
    voltage, _ = stepped(given["Z0"], given["Rs"], given["RL"], given["Vs"], 10)
    np.testing.assert_allclose(voltage[2 * CELLS :], voltage[-1, -1], rtol=ROUNDING)
    delay = given["length"] / (given["vf"] * 3e8)  # the book's speed of light
    figures.check_all({"VL": plateau(voltage[:, -1], 1, 9), "T": 1e9 * delay})


def test_c11_waves_at_a_resistive_end():
    figures = case("C11")
    given = figures.inputs
    voltage, current = stepped(given["Zc"], given["Zc"], given["R"], 2 * given["vf"], 4)  # half of it enters a line that matches
    v, i = plateau(voltage[:, -1], 1), plateau(current[:, -1], 1)
    forward, back = (v + given["Zc"] * i) / 2, (v - given["Zc"] * i) / 2
    assert forward == pytest.approx(given["vf"], rel=ROUNDING)
    figures.check_all({"rho": back / forward, "vb": back, "v": v, "ib": -back / given["Zc"], "i": i})


@pytest.mark.parametrize(("name", "reactance", "times"), [("vC", -1, (5e-9, 15e-9)), ("vL", 1, (20e-9,))])
def test_c18_reactive_ends(name, reactance, times):
    """The midpoint rule errs by (dt/tau)^2/12 on an exponential of time constant tau, the mean of two half-step samples by (dt/tau)^2/8
    more: dt = tau/500 keeps both below the printed 1e-6."""
    figures = case("C18")
    given = figures.inputs
    tau = given["Z0"] * given["C"] if name == "vC" else given["L"] / given["Z0"]
    load = 1 / (1j * OMEGA * given["C"]) if name == "vC" else 1j * OMEGA * given["L"]
    dt = tau / 500
    march = on_grid(station([line(given["Z0"], 40 * dt * VELOCITY)], load, given["Rs"]), [40], 1.0, step_of(given["Vs"]))
    voltage, _ = histories(march, 40 + round(max(times) / dt) + 1)
    for time in times:
        n = 40 + round(time / dt)
        label = f"{name}(T+{round(time * 1e9)}ns)"
        figures.check(label, float(voltage[n - 1 : n + 1, -1].mean()))


def laplace_voltage(given, time: float) -> float:
    """Load voltage by numerical inversion, one arrival at a time with its pure delay removed (Talbot's contour bears no delay); each root
    on its own, as one combined root takes the wrong branch."""
    delay = given["length"] * math.sqrt(given["L"] * given["C"])

    def arrival(k: int):
        def transform(s):
            series, shunt = mpmath.sqrt(given["R"] + s * given["L"]), mpmath.sqrt(given["Gs"] + s * given["C"])
            z0, gamma = series / shunt, series * shunt
            at_source, at_load = (given["Rs"] - z0) / (given["Rs"] + z0), (given["RL"] - z0) / (given["RL"] + z0)
            way = (2 * k + 1) * (given["length"] * gamma - s * delay)
            return given["Vs"] / s * z0 / (z0 + given["Rs"]) * (1 + at_load) * (at_source * at_load) ** k * mpmath.exp(-way)

        return transform

    total = mpmath.mpf(0)
    k = 0
    while time > (2 * k + 1) * delay:
        total += mpmath.invertlaplace(arrival(k), time - (2 * k + 1) * delay, method="talbot")
        k += 1
    return float(total)


def test_c19_line_with_loss():
    """At nu = 1 the front stays sharp even with loss, and what follows errs as h^2. The first figure stands 1 ns behind the front, so 300
    cells (steps of 0.5 ns) put two samples in between, and already meet the printed 1e-6; 600 cells show that the rest is h^2."""
    figures = case("C19")
    given = figures.inputs
    lossy = Line(
        length_m=given["length"],
        resistance_ohm_per_m=given["R"],
        inductance_h_per_m=given["L"],
        conductance_s_per_m=given["Gs"],
        capacitance_f_per_m=given["C"],
    )
    times = {label: float(label[3:-3]) * 1e-9 for label in figures.expected if label != "vL(inf)"}
    exact = {label: laplace_voltage(given, time) for label, time in times.items()}
    errors = {}
    for cells in (300, 600):
        march = on_grid(station([lossy], given["RL"], given["Rs"]), [cells], 1.0, step_of(given["Vs"]))
        assert march.dt * cells == pytest.approx(given["T_ns"] * 1e-9, rel=1e-12)
        voltage = histories(march, round(max(times.values()) / march.dt) + 1)[0][:, -1]
        middles = (np.arange(len(voltage)) + 0.5) * march.dt
        values = {label: float(np.interp(time, middles, voltage)) for label, time in times.items()}
        figures.check_all(values | {"vL(inf)": float(voltage[-1])})
        errors[cells] = np.array([values[label] - exact[label] for label in times])
    judged = np.abs(errors[300]) > 1e-9  # the inversion itself is good to some 1e-13
    assert judged.sum() >= 3
    np.testing.assert_allclose(errors[300][judged] / errors[600][judged], 4, rtol=0.01)


def wavelength_in_cells(cells: int, points: int) -> float:
    """dx/wavelength, times 2 pi, of a settled carrier on the grid at nu = cells/points a wavelength of the line, of which there are three.
    Whatever the reflection, V_k+1 + V_k-1 = 2 cos(k dx) V_k."""
    scenario = station([line(length=60.0)], 120.0, keying=Keying(shape="raised-cosine", rise_s=16 / FREQUENCY))
    march = on_grid(scenario, [3 * cells], cells / points)
    v = settle(march, points, 16 / FREQUENCY + 9 * DELAY, 1e-11, march.advance).voltage
    inner = v[1:-1]
    return math.acos(float(((v[2:] + v[:-2]) @ inner.conj() / (2 * inner @ inner.conj())).real))


def shortest_period(nu: float) -> float:
    """Wavelength (on the line) / dx of the fastest oscillation that the grid carries: neighbouring nodes in opposition. From three
    successive steps of the kernel: V(n+1) + V(n-1) = 2 cos(w dt) V(n)."""
    v = np.array([1.0, -1, 1, -1, 1, -1, 1, -1])  # of an infinite grid; only the middle counts
    i = np.zeros(7)
    history = []
    for _ in range(3):
        advance_cells(v, i, 1.0, nu, 1.0, nu)
        history.append(v[4])
    step = math.acos(max((history[0] + history[2]) / (2 * history[1]), -1.0))
    return 2 * math.pi * nu / step


def test_i01_numerical_phase_velocity():
    """v/c = (w dt/S)/(k dx), with w dt = 2 pi S/N. At three cells the wave is the shortest that the grid carries, k dx = pi."""
    figures = case("I01")
    nu = figures.inputs["S"]
    values = {f"v/c@{n}": 2 * math.pi / n / wavelength_in_cells(n, round(n / nu)) for n in figures.inputs["N"]}
    shortest = shortest_period(nu)
    values |= {"v/c@3,S=.5": 2 * math.pi / shortest / math.pi, "N_transition S=.5": shortest, "N_transition S=1": shortest_period(1.0)}
    figures.check_all(values)


def test_i02_courant_limit():
    """A unit step on C01's line. Beyond the limit the run grows past all measure and is stopped; below, it rings but stays bounded."""
    figures, given = case("I02"), case("C01").inputs
    voltage, _ = stepped(given["Zc"], given["Zs"], given["R"], given["V"], 7)
    values: dict[str, float] = {f"C01 {v} at {n}T,S=1": float(voltage[n * CELLS, -1]) for v, n in ((1200, 2), (960, 4), (1008, 6))}

    scenario = station([line(given["Zc"])], given["R"], given["Zs"])
    bounded = on_grid(scenario, [CELLS], 0.99, step_of(1.0))
    values["S=0.99 bounded (max|V|<=2)"] = float(np.abs(histories(bounded, 50 * CELLS)[0]).max() <= 2)

    wild = on_grid(scenario, [CELLS], 1.01, step_of(1.0))
    with pytest.raises(Diverged, match=r"relative residual|overflow|finite"):
        wild.advance(50 * CELLS)
    values["S=1.01 blows up (log10 max|V|>6)"] = float(not np.abs(wild.v).max() <= 1e6)
    figures.check_all(values)


def test_i03_second_order():
    """A smooth pulse through a line that is matched at both ends, against the same pulse later."""
    figures = case("I03")

    def pulse(time):
        return np.exp(-(((time - DELAY / 2) / (0.1 * DELAY)) ** 2))

    errors = []
    for cells in (100, 200, 400):
        march = on_grid(station([line()]), [cells], figures.inputs["S"], pulse)
        voltage, _ = histories(march, 4 * cells)
        expected = pulse((np.arange(4 * cells) + 0.5) * march.dt - DELAY) / 2
        errors.append(float(np.sqrt(np.mean((voltage[:, -1] - expected) ** 2))))
    figures.check_all({"error ratio 100->200": errors[0] / errors[1], "error ratio 200->400": errors[1] / errors[2]})


def test_i04_energy_of_a_shorted_line():
    """A pulse is let in, then both ends are shorts: an ideal source at 0 V, and the antenna."""
    figures = case("I04")

    def pulse(time):
        return np.where(time < DELAY, np.sin(np.pi * np.minimum(time / DELAY, 1.0)) ** 2, 0.0)

    march = on_grid(station([line()], 0.0, 0.0), [100], figures.inputs["S"], pulse)
    march.advance(200)
    before, stored = march.stored, []
    for _ in range(400):
        march.advance(10)
        stored.append(march.stored)
    assert before > 0
    assert march.worst_residual < 1e-12
    figures.check_all({"relative energy drift over 4000 steps": float(np.abs(np.array(stored) / before - 1).max())})
