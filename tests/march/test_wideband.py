"""Loss that depends on frequency: the fit, its energy, its steady state, and its transients against numerical Laplace inversion."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from scipy.optimize import nnls

from bouncesim.march import grid
from bouncesim.march.simulation import gauges_of, simulate_steady
from bouncesim.march.station import plan_station
from bouncesim.march.stepper import Stepper
from bouncesim.march.transmitter import Drive, Waveform
from bouncesim.scenario import Antenna, Keying, Line, LineConstants, Scenario, Transmitter
from bouncesim.scenario import wideband as law
from tests.reference import case

WORST_STEP, ACCUMULATED = 1e-12, 1e-11  # what the ledger promises everywhere
VELOCITY_FACTOR = 0.66
SPEED = VELOCITY_FACTOR * law.SPEED_OF_LIGHT
Z0 = 50.0


class Cable(Line):
    """A line whose constants are given outright."""

    fitted: LineConstants

    def constants(self, frequency_hz: float) -> LineConstants:
        return self.fitted


def cable(length: float, conductor_db: float, dielectric_db: float, frequency: float) -> Cable:
    """A wideband cable with these losses (dB) over its whole length at a frequency."""
    fitted = law.wideband_constants(Z0, VELOCITY_FACTOR, conductor_db / length, dielectric_db / length, frequency)
    return Cable(name="cable", length_m=length, impedance_ohm=Z0, velocity_factor=VELOCITY_FACTOR, fitted=fitted)


def station(line: Line, frequency: float, antenna: complex = 50.0, source: float = 50.0) -> Scenario:
    transmitter = Transmitter(frequency_hz=frequency, power_w=10, source_impedance_ohm=source)
    keying, load = Keying(shape="step"), Antenna(impedance_ohm=antenna)
    return Scenario(title="cable", transmitter=transmitter, keying=keying, path=(line,), antenna=load).model_copy(update={"path": (line,)})


def driven(line: Cable, frequency: float, cells: int, volts: object, source: float = 50.0) -> Stepper:
    """A 50 ohm end on the cable, at nu = 1, under any drive."""
    scenario = station(line, frequency, source=source)
    dt = line.length_m / SPEED / cells
    plan = plan_station(scenario, [grid.split(line, line.fitted, cells, 1.0)])
    drive: Drive = Waveform(volts, dt)  # type: ignore[arg-type]
    return Stepper(plan, gauges_of(scenario, plan), dt, drive)


def antenna_voltage(stepper: Stepper, steps: int) -> tuple[np.ndarray, np.ndarray]:
    """Times (s) and antenna voltage (V) of every step."""
    row = stepper.rows.gauges["antenna"]
    volts = np.zeros(steps)
    for n in range(steps):
        stepper.advance(1)
        volts[n] = math.sqrt(Z0) * (stepper.y[row] + stepper.y[row + 1])
    return (np.arange(steps) + 0.5) * stepper.dt, volts


def test_the_skin_fit_is_what_least_squares_gives_and_as_good_as_it_says() -> None:
    x = np.logspace(*np.log10(law.BAND), 400)
    s, wanted = 1j * x, np.sqrt(1j * x)
    fit = law.SKIN_CONSTANT + sum(r * s / (s + p) for p, r in law.SKIN)
    worst = np.abs((fit - wanted) / wanted).max()
    assert worst <= law.SKIN_ERROR
    columns = np.array([np.ones_like(s), *(s / (s + p) for p, _ in law.SKIN)]).T / np.abs(wanted)[:, None]
    both, target = np.vstack([columns.real, columns.imag]), wanted / np.abs(wanted)
    again, _ = nnls(both, np.concatenate([target.real, target.imag]))
    assert worst <= np.abs(columns @ again - target).max()  # reweighting may only lower the worst error
    assert all(r >= 0 and p > 0 for p, r in law.SKIN)


def test_the_dielectric_fit_is_as_good_as_it_says() -> None:
    x = np.logspace(*np.log10(law.BAND), 400)
    s = 1j * x
    fit = sum(g * s / (s + q) for q, g in law.DIELECTRIC)
    wanted = -2 / np.pi * s * np.log(s)
    constant = 5.18755338  # the capacitance that the fit leaves to the line
    assert np.abs((fit - constant * s - wanted) / x).max() <= law.DIELECTRIC_ERROR
    assert np.abs(fit.real / x - 1).max() <= law.DIELECTRIC_ERROR
    assert all(g >= 0 and q > 0 for q, g in law.DIELECTRIC)


@pytest.mark.parametrize(("conductor", "dielectric"), [(0.05, 0.0), (0.0, 0.02), (0.08, 0.01), (1.0, 0.5)])
def test_the_loss_at_the_carrier_is_exact(conductor: float, dielectric: float) -> None:
    k = law.wideband_constants(Z0, VELOCITY_FACTOR, conductor, dielectric, 7e6)
    assert k.loss_db_per_m(7e6) == pytest.approx(conductor + dielectric, rel=1e-14)


@pytest.mark.parametrize("source", [0.0, 15.0, 50.0])
@pytest.mark.parametrize(("conductor", "dielectric"), [(2.0, 0.0), (1.0, 1.0), (0.0, 3.0)])
def test_the_books_close(source: float, conductor: float, dielectric: float) -> None:
    line = cable(40.0, conductor, dielectric, 7e6)
    stepper = driven(line, 7e6, 180, lambda t: np.sin(2 * np.pi * 7e6 * t), source)
    stepper.advance(8000)
    assert stepper.worst_residual <= WORST_STEP
    assert stepper.accumulated_residual() <= ACCUMULATED


@pytest.mark.parametrize("source", [0.0, 50.0])
def test_the_steady_state_is_that_of_the_fitted_law(source: float) -> None:
    """Two-stage Richardson over three grids, against the line equations for the fitted law (40 m, 3 dB, antenna 20 + 80j ohm)."""
    frequency, antenna = 7e6, 20 + 80j
    line = cable(40.0, 2.0, 1.0, frequency)
    z, y = line.fitted.series_impedance(frequency), line.fitted.shunt_admittance(frequency)
    gamma, own = np.sqrt(z) * np.sqrt(y), np.sqrt(z) / np.sqrt(y)
    t = np.tanh(gamma * 40.0)
    seen = own * (antenna + own * t) / (own + antenna * t)
    scenario = station(line, frequency, antenna, source)
    current = scenario.transmitter.emf_v_peak / (source + seen)
    expected = 0.5 * abs(current) ** 2 * seen.real
    x = [simulate_steady(scenario, refine).outcome.readings().transmitter.power_w for refine in (1, 2, 4)]
    a2, a3 = x[1] + (x[1] - x[0]) / 3, x[2] + (x[2] - x[1]) / 3
    assert abs(a3 + (a3 - a2) / 15 - expected) <= 1e-9 * expected  # what extrapolation reaches on every other station


def laplace(line: Cable, volts: object, series: object, shunt: object, t: float) -> float:
    """Antenna voltage at T < t < 3 T: the first arrival alone, its pure delay removed. Source and antenna 50 ohm.

    gamma is written sqrt(Z) sqrt(Y), as one combined root may take the wrong branch.
    """
    length, delay = line.length_m, mpmath.mpf(line.length_m) / SPEED

    def image(s: mpmath.mpc) -> mpmath.mpc:
        z, y = series(s), shunt(s)  # type: ignore[operator]
        gamma, own = mpmath.sqrt(z) * mpmath.sqrt(y), mpmath.sqrt(z) / mpmath.sqrt(y)
        sent, taken = own / (own + 50), 2 * mpmath.mpf(50) / (own + 50)
        return volts(s) * sent * taken * mpmath.exp(-gamma * length + s * delay)  # type: ignore[operator]

    return float(mpmath.invertlaplace(image, t - delay, method="talbot"))


def smooth_step(rise: float, line: Cable, series: object, shunt: object, t: float) -> float:
    """The same for an EMF of 1 V under a raised-cosine rise: half (1/s - s/(s^2 + a^2))(1 + exp(-s rise)), a = pi/rise."""

    def half(s: mpmath.mpc) -> mpmath.mpc:
        return (1 / s - s / (s**2 + (mpmath.pi / rise) ** 2)) / 2

    first = laplace(line, half, series, shunt, t)
    later = t - rise
    return first + (laplace(line, half, series, shunt, later) if later > line.length_m / SPEED else 0.0)


@pytest.mark.parametrize(("conductor", "dielectric"), [(3.0, 0.0), (2.0, 1.0)])
def test_a_smooth_step_through_100_m_of_cable(conductor: float, dielectric: float) -> None:
    """3 dB at 30 MHz: within 1e-5 of the inversion of the fitted law; conductor loss also within the fit's stated error of the true law."""
    frequency, rise, cells = 30e6, 60e-9, 2000
    line = cable(100.0, conductor, dielectric, frequency)
    k = line.fitted

    def series(s: mpmath.mpc) -> mpmath.mpc:
        return k.resistance + s * k.inductance + sum(s * l * r / (r + s * l) for r, l in k.series_branches)

    def shunt(s: mpmath.mpc) -> mpmath.mpc:
        return s * k.capacitance + sum(s * c * g / (g + s * c) for g, c in k.shunt_branches)

    def skin(s: mpmath.mpc) -> mpmath.mpc:
        scale = k.resistance / law.SKIN_CONSTANT
        return s * k.inductance + scale * mpmath.sqrt(s / (2 * mpmath.pi * frequency))

    stepper = driven(line, frequency, cells, lambda t: np.where(t < rise, 0.5 - 0.5 * np.cos(np.pi * np.clip(t, 0, rise) / rise), 1.0))
    times, volts = antenna_voltage(stepper, int(2.5 * cells))
    for after in (20e-9, 45e-9, 75e-9, 120e-9, 300e-9):
        n = round((line.length_m / SPEED + after) / stepper.dt)
        assert abs(volts[n] - smooth_step(rise, line, series, shunt, times[n])) <= 1e-5
        if dielectric == 0:
            true = smooth_step(rise, line, skin, lambda s: s * k.capacitance, times[n])
            assert abs(volts[n] - true) <= law.SKIN_ERROR


def test_the_published_skin_effect_step() -> None:
    """C22 (Wigington and Nahman 1957, from memory): erfc(K l/(2 sqrt(t - T))), first in closed form, then marched.

    The published form lets skin effect act on propagation alone. A real cable's impedance changes with it, and its gamma has a further
    term: together a relative a^2/(2 T) for gamma l = s T + a sqrt s, made small here by a long cable with the same 3 dB.
    """
    published = case("C22")
    frequency = 10e6
    a = published.inputs["loss_dB_at_10MHz"] / law.DB_PER_NEPER / math.sqrt(math.pi * frequency)  # a sqrt(w/2) = loss
    t50 = (a / 2 / float(mpmath.erfinv(0.5))) ** 2
    published.check("t50", t50 * 1e9)
    for after in (10e-9, 100e-9):
        published.check(f"v(T+{after * 1e9:.0f}ns)", math.erfc(a / 2 / math.sqrt(after)))

    line = cable(2000.0, published.inputs["loss_dB_at_10MHz"], 0.0, frequency)
    delay = line.length_m / SPEED
    cells = 10_000
    stepper = driven(line, frequency, cells, lambda t: np.where(t > 0, 2.0, 0.0))
    stepper.advance(cells)
    times, volts = antenna_voltage(stepper, 120)
    times = times + delay
    apart = law.SKIN_ERROR + a**2 / (2 * delay)
    for after in (10e-9, 100e-9):
        value = float(np.interp(delay + after, times, volts))
        assert abs(value - published.expected[f"v(T+{after * 1e9:.0f}ns)"].value) <= apart
