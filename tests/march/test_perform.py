"""Whole runs of the scenarios, as films and reports see them: every snapshot's account, moments, powers, stresses, and the memory plan."""

from __future__ import annotations

import functools
import math
from pathlib import Path

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.account.run import Run
from bouncesim.march import observers
from bouncesim.march.grid import DEFAULT_POINTS
from bouncesim.march.observers import MOST_BYTES, SNAPSHOTS_A_PERIOD, Recorder
from bouncesim.march.simulation import RUN_TOLERANCE, build
from bouncesim.perform import TAIL_PERIODS
from bouncesim.perform.record import SETTLED
from bouncesim.scenario import Keying
from tests.evidence import record_books
from tests.march.grids import FREQUENCY, line, station

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
ACCOUNT = 1e-9  # of the energy that has left the transmitter: where a run would be stopped
# Grid errors at 200 steps a period and more, without refinement: (w dt)^2/12 is 8e-5, more in a tuner of some Q.
GRID = 1e-3
FASTEST = 0.5 * 299_792_458.0  # m/s: no line of the scenarios is slower, so that waves on it have at least as many places
ROUNDING = 1e-9
HALF_CELL = 1e-6  # of a wideband line: what its branches take in the half cell at an end is carried on from inside (march.wideband)
BETWEEN = 1e-5  # of the largest: what the curve through five nodes may make of them


@functools.cache
def run_of(path: Path) -> Run:
    return perform.simulate(perform.load(path))


@pytest.fixture(params=SCENARIOS, ids=lambda path: path.stem)
def run(request) -> Run:
    return run_of(request.param)


def test_account_of_every_snapshot(run):
    """left = into the antenna + heats + stored; nothing is ever taken back from heat or antenna."""
    traces = run.traces
    spent = traces.into_antenna_j + traces.stored_j + sum(traces.heat_j.values())
    np.testing.assert_allclose(traces.left_transmitter_j, spent, rtol=0, atol=ACCOUNT * traces.left_transmitter_j.max())
    for joules in (traces.into_antenna_j, *traces.heat_j.values()):
        assert np.diff(joules).min() >= -1e-15 * joules.max()
    assert traces.stored_j.min() >= 0
    assert set(traces.heat_j) == set(run.ledger.heat_j) >= {part.name for part in run.scenario.path if part.part in ("network", "line")}


def test_ledger(run):
    ledger = run.ledger
    record_books(run.scenario.title, ledger.worst_step, ledger.accumulated)
    assert ledger.worst_step <= 1e-12
    assert ledger.accumulated <= 1e-11
    spent = ledger.into_antenna_j + sum(ledger.heat_j.values()) + ledger.stored_j
    assert ledger.left_transmitter_j == pytest.approx(spent, rel=1e-11)
    assert ledger.emf_j > ledger.left_transmitter_j > 0


def test_shapes_and_times(run):
    traces, frequency = run.traces, run.scenario.transmitter.frequency_hz
    steps = np.diff(traces.time_s)
    assert steps.min() > 0
    if run.scenario.keying.is_shortened:  # under a real key whole periods are left out between some
        np.testing.assert_allclose(steps, steps[0], rtol=1e-6)
        assert SNAPSHOTS_A_PERIOD <= round(1 / (frequency * steps[0])) < 1.25 * SNAPSHOTS_A_PERIOD  # whole steps apart
    for one, of in zip(traces.lines, run.scenario.lines, strict=True):
        assert one.voltage_v.shape == one.current_a.shape == one.largest_v.shape == (len(traces.time_s), len(one.x_m))
        assert one.voltage_v.dtype == np.float32
        assert (one.x_m[0], one.x_m[-1]) == (0, pytest.approx(of.length_m))
        assert np.diff(one.largest_v, axis=0).min() >= 0
        assert np.all(np.abs(one.voltage_v) <= one.largest_v * (1 + 1e-6))
    for key in (*traces.forward_w, *traces.reflected_w):
        assert len(traces.forward_w[key]) == len(traces.reflected_w[key]) == len(traces.time_s)


def test_nothing_before_it_can_be_there(run):
    """Ahead of the front there is nothing (at nu < 1 the grid's own front runs up to 1/nu ahead of the wave's)."""
    traces = run.traces
    delay = run.moments["antenna reached"]
    early = traces.time_s < 0.9 * delay
    assert early.any()
    largest = float(np.abs(traces.lines[-1].voltage_v).max())
    assert np.abs(traces.lines[-1].voltage_v[early, -1]).max() < 1e-6 * largest
    assert traces.into_antenna_j[early].max() <= 1e-9 * traces.into_antenna_j.max()


def test_moments(run):
    moments = run.moments
    order = ["key down", "antenna reached", "first echo", *(f"round trip {n}" for n in range(2, 30))]
    times = [moments[name] for name in order]
    assert times[0] == 0
    assert times == sorted(times)
    assert moments["first echo"] == moments["round trip 1"] == pytest.approx(2 * moments["antenna reached"])
    delay = sum(one.length_m / one.constants(run.scenario.transmitter.frequency_hz).velocity for one in run.scenario.lines)
    assert moments["antenna reached"] == pytest.approx(delay, rel=1e-12)
    assert moments["settled"] == run.settling.settled_s <= run.settling.end_s
    assert run.settling.estimate <= RUN_TOLERANCE
    assert run.settling.round_trips == pytest.approx(run.settling.settled_s / (2 * delay))


def test_powers_end_at_their_readings(run):
    """From the settled moment on, while the key is down, all stay within 1 % of the largest, by its definition; and the readings are the
    closed form's but for the grid."""
    readings = run.readings
    largest = max(readings.antenna.power_w, *(one.forward_in_w for one in readings.lines), *(one.forward_w for one in readings.meters))
    exact = perform.solve_exact(run.scenario)
    for name, value in exact.flatten().items():
        if name.endswith("_w"):
            assert readings.flatten()[name] == pytest.approx(value, rel=0, abs=GRID * largest), name
    if run.scenario.keying.shape not in ("morse", "pulse"):  # neither need settle
        check_settled(run)


def check_settled(run):
    traces, readings = run.traces, run.readings
    largest = max(readings.antenna.power_w, *(one.forward_in_w for one in readings.lines), *(one.forward_w for one in readings.meters))
    finals = {"transmitter": None} | {one.name: (one.forward_w, one.reflected_w) for one in readings.meters}
    finals |= {one.name: (one.forward_in_w, one.reflected_in_w) for one in readings.lines}
    assert set(traces.forward_w) == set(finals)
    late = (traces.time_s >= run.moments["settled"]) & (traces.time_s <= run.moments.get("key up", math.inf))
    assert late.sum() >= (TAIL_PERIODS * SNAPSHOTS_A_PERIOD // 2 if run.scenario.keying.is_shortened else 1)
    for name, pair in finals.items():
        if pair:
            np.testing.assert_allclose(traces.forward_w[name][late], pair[0], rtol=0, atol=SETTLED * largest)
            np.testing.assert_allclose(traces.reflected_w[name][late], pair[1], rtol=0, atol=SETTLED * largest)
        net = (traces.forward_w[name] - traces.reflected_w[name])[late][-1]
        if name == "transmitter":
            assert net == pytest.approx(readings.transmitter.power_w, rel=0, abs=2 * SETTLED * largest)
    np.testing.assert_allclose(traces.antenna_power_w[late], readings.antenna.power_w, rtol=0, atol=SETTLED * largest)


def test_steady_phasors_are_those_of_the_readings(run):
    """Power at both ends of every line of the path, and the largest voltage and current but for what lies between two places."""
    readings = {line.name: line for line in run.readings.lines}
    for trace in run.traces.lines:
        of, power = readings[trace.name], (trace.steady_v * trace.steady_a.conj()).real / 2
        assert trace.steady_v.shape == trace.steady_a.shape == trace.x_m.shape
        near = of.power_in_w * (HALF_CELL if of_line(run, trace.name).loss_law == "wideband" else ROUNDING)
        assert power[0] == pytest.approx(of.power_in_w, rel=0, abs=near)
        assert power[-1] == pytest.approx(of.power_out_w, rel=0, abs=near)
        places_a_wave = len(trace.x_m) / of_line(run, trace.name).length_m * FASTEST / run.scenario.transmitter.frequency_hz
        between = 1 - np.cos(np.pi / places_a_wave) + BETWEEN
        for phasors, largest in ((trace.steady_v, of.largest_v_peak), (trace.steady_a, of.largest_a_peak)):
            assert (1 - between) * largest <= np.abs(phasors).max() <= largest * (1 + BETWEEN)


def of_line(run, name):
    return next(line for line in run.scenario.lines if line.name == name)


def test_stresses(run):
    """While it starts up, a line bears at least what it bears in the steady state (but for what is not settled yet); of a pulse no carrier
    is left."""
    lengths = {one.name: one.length_m for one in run.scenario.lines}
    for stress in run.stresses:
        assert stress.largest >= stress.steady * (1 - GRID) or run.scenario.keying.shape == "pulse"
        assert 0 <= stress.at_m <= lengths.get(stress.line, 0.0) * (1 + 1e-12)
    assert {(stress.line, stress.quantity) for stress in run.stresses} >= {
        (one.name, quantity) for one in run.scenario.lines for quantity in ("voltage", "current")
    }


class Still:
    """A stepper that only counts its steps."""

    def __init__(self, stepper, turns=()):
        self.plan, self.drive, self.control, self.dt, self.bounds = stepper.plan, stepper.drive, None, stepper.dt, stepper.bounds
        self.largest, self.stored, self.share, self.emf_j, self.step = stepper.largest, 0.0, 1.0, [0.0], 0
        self.due = [(turn, ()) for turn in turns]
        self.waves_now = stepper.waves_now

    def advance(self, count, mode, taper):
        assert count > 0
        self.step += count


USUAL = DEFAULT_POINTS // SNAPSHOTS_A_PERIOD
MILLION_PERIODS = 1_000_000 * DEFAULT_POINTS
LITTLE = 10_000_000  # bytes, so that the test is quick


def test_memory_plan(monkeypatch):
    """However long the story, the snapshots stay within what was set aside: first all of them, then whole periods apart, ever more."""
    monkeypatch.setattr(observers, "MOST_BYTES", LITTLE)
    stepper = Still(build(station([line()], 120.0), DEFAULT_POINTS))
    recorder = Recorder(stepper, FREQUENCY, SNAPSHOTS_A_PERIOD)
    assert recorder.room * 3 * 4 * sum(len(place) for place in recorder.places) <= LITTLE
    recorder.advance(MILLION_PERIODS, 0, None)
    assert stepper.step == MILLION_PERIODS
    steps = np.round(np.array(recorder.times) / stepper.dt + 0.5).astype(int)
    gaps = np.diff(steps)
    early = np.arange(len(gaps)) < recorder.room * 3 // 4 - 1
    assert set(gaps[early]) == {USUAL}
    quarter = DEFAULT_POINTS // 4
    starts = np.flatnonzero(gaps == quarter)
    assert set(gaps[starts + 1]) == {DEFAULT_POINTS - quarter}  # then come groups of three within a period
    apart = gaps[starts[1:] - 1]
    assert set(apart % DEFAULT_POINTS) == {0}
    assert (apart <= np.maximum(steps[starts[1:]] / (recorder.sparse / 2), 2 * DEFAULT_POINTS)).all()  # fine enough for a film of the whole
    assert len(steps) < recorder.room
    assert steps[-1] > (1 - 2 / recorder.sparse) * MILLION_PERIODS


def test_snapshots_after_an_event(monkeypatch):
    """What an event starts is seen as well as the start."""
    monkeypatch.setattr(observers, "MOST_BYTES", LITTLE)
    stepper = build(station([line()], 120.0), DEFAULT_POINTS)
    turn = 2 * Recorder(stepper, FREQUENCY, SNAPSHOTS_A_PERIOD).fine + 7
    stepper = Still(stepper, [turn])
    recorder = Recorder(stepper, FREQUENCY, SNAPSHOTS_A_PERIOD)
    recorder.advance(2 * turn, 0, None)
    steps = np.round(np.array(recorder.times) / stepper.dt + 0.5).astype(int)
    after = steps[(steps >= turn) & (steps <= turn + recorder.again)]
    assert after[0] == turn
    assert set(np.diff(after)) == {USUAL}
    assert recorder.again > DEFAULT_POINTS
    assert DEFAULT_POINTS // 4 in np.diff(steps[steps < turn])


@pytest.mark.slow
def test_a_real_key():
    """A key of 5 ms at 7 MHz: 35,000 periods, within the memory set aside, and the account still closes."""
    scenario = perform.load(next(path for path in SCENARIOS if path.stem == "one-echo-or-all"))
    run = perform.simulate(scenario.model_copy(update={"keying": Keying(shape="raised-cosine", rise_s=5e-3), "beats": ()}))
    held = sum(array.nbytes for one in run.traces.lines for array in (one.voltage_v, one.current_a, one.largest_v))
    assert held <= MOST_BYTES
    assert run.settling.settled_s > 4e-3
    assert run.traces.time_s[-1] >= run.settling.settled_s
    spent = run.traces.into_antenna_j + run.traces.stored_j + sum(run.traces.heat_j.values())
    np.testing.assert_allclose(run.traces.left_transmitter_j, spent, rtol=0, atol=ACCOUNT * spent.max())
    assert run.ledger.worst_step <= 1e-12
    assert run.ledger.accumulated <= 1e-11
