"""The grid: steps a carrier period, cells a line.

A section of one-way delay tau gets N = floor(tau/dt) cells, so that nu = N dt/tau <= 1: impedance and delay stay exact, and no length is
rounded. What is left is the leapfrog's phase error, w tau (w dt)^2/24 (1/nu^2 - 1) a section (dispersion relation sin(w dt/2) = nu sin(k
dx/2), expanded; A. Taflove and S. Hagness, Computational Electrodynamics, ch. 2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from bouncesim.errors import Problem, ScenarioError
from bouncesim.march.line import Section
from bouncesim.scenario import Line, LineConstants

DEFAULT_POINTS = 200
STRETCH = 1.25
MOST_POINTS = 20_000  # finer than this a run takes minutes to hours: refuse, and say which line is too short
ROUNDING = 1e-12  # a delay of a whole number of steps must not lose a cell to rounding


def cells_of(delay_s: float, dt: float) -> int:
    """Whole cells that fit into the delay at Courant number <= 1."""
    return math.floor(delay_s / dt * (1 + ROUNDING))


def delay_of(line: Line, frequency_hz: float) -> float:
    """One-way delay length sqrt(L C), s."""
    return line.length_m / line.constants(frequency_hz).velocity


def least_points(lines: Sequence[Line], frequency_hz: float, points: int) -> int:
    """Steps a period that give every line at least one cell, at least `points`. Raises ScenarioError where that is past all measure."""
    for number, line in enumerate(lines, start=1):
        needed = math.ceil(1 / (frequency_hz * delay_of(line, frequency_hz)) * (1 - ROUNDING))
        if needed > MOST_POINTS:
            raise ScenarioError(
                Problem(
                    f"line {number} ({line.name!r})",
                    f"it is so short that the run would need {needed:,} steps a carrier period",
                    f"Leave it out, or make it longer than 1/{MOST_POINTS:,} wavelength.",
                )
            )
        points = max(points, needed)
    return points


def phase_error(delays_s: Sequence[float], frequency_hz: float, points: int) -> float:
    """Sum of the phase errors at the carrier of sections of these delays, rad."""
    dt = 1 / (frequency_hz * points)
    total = 0.0
    for delay in delays_s:
        nu = cells_of(delay, dt) * dt / delay
        total += 2 * math.pi * frequency_hz * delay * (2 * math.pi / points) ** 2 / 24 * abs(1 / nu**2 - 1)
    return total


def best_points(lines: Sequence[Line], frequency_hz: float, points: int = DEFAULT_POINTS) -> int:
    """The steps a period in [points, 1.25 points] with the smallest phase error (runs only: refinement needs a fixed nu)."""
    least = least_points(lines, frequency_hz, points)
    delays = [delay_of(line, frequency_hz) for line in lines]
    choice = range(least, min(int(STRETCH * least), MOST_POINTS) + 1)
    return min(choice, key=lambda p: phase_error(delays, frequency_hz, p))


def section(line: Line, frequency_hz: float, points: int, refine: int = 1) -> Section:
    """The line on a grid of points * refine steps a period, with refine times the cells that `points` gives it (nu stays)."""
    constants = line.constants(frequency_hz)
    dt = 1 / (frequency_hz * points)
    delay = line.length_m / constants.velocity
    cells = cells_of(delay, dt)
    return split(line, constants, cells * refine, cells * dt / delay)


def split(line: Line, constants: LineConstants, cells: int, nu: float) -> Section:
    """The line in so many cells, for steps of dt = nu delay/cells."""
    share = line.length_m / cells
    return Section(
        line.name,
        cells,
        constants.resistance * share,
        constants.inductance * share,
        constants.conductance * share,
        constants.capacitance * share,
        line.length_m,
        line.length_m / constants.velocity,
        nu,
        tuple((r * share, l * share) for r, l in constants.series_branches),
        tuple((g * share, c * share) for g, c in constants.shunt_branches),
    )
