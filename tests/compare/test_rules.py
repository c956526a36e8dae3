"""Rules of thumb over their range: each is right where what it takes for granted is so, its known weak spots show, and the stations that
its places stand for give the same answers, in closed form and marched in time."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.account.rulemap import HOLDS_WITHIN, ROUNDING, RuleMap
from bouncesim.compare.rules import map_rule, rows
from bouncesim.compare.spots import PLACES, spots, station_at
from bouncesim.compare.trials import TRIALS
from bouncesim.exact import formulas
from bouncesim.exact.formulas.rules import RULES, rule
from tests.reference import case

NAMES = [one.name for one in RULES]
# The same station solved as an array and as a scenario: the largest voltage along a line by a parabola through 97 places, the rest exact.
ALIKE = {"largest-voltage": 1e-5}


@functools.cache
def mapped(name: str) -> RuleMap:
    return map_rule(rule(name))


def row_at(name: str, y: float) -> np.ndarray:
    """How far off, for every x, at one y of the grid."""
    one = mapped(name)
    at = int(np.abs(one.y.values - y).argmin())
    assert one.y.values[at] == pytest.approx(y, abs=1e-12)
    return one.off[at]


def test_there_are_enough_rules_and_each_says_what_it_rests_on() -> None:
    assert len(NAMES) == len(set(NAMES)) >= 12
    assert set(TRIALS) == set(PLACES) == set(NAMES)
    for one in RULES:
        assert one.source
        assert one.assumes
        assert one.says
        assert one.x.low < one.x.high
        assert one.y.low < one.y.high
    with pytest.raises(KeyError):
        rule("no-such-rule")


@pytest.mark.parametrize("name", NAMES)
def test_a_map_is_whole_and_bounds_itself(name: str) -> None:
    one = mapped(name)
    assert np.isfinite(one.off).all()
    assert one.most.off >= one.off.max()
    assert one.least.off <= one.off.min()
    for point in (one.most, one.least):
        if point.real:
            assert point.off == pytest.approx((point.by_rule.real - point.exact.real) / point.exact.real, rel=1e-9, abs=1e-12)
    assert 0 <= one.share <= 1
    assert not one.everywhere  # each range goes as far as the rule ends
    assert {row.y for row in rows(one)} >= {one.y.values[0], one.y.values[-1]}


@pytest.mark.parametrize(
    ("name", "y"),
    [("tuned-forward", 0.0), ("untuned-power", 50.0), ("meter-on-any-line", 50.0), ("quarter-wave-bandwidth", 0.0)],
)
def test_right_to_rounding_where_its_assumptions_hold(name: str, y: float) -> None:
    assert np.abs(row_at(name, y)).max() <= ROUNDING


def test_one_echo_forgets_the_echo_of_the_echo() -> None:
    """By hand: P (1 + rho^2) against P/(1 - rho^2) is off by -rho^4."""
    off, x = row_at("one-echo", 0.0), mapped("one-echo").x.values
    np.testing.assert_allclose(off, -(((x - 1) / (x + 1)) ** 4), rtol=1e-9)
    assert x[np.abs(off) <= HOLDS_WITHIN].max() == pytest.approx(1.9, abs=0.1)  # rho^4 = 0.01: SWR 1.92


def test_half_an_s_unit_is_a_hair_less_than_a_half() -> None:
    case("J01").check("s_units", float(formulas.s_units_by_halves(0.5)))
    np.testing.assert_allclose(row_at("half-an-s-unit", 6.0), 0.5 / (10 * math.log10(2) / 6) - 1, rtol=1e-9)
    assert mapped("half-an-s-unit").off[0].max() == pytest.approx(0.5 / (10 * math.log10(2) / 3) - 1)  # a meter of 3 dB an S-unit


def test_an_echo_at_the_tuner_of_a_matched_source_is_sent_again_in_part() -> None:
    """With a source of 50 ohm and a tuner without loss, what looks back equals in size what the antenna sends back: rho^2 of the power."""
    x = mapped("open-end").x.values
    np.testing.assert_allclose(row_at("open-end", 50.0), 1 / ((x - 1) / (x + 1)) ** 2 - 1, rtol=1e-7)
    assert mapped("open-end").share == 0
    assert mapped("open-end").off.min() > 0.02


def test_a_tuner_is_cool_by_its_q_only_at_a_resistance() -> None:
    """By hand: the coil's loss r is part of what it matches, so that the share is Q'/Qc with the Q' of R + r = R (1 + Q/Qc), and the rule
    is off by (Q + 1/Q)/(2 Qc) to first order. But each ohm of reactance asks for more coil."""
    x, off = mapped("tuner-loss").x.values, row_at("tuner-loss", 0.0)
    q = np.sqrt(50 / x - 1)
    np.testing.assert_allclose(off, (q + 1 / q) / 400, rtol=0.05)
    assert mapped("tuner-loss").off[0].max() < -0.8  # -300 ohm: the rule tells of less than a fifth of the heat


def test_short_lines_with_extreme_loads_break_the_added_loss() -> None:
    """By hand, a line that is short against the wave: a loss R |I|^2 in the conductors is the matched loss times the SWR at a low impedance
    and over the SWR at a high one, and the rule has the mean of the two."""
    swr, short = np.asarray(10.0), np.asarray(0.002)
    trial, _ = TRIALS["added-loss"]
    for phase, expected in ((np.pi, 10.0), (0.0, 1 / 10.0)):
        (matched, _), exact = trial(swr, short, np.asarray(phase))
        assert float(exact) == pytest.approx(float(matched) * expected, rel=0.03)  # the line is 1/500 of a wave, not nothing
    assert mapped("added-loss").least.off < -0.45
    assert mapped("added-loss").most.off > 50
    long = mapped("added-loss").off[-1]
    assert np.abs(long).max() < HOLDS_WITHIN  # and on four wavelengths it holds, whatever the SWR


def test_a_short_line_may_not_hold_its_largest_voltage() -> None:
    one = mapped("largest-voltage")
    assert np.abs(one.off[one.y.values >= 0.5]).max() < 1e-3
    assert one.off.min() > -1e-4  # it never says too little
    assert one.off[0].max() > 1


def test_new_formulas_against_published_figures() -> None:
    figures = case("A08")
    figures.check("mismatch_loss", -10 * math.log10(formulas.untuned_power_w(1.0, figures.inputs["R0"] / figures.inputs["RL"])))
    figures = case("A11")
    figures.check("mismatch_dB", 10 * math.log10(formulas.untuned_power_w(1.0, figures.inputs["ZL"] / figures.inputs["Z0"])))
    figures = case("J03")
    forward = float(formulas.tuned_forward_w(figures.inputs["P"], formulas.rho(figures.inputs["SWR"])))
    figures.check("Pf", forward)
    assert float(formulas.one_echo_forward_w(1.0, 0.5)) == 1.25
    assert float(formulas.waves_to_settle(0.5, 0.8)) == 6  # 0.4^5 is just above 1 %
    assert float(formulas.waves_to_settle(0.05, 0.05)) == 1
    assert float(formulas.tuner_loss_share(3.0, 200.0)) == pytest.approx(0.015)
    assert complex(formulas.half_wave_ohm(25 - 60j)) == 25 - 60j
    assert float(formulas.sent_again_as_open()) == 1


@pytest.mark.parametrize(("name", "x", "y"), [(name, *place) for name, places in PLACES.items() for place in places])
def test_a_place_as_a_station_has_the_same_answer(name: str, x: float, y: float) -> None:
    """The array of the trial against the whole exact engine on a scenario: the set-ups of the two are apart."""
    station = station_at(rule(name), x, y)
    if station.read is None:
        return  # a matter of echoes: the slow test
    assert station.read(perform.solve_exact(station.scenario).numbers()) == pytest.approx(station.exact, rel=ALIKE.get(name, 1e-9))


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_the_march_confirms_the_exact_answer(name: str) -> None:
    found = spots(rule(name))
    assert len(found) >= 2
    for spot in found:
        assert spot.holds, spot
