"""Echo by echo: the forward power at the input of a step-keyed line after each round trip, and what looks back, against the closed form.

The closed form takes the carrier as steady between echoes. Between resistances it is, from each echo's first sample on, and at nu = 1 the
grid has no error: agreement to rounding. A tuner needs some periods after each echo to come to rest; how far it has is measured as what
the forward power still changes from one period to the next.
"""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim import exact
from bouncesim.exact.matching import set_tuner
from bouncesim.scenario import Tuner
from tests.march.grids import LENGTH, line, on_grid, station

ROUNDING = 1e-10  # phasors over a period of samples, squared
QUASI_STEADY = 1e-6  # of the largest forward power
GRID = 1e-3  # (w dt)^2/12 at 80 steps a period is 5e-4; a network of Q 2 to 3 feels it about twice


def staircase(scenario, points: int, round_trips: int) -> tuple[np.ndarray, np.ndarray]:
    """At the line's input, the phasors of forward and reflected waves (roots of a power) over the last whole period before each echo, and
    over the period before that: forward (2, n), reflected (2, n)."""
    cells = round(scenario.lines[0].length_m / LENGTH * points)
    march = on_grid(scenario, [cells], 1.0)
    row = march.rows.gauges["line"]
    forward, reflected = np.empty(2 * cells * round_trips), np.empty(2 * cells * round_trips)
    for n in range(len(forward)):
        march.advance(1)
        forward[n], reflected[n] = march.y[row : row + 2]
    turns = 2 / points * np.exp(-2j * np.pi * (np.arange(len(forward)) + 0.5) / points)
    ends = 2 * cells * np.arange(1, round_trips + 1)

    def phasors(wave):
        spans = [[slice(end - (back + 1) * points, end - back * points) for back in (0, 1)] for end in ends]
        return np.array([[turns[span] @ wave[span] for span in pair] for pair in spans]).T

    return phasors(forward), phasors(reflected)


@pytest.mark.parametrize(("source", "load"), [(15.0, 370.0), (200.0, 9.0), (50.0, 370.0)])
def test_between_resistances(source, load):
    scenario = station([line(length=3.25 * LENGTH)], load, source)
    echoes = exact.solve(scenario).echoes
    forward, reflected = staircase(scenario, 40, 8)
    powers = np.abs(forward[0]) ** 2 / 2
    expected = np.array(echoes.forward_after_round_trips_w)[: len(powers)]
    np.testing.assert_allclose(powers[: len(expected)], expected, rtol=ROUNDING)
    np.testing.assert_allclose(powers[len(expected) :], expected[-1], rtol=1e-5)  # the list ends within 1e-6 of its limit
    if source != 50.0:
        assert len(expected) >= 4
        assert abs(expected[1] / expected[0] - 1) > 0.05  # a staircase indeed
    back = (forward[0, 1:] - forward[0, 0]) / reflected[0, 1:]
    np.testing.assert_allclose(back, echoes.reflection_looking_back, rtol=0, atol=ROUNDING)


@pytest.mark.parametrize("source", [15.0, 50.0])
def test_behind_a_tuner(source):
    """After 6.5 periods this tuner (Q = 2.5) has come to rest to some 1e-8; what is left is the grid's error, a quarter of it on the finer
    grid, for the forward power and for the reflection looking back."""
    scenario = set_tuner(station([Tuner(), line(length=3.25 * LENGTH)], 370.0, source))
    echoes = exact.solve(scenario).echoes
    expected = np.array(echoes.forward_after_round_trips_w)[:5]
    misses, back_misses = [], []
    for points in (40, 80):
        forward, reflected = staircase(scenario, points, 5)
        powers, before = np.abs(forward) ** 2 / 2
        largest = float(expected.max())
        assert np.abs(powers - before).max() < QUASI_STEADY * largest
        misses.append(np.abs(powers - expected).max() / largest)
        back = (forward[0, 1:] - forward[0, 0]) / reflected[0, 1:]
        np.testing.assert_allclose(back, back[0], rtol=0, atol=QUASI_STEADY)
        back_misses.append(np.abs(back - echoes.reflection_looking_back).max())
    for coarse, fine in (misses, back_misses):
        assert fine < GRID
        assert coarse / fine == pytest.approx(4, rel=0.05)
