"""The verdict on a simulation: right answers hold within honest error bars, wrong ones do not."""

from __future__ import annotations

import dataclasses
import functools
import math

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.account.verdict import Verdict
from bouncesim.compare.check import LEAST_ORDER, REFINEMENTS, check, judge
from bouncesim.errors import NotSettled, ScenarioError
from bouncesim.march.simulation import simulate_steady
from bouncesim.scenario import Antenna, Keying, Line, Meter, Scenario, Transmitter, Tuner
from tests.compare.chance import random_station

# Agreement of extrapolated powers, of the transmitter's power (the prototype: 4e-10).
POWER = 1e-9
LEDGER = 1e-11
# Each step rounds the stored energy by 1e-16 of it. At 640 steps a period, a station of Q = 1000 stores what it takes in 1e5 steps: 1e-11
# already. The random ones go to a Q of some thousand (measured at most 2e-11).
LEDGER_OF_ANY = 1e-10
A_MILLIONTH = 1e-6


def tuned(line: Line, antenna: complex, source: float) -> Scenario:
    return Scenario(
        title="test",
        transmitter=Transmitter(frequency_hz=10e6, power_w=60.0, source_impedance_ohm=source),
        keying=Keying(shape="step"),
        path=(Meter(), Tuner(), line),
        antenna=Antenna(impedance_ohm=antenna),
    )


VELOCITY_FACTOR = 0.66
WAVELENGTH = VELOCITY_FACTOR * 299_792_458 / 10e6
LOSSLESS = Line(length_m=1.3 * WAVELENGTH, impedance_ohm=50.0, velocity_factor=VELOCITY_FACTOR)
LOSSY = Line(
    length_m=1.7 * WAVELENGTH,
    impedance_ohm=50.0,
    velocity_factor=VELOCITY_FACTOR,
    loss_db_per_m=3 / (1.7 * WAVELENGTH),
    dielectric_share=0.1,
)
STATIONS = {
    "a, 50 ohm": tuned(LOSSLESS, 370.0, 50.0),
    "a, 15 ohm": tuned(LOSSLESS, 370.0, 15.0),
    "b": tuned(LOSSY, 25 + 40j, 50.0),
}


@functools.cache
def verdict_of(name: str) -> Verdict:
    return check(STATIONS[name])


@pytest.mark.parametrize("name", STATIONS)
def test_agreement_of_every_power(name):
    verdict = verdict_of(name)
    powers = [row for row in verdict.rows if row.quantity.endswith("_w")]
    assert len(powers) >= 12
    for row in powers:
        assert abs(row.simulated - row.exact) <= POWER * verdict.transmitter_power_w, row
    assert verdict.transmitter_power_w == pytest.approx(60.0, rel=1e-12)


@pytest.mark.parametrize("name", STATIONS)
def test_every_row_holds(name):
    verdict = verdict_of(name)
    assert [row for row in verdict.rows if not row.holds] == []
    assert verdict.holds
    assert verdict.points_per_period == (160, 320, 640)
    assert verdict.ledger_residual <= LEDGER
    judged = [row for row in verdict.rows if row.order is not None]
    assert len(judged) >= 3  # of a matched lossless station only impedance and SWR err enough to be judged
    assert min(row.order for row in judged) == verdict.order >= LEAST_ORDER
    # Given by the scenario, or what a meter might show at worst: not simulated.
    without = ("reference_ohm", "matched_loss_db", "least", "most", "least_w", "most_w")
    quantities = {quantity for quantity in perform.solve_exact(STATIONS[name]).flatten() if not quantity.endswith(without)}
    assert {row.quantity for row in verdict.rows} == quantities


@functools.cache
def runs_of_a():
    scenario = perform.resolve(STATIONS["a, 15 ohm"])
    return [simulate_steady(scenario, refine) for refine in REFINEMENTS], perform.solve_exact(scenario)


def test_a_wrong_exact_answer_fails():
    """Any one reading a millionth off, and its row alone does not hold. (Nothing times 1 + 1e-6 is still nothing.)"""
    runs, exact = runs_of_a()
    assert judge(runs, exact).holds
    for group in ("transmitter", "antenna"):
        reading = getattr(exact, group)
        for field in dataclasses.fields(reading):
            value = getattr(reading, field.name)
            wrong = dataclasses.replace(reading, **{field.name: value * (1 + A_MILLIONTH) if value else A_MILLIONTH})
            expect_failure(runs, dataclasses.replace(exact, **{group: wrong}), f"{group}.{field.name}")
    line = exact.lines[0]
    for field in dataclasses.fields(line):
        if field.name in ("name", "reference_ohm", "matched_loss_db", "heat_w", "loss_db", "largest_v_at_m", "largest_a_at_m"):
            continue
        wrong = dataclasses.replace(line, **{field.name: getattr(line, field.name) * (1 + A_MILLIONTH)})
        expect_failure(runs, dataclasses.replace(exact, lines=(wrong,)), f"line.{field.name}")


def expect_failure(runs, wrong, quantity: str) -> None:
    failed = [row.quantity for row in judge(runs, wrong).rows if not row.holds]
    assert failed, quantity
    assert all(name.startswith(quantity) for name in failed), failed


def test_a_wrong_place_fails():
    """Two cells of the finest grid away."""
    runs, exact = runs_of_a()
    line = exact.lines[0]
    cell = line.largest_v_at_m and LOSSLESS.length_m / runs[-1].stepper.plan.sections[0].cells
    wrong = dataclasses.replace(line, largest_v_at_m=line.largest_v_at_m + 2 * cell)
    expect_failure(runs, dataclasses.replace(exact, lines=(wrong,)), "line.largest_v_at_m")


def test_a_wrong_simulation_fails():
    """The same with a simulation that means another station: an antenna a millionth off."""
    _, exact = runs_of_a()
    scenario = perform.resolve(STATIONS["a, 15 ohm"])
    other = scenario.model_copy(update={"antenna": Antenna(impedance_ohm=370.0 * (1 + A_MILLIONTH))})
    verdict = judge([simulate_steady(other, refine) for refine in REFINEMENTS], exact)
    assert not verdict.holds
    assert not verdict.row("line.swr_out").holds


def failures(seed: int, count: int) -> tuple[int, list[str]]:
    """How many of so many random stations were judged, and what did not hold."""
    chance = np.random.default_rng(seed)
    judged, failed = 0, []
    for number in range(count):
        try:
            scenario = random_station(chance)
            verdict = check(scenario)
        except (NotSettled, ScenarioError):
            continue
        judged += 1
        failed += [f"{number}: {row}" for row in verdict.rows if not row.holds]
        assert verdict.ledger_residual <= LEDGER_OF_ANY
    return judged, failed


def test_random_stations_hold():
    judged, failed = failures(seed=1, count=6)
    assert judged >= 5
    assert failed == []


@pytest.mark.slow
def test_many_random_stations_hold():
    judged, failed = failures(seed=2, count=150)
    assert judged >= 140
    assert failed == []


SPECIAL = {
    "matched all along": (50.0, LOSSLESS, 50.0),
    "SWR a millionth above 1": (50.0, LOSSLESS, 50.0 * (1 + 1e-6)),
    "SWR a thousandth above 1, with loss": (50.0, LOSSY, 50.0 * (1 + 1e-3)),
    "nothing into the antenna": (50.0, LOSSY, 80j),
    "total reflection without loss": (50.0, LOSSLESS, -30j),
    "SWR 1000": (50.0, LOSSLESS, 5e4),
    "tiny power at the far end": (50.0, LOSSY.model_copy(update={"loss_db_per_m": 60 / LOSSY.length_m}), 25 + 40j),
    "a cell or two long": (50.0, LOSSLESS.model_copy(update={"length_m": 0.01 * WAVELENGTH}), 25 + 40j),
    "quarter wave: maximum at an end": (50.0, LOSSLESS.model_copy(update={"length_m": 0.25 * WAVELENGTH}), 370.0),
    "half wave: maxima at both ends": (50.0, LOSSLESS.model_copy(update={"length_m": 0.5 * WAVELENGTH}), 370.0),
    "maximum just inside": (50.0, LOSSLESS.model_copy(update={"length_m": 0.501 * WAVELENGTH}), 370.0),
    "ideal source": (0.0, LOSSLESS, 370.0),
    "six wavelengths": (15.0, LOSSLESS.model_copy(update={"length_m": 6.3 * WAVELENGTH}), 120 + 30j),
}


@pytest.mark.parametrize("name", SPECIAL)
def test_special_stations_hold(name):
    """Without a tuner, where readings come to their limits."""
    source, line, antenna = SPECIAL[name]
    scenario = tuned(line, antenna, source)
    scenario = scenario.model_copy(update={"path": tuple(part for part in scenario.path if part.part != "tuner")})
    verdict = check(scenario)
    assert [row for row in verdict.rows if not row.holds] == []
    assert all(math.isfinite(row.error_bar) for row in verdict.rows)
