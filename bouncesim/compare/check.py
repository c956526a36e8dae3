"""The simulation against the closed form, reading by reading, with an error bar and an observed order.

Three grids, steps and cells doubled together so that every Courant number stays; then the error of a reading is a series in h^2. With x1,
x2, x3 from the coarsest to the finest grid,

    A2 = x2 + (x2 - x1)/3,   A3 = x3 + (x3 - x2)/3   (h^2 removed),      B = A3 + (A3 - A2)/15   (h^4 removed too)

(L. F. Richardson, Phil. Trans. R. Soc. A 210, 1911, from memory). The error bar is what the last stage moved, |B - A3|, and what settling
and rounding may add.

Any three numbers lie on such a series, so they cannot tell whether the error is one. It shows in the order: an error a h^2 + b h^4 (h = 1
on the finest grid) has the observed order 2 + log2((1 + 20 b/a)/(1 + 5 b/a)), near 2 unless h^2 happens to cancel in a reading. Where it is
something else, a fourth grid decides: what that is off the series, by h^6 or by a fault, is off B too, so many times, and has to be small
beside the error bar. If it is not, the reading is not proven, however well it agrees.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from bouncesim import budget, perform
from bouncesim.account.readings import Readings, swr_of
from bouncesim.account.verdict import Outcome, Verdict, VerdictRow
from bouncesim.budget import Work, together
from bouncesim.compare.transient import transient as compare_transient
from bouncesim.march.outcome import far_end
from bouncesim.march.simulation import Simulation, simulate_steady, steady_work
from bouncesim.scenario import Scenario
from bouncesim.scenario.wideband import fit_error

Progress = Callable[[int, int], None]
Number = TypeVar("Number", float, complex)

REFINEMENTS = (1, 2, 4)
STEADY_SHARE = 0.5  # of the time, about
FOURTH = 3  # the refinement that is added where an order is off
LEAST_ORDER, MOST_ORDER = 1.95, 2.05
OFF_SERIES = 0.25  # of the error bar: over a hundred stations and all lessons at most 0.04, of an error in h^3 0.7, in h 3
JUDGED_ABOVE = 1e-6  # of the largest wave: an order is read off only where there is an error to speak of
DB_OF_A_RATIO = 10 / math.log(10)
# The estimate of what settling leaves is honest within 6 (measured over hundreds of stations); powers feel it twice, and the extrapolation
# 64/45, 20/45 and 1/45 of it from the three grids.
SETTLING = 6 * 2 * (64 + 20 + 1) / 45
# Phasors compared over 1e4 periods of sums of some 1e6 steps of values known to 1e-16.
ROUNDING = 2e-11
BOUNDLESS = 1e8  # an SWR past this has lost all its digits: both sides must say so
NOTHING = 1e-9  # of the largest power: a line that passes on less has no loss in decibels to speak of
# Fields that no grid resolves further: given by the scenario, or made of a meter's two powers, which are judged, by its directivity.
GIVEN = ("reference_ohm", "matched_loss_db", "reflected_least_w", "reflected_most_w", "swr_least", "swr_most")
# Fields that have a bar of one cell and no order.
PLACES = ("largest_v_at_m", "largest_a_at_m")
# Between nodes a polynomial adds an error of its own, and makes more of theirs.
INTERPOLATED = ("largest_v_peak", "largest_a_peak")


def check(scenario: Scenario, *, transient: bool = False, progress: Progress | None = None) -> Verdict:
    """Simulate on three grids, extrapolate, compare with the closed form; with `transient`, also the start of the station with another
    way to it. Raises ScenarioError, TooMuchWork, NotSettled, Diverged."""
    resolved = perform.resolve(scenario)
    budget.check(check_work(resolved))
    share = STEADY_SHARE if transient else 1.0
    runs = [_refined(resolved, k, _scaled(progress, 0.0, share)) for k in range(len(REFINEMENTS))]
    exact = perform.solve_exact(resolved)
    verdict = judge(runs, exact)
    if verdict.of("not proven"):
        verdict = judge(runs, exact, simulate_steady(resolved, FOURTH))
    start = compare_transient(resolved, _scaled(progress, share, 1.0)) if transient else None
    return replace(verdict, fit_errors=_fit_errors(resolved), transient=start)


def check_work(scenario: Scenario) -> Work:
    """What the check of a resolved scenario takes, estimated: all of its grids, the fourth too. Raises ScenarioError."""
    return together(*(steady_work(scenario, refinement) for refinement in (*REFINEMENTS, FOURTH)))


def _scaled(progress: Progress | None, first: float, last: float) -> Progress | None:
    """A part of the whole progress."""
    if progress is None:
        return None
    return lambda done, total: progress(round(100 * (first + (last - first) * done / total)), 100)


def _fit_errors(scenario: Scenario) -> dict[str, float]:
    """Both engines take the fitted loss of a wideband line, so this error shows nowhere else."""
    errors = {line.name: fit_error(line.constants(scenario.transmitter.frequency_hz)) for line in scenario.all_lines}
    return {name: error for name, error in errors.items() if error > 0}


def _refined(scenario: Scenario, index: int, progress: Progress | None) -> Simulation:
    """One grid; its share of the work grows with steps times cells."""
    weights = [n * n for n in REFINEMENTS]
    before, total = sum(weights[:index]), sum(weights)

    def part(done: int, of: int) -> None:
        if progress:
            progress(round(100 * (before + weights[index] * done / of) / total), 100)

    return simulate_steady(scenario, REFINEMENTS[index], part)


def judge(runs: list[Simulation], exact: Readings, fourth: Simulation | None = None) -> Verdict:
    """The verdict on three runs, coarse to fine; `fourth` is one refined by `FOURTH`, for readings whose order is off."""
    every = [*runs, fourth] if fourth else runs
    flats = [run.outcome.readings().flatten() for run in every]
    expected = exact.flatten()
    scales = _scales(exact)
    settling = max(run.steady.estimate for run in every)
    rows = []
    for name, value in expected.items():
        field = name.split(".")[1]
        if field in GIVEN or not math.isfinite(scales[name]):
            continue
        x = [flat[name] for flat in flats]
        if field in PLACES:
            rows.append(_place(name, x, value, runs))
        elif "swr" in field:
            rows.append(_swr_row(name, every, value, scales[name], settling))
        else:
            rows.append(_row(name, x, value, scales[name], settling))
    orders = [row.order for row in rows if row.order is not None]
    return Verdict(
        rows=tuple(rows),
        points_per_period=tuple(sorted(run.points for run in every)),
        order=min(orders) if orders else None,
        ledger_residual=max(run.stepper.accumulated_residual() for run in every),
        transmitter_power_w=exact.transmitter.power_w,
    )


def _scales(exact: Readings) -> dict[str, float]:
    """What a relative error of the largest wave about amounts to in each reading; infinite where a reading has no digits.

    For powers that is the largest power, or voltage times current; for decibels the same in what the line passes on. Elsewhere the reading
    itself (for the parts of an impedance its size, for an SWR its slope against the reflection), as many times more as the largest wave
    exceeds the local.
    """
    flat = exact.flatten()
    powers = [abs(value) for name, value in flat.items() if name.endswith("_w") and math.isfinite(value)]
    largest = max(*powers, *(place.voltage_v_rms * place.current_a_rms for place in (exact.transmitter, exact.antenna)))
    local = _local_powers(exact)
    scales = {}
    for name, value in flat.items():
        part, field = name.split(".")[:2]
        times = math.sqrt(largest / local[part]) if local[part] > 0 else math.inf
        if name.endswith("_w"):
            scales[name] = largest if math.isfinite(value) else math.inf
        elif name.endswith((".real", ".imag")):
            scales[name] = abs(exact.transmitter.impedance_ohm) * times
        elif field == "loss_db":
            passed = flat[f"{part}.power_out_w"]
            scales[name] = DB_OF_A_RATIO * largest / passed if passed > NOTHING * largest else math.inf
        elif "swr" in field:
            scales[name] = (1 + min(value, BOUNDLESS) ** 2) / 2 * times
        else:
            scales[name] = abs(value) * times
    return scales


def _local_powers(exact: Readings) -> dict[str, float]:
    """The size of the waves at each part, as a power: what travels forward there, or voltage times current."""
    largest_line = max(line.forward_in_w for line in exact.lines)
    powers = {line.name: min(line.forward_in_w, line.forward_out_w) for line in exact.lines}
    powers |= {meter.name: meter.forward_w for meter in exact.meters}
    powers |= {part.name: max(abs(part.power_in_w), NOTHING * largest_line) for part in exact.networks}
    source, load = exact.ends
    powers[source] = exact.transmitter.voltage_v_rms * exact.transmitter.current_a_rms
    powers[load] = exact.antenna.voltage_v_rms * exact.antenna.current_a_rms
    return powers


def _row(name: str, x: list[float], exact: float, scale: float, settling: float) -> VerdictRow:
    a3, best = _extrapolate(x)
    bar = abs(best - a3) + scale * (SETTLING * settling + ROUNDING)
    if name.split(".")[1] in INTERPOLATED:
        bar *= 2
    order, is_series = _order(x, best, scale, bar)
    return VerdictRow(name, best, bar, exact, order, _outcome(abs(best - exact) <= bar, is_series))


def _swr_row(name: str, runs: list[Simulation], exact: float, scale: float, settling: float) -> VerdictRow:
    """By way of the complex reflection: its size alone is no series in h^2 where the grid's own reflection exceeds the true one."""
    x = [_reflection(run, name) for run in runs]
    a3, best = _extrapolate(x)
    swr = swr_of(abs(best))
    if max(exact, swr) > BOUNDLESS:
        return VerdictRow(name, swr, 0.0, exact, None, _outcome(min(exact, swr) > BOUNDLESS, True))
    slope = (1 + swr) ** 2 / 2  # d SWR/d rho
    bar = abs(best - a3) * slope + scale * (SETTLING * settling + ROUNDING)
    order, is_series = _order(x, best, scale / slope, bar / slope)
    return VerdictRow(name, swr, bar, exact, order, _outcome(abs(swr - exact) <= bar, is_series))


def _outcome(agrees: bool, is_series: bool) -> Outcome:
    return ("holds" if is_series else "not proven") if agrees else "fails"


def _reflection(run: Simulation, name: str) -> complex:
    """Reflected wave over forward wave at the gauge that an SWR is read from."""
    part, field = name.split(".")
    gauges = dict(zip(run.outcome.readings().ends, ("transmitter", "antenna"), strict=True))
    part = gauges.get(part, part)
    row = run.stepper.rows.gauges[far_end(part) if field == "swr_out" else part]
    forward, reflected = (complex(wave) for wave in run.steady.rows[row : row + 2])
    return reflected / forward if forward else complex(1.0)


def _extrapolate(x: list[Number]) -> tuple[Number, Number]:
    """A3 and B of three grids, coarse to fine."""
    a2, a3 = x[1] + (x[1] - x[0]) / 3, x[2] + (x[2] - x[1]) / 3
    return a3, a3 + (a3 - a2) / 15


def _order(x: list[Number], best: Number, scale: float, bar: float) -> tuple[float | None, bool]:
    """log2 of the ratio of successive changes, None where the error left on the finest grid is not worth judging; and whether the error is
    the series that the extrapolation takes for granted. Of a fourth grid's word for that there is no order."""
    first, second = x[1] - x[0], x[2] - x[1]
    if abs(x[2] - best) <= JUDGED_ABOVE * scale:
        return None, True
    approach = (first * second.conjugate()).real > 0
    order = math.log2(abs(first) / abs(second)) if approach else 0.0
    if LEAST_ORDER <= order <= MOST_ORDER:
        return order, True
    return (None, True) if len(x) > len(REFINEMENTS) and _off_series(x) <= OFF_SERIES * bar else (order, False)


def _off_series(x: list[Number]) -> float:
    """How far off B is, as the fourth grid sees it: by so much as an error in h^6 that moves that grid as far off the series."""
    *three, fourth = ((REFINEMENTS[-1] / refinement) ** 2 for refinement in (*REFINEMENTS, FOURTH))  # h^2
    series = x[0] * 0
    for k, at in enumerate(three):
        series += x[k] * math.prod((fourth - other) / (at - other) for other in three if other != at)
    return abs(x[3] - series) * abs(math.prod(three) / math.prod(fourth - at for at in three))


def _place(name: str, x: list[float], exact: float, runs: list[Simulation]) -> VerdictRow:
    """A place along a line, with a bar of one cell of the finest grid, and more on a nearly flat line.

    Along |V| = M + A cos(2 beta x) an error e of the grid moves the top by up to e/(2 beta A), until it may be anywhere. For e stands what
    the last refinement moved (three times what is left).
    """
    line, field = name.split(".")
    section = next(section for section in runs[-1].stepper.plan.sections if section.name == line)
    middle, finest = (_profile(run, line, field) for run in runs[-2:])
    swing, moved = float(np.ptp(finest)), float(np.abs(finest[:: len(finest) // (len(middle) - 1)] - middle).max())
    wavelength = section.length_m / section.cells * section.nu * runs[-1].points
    bar = section.length_m / section.cells + wavelength / (2 * math.pi) * (moved / swing if swing > moved else math.inf)
    bar = min(bar, section.length_m)
    return VerdictRow(name, x[2], bar, exact, None, _outcome(abs(x[2] - exact) <= bar, True))


def _profile(run: Simulation, line: str, field: str) -> NDArray[np.float64]:
    """|V| or |I| on every node of a line."""
    index = next(k for k, section in enumerate(run.stepper.plan.sections) if section.name == line)
    phasors = run.steady.voltage if field == "largest_v_at_m" else run.steady.current
    return np.asarray(np.abs(phasors[run.stepper.nodes_of(index)]))
