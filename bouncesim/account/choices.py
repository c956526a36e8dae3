"""Answers to questions of choice, as everything downstream sees them: how high an SWR, which cable, one antenna on many bands."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bouncesim.account.s_units import DB_PER_UNIT


@dataclass(frozen=True)
class SwrLimit:
    """The highest SWR at the antenna for which a line's loss stays within a budget, at one frequency, whatever the antenna's phase.

    `highest` is 1 where only a matched antenna will do, nan where not even that will, infinite where every antenna of SWR 1000 or less
    will. `by_rule`: the handbook's, for a line of real impedance (exact.formulas.loss_with_swr_db). `in_the_shack`: the SWR at the line's
    other end then, least and most over the phases.
    """

    band: str
    frequency_hz: float
    matched_db: float
    highest: float
    by_rule: float
    in_the_shack: tuple[float, float]


@dataclass(frozen=True)
class CableLoss:
    """One type of line at one frequency with one antenna: its loss as it is used, least and most over what is left open (the phase of an
    SWR, or nothing)."""

    type: str
    band: str
    frequency_hz: float
    matched_db: float
    least_db: float
    most_db: float
    known: bool  # whether the type's loss is known at this frequency

    @property
    def share(self) -> float:
        """Of the power, what arrives at worst."""
        return float(10 ** (-self.most_db / 10))

    @property
    def s_units(self) -> float:
        """The loss at worst in S-units of 6 dB (IARU Region 1 R.1)."""
        return self.most_db / DB_PER_UNIT


@dataclass(frozen=True)
class OnBand:
    """One station on one frequency: where its power goes, what its parts bear (nan: nothing to tell), and what is to be said of it."""

    band: str
    frequency_hz: float
    line_type: str
    outcome: str  # "solved", or what stands in the way
    swr_antenna: float
    swr_shack: float
    seen_swr: float  # by the transmitter
    setting: str  # of the tuner, in words
    transmitter_w: float
    radiated_w: float
    antenna_heat_w: float
    line_heat_w: float
    tuner_heat_w: float
    other_heat_w: float
    line_v_peak: float
    line_a_peak: float
    coil_a_peak: float
    capacitor_v_peak: float
    verdict: tuple[str, ...] = ()  # what is above its rating, and what is lost; empty where all is well

    @property
    def is_solved(self) -> bool:
        return self.outcome == "solved"

    @property
    def radiated_share(self) -> float:
        """Of the power that leaves the transmitter; nan where nothing does."""
        return self.radiated_w / self.transmitter_w if self.is_solved and self.transmitter_w > 0 else math.nan

    @property
    def loss_db(self) -> float:
        """From the transmitter to what is radiated, dB."""
        return -10 * math.log10(self.radiated_share) if self.radiated_share > 0 else math.inf


def s_units_between(first_w: float, second_w: float) -> float:
    """By how many S-units the second power gives the stronger signal; negative if it gives the weaker one."""
    if not (first_w > 0 and second_w > 0):
        return math.nan
    return 10 * math.log10(second_w / first_w) / DB_PER_UNIT
