"""What the lessons on keys, transmitters and events tell of what happens on the way, to the digits told; steady figures are claims."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from bouncesim import simulate
from bouncesim.account.run import Run
from tests.scenario.test_scenarios import lesson


@functools.cache
def run_of(name: str) -> Run:
    return simulate(lesson(name))


def reflected_w(run: Run) -> np.ndarray:
    return run.traces.reflected_w["station meter"]


def at(run: Run, us: float) -> int:
    return int(np.searchsorted(run.traces.time_s, us * 1e-6))


def test_key_down_at_once_and_as_a_real_key_does_it() -> None:
    """One station, two keys: 15.4 W reflected for a moment, six round trips long; 0.9 uW."""
    step, real = lesson("key-down-at-once"), lesson("key-down-real")
    assert real.model_copy(
        update={"keying": step.keying, "title": step.title, "about": step.about, "beats": step.beats}
    ) == step.model_copy(update={"claims": real.claims})
    run = run_of("key-down-at-once")
    assert round(reflected_w(run).max(), 1) == 15.4
    assert round(run.settling.settled_s * 1e6, 1) == 2.5
    assert round(run.settling.round_trips) == 6
    assert round(max(stress.largest for stress in run.stresses if stress.quantity == "voltage")) == 126


@pytest.mark.slow
def test_key_down_as_a_real_key_does_it() -> None:
    run = run_of("key-down-real")
    assert round(reflected_w(run).max() * 1e6, 1) == 0.9
    assert not run.scenario.keying.is_shortened


def test_an_antenna_that_changes_under_a_fold_back() -> None:
    run = run_of("antenna-changes-fold-back")
    assert round(reflected_w(run).max()) == 16
    trip = run.moments["first echo"] / 2
    assert reflected_w(run)[at(run, 2.2 + 0.9e6 * trip)] < 0.31  # the transmitter does not know yet
    assert reflected_w(run)[at(run, 2.2 + 1.3e6 * trip)] > 3
    drive = run.traces.drive
    assert drive is not None
    assert drive[at(run, 2.2)] == 1.0


def test_a_transmitter_that_holds_its_power() -> None:
    run = run_of("power-held-on-a-mismatch")
    early = at(run, 0.65)
    forward, reflected = run.traces.forward_w["station meter"][early], reflected_w(run)[early]
    assert (round(forward), round(reflected), round(forward - reflected)) == (25, 5, 20)
    assert np.diff(run.traces.forward_w["station meter"])[early:].min() > -0.02


def test_a_short_and_a_dump_load() -> None:
    """The meter learns of it one delay later, and what it reads then heats the dump load."""
    run = run_of("antenna-shorts-dump-load")
    delay = run.moments["antenna reached"] * 1e6
    assert reflected_w(run)[at(run, 0.9 + 0.95 * delay)] < 0.2
    dumped = run.traces.dump_load_j
    assert dumped is not None
    period = 1 / run.scenario.transmitter.frequency_hz
    rate = (np.interp(1.19e-6, run.traces.time_s, dumped) - np.interp(1.19e-6 - period, run.traces.time_s, dumped)) / period
    assert rate == pytest.approx(25.0, abs=0.1)  # snapshots are a thirtieth of a period apart
    before = lesson("antenna-shorts-dump-load").model_copy(update={"events": ()})
    heat = simulate(before).readings.lines[0].heat_w
    assert run.readings.lines[0].heat_w / heat == pytest.approx(2, abs=0.05)


def test_an_antenna_that_opens() -> None:
    run = run_of("antenna-opens")
    most = {(stress.line, stress.quantity): stress for stress in run.stresses}
    assert round(most["antenna", "voltage"].largest) == 139
    assert most["antenna", "voltage"].at_s < 3.4e-6 + 1 / run.scenario.transmitter.frequency_hz
    assert round(most["tuner", "capacitor voltage"].largest) == 147
    assert round(reflected_w(run).max()) == 55
    assert round((run.settling.settled_s - 3.4e-6) * 1e6) == 7


def test_a_bad_connector_hides() -> None:
    run = run_of("bad-connector")
    forward, reflected = (traces["station meter"][at(run, 1.55)] for traces in (run.traces.forward_w, run.traces.reflected_w))
    rho = (reflected / forward) ** 0.5
    assert round((1 + rho) / (1 - rho), 1) == 1.2
    assert round(run.traces.antenna_power_w[at(run, 1.55)]) == 30


def test_where_the_rest_goes_when_the_key_goes_up() -> None:
    """23 uJ held: 14 into the antenna, 2 heat, 7 back into the transmitter."""
    traces = run_of("key-goes-up").traces
    up, heat = at(run_of("key-goes-up"), 4.0), sum(traces.heat_j.values())
    told = [traces.stored_j[up], traces.into_antenna_j[-1] - traces.into_antenna_j[up], heat[-1] - heat[up]]
    told.append(traces.left_transmitter_j[up] - traces.left_transmitter_j[-1])
    assert [round(joule * 1e6) for joule in told] == [23, 14, 2, 7]
    assert round(told[0] / 39 * 1e6, 1) == 0.6


def test_a_letter_on_the_line() -> None:
    run = run_of("a-letter-on-a-long-line")
    assert round(run.moments["antenna reached"] * 1e6, 1) == 1.6
    assert round(100 * run.scenario.keying.duty) == 32
    forward = run.traces.forward_w["station meter"]
    assert forward[at(run, 1.6)] < 0.1  # silent when the dot arrives
    assert reflected_w(run)[at(run, 4.0)] == pytest.approx(1.7, abs=0.1)  # its echo, in the dash
    assert forward[at(run, 4.0)] > 25
