"""One station of a survey from key-down to rest: how long it takes, and what its lines and tuner bear meanwhile."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim.errors import Diverged, NotSettled, ScenarioError
from bouncesim.march import grid
from bouncesim.march import simulation as march
from bouncesim.march.loop import BARE, LARGEST, LOCK_IN, UNREAD
from bouncesim.march.outcome import Outcome
from bouncesim.march.places import CAPACITOR, COIL
from bouncesim.march.settling import settle
from bouncesim.march.stepper import Stepper, Taper
from bouncesim.perform.record import SETTLED
from bouncesim.scenario import Element, Line, Network, Scenario, Tuner
from bouncesim.survey.path import DIVERGED, NOT_SETTLED, SOLVED, TOO_SHORT
from bouncesim.survey.tuners import MOST_PARTS, NAMES

Floats = NDArray[np.float64]

COARSE, SLOW = 60, 1000  # steps a period of a key that takes so many periods: nothing sharp is left in it
FINENESS = 20  # powers are booked in pieces of a period, and later of a twentieth of the time since key-down
TOLERANCE = 1e-5  # of the steady state; settling is told to 1 %
OUTCOME = "key_outcome"
_ENDS = ("transmitter", "antenna")


def columns(scenario: Scenario) -> list[str]:
    """Names of what `start` finds: powers and largest values from key-down on, and how far these go above the steady state (a share)."""
    found = [OUTCOME, "settled_s", "settled_to_s", "settled_round_trips", "periods", "worst_step", "accumulated"]
    for part in scenario.path:
        quantities = ("v", "a") if isinstance(part, Line) else ("coil_a", "capacitor_v") if isinstance(part, Network | Tuner) else ()
        for quantity in quantities:
            found += [f"{part.name}.key_{quantity}_peak", f"{part.name}.key_{quantity}_above"]
    return found


def with_tuner(scenario: Scenario, readings: Mapping[str, float]) -> Scenario:
    """A station whose tuners are set as the survey found them: `readings` holds NAME.part_1, NAME.part_1_value and so on."""
    path = []
    for part in scenario.path:
        if isinstance(part, Tuner):
            part = Network(name=part.name, elements=tuple(_elements(part, scenario, readings)), is_tuner=True)
        path.append(part)
    return scenario.model_copy(update={"path": tuple(path)})


def _elements(tuner: Tuner, scenario: Scenario, readings: Mapping[str, float]) -> list[Element]:
    found = []
    for k in range(1, MOST_PARTS + 1):
        name = NAMES[int(readings[f"{tuner.name}.part_{k}"])]
        if name:
            position, kind = name.split()
            value = readings[f"{tuner.name}.part_{k}_value"]
            quality = tuner.coil_q if kind == "inductor" else tuner.capacitor_q
            reactance = scenario.omega * value if kind == "inductor" else 1 / (scenario.omega * value)
            fields: dict[str, Any] = {
                "position": position,
                "kind": kind,
                "value": value,
                "loss_ohm": reactance / quality if quality else 0.0,
            }
            found.append(Element(**fields))
    return found


def start(scenario: Scenario, readings: Mapping[str, float]) -> dict[str, float]:
    """Start one station that is resolved; `readings`: its steady state in closed form, by the names of the survey's columns."""
    found = dict.fromkeys(columns(scenario), math.nan)
    try:
        found |= _run(scenario, readings) | {OUTCOME: SOLVED}
    except NotSettled:
        found[OUTCOME] = NOT_SETTLED
    except Diverged:
        found[OUTCOME] = DIVERGED
    except ScenarioError:  # a line of less than a step
        found[OUTCOME] = TOO_SHORT
    return found


def steps_a_period(scenario: Scenario) -> int:
    """Of the grid: the usual ones, or fewer under a slow key."""
    frequency = scenario.transmitter.frequency_hz
    usual = COARSE if scenario.keying.rise_s * frequency > SLOW else grid.DEFAULT_POINTS
    return grid.best_points(scenario.all_lines, frequency, usual)


def _run(scenario: Scenario, readings: Mapping[str, float]) -> dict[str, float]:
    frequency, points = scenario.transmitter.frequency_hz, steps_a_period(scenario)
    stepper = march.build(scenario, points, controlled=True)
    watch = _Watch(stepper, points, scenario.keying.rise_s * frequency > SLOW)
    begin = march.earliest(scenario, stepper)
    watch.advance(math.ceil(begin / stepper.dt) - stepper.step, BARE, None)
    steady = settle(stepper, points, begin, TOLERANCE, watch.advance)
    settled, to = watch.settled(Outcome(scenario, stepper, steady))
    round_trip = 2 * sum(grid.delay_of(line, frequency) for line in scenario.lines)
    found = {"settled_s": settled, "settled_to_s": to, "settled_round_trips": settled / round_trip, "periods": float(steady.periods)}
    found |= {"worst_step": stepper.worst_residual, "accumulated": stepper.accumulated_residual()}
    for s, section in enumerate(stepper.plan.sections):
        if any(line.name == section.name for line in scenario.lines):
            for row, letter in enumerate("va"):
                found[f"{section.name}.key_{letter}_peak"] = float(stepper.largest[row, stepper.nodes_of(s)].max())
    for place, (largest, _) in zip(stepper.places, stepper.peaks, strict=True):
        quantity = {COIL: "coil_a", CAPACITOR: "capacitor_v"}.get(place.quantity)
        name = f"{place.name}.key_{quantity}_peak"
        if quantity and any(part.name == place.name and isinstance(part, Network) for part in scenario.path):
            found[name] = max(float(largest), found.get(name, 0.0))
    for name in [name for name in found if name.endswith("_peak")]:
        part, quantity = name.removesuffix("_peak").split(".key_")
        still = readings[f"{part}.largest_{quantity}_peak" if len(quantity) == 1 else f"{part}.{quantity}_peak"]
        found[f"{part}.key_{quantity}_above"] = found[name] / still - 1 if still > 0 else math.nan
    return found


class _Watch:
    """Advances a stepper, keeps the largest values, and books forward and reflected energy piece by piece, in whole carrier periods. Under
    a slow key the largest values are watched in the last period of each piece: they grow with the key."""

    def __init__(self, stepper: Stepper, points: int, is_slow: bool) -> None:
        self.stepper, self.points, self.is_slow = stepper, points, is_slow
        self.ends = [points]

    def advance(self, steps: int, mode: int, taper: Taper | None) -> None:
        """See march.settling.settle."""
        last, mode = self.stepper.step + steps, mode & ~UNREAD
        while self.ends[-1] < last:
            self.ends.append(self.ends[-1] + self.points * max(self.ends[-1] // (FINENESS * self.points), 1))
        if not self.is_slow or mode & LOCK_IN:
            ends = [end for end in self.ends if self.stepper.step < end < last]
            self.stepper.advance(steps, mode | LARGEST, taper, ends)
            return
        for end in [end for end in self.ends if end > self.stepper.step]:
            for until, watched in ((end - self.points, BARE), (end, LARGEST)):
                if (count := min(until, last) - self.stepper.step) > 0:
                    self.stepper.advance(count, mode | watched)

    def settled(self, outcome: Outcome) -> tuple[float, float]:
        """From when on all powers stay within 1 % of the largest final one, s; and how finely that is known, s."""
        rows = [self.stepper.rows.gauges[name] + wave for name in _ENDS for wave in (0, 1)]
        ends = set(self.ends)
        at_ends = [k for k, step in enumerate(self.stepper.row_ends) if step in ends]
        energies = np.cumsum(np.array(self.stepper.row_j)[:, rows], axis=0)[at_ends]
        times = np.array(self.stepper.row_ends)[at_ends] * self.stepper.dt
        powers = np.diff(energies, axis=0, prepend=0) / np.diff(times, prepend=0)[:, None]
        finals = np.array([power for name in _ENDS for power in outcome.powers(name)])
        late = np.flatnonzero(np.abs(powers - finals).max(axis=1) > SETTLED * finals.max())
        at = min(int(late[-1]) + 1, len(times) - 1) if late.size else 0
        return float(times[at]), float(times[at] - (times[at - 1] if at else 0))
