"""The modes of a station against poles worked by hand and the closed form, and what is expected of a run against the steps it takes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from bouncesim import budget, perform
from bouncesim.errors import TooMuchWork
from bouncesim.march import ringing
from bouncesim.march.expected import expected_s, modes_of
from bouncesim.march.simulation import is_over, rest_work, run_points, run_work, simulate, simulate_steady, steady_work
from bouncesim.march.stepper import Stepper
from bouncesim.scenario import Antenna, Element, Event, Keying, Network, Scenario, Transmitter
from tests.march.grids import DELAY, FREQUENCY, LENGTH, element, line, network, station
from tests.march.test_budget import counted

POLE = 1e-6  # of Newton's last step
PHASOR = 1e-9  # closed form against equations of some twenty nodes
HELD_Q = 0.01  # of a resonance in front of a line whose length is left out of the figure
FACTOR = 2  # that an estimate of steps is off by at most
SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


def step(path, antenna: complex, source: float, **more) -> Scenario:
    return station(path, antenna, source, keying=Keying(shape="step"), **more)


@pytest.mark.parametrize(("source", "antenna"), [(10.0, 400.0), (200.0, 7.0), (300.0, 1500.0)])
def test_the_modes_of_a_line_between_two_resistances(source: float, antenna: float) -> None:
    """A wave that has gone round is what it was: r1 r2 exp(-2 s T) = 1, so s = (log(r1 r2) + 2 pi j n)/(2 T)."""
    found = modes_of(step([line()], antenna + 0j, source))
    assert found is not None
    round_trip = ((source - 50) / (source + 50)) * ((antenna - 50) / (antenna + 50))
    expected = np.array([(np.log(complex(round_trip)) + 2j * math.pi * n) / (2 * DELAY) for n in range(-1, 6)])
    for pole in found.poles:
        assert abs(expected / pole - 1).min() < POLE
    for pole in expected[(expected.imag > 0) & (expected.imag < 2 * 2 * math.pi * FREQUENCY)]:  # and every one has been found
        assert abs(found.poles / pole - 1).min() < POLE


def test_loss_on_the_line_damps_its_modes() -> None:
    """Without distortion (R/L = G/C) each wave falls by exp(-R/L T): the rate is R/L more."""
    r = 0.05
    plain, lossy = (modes_of(step([one], 400 + 0j, 10.0)) for one in (line(), line(resistance=r, conductance=r / 50**2)))
    assert plain is not None
    assert lossy is not None
    rate = r * 2e8 / 50  # L = Z/v
    for pole in plain.poles:
        assert abs(lossy.poles / (pole - rate) - 1).min() < POLE


def test_the_mode_of_a_tank_has_its_decay_by_hand() -> None:
    """L, C and two resistors of 5000 ohm in parallel: exp(-t/(2 R C)) at 1/sqrt(L C), the line between them of next to no length."""
    c, w = 1e-9, 2 * math.pi * FREQUENCY
    tank = network(element("shunt", "capacitor", c), element("shunt", "inductor", 1 / (w * w * c)))
    found = modes_of(step([network(element("series", "resistor", 5000.0)), tank, line(5000.0, LENGTH / 500)], 5000 + 0j, 0.0))
    assert found is not None
    nearest = found.poles[abs(found.poles - 1j * w).argmin()]
    assert nearest.real == pytest.approx(-1 / (2 * 2500 * c), rel=HELD_Q)
    assert nearest.imag == pytest.approx(w, rel=HELD_Q)
    assert found.sizes[abs(found.poles - 1j * w).argmin()] == pytest.approx(1, rel=0.1)  # at first just what cancels the steady state


@pytest.mark.parametrize("name", ["balun-open-wire", "stub-match", "tee-tuner", "a-keys-edge-through-cable", "loss-split"])
def test_the_equations_have_the_impedance_of_the_closed_form(name: str) -> None:
    resolved = perform.resolve(perform.load(SCENARIOS[0].with_name(f"{name}.toml")))
    found = modes_of(resolved)
    assert found is not None
    assert found.voltage / found.current == pytest.approx(perform.solve_exact(resolved).transmitter.impedance_ohm, rel=PHASOR)


RINGING = (
    step([line()], 2 + 0j, 7.0),
    step([line(length=0.7 * LENGTH)], 3000 + 200j, 20.0),
    station([network(element("series", "inductor", 2e-6), element("shunt", "capacitor", 2e-10)), line()], 5 - 400j, 50.0),
    station([line(450.0)], 50 + 0j, 50.0, keying=Keying(rise_s=2e-6)),
)


@pytest.mark.parametrize("scenario", RINGING, ids=["echoes", "high", "reactive", "a slow key"])
def test_a_station_that_rings_is_expected_to(scenario: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    ((steps, _),) = counted(monkeypatch, lambda: run_work(scenario))
    assert steps / FACTOR < simulate(scenario).stepper.step < steps * FACTOR
    assert counted(monkeypatch, lambda: rest_work(scenario, run_points(scenario)))[0][0] == pytest.approx(steps)


def test_what_was_the_worst_of_the_lessons(monkeypatch: pytest.MonkeyPatch) -> None:
    """A coil and a capacitor that swing at a twenty-fifth of the carrier, seen in each window at another phase."""
    resolved = perform.resolve(perform.load(SCENARIOS[0].with_name("antenna-opens.toml")))
    ((steps, _),) = counted(monkeypatch, lambda: run_work(resolved))
    assert steps > 100_000
    assert steps / FACTOR < simulate(resolved).stepper.step < steps * FACTOR


def test_a_station_that_rings_for_too_long_is_refused_before_its_first_step(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its echoes die away as r1 r2 = 0.82 a round trip; those of a matched antenna are none."""
    quiet, loud = (step([line()], antenna + 0j, 2.5) for antenna in (50.0, 2.5))
    monkeypatch.setattr(budget, "MOST_MINUTES", 3 * run_work(quiet).seconds / 60)
    monkeypatch.setattr(Stepper, "advance", None)
    with pytest.raises(TooMuchWork, match=r"The simulation takes .* --most-work"):
        simulate(loud)


FOLDS = Transmitter(frequency_hz=FREQUENCY, power_w=10.0, behaviour="fold-back", attack_s=2e-5, release_s=1e-4)
LEVEL = Transmitter(frequency_hz=FREQUENCY, power_w=10.0, behaviour="level-controlled", attack_s=2e-5, release_s=1e-4)


@pytest.mark.parametrize(
    ("transmitter", "antenna", "events"),
    [
        (FOLDS, 45 + 0j, ()),
        (FOLDS, 250 + 0j, ()),
        (FOLDS, 45 + 0j, (Event(at_s=3e-6, happens="antenna opens"),)),
        (LEVEL, 120 + 0j, ()),
    ],
    ids=["never acts", "folds back", "folds back later", "holds"],
)
def test_a_control_takes_the_time_it_needs(
    transmitter: Transmitter, antenna: complex, events: tuple[Event, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    more = {"transmitter": transmitter, "keying": Keying(rise_s=1e-6), "events": events}
    scenario = Scenario(title="controlled", path=(line(),), antenna=Antenna(impedance_ohm=antenna), **more)
    ((steps, _),) = counted(monkeypatch, lambda: run_work(scenario))
    assert steps / FACTOR < simulate(scenario).stepper.step < steps * FACTOR


def test_a_large_network_is_not_looked_into() -> None:
    pair = (Element(position="series", kind="inductor", value=1e-7), Element(position="shunt", kind="capacitor", value=1e-11))
    scenario = step([line(), *(Network(name=f"network {k}", elements=pair * 10) for k in range(10))], 50 + 0j, 50.0)
    assert modes_of(scenario) is None
    assert expected_s(scenario, DELAY, 1e-6) == expected_s(scenario, DELAY)


def test_a_matrix_that_is_singular_to_the_last_bit_is_no_error() -> None:
    assert abs(ringing._solved(np.zeros((1, 2, 2)) + 1, np.ones((1, 2, 1)))).max() > 0


def test_no_loss_at_all_is_left_to_the_run() -> None:
    """It says so itself; the estimate is finite, and no more than a run may take."""
    scenario = step([line()], 80j, 0.0)
    assert expected_s(scenario, DELAY, 1e-6) * FREQUENCY < 21_000


@pytest.mark.slow
@pytest.mark.parametrize("file", SCENARIOS, ids=lambda file: file.stem)
def test_every_lesson_takes_about_as_long_as_is_said(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    resolved = perform.resolve(perform.load(file))
    works = counted(monkeypatch, lambda: run_work(resolved))
    done = simulate(resolved)
    taken = [done.outcome.stepper.step, done.stepper.step] if is_over(resolved) else [done.stepper.step]
    for (steps, _), took in zip(works, taken, strict=True):
        assert steps / FACTOR < took < steps * FACTOR
    ((steps, _),) = counted(monkeypatch, lambda: steady_work(resolved, 1))
    assert steps / FACTOR < simulate_steady(resolved, 1).stepper.step < steps * FACTOR
