"""What a run shows between and after its snapshots."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bouncesim.account.run import Run
from bouncesim.show.live import Live

FLOAT32 = 1e-6  # the waves are kept in float32
INTERPOLATED = 0.006  # linear between 32 snapshots a period: (2 pi/32)^2/8 of the amplitude


def account_misses(live: Live, t: float) -> float:
    account = live.account(t)
    return account.left - account.of(("antenna", *account.heat, "stored"))


def test_account_closes_within_and_after_the_run(stories: dict[str, Run]) -> None:
    for run in stories.values():
        live = Live(run)
        for t in (0.0, 0.3 * live.end, live.end, live.end + 0.37 * live.period, 50 * live.end):
            assert abs(account_misses(live, t)) <= 1e-9 * live.account(max(t, live.period)).left


def test_steady_state_goes_on(run: Run) -> None:
    live = Live(run)
    trace, t = live.lines[0], live.end - 0.4 * live.period
    for later in (t + live.period, t + 1000 * live.period):
        for wave, same in zip(live.wave(trace, later), live.wave(trace, t), strict=True):
            assert np.abs(wave - same).max() <= 1e-4 * np.abs(trace.voltage_v).max()
    rate = (live.account(200 * live.end).left - live.account(100 * live.end).left) / (100 * live.end)
    assert rate == pytest.approx(run.readings.transmitter.power_w, rel=1e-2)


def test_waves_add_up_between_snapshots(run: Run) -> None:
    live, trace = Live(run), run.traces.lines[0]
    forward, reflected = live.wave(trace, float(live.times[100]))
    assert forward + reflected == pytest.approx(trace.voltage_v[100], abs=FLOAT32 * 300)
    middle = (live.times[100] + live.times[101]) / 2
    whole = sum(live.wave(trace, middle))
    assert whole == pytest.approx((trace.voltage_v[100] + trace.voltage_v[101]) / 2, abs=FLOAT32 * 300)


def test_live_values_reach_the_readings(run: Run) -> None:
    live = Live(run)
    for name in ("antenna.power_w", "transmitter.power_w", "feed line.forward_in_w", "feed line.reflected_in_w", "feed line.swr_in"):
        assert live.value(name, live.end) == pytest.approx(run.readings.flatten()[name], rel=1e-9), name
    assert live.value("antenna.power_w", 0.0) == 0
    assert live.value("tuner.heat_w", live.end) == pytest.approx(0.02 * live.antenna_power(live.end), rel=INTERPOLATED)
    assert live.value("antenna.voltage_v_rms", 0.0) == run.readings.antenna.voltage_v_rms  # no trace: the final reading
    with pytest.raises(KeyError):
        live.value("antenna.colour", 0.0)


def test_nothing_before_the_wave_arrives(run: Run) -> None:
    live, trace = Live(run), run.traces.lines[0]
    tau = run.moments["antenna reached"]
    forward, reflected = live.first_seen(trace, float(trace.largest_v.max()))
    assert forward[0] < tau < forward[-1]
    assert tau < reflected[-1] < reflected[0]
    assert math.isnan(live.swr("feed line", 0.0))
    assert live.swr("feed line", live.end, far=True) == pytest.approx(370 / 50, rel=1e-2)
