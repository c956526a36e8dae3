"""A station started under several keys: a step, a short key, a real one, and its own.

Under a step everything is in the front, and only at Courant number 1 does a front stay sharp. So there the steps a period are chosen such
that every line's delay is nearly a whole number of them, and what is missing is trimmed off the line, or added: a few thousandths of a
degree for one line. A slow key has no front; it is followed on a coarse grid, which is no worse for it, and quick.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bouncesim import budget
from bouncesim.account.run import Stress
from bouncesim.account.startup import UP, KeyStart, SeenByTransmitter, StartUp
from bouncesim.budget import Work
from bouncesim.errors import BouncesimError
from bouncesim.march import grid
from bouncesim.march import simulation as march
from bouncesim.march.loop import BARE, LARGEST, LOCK_IN, UNREAD
from bouncesim.march.outcome import Outcome
from bouncesim.march.settling import settle
from bouncesim.march.stepper import Stepper, Taper
from bouncesim.perform import record, resolve
from bouncesim.quantity import show
from bouncesim.scenario import Keying, Line, Part, Scenario

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]

SHORT_KEY_S, REAL_KEY_S = 1e-6, 5e-3
FINE, FINEST = 200, 400  # steps a period of a step's grid
COARSE = 60  # of a key that takes SLOW periods: what lumped parts are off by is (pi/60)^2/3, 0.1 %
SLOW = 1000
TRIMMED = 2e-3  # wavelengths that a line may be trimmed by (0.7 degrees) for its fronts to be exact
LOOKS = 8  # a carrier period, at the largest values on the lines
PIECES = 1500  # of a slow key: readings are taken that often, and the largest values watched in a period of each piece
TOLERANCE = 1e-5
LONG_S, LONG_TIMES = 30.0, 4.0  # a key that takes longer, and so many times as long as the station's own, is left out


@dataclass(frozen=True)
class StepGrid:
    scenario: Scenario
    points: int
    is_exact: bool
    trimmed: float


class _Watch:
    """Advances a stepper, keeps the largest values, and books forward and reflected energy piece by piece, in whole carrier periods."""

    def __init__(self, stepper: Stepper, points: int, periods: int) -> None:
        self.stepper, self.points, self.periods = stepper, points, periods
        self.look = max(points // LOOKS, 1) if periods == 1 else points
        self.times = [0.0]
        self.energies: list[dict[str, tuple[float, float]]] = [dict.fromkeys(("transmitter", "antenna"), (0.0, 0.0))]
        self.booked = 0
        self.tops = [[(0.0, 0.0), (0.0, 0.0)] for _ in stepper.plan.sections]  # of every line, largest voltage and current, and when

    def advance(self, steps: int, mode: int, taper: Taper | None) -> None:
        """See settling.settle."""
        done, piece = 0, self.points * self.periods
        while done < steps:
            since = self.stepper.step % piece
            unwatched = max(piece - self.points, 0) if self.periods > 1 and not mode & LOCK_IN else 0
            watched = since >= unwatched
            until = min(piece, since + self.look - since % self.look) if watched else unwatched
            count = min(until - since, steps - done)
            part = tuple(weights[done : done + count] for weights in taper) if taper is not None else None
            self.stepper.advance(count, mode & ~UNREAD | (LARGEST if watched else BARE), part)
            done += count
            if watched:
                self._look()
            if self.stepper.step % self.points == 0:
                self._book()

    def _look(self) -> None:
        """Note when a line's largest value grew."""
        for s, tops in enumerate(self.tops):
            most = self.stepper.largest[:, self.stepper.nodes_of(s)].max(axis=1)
            for row, value in enumerate(most):
                if value > tops[row][0] * (1 + record.AS_LARGE):
                    tops[row] = (float(value), self.stepper.time_s)

    def _book(self) -> None:
        rows = self.stepper.rows.gauges
        new = np.sum(self.stepper.row_j[self.booked :], axis=0)
        self.booked = len(self.stepper.row_j)
        before = self.energies[-1]
        self.energies.append(
            {name: (before[name][0] + float(new[rows[name]]), before[name][1] + float(new[rows[name] + 1])) for name in before}
        )
        self.times.append(self.stepper.step * self.stepper.dt)

    def powers(self, name: str) -> tuple[Floats, Floats]:
        """Forward and reflected, means between one booking and the next, W."""
        energies = np.array([one[name] for one in self.energies])
        mean = np.diff(energies, axis=0) / np.diff(self.times)[:, None]
        return mean[:, 0], mean[:, 1]


def start_up(scenario: Scenario, progress: Progress | None = None) -> StartUp:
    """Start a station under each key, without its events. Raises ScenarioError, TooMuchWork, NotSettled, Diverged,
    and BouncesimError for a station that receives or sends a pulse: it has no key to start under."""
    if scenario.direction == "receive" or scenario.keying.shape == "pulse":
        raise BouncesimError("A station that receives, or sends a pulse, does not start up under a key.")
    resolved = resolve(scenario).model_copy(update={"events": ()})
    keys, left_out, works = _taken(resolved)
    budget.check(*works)
    told = progress or (lambda done, total: None)
    weights = [1.0 if keying.rise_s < REAL_KEY_S else 3.0 for _, keying in keys]
    found = []
    for k, (words, keying) in enumerate(keys):
        begin, whole = sum(weights[:k]), sum(weights)

        def tick(done: int, total: int, begin: float = begin, weight: float = weights[k], whole: float = whole) -> None:
            told(round(1000 * (begin + weight * done / total) / whole), 1000)

        found.append(start_under(resolved.model_copy(update={"keying": keying}), words, tick))
    frequency = resolved.transmitter.frequency_hz
    return StartUp(tuple(found), 2 * sum(grid.delay_of(line, frequency) for line in resolved.lines), left_out)


def _keys(scenario: Scenario) -> Iterator[tuple[str, Keying]]:
    """A step, 1 us, 5 ms, and the scenario's own if it is another."""
    own = scenario.keying
    yield "step", Keying(shape="step")
    for rise in (SHORT_KEY_S, REAL_KEY_S):
        yield show(rise, "s"), Keying(shape="raised-cosine", rise_s=rise)
    if own.shape == "linear":
        yield f"its own, linear {show(own.rise_s, 's')}", Keying(shape="linear", rise_s=own.rise_s)
    elif own.shape != "step" and own.rise_s not in (SHORT_KEY_S, REAL_KEY_S):
        yield f"its own, {show(own.rise_s, 's')}", Keying(shape="raised-cosine", rise_s=own.rise_s)


def sharp_grid(scenario: Scenario) -> StepGrid:
    """The grid with all lines at Courant number 1 for which they are trimmed least."""
    frequency, lines = scenario.transmitter.frequency_hz, scenario.all_lines
    turns = np.array([grid.delay_of(line, frequency) * frequency for line in lines])
    least = grid.least_points(lines, frequency, FINE)
    points = np.arange(least, max(int(grid.STRETCH * least), FINEST) + 1)
    steps = points[:, None] * turns[None, :]
    trims = np.abs(np.maximum(np.rint(steps), 1) - steps).max(axis=1) / points
    best = int(np.argmin(trims))
    trimmed = float(trims[best])
    if trimmed > TRIMMED:
        return StepGrid(scenario, grid.best_points(lines, frequency, FINE), False, 0.0)
    cells = np.maximum(np.rint(steps[best]), 1)
    factors = {line.name: float(cell / step) for line, cell, step in zip(lines, cells, steps[best], strict=True)}
    return StepGrid(_stretched(scenario, factors), int(points[best]), True, trimmed)


def _stretched(scenario: Scenario, factors: dict[str, float]) -> Scenario:
    """The same station with each line's length times its factor."""

    def changed(path: tuple[Part, ...]) -> tuple[Part, ...]:
        made: list[Part] = []
        for part in path:
            if isinstance(part, Line):
                part = part.model_copy(update={"length_m": part.length_m * factors[part.name]})
            elif part.part == "stub":
                part = part.model_copy(update={"path": changed(part.path)})
            made.append(part)
        return tuple(made)

    return scenario.model_copy(update={"path": changed(scenario.path)})


def _grid_for(scenario: Scenario) -> StepGrid:
    """Sharp for a step; else the usual one, or a coarse one for a slow key."""
    frequency, keying = scenario.transmitter.frequency_hz, scenario.keying
    if keying.shape == "step":
        return sharp_grid(scenario)
    points = COARSE if keying.rise_s * frequency > SLOW else grid.DEFAULT_POINTS
    return StepGrid(scenario, grid.best_points(scenario.all_lines, frequency, points), False, 0.0)


def start_up_work(scenario: Scenario) -> tuple[Work, ...]:
    """What `start_up` takes, key by key, estimated; nothing for a station that does not start up under a key. Raises ScenarioError."""
    if scenario.direction == "receive" or scenario.keying.shape == "pulse":
        return ()
    return _taken(resolve(scenario).model_copy(update={"events": ()}))[2]


def _taken(resolved: Scenario) -> tuple[list[tuple[str, Keying]], tuple[str, ...], tuple[Work, ...]]:
    """The keys that are taken, the names of those that would take too long, and the work of the first. A step is always taken."""
    works = {words: _key_work(resolved.model_copy(update={"keying": keying})) for words, keying in _keys(resolved)}
    most = max(LONG_S, LONG_TIMES * _key_work(resolved).seconds)
    keys = [(words, keying) for words, keying in _keys(resolved) if keying.shape == "step" or works[words].seconds <= most]
    taken = [words for words, _ in keys]
    return keys, tuple(words for words in works if words not in taken), tuple(works[words] for words in taken)


def _key_work(scenario: Scenario) -> Work:
    """What one key takes, estimated."""
    held = _grid_for(scenario)
    return march.rest_work(held.scenario, held.points)


def start_under(scenario: Scenario, words: str, progress: Progress) -> KeyStart:
    """Run one key until all is at rest: that of a resolved scenario without events. Raises ScenarioError, NotSettled, Diverged."""
    held = _grid_for(scenario)
    scenario, points = held.scenario, held.points
    stepper = march.build(scenario, points, controlled=True)
    frequency = scenario.transmitter.frequency_hz
    watch = _Watch(stepper, points, max(int(scenario.keying.rise_s * frequency / PIECES), 1))
    begin = march.earliest(scenario, stepper)
    rising = math.ceil(begin / stepper.dt)
    for part in range(20):
        watch.advance(rising * (part + 1) // 20 - stepper.step, BARE, None)
        progress(part, 22)
    steady = settle(stepper, points, begin, TOLERANCE, watch.advance)
    outcome = Outcome(scenario, stepper, steady)
    settled = _settled_at(watch, outcome)
    round_trip = 2 * sum(grid.delay_of(line, frequency) for line in scenario.lines)
    progress(1, 1)
    return KeyStart(
        words,
        scenario.keying.rise_s,
        settled,
        settled / round_trip,
        tuple(_stresses(watch, outcome, points)),
        _seen(watch, outcome),
        points,
        held.is_exact,
        held.trimmed,
    )


def _settled_at(watch: _Watch, outcome: Outcome) -> float:
    """From when on all powers stay within 1 % of the largest final one."""
    off, largest = np.zeros(len(watch.times) - 1), 0.0
    for name in ("transmitter", "antenna"):
        for values, final in zip(watch.powers(name), outcome.powers(name), strict=True):
            off, largest = np.maximum(off, np.abs(values - final)), max(largest, final)
    late = np.flatnonzero(off > record.SETTLED * largest)
    return watch.times[min(int(late[-1]) + 2, len(watch.times) - 1)] if late.size else watch.times[1]


def _seen(watch: _Watch, outcome: Outcome) -> SeenByTransmitter:
    """What a meter at the transmitter's terminals would show, if it could follow."""
    forward, reflected = watch.powers("transmitter")
    last_forward, last_reflected = outcome.powers("transmitter")
    up = forward > UP * last_forward
    ratio = np.sqrt(np.divide(reflected, forward, out=np.zeros_like(forward), where=up))
    size, still = np.minimum(ratio[up], 1.0), math.sqrt(last_reflected / last_forward) if last_forward > 0 else 0.0
    most = int(np.argmax(reflected))
    at = most if reflected[most] > last_reflected * (1 + 1e-6) else len(reflected) - 1
    return SeenByTransmitter(
        reflected_w=float(reflected[at]),
        at_s=watch.times[at + 1],
        share=float(size.max() ** 2),
        swr_least=_swr(float(size.min())),
        swr_most=_swr(float(size.max())),
        steady_reflected_w=last_reflected,
        steady_swr=_swr(min(still, 1.0)),
    )


def _swr(size: float) -> float:
    return (1 + size) / (1 - size) if size < 1 else math.inf


def _stresses(watch: _Watch, outcome: Outcome, points: int) -> Iterator[Stress]:
    """Along every line of the path, then at both ends and in the parts."""
    readings = {line.name: line for line in outcome.readings().lines}
    names = [line.name for line in outcome.scenario.lines]
    for s, section in enumerate(watch.stepper.plan.sections):
        if section.name not in names:
            continue
        line = readings[section.name]
        for row, quantity, steady in ((0, "voltage", line.largest_v_peak), (1, "current", line.largest_a_peak)):
            most = watch.stepper.largest[row, watch.stepper.nodes_of(s)]
            at = int(np.argmax(most))
            yield Stress(section.name, quantity, float(most[at]), at / section.cells * section.length_m, watch.tops[s][row][1], steady)
    yield from record.place_stresses(march.Simulation(watch.stepper, outcome.steady, outcome, None, points))
