"""Statements about a station, judged: does each hold, and by how much?"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass

from bouncesim.account.readings import Readings
from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario import Claim, Scenario


@dataclass(frozen=True)
class ClaimVerdict:
    """One claim: what its quantity reads, and how far that lies from the nearest bound (negative: on the wrong side)."""

    claim: Claim
    value: float
    bound: float  # the bound that decides
    margin: float  # in the quantity's own unit

    @property
    def holds(self) -> bool:
        """True at the bound itself and on its good side; a reading without a value proves nothing."""
        return self.margin >= 0

    @property
    def by_how_much(self) -> str:
        """The verdict in words: "holds with 12 % to spare", "fails by 3.4 %", "holds: 0.4 % off, 1 % allowed"."""
        if math.isnan(self.margin):
            return "fails: the reading has no value"
        if math.isinf(self.margin):
            return "holds without limit" if self.holds else "fails without limit"
        if self.claim.about is not None:
            off, allowed = (_share(part, self.claim.about) for part in (self.value - self.claim.about, self.claim.within or 0.0))
            return f"{'holds' if self.holds else 'fails'}: {off} off, {allowed} allowed"
        share = _share(self.margin, self.bound)
        if not self.holds:
            return f"fails by {share}"
        return f"holds with {share} to spare" if self.margin else "holds with nothing to spare"


def _share(part: float, whole: float) -> str:
    """In per cent; of nothing, the part itself."""
    return f"{100 * abs(part / whole):.2g} %" if whole else f"{abs(part):.2g}"


def judge(scenario: Scenario, readings: Readings) -> tuple[ClaimVerdict, ...]:
    """Every claim of the scenario, judged by `readings`. Raises ScenarioError naming each claim about a reading that does not exist."""
    flat = readings.numbers()
    unknown = [
        Problem(f"claim[{n}].quantity", f'there is no reading "{claim.quantity}"', _nearest(claim.quantity, list(flat)))
        for n, claim in enumerate(scenario.claims, start=1)
        if claim.quantity not in flat
    ]
    if unknown:
        raise ScenarioError(unknown)
    return tuple(_judge_one(claim, flat[claim.quantity]) for claim in scenario.claims)


def _judge_one(claim: Claim, value: float) -> ClaimVerdict:
    margins = []  # (margin, bound)
    if claim.about is not None:
        within = claim.within or 0.0
        margins += [(value - (claim.about - within), claim.about - within), (claim.about + within - value, claim.about + within)]
    if claim.at_least is not None:
        margins.append((value - claim.at_least, claim.at_least))
    if claim.at_most is not None:
        margins.append((claim.at_most - value, claim.at_most))
    if not margins:
        raise ValueError("a claim needs a bound: at_least, at_most, or about with within")
    margin, bound = min(margins)
    return ClaimVerdict(claim, value, bound, margin)


def _nearest(quantity: str, known: list[str]) -> str:
    near = difflib.get_close_matches(quantity, known, n=3, cutoff=0.4)
    return "Nearest: " + ", ".join(near) if near else "Every reading has a path such as antenna.power_w or transmitter.swr"
