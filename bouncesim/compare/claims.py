"""Statements about a station, judged: does each hold, and by how much?

A reading comes with an error bar, and a bound that lies within it is too close to call. Without a tuner the readings depend on the source
impedance of the transmitter and on what it does about its load, which are rarely known: a claim is judged over all that it may be, and the
worst of that counts, unless the claim says source = "its own". So does the worst antenna, where less than its impedance is known.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from bouncesim.account.readings import Readings
from bouncesim.account.verdict import Verdict
from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario import Claim, Scenario

Numbers = Mapping[str, float]
ROUNDING = 1e-9  # of a reading: what is worse by less is no worse
Outcome = Literal["holds", "fails", "too close to call"]


@dataclass(frozen=True)
class ClaimVerdict:
    """One claim: what its quantity reads, and how far that lies from the nearest bound (negative: on the wrong side).

    `value` and `margin` are those of what is worst for the claim, of all that the station may be; `worst_with` names it, "" for the station
    as it is given.
    """

    claim: Claim
    value: float
    bound: float  # the bound that decides
    margin: float  # in the quantity's own unit
    error_bar: float = 0.0
    worst_with: str = ""

    @property
    def outcome(self) -> Outcome:
        """At the bound itself a claim holds, unless an error bar reaches across it; a reading without a value proves nothing."""
        if abs(self.margin) < self.error_bar or math.isinf(self.error_bar):
            return "too close to call"
        return "holds" if self.margin >= 0 else "fails"

    @property
    def holds(self) -> bool:
        """True where nothing is left to doubt."""
        return self.outcome == "holds"

    @property
    def by_how_much(self) -> str:
        """The verdict in words: "holds with 12 % to spare", "fails by 3.4 %", "holds: 0.4 % off, 1 % allowed"."""
        words = self._words()
        return f"{words} (with {self.worst_with})" if self.worst_with else words

    def _words(self) -> str:
        if math.isnan(self.margin):
            return "fails: the reading has no value"
        if math.isinf(self.error_bar):
            return "too close to call: the check does not prove this reading"
        if self.outcome == "too close to call":
            return f"too close to call: {abs(self.margin):.1g} from the bound, error bar {self.error_bar:.1g}"
        if math.isinf(self.margin):
            return f"{self.outcome} without limit"
        if self.claim.about is not None:
            off, allowed = (_share(part, self.claim.about) for part in (self.value - self.claim.about, self.claim.within or 0.0))
            return f"{self.outcome}: {off} off, {allowed} allowed"
        share = _share(self.margin, self.bound)
        if not self.holds:
            return f"fails by {share}"
        return f"holds with {share} to spare" if self.margin else "holds with nothing to spare"


def _share(part: float, whole: float) -> str:
    """In per cent; of nothing, the part itself."""
    if not whole:
        return f"{abs(part):.2g}"
    share = 100 * abs(part / whole)
    return f"{share:.2g} %" if share < 99.5 or share >= 1e5 else f"{share:.0f} %"


def judge(
    scenario: Scenario,
    readings: Readings,
    *,
    bars: Numbers | None = None,
    transmitters: Mapping[str, Readings] | None = None,
    antennas: Sequence[Readings] = (),
) -> tuple[ClaimVerdict, ...]:
    """Every claim of the scenario, judged by `readings` with the error bars `bars`, and over everything that the transmitter (by name) and
    the antenna may be. Raises ScenarioError naming each claim about a reading that does not exist.
    """
    return judge_numbers(scenario, readings.numbers(), bars or {}, *_others(transmitters, antennas))


def judge_checked(
    scenario: Scenario,
    verdict: Verdict,
    exact: Readings,
    *,
    transmitters: Mapping[str, Readings] | None = None,
    antennas: Sequence[Readings] = (),
) -> tuple[ClaimVerdict, ...]:
    """Every claim, judged by the extrapolated readings of a check and their error bars. What no grid resolves further is taken from the
    closed form, with no bar; a reading that does not hold proves nothing, as if its bar were infinite. Raises ScenarioError as `judge`."""
    values, bars = exact.numbers(), {}
    for row in verdict.rows:
        values[row.quantity], bars[row.quantity] = row.simulated, row.error_bar if row.holds else math.inf
    for name in [name for name in values if name.endswith("_share")]:
        part = name.removesuffix("_share") + "_w"
        whole = "antenna.power_w" if exact.direction == "receive" else "transmitter.power_w"
        if part in bars and whole in bars:
            values[name] = values[part] / values[whole]
            bars[name] = (bars[part] + abs(values[name]) * bars[whole]) / abs(values[whole])
    return judge_numbers(scenario, values, bars, *_others(transmitters, antennas))


def _others(transmitters: Mapping[str, Readings] | None, antennas: Sequence[Readings]) -> tuple[dict[str, Numbers], dict[str, Numbers]]:
    """What other transmitters, and other antennas that are as possible, would make of it."""
    return (
        {name: one.numbers() for name, one in (transmitters or {}).items()},
        {f"antenna {n} of {len(antennas)} that are possible": one.numbers() for n, one in enumerate(antennas, 1)},
    )


def judge_numbers(
    scenario: Scenario, own: Numbers, bars: Numbers, transmitters: Mapping[str, Numbers], antennas: Mapping[str, Numbers]
) -> tuple[ClaimVerdict, ...]:
    """Every claim, judged by numbers; those of other transmitters and antennas by their names."""
    unknown = [
        Problem(f"claim[{n}].quantity", f'there is no reading "{claim.quantity}"', _nearest(claim.quantity, list(own)))
        for n, claim in enumerate(scenario.claims, start=1)
        if claim.quantity not in own
    ]
    if unknown:
        raise ScenarioError(unknown)
    judged = []
    for claim in scenario.claims:
        bar = bars.get(claim.quantity, 0.0)
        worst = _judge_one(claim, own[claim.quantity], bar)
        others = {**transmitters, **antennas} if claim.source == "every" else antennas
        for name, numbers in others.items():
            other = _judge_one(claim, numbers[claim.quantity], bar, name)
            if math.isnan(other.margin) or other.margin < worst.margin - max(bar, ROUNDING * abs(worst.value)):
                worst = other
        judged.append(worst)
    return tuple(judged)


def _judge_one(claim: Claim, value: float, bar: float, worst_with: str = "") -> ClaimVerdict:
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
    return ClaimVerdict(claim, value, bound, margin, bar, worst_with)


def _nearest(quantity: str, known: list[str]) -> str:
    near = difflib.get_close_matches(quantity, known, n=3, cutoff=0.4)
    return "Nearest: " + ", ".join(near) if near else "Every reading has a path such as antenna.power_w or transmitter.swr"
