"""The extrapolation of three grids, by hand."""

from __future__ import annotations

import pytest

from bouncesim.compare.check import _extrapolate

GRIDS = (1.0, 0.5, 0.25)


@pytest.mark.parametrize("value", [3.7, 2 - 5j])
def test_two_terms_of_the_error_go(value):
    """x + 0.3 h^2 - 0.02 h^4: the first stage leaves h^4, the second nothing."""
    a3, best = _extrapolate([value + 0.3 * h**2 - 0.02 * h**4 for h in GRIDS])
    assert best == pytest.approx(value, rel=1e-14)
    assert a3 - value == pytest.approx(4 * 0.02 * GRIDS[-1] ** 4, rel=1e-9)


def test_what_no_grid_changes_stays():
    assert _extrapolate([1.25] * 3) == (1.25, 1.25)
