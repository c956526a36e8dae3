"""The simulated start of a station, from key-down on, against another way to the same answer.

Three such ways; the first that fits is taken:

- the lattice series, where the lines are without loss and both ends are resistances: sample by sample;
- numerical inversion of the Laplace transform, one arrival at a time, for one line of any loss between any lumped ends (where both apply,
  it agrees a hundred times better than the ladder);
- a long ladder of coils and capacitors stepped by another rule, for everything else: several lines, stubs, a very short line.

A single line is marched at Courant number 1, where a front stays sharp; several lines at the numbers that `check` uses, with a key soft
enough for the grid. Off the lattice two grids, one three times as fine as the other, extrapolate (their half steps coincide).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.verdict import Transient, TransientRow
from bouncesim.exact import drive
from bouncesim.exact.bounces import Bounces, Cascade
from bouncesim.march import grid
from bouncesim.march.simulation import gauges_of
from bouncesim.march.station import plan_station
from bouncesim.march.stepper import Stepper
from bouncesim.march.transmitter import Waveform, envelope
from bouncesim.scenario import Keying, Scenario
from bouncesim.scenario.model import Stub
from bouncesim.scenario.oneport import Lumped, OnePort

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

POINTS = 160  # steps a period of the coarse grid, at least
FINER = 3  # an odd number, so that each half step of the coarse grid is one of the fine grid too
SERIES_BAR = 1e-12  # rounding of some thousand steps
LAPLACE_BAR = 1e-6  # what h^4 leaves after one extrapolation
LADDER_BAR = 1e-5  # the same in the ladder too, where an edge of the key sees all frequencies
SERIES_ROUND_TRIPS, LAPLACE_ROUND_TRIPS, LADDER_ROUND_TRIPS = 8, 3, 2
MOST_PERIODS = 40
LAPLACE_PERIODS = 16  # the inversion takes longer the more turns of the carrier there are
SHORT = 0.08  # of a wavelength: on a shorter line so many arrivals pile up that the ladder is the better way
INSTANTS = 12  # of the inversion
GUARD = 2  # coarse steps beside a front that are left out
LONGEST_KEY, SOFT_KEY = 8.0, 2.0  # periods: a longer key is shortened to the second
WHOLE = 1e-9  # of a step: lines whose delays fit a grid this well count as whole numbers of cells
MOST_CELLS = 4000  # of a cascade, in search of such a grid
MOST_SAMPLES = 2e7  # of the series: nodes times steps, each with its voltage and current
MOST_MARCHED = 3e10  # cells times steps of a march: a minute or so
SERIES_KEYS = ("step", "linear", "raised-cosine")
RADAU_STEPS = 64  # a period, at least
LADDER_CELLS = (240, 480)  # a period


@dataclass(frozen=True)
class Grid:
    """Cells of every line, in the order of Scenario.all_lines, and the step."""

    cells: tuple[int, ...]
    dt: float


def transient(scenario: Scenario, progress: Progress | None = None) -> Transient:
    """Compare the start of a resolved station. Raises ScenarioError, Diverged."""
    scenario = scenario.driven()
    reason = _uncovered(scenario)
    if reason:
        return Transient(not_compared=reason)
    delay = sum(grid.delay_of(line, scenario.transmitter.frequency_hz) for line in scenario.all_lines) * scenario.transmitter.frequency_hz
    if (whole := _lattice_grid(scenario)) is not None:
        count = _span(_keyed(scenario, SERIES_KEYS)[0], SERIES_ROUND_TRIPS) / whole.dt
        return _by_series(scenario, whole) if count * sum(whole.cells) <= MOST_SAMPLES else _too_long(delay)
    single = len(scenario.all_lines) == 1 and not any(isinstance(part, Stub) for part in scenario.path)
    library, way, longest = ("mpmath", _by_laplace, 100) if single and delay > SHORT else ("scipy", _by_ladder, 25)
    if delay > longest:
        return _too_long(delay)
    points = FINER * grid.least_points(scenario.all_lines, scenario.transmitter.frequency_hz, POINTS)
    if points**2 * delay * max(LADDER_ROUND_TRIPS * 2 * delay, MOST_PERIODS) > MOST_MARCHED:
        return Transient(not_compared=f"a line is so short that a grid of {points:,} steps a period would be needed, which takes too long")
    if find_spec(library) is None:
        return Transient(not_compared=f"{library} is missing: install bouncesim[proof]")
    return way(scenario, progress or (lambda done, total: None))


def _too_long(delay: float) -> Transient:
    return Transient(not_compared=f"the lines are {delay:.0f} wavelengths long, and the other way would take too long, or too much memory")


def _uncovered(scenario: Scenario) -> str:
    """Why there is no other way to this station's transient; empty where there is."""
    if scenario.transmitter.is_controlled:
        return f"a {scenario.transmitter.behaviour} transmitter changes its drive as it goes, and the other ways are linear"
    if scenario.events:
        return "something happens to the station on the way, and the other ways know only one station"
    return ""


def _resistance(port: OnePort) -> float | None:
    """A one-port's resistance (ohm), if that is all it has."""
    if isinstance(port, Lumped):
        return port.value if port.kind == "resistor" else None
    parts = [_resistance(member) for member in port.members]
    if port.how == "parallel" or None in parts:
        return None
    return sum(part for part in parts if part is not None)


def _lattice_grid(scenario: Scenario) -> Grid | None:
    """A grid at Courant number 1 for a station that the lattice series knows; None for any other."""
    frequency = scenario.transmitter.frequency_hz
    if any(part.part not in ("meter", "line") for part in scenario.path):
        return None
    if _resistance(scenario.source_port) is None or _resistance(scenario.load_port) is None:
        return None
    constants = [line.constants(frequency) for line in scenario.lines]
    if any(c.resistance or c.conductance or c.series_branches or c.shunt_branches for c in constants):
        return None
    return _single_grid(scenario) if len(constants) == 1 else _whole_grid(scenario)


def _single_grid(scenario: Scenario) -> Grid:
    delay = grid.delay_of(scenario.lines[0], scenario.transmitter.frequency_hz)
    cells = max(math.ceil(POINTS * delay * scenario.transmitter.frequency_hz), 2)
    return Grid((cells,), delay / cells)


def _whole_grid(scenario: Scenario) -> Grid | None:
    """The coarsest grid, fine enough, on which every delay is a whole number of steps; None if there is none below MOST_CELLS."""
    frequency = scenario.transmitter.frequency_hz
    delays = np.array([grid.delay_of(line, frequency) for line in scenario.lines])
    for cells in range(max(math.ceil(POINTS * delays[0] * frequency), 1), MOST_CELLS):
        counts = delays / (delays[0] / cells)
        if np.abs(counts - np.round(counts)).max() < WHOLE and counts.min() > 0.5:
            return Grid(tuple(int(count) for count in np.round(counts)), float(delays[0] / cells))
    return None


def _keyed(scenario: Scenario, shapes: Sequence[str], shortest: float = 0.0) -> tuple[Scenario, str]:
    """The scenario under its own key if that has one of these shapes and suits, else under a soft one; and in words."""
    periods = scenario.keying.rise_s * scenario.transmitter.frequency_hz
    if scenario.keying.shape in shapes and shortest <= periods <= LONGEST_KEY:
        return scenario, f"its own key ({scenario.keying.shape})"
    soft = Keying(shape="raised-cosine", rise_s=SOFT_KEY / scenario.transmitter.frequency_hz)
    return scenario.model_copy(update={"keying": soft}), f"a raised-cosine key of {SOFT_KEY:.0f} periods in place of its own"


def _march(scenario: Scenario, on: Grid, steps: Sequence[int], refine: int = 1) -> Array:
    """V and I at both ends of every line, simulated: shape (lines, 4, steps), in the order V near, I near, V far, I far.

    steps: numbers n of coarse steps, rising, for the instants (n + 1/2) on.dt.
    """
    frequency, dt = scenario.transmitter.frequency_hz, on.dt / refine
    sections = []
    for line, cells in zip(scenario.all_lines, on.cells, strict=True):
        constants = line.constants(frequency)
        sections.append(grid.split(line, constants, cells * refine, cells * on.dt * constants.velocity / line.length_m))
    plan = plan_station(scenario, sections)
    peak, omega = scenario.emf_v_peak, scenario.omega
    emf = Waveform(lambda t: peak * envelope(scenario.keying, t) * np.sin(omega * t), dt)
    stepper = Stepper(plan, gauges_of(scenario, plan), dt, emf)
    found = np.empty((len(sections), 4, len(steps)))
    for k, n in enumerate(steps):
        stepper.advance(n * refine + refine // 2 + 1 - stepper.step)
        v, i = stepper.waves_now()
        for s in range(len(sections)):
            nodes = stepper.nodes_of(s)
            found[s, :, k] = v[nodes][0], i[nodes][0], v[nodes][-1], i[nodes][-1]
    return found


def _extrapolated(scenario: Scenario, on: Grid, steps: Sequence[int], progress: Progress, share: int) -> Array:
    """`_march` on two grids, h^2 removed; progress up to `share` of 100."""
    coarse = _march(scenario, on, steps)
    progress(share // (FINER**2 + 1), 100)
    fine = _march(scenario, on, steps, FINER)
    progress(share, 100)
    return np.asarray(fine + (fine - coarse) / (FINER**2 - 1))


def _rows(scenario: Scenario, marched: Array, other: dict[tuple[int, int], Array]) -> tuple[TransientRow, ...]:
    """other: (line, row of `_march`) -> the other answer, (steps,)."""
    rows = []
    for (s, q), values in other.items():
        line = scenario.all_lines[s]
        z0 = line.constants(scenario.transmitter.frequency_hz).impedance_ohm
        at = marched[s, q - q % 2 : q - q % 2 + 2]
        wave = max(float(np.abs(at[0]).max()), z0 * float(np.abs(at[1]).max()))
        scale = wave if q % 2 == 0 else wave / z0
        difference = float(np.abs(marched[s, q] - values).max()) / scale if scale > 0 else 0.0
        place = f"{line.name}, {'near' if q < 2 else 'far'} end"
        rows.append(TransientRow(place, ("voltage", "current")[q % 2], float(np.abs(marched[s, q]).max()), difference))
    return tuple(rows)


def _span(scenario: Scenario, round_trips: float, most_periods: float = MOST_PERIODS) -> float:
    """So many round trips of the whole path and the key's rise, as far as the periods go, but the first echo at least; or the first
    arrival, on a very long line."""
    frequency = scenario.transmitter.frequency_hz
    trip = 2 * sum(grid.delay_of(line, frequency) for line in scenario.all_lines)
    wanted = min(scenario.keying.rise_s + round_trips * trip, most_periods / frequency)
    return max(wanted, min(1.5 * trip, MOST_PERIODS / frequency), 0.6 * trip)


def _by_series(scenario: Scenario, on: Grid) -> Transient:
    scenario, key = _keyed(scenario, SERIES_KEYS)
    count = math.ceil(_span(scenario, SERIES_ROUND_TRIPS) / on.dt)
    source, load = _resistance(scenario.source_port) or 0.0, _resistance(scenario.load_port) or 0.0
    whole = drive.volts(scenario, on.dt * np.arange(count + 1))
    emf = drive.volts(scenario, on.dt * (np.arange(count) + 0.5)) if source else (whole[1:] + whole[:-1]) / 2
    constants = [line.constants(scenario.transmitter.frequency_hz) for line in scenario.lines]
    impedances = [c.impedance_ohm for c in constants]
    solved: tuple[tuple[Array, Array], ...]
    if len(constants) == 1:
        solved = (Bounces(impedances[0], on.cells[0] * on.dt, source, load).solve_samples(emf, on.cells[0]),)
    else:
        solved = Cascade(tuple(zip(impedances, on.cells, strict=True)), source, load).solve_samples(emf)
    other = {(s, q): wave[q % 2][:, 0 if q < 2 else -1] for s, wave in enumerate(solved) for q in range(4)}
    rows = _rows(scenario, _march(scenario, on, range(count)), other)
    method = "the lattice series, sample by sample at Courant number 1"
    return Transient(method, key, count * on.dt, count, SERIES_BAR, rows)


def _by_laplace(scenario: Scenario, progress: Progress) -> Transient:
    from bouncesim.exact import laplace

    scenario, key = _keyed(scenario, ("step", "raised-cosine"))
    on = _single_grid(scenario)
    span = _span(scenario, LAPLACE_ROUND_TRIPS, LAPLACE_PERIODS)
    steps = _clear_of_fronts(scenario, on, span)
    marched = _extrapolated(scenario, on, steps, progress, 20)
    solved = laplace.solve(scenario, [(n + 0.5) * on.dt for n in steps], lambda done: progress(20 + round(80 * done / len(steps)), 100))
    rows = _rows(scenario, marched, {(0, q): solved[q] for q in range(4)})
    method = "numerical inversion of the Laplace transform, one arrival at a time"
    return Transient(method, key, span, len(steps), LAPLACE_BAR, rows)


def _clear_of_fronts(scenario: Scenario, on: Grid, span: float) -> list[int]:
    """Steps spread over the span that are not beside a front: of the key's start, or of the end of its rise."""
    starts = {0.0, scenario.keying.rise_s / on.dt}
    found = []
    for n in np.linspace(0, span / on.dt - 1, INSTANTS + 1)[1:].astype(int):
        while any(abs((n + 0.5 - start + on.cells[0] / 2) % on.cells[0] - on.cells[0] / 2) < GUARD for start in starts):
            n += 1
        found.append(int(n))
    return found


def _by_ladder(scenario: Scenario, progress: Progress) -> Transient:
    from bouncesim.exact import ladder

    scenario, key = _keyed(scenario, ("raised-cosine",), shortest=SOFT_KEY)
    frequency = scenario.transmitter.frequency_hz
    points = grid.least_points(scenario.all_lines, frequency, POINTS)
    dt = 1 / (frequency * points)
    on = Grid(tuple(grid.cells_of(grid.delay_of(line, frequency), dt) for line in scenario.all_lines), dt)
    span = _span(scenario, LADDER_ROUND_TRIPS)
    # An odd number of half steps, so that every second instant of the ladder is the middle of a step.
    halves = (2 * points // RADAU_STEPS - 1) // 2 * 2 + 1
    count = math.floor(span / (halves * dt / 2))
    steps = [(halves * m - 1) // 2 for m in range(1, count + 1, 2)]
    marched = _extrapolated(scenario, on, steps, progress, 20)

    def half(first: int) -> Callable[[int], None]:
        return lambda done: progress(first + round(40 * done / count), 100)

    coarse, fine = (
        ladder.solve(scenario, 1 / (frequency * cells), halves * dt / 2, count, half(first))
        for cells, first in zip(LADDER_CELLS, (20, 60), strict=True)
    )
    other: dict[tuple[int, int], Array] = {}
    for s, line in enumerate(scenario.all_lines):
        both = fine[line.name] + (fine[line.name] - coarse[line.name]) / 3
        other |= {(s, 0): both[::2, 0], (s, 2): both[::2, 1]}
    rows = _rows(scenario, marched, other)
    return Transient("a long ladder of coils and capacitors, stepped apart", key, span, len(steps), LADDER_BAR, rows)
