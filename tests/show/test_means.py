"""Means over a carrier period against the integral worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim.account.means import mean_power

RIPPLE = 5e-4  # of the ripple, at 32 to 34 snapshots a period (see mean_power)


@pytest.mark.parametrize("snapshots", [32.0, 32.5, 33.7])
def test_a_steady_carrier_has_a_steady_mean(snapshots: float) -> None:
    period = 1e-7
    w = 2 * np.pi / period
    time = np.arange(400) * period / snapshots
    energy = time - np.sin(2 * w * time) / (2 * w)  # of the power 2 sin^2(wt), mean 1 W
    steady = time > 1.2 * period
    assert np.abs(mean_power(time, energy, period)[steady] - 1).max() <= RIPPLE / (2 * np.pi)


def test_before_a_period_has_passed_the_mean_is_what_flowed() -> None:
    time = np.linspace(0, 1, 41)
    assert mean_power(time, 3 * time, 2.0) == pytest.approx(1.5 * time)
    assert mean_power(time[:3], 3 * time[:3], 0.01)[1:] == pytest.approx(np.full(2, 3.0))


def test_where_periods_are_left_out_the_mean_is_that_of_whole_ones() -> None:
    """Groups of three snapshots, a quarter period and a whole one after the first, as long runs have them."""
    period = 1e-7
    w = 2 * np.pi / period
    dense = np.arange(100) * period / 32
    starts = dense[-1] + period * np.cumsum(np.arange(1, 40))
    time = np.concatenate([dense, np.ravel(starts[:, None] + period * np.array([0, 0.25, 1.0]))])
    energy = time - np.sin(2 * w * time) / (2 * w)  # of the power 2 sin^2(wt), mean 1 W
    assert np.abs(mean_power(time, energy, period)[time > 1.2 * period] - 1).max() <= RIPPLE / (2 * np.pi)
