"""Waves of long stories, told by groups of three snapshots, against the wave itself."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from bouncesim.account.run import Run
from bouncesim.show.groups import Groups
from bouncesim.show.live import Live
from tests.show.fake import Station

PERIOD = 1e-7
W = 2 * np.pi / PERIOD
GROWTH = 1e-4  # of the amplitude a period


def wave(t: np.ndarray | float) -> np.ndarray:
    return np.asarray((1 + GROWTH * np.asarray(t) / PERIOD) * np.cos(W * np.asarray(t) + 0.7))


def test_every_phase_between_two_groups() -> None:
    starts = PERIOD * np.array([0, 41, 90, 140])
    times = np.ravel(starts[:, None] + PERIOD * np.array([0, 0.25, 1.0]))
    groups, rows = Groups(times, PERIOD), wave(times)[:, None]
    for t in PERIOD * np.array([0.1, 0.6, 3.3, 40.9, 41.5, 77.77, 139.2]):
        i = int(np.searchsorted(times, t, side="right")) - 1
        assert groups.between(i)
        assert groups.wave(rows, i, float(t))[0] == pytest.approx(float(wave(t)), abs=5 * GROWTH)
    means = groups.mean_squares(wave(times), np.zeros(len(times)))
    assert means[[0, 3, 6, 9]] == pytest.approx((1 + GROWTH * starts / PERIOD) ** 2 / 2, rel=2 * GROWTH)


def thinned(run: Run, keep: np.ndarray) -> Run:
    """The run with some of its snapshots only."""
    traces = run.traces
    change = {name: value[keep] for name, value in vars(traces).items() if isinstance(value, np.ndarray)}
    change |= {name: {key: array[keep] for key, array in value.items()} for name, value in vars(traces).items() if isinstance(value, dict)}
    lines = [
        dataclasses.replace(line, voltage_v=line.voltage_v[keep], current_a=line.current_a[keep], largest_v=line.largest_v[keep])
        for line in traces.lines
    ]
    return dataclasses.replace(run, traces=dataclasses.replace(traces, lines=tuple(lines), **change))


def test_a_run_that_leaves_out_periods_looks_like_the_whole() -> None:
    """The settled end of a run, as groups of snapshots seven periods apart, and what comes after them."""
    run = Station(wavelengths=0.7, source_reflection=0.2, antenna=80.0, round_trips=60.0).run()
    period, count = 1 / run.scenario.transmitter.frequency_hz, len(run.traces.time_s)
    early = 32 * 30
    groups = (np.arange(early, count - 32, 7 * 32)[:, None] + np.array([0, 8, 32])).ravel()
    few, whole = Live(thinned(run, np.concatenate([np.arange(early - 32), groups]))), Live(run)
    scale = whole.largest_wave()
    for t in period * np.array([20.3, 37.123, 41.9, 60.456, 400.789]):
        for one, other in zip(few.wave(few.lines[0], t), whole.wave(whole.lines[0], t), strict=True):
            assert one == pytest.approx(other, abs=0.01 * scale)  # straight lines between 32 snapshots a period leave half of that
        for far in (False, True):
            assert few.powers("feed line", t, far) == pytest.approx(whole.powers("feed line", t, far), rel=0.01)
