"""Claims: each bound judged at, above and below it, and the verdict in words."""

from __future__ import annotations

import dataclasses
import math

import pytest

from bouncesim.account.verdict import VerdictRow
from bouncesim.compare.claims import judge, judge_checked
from bouncesim.errors import ScenarioError
from bouncesim.scenario import Claim
from tests import samples


def judged(antenna_w: float, **bounds: float):
    claim = Claim(says="The antenna gets its power", quantity="antenna.power_w", **bounds)
    (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings(antenna_w))
    assert verdict.claim is claim
    assert repr(verdict.value) == repr(antenna_w)  # nan as well
    return verdict


@pytest.mark.parametrize(
    ("value", "bounds", "holds", "margin", "words"),
    [
        (28.0, {"at_least": 25.0}, True, 3.0, "holds with 12 % to spare"),
        (25.0, {"at_least": 25.0}, True, 0.0, "holds with nothing to spare"),
        (49.9375, {"at_least": 25.0}, True, 24.9375, "holds with 100 % to spare"),
        (500.0, {"at_least": 20.0}, True, 480.0, "holds with 2400 % to spare"),
        (24.0, {"at_least": 25.0}, False, -1.0, "fails by 4 %"),
        (24.0, {"at_most": 25.0}, True, 1.0, "holds with 4 % to spare"),
        (26.0, {"at_most": 25.0}, False, -1.0, "fails by 4 %"),
        (21.0, {"at_least": 20.0, "at_most": 30.0}, True, 1.0, "holds with 5 % to spare"),
        (33.0, {"at_least": 20.0, "at_most": 30.0}, False, -3.0, "fails by 10 %"),
        (24.0, {"about": 25.0, "within": 5.0}, True, 4.0, "holds: 4 % off, 20 % allowed"),
        (28.0, {"about": 25.0, "within": 5.0}, True, 2.0, "holds: 12 % off, 20 % allowed"),
        (33.0, {"about": 25.0, "within": 5.0}, False, -3.0, "fails: 32 % off, 20 % allowed"),
        (25.0, {"about": 25.0, "within": 0.0}, True, 0.0, "holds: 0 % off, 0 % allowed"),
        (-0.5, {"at_least": 0.0}, False, -0.5, "fails by 0.5"),
        (math.inf, {"at_least": 3.0}, True, math.inf, "holds without limit"),
        (math.inf, {"at_most": 3.0}, False, -math.inf, "fails without limit"),
        (math.inf, {"about": 3.0, "within": 1.0}, False, -math.inf, "fails without limit"),
    ],
)
def test_a_bound_is_judged(value: float, bounds: dict[str, float], holds: bool, margin: float, words: str) -> None:
    verdict = judged(value, **bounds)
    assert (verdict.holds, verdict.margin, verdict.by_how_much) == (holds, margin, words)


@pytest.mark.parametrize(
    ("bar", "outcome", "words"),
    [
        (0.0, "holds", "holds with 4 % to spare"),
        (0.99, "holds", "holds with 4 % to spare"),
        (1.01, "too close to call", "too close to call: 1 from the bound, error bar 1"),
    ],
)
def test_a_bound_within_the_error_bar_is_too_close_to_call(bar: float, outcome: str, words: str) -> None:
    for value, bounds in ((26.0, {"at_least": 25.0}), (24.0, {"at_most": 25.0})):
        claim = Claim(says="Enough", quantity="antenna.power_w", **bounds)
        (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings(value), bars={"antenna.power_w": bar})
        assert (verdict.outcome, verdict.by_how_much) == (outcome, words)
        assert verdict.holds == (outcome == "holds")
    (wrong,) = judge(samples.scenario(claims=(claim,)), samples.readings(26.0), bars={"antenna.power_w": bar})
    assert wrong.outcome == ("too close to call" if bar > 1 else "fails")
    assert not wrong.holds


def test_the_worst_of_all_sources_counts_unless_a_claim_is_about_its_own() -> None:
    transmitters = {"a source of 5 ohm": samples.readings(20.0), "a source of 500 ohm": samples.readings(60.0)}
    for source, outcome, words in (
        ("every", "fails", "fails by 20 % (with a source of 5 ohm)"),
        ("its own", "holds", "holds with 12 % to spare"),
    ):
        claim = Claim(says="Enough", quantity="antenna.power_w", at_least=25.0, source=source)
        (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings(28.0), transmitters=transmitters)
        assert (verdict.outcome, verdict.by_how_much) == (outcome, words)
    claim = Claim(says="Not too much", quantity="antenna.power_w", at_most=80.0)
    (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings(28.0), transmitters=transmitters)
    assert (verdict.outcome, verdict.worst_with, verdict.value) == ("holds", "a source of 500 ohm", 60.0)


def test_the_worst_antenna_counts_whatever_a_claim_says_of_the_source() -> None:
    antennas = [samples.readings(28.0), samples.readings(24.0)]
    claim = Claim(says="Enough", quantity="antenna.power_w", at_least=25.0, source="its own")
    (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings(28.0), antennas=antennas)
    assert verdict.by_how_much == "fails by 4 % (with antenna 2 of 2 that are possible)"


def test_a_source_that_is_no_worse_is_not_named() -> None:
    transmitters = {"a source of 5 ohm": samples.readings(28.0 * (1 - 1e-12))}
    claim = Claim(says="Enough", quantity="antenna.power_w", at_least=25.0)
    (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings(28.0), transmitters=transmitters)
    assert verdict.worst_with == ""


def test_a_check_gives_values_and_bars_and_shares_of_them() -> None:
    """By hand: a share h/P has the bar (dh + h/P dP)/P."""
    rows = tuple(
        VerdictRow(name, value, bar, value, None, "holds")
        for name, value, bar in (("transmitter.power_w", 40.0, 0.4), ("antenna.power_w", 30.0, 0.2), ("feed line.heat_w", 8.0, 0.0))
    )
    verdict = dataclasses.replace(samples.verdict(), rows=rows)
    claims = [Claim(says=name, quantity=name, at_least=0.0) for name in ("antenna.power_w", "antenna.power_share", "feed line.heat_share")]
    claims.append(Claim(says="given", quantity="feed line.matched_loss_db", at_least=0.0))
    judged = judge_checked(samples.scenario(claims=tuple(claims)), verdict, samples.readings())
    assert [one.value for one in judged] == [30.0, 0.75, 0.2, 0.7]
    assert [one.error_bar for one in judged] == pytest.approx([0.2, (0.2 + 0.75 * 0.4) / 40, 0.2 * 0.4 / 40, 0.0])


def test_a_reading_without_a_value_proves_nothing() -> None:
    verdict = judged(math.nan, at_least=0.0)
    assert not verdict.holds
    assert verdict.by_how_much == "fails: the reading has no value"


def test_a_complex_reading_is_judged_by_its_parts() -> None:
    claim = Claim(says="The tuner matches", quantity="transmitter.impedance_ohm.imag", about=0.0, within=0.1)
    (verdict,) = judge(samples.scenario(claims=(claim,)), samples.readings())
    assert verdict.holds
    assert verdict.value == -1e-9


def test_every_claim_about_a_reading_that_does_not_exist_is_named() -> None:
    claims = [Claim(says=name, quantity=name, at_least=0.0) for name in ("antenna.powr_w", "meter.swr", "attic.heat_w")]
    with pytest.raises(ScenarioError) as caught:
        judge(samples.scenario(claims=tuple(claims)), samples.readings())
    first, second = caught.value.problems
    assert str(first).startswith('claim[1].quantity: there is no reading "antenna.powr_w". Nearest: antenna.power_w')
    assert second.field == "claim[3].quantity"


def test_no_claims_no_verdicts() -> None:
    assert judge(dataclasses.replace(samples.run()).scenario, samples.readings()) == ()
