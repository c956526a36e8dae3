"""What a line loses behind an antenna of some SWR: how high that may be, and which line to take."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np

from bouncesim.account.choices import CableLoss, SwrLimit
from bouncesim.exact import formulas, phasor
from bouncesim.exact.phasor import Complex, PerMetre, Real
from bouncesim.scenario import Line
from bouncesim.scenario.catalogue import catalogue
from bouncesim.scenario.lines import DB_PER_NEPER

Budget = Literal["added", "total"]
Place = tuple[str, float]  # band ("" outside all of them), Hz

HIGHEST_SWR = 1000.0  # that is looked at
PHASES = np.linspace(0.0, 2 * np.pi, 180, endpoint=False)  # 2 degrees apart: the loss between two of them differs by less than 0.1 %
HALVINGS = 60


def used(line: Line, frequency_hz: float, load_ohm: Complex) -> tuple[Real, Real]:
    """Loss (dB) of a line as it is used, from the power into it to that into its load, and the SWR at its input; any shape."""
    k = line.constants(frequency_hz)
    constants = PerMetre(k.resistance, k.inductance, k.conductance, k.capacitance, k.series_branches, k.shunt_branches)
    chain = phasor.line(constants, line.length_m, frequency_hz)
    v, i = phasor.step_back(chain, load_ohm, 1.0)
    power, grown = (v * i.conj()).real, DB_PER_NEPER * float(chain.nepers)
    with np.errstate(divide="ignore", invalid="ignore"):
        loss = np.asarray(10 * np.log10(power / load_ohm.real) + grown)
        size = np.abs(formulas.reflection(v / i, k.impedance_ohm))
        return loss, np.where(size < 1, (1 + size) / (1 - size), np.inf)


def matched_db(line: Line, frequency_hz: float) -> float:
    """Loss of the line as a data sheet gives it, dB."""
    return line.constants(frequency_hz).loss_db_per_m(frequency_hz) * line.length_m


def around(line: Line, frequency_hz: float, swr: float) -> Complex:
    """Antennas of this SWR on the line, one a phase."""
    reflection = (swr - 1) / (swr + 1) * np.exp(1j * PHASES)
    return np.asarray(line.constants(frequency_hz).impedance_ohm * (1 + reflection) / (1 - reflection))


def swr_limits(line: Line, places: Sequence[Place], budget_db: float, of: Budget) -> tuple[SwrLimit, ...]:
    """The highest SWR at the antenna for which the line loses at most `budget_db`: in all, or on top of its matched loss ("added").

    Loss as operated depends on the antenna's phase too; the worst one counts. It rises with the SWR, so halving finds the limit.
    """
    return tuple(_limit(line, band, frequency, budget_db, of) for band, frequency in places)


def _limit(line: Line, band: str, frequency_hz: float, budget_db: float, of: Budget) -> SwrLimit:
    matched = matched_db(line, frequency_hz)
    allowed = budget_db + (matched if of == "added" else 0.0)

    def fits(swr: float) -> bool:
        return bool(used(line, frequency_hz, around(line, frequency_hz, swr))[0].max() <= allowed)

    highest = _highest(fits)
    shack = (math.nan, math.nan)
    if math.isfinite(highest):
        inputs = used(line, frequency_hz, around(line, frequency_hz, highest))[1]
        shack = float(inputs.min()), float(inputs.max())
    return SwrLimit(band, frequency_hz, matched, highest, _by_rule(matched, allowed), shack)


def _highest(fits: object) -> float:
    """The highest SWR that fits, up to HIGHEST_SWR; infinite if that does, nan if not even 1 does."""
    assert callable(fits)
    if fits(HIGHEST_SWR):
        return math.inf
    if not fits(1.0):
        return math.nan
    low, high = 0.0, math.log(HIGHEST_SWR)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(math.exp(middle)) else (low, middle)
    return math.exp(low)


def _by_rule(matched: float, allowed: float) -> float:
    """The same by the handbook: total = 10 log10((a^2 - r)/(a (1 - r))) with a = 10^(matched/10), solved for r = rho^2."""
    if allowed < matched:
        return math.nan
    a, t = 10 ** (matched / 10), 10 ** (allowed / 10)
    if a == 1:
        return math.inf
    rho = math.sqrt(max((a * t - a**2) / (a * t - 1), 0.0))
    return (1 + rho) / (1 - rho) if rho < 1 else math.inf


def cable_losses(
    types: Sequence[str], length_m: float, places: Sequence[Place], swr: float = 1.0, antenna_ohm: complex | None = None
) -> tuple[CableLoss, ...]:
    """What each type of the catalogue loses over this run at each place: with an antenna of this SWR on that line, whatever its phase, or
    with one and the same antenna. Type by type."""
    return tuple(_losses(types, length_m, places, swr, antenna_ohm))


def _losses(types: Sequence[str], length_m: float, places: Sequence[Place], swr: float, antenna_ohm: complex | None) -> Iterator[CableLoss]:
    for name in types:
        line, kind = Line(length_m=length_m, type=name), catalogue()[name]
        for band, frequency in places:
            loads = around(line, frequency, swr) if antenna_ohm is None else np.array([antenna_ohm], dtype=complex)
            loss = used(line, frequency, loads)[0]
            known = kind.valid_from_hz <= frequency <= kind.valid_to_hz
            yield CableLoss(name, band, frequency, matched_db(line, frequency), float(loss.min()), float(loss.max()), known)
