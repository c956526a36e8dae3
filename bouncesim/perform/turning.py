"""A tuner's part turned through its range, one steady state after another, in closed form."""

from __future__ import annotations

import difflib

import numpy as np

from bouncesim.account.turning import Turning
from bouncesim.errors import OptionError
from bouncesim.exact.tuner_waves import TunerWaves, tuner_waves
from bouncesim.perform.ranges import resolve
from bouncesim.scenario import Line, Network, Scenario

SETTINGS = 481
TIMES = 4.0  # from this part of the value at which it is set, to so many times that
KINDS = {"inductor": "coil", "capacitor": "capacitor"}
UNITS = {"inductor": "H", "capacitor": "F"}


def turn(scenario: Scenario, part: str) -> Turning:
    """Turn `part` ("coil", "capacitor", "capacitor 2") of the first tuner that has a line behind it, all else left as it is set.

    Raises OptionError for a station without such a tuner or part, or whose drive depends on the tuning; ScenarioError for a tuner that
    cannot be set.
    """
    resolved = resolve(scenario).at_end()
    if resolved.direction == "receive" or resolved.transmitter.is_controlled:
        raise OptionError("Turning a tuner is shown with a transmitter that does not change its drive: choose a linear or an isolated one.")
    place, tuner = _tuner(resolved)
    names = part_names(tuner)
    if part not in names:
        near = difflib.get_close_matches(part, names, n=1, cutoff=0.5)
        hint = f" Did you mean {near[0]!r}?" if near else ""
        raise OptionError(f"The tuner has no part {part!r}.{hint} Its parts are {', '.join(names)}.")
    element = tuner.elements[names[part]]
    before = [line for line in resolved.path[:place] if isinstance(line, Line)]
    after = next(line for line in resolved.path[place:] if isinstance(line, Line))
    frequency = resolved.transmitter.frequency_hz
    r1 = before[-1].constants(frequency).impedance_ohm if before else resolved.transmitter.rated_load_ohm
    r2 = after.constants(frequency).impedance_ohm
    values = element.value * np.geomspace(1 / TIMES, TIMES, SETTINGS)
    found = [tuner_waves(_turned(resolved, place, tuner, names[part], float(value)), tuner.name, r1, r2) for value in values]
    waves = {name: np.array([getattr(one, name) for one in found]) for name in TunerWaves._fields}
    return Turning(resolved, part, UNITS[element.kind], values, element.value, r1, r2, **waves)


def part_names(tuner: Network) -> dict[str, int]:
    """What the coils and capacitors of a tuner are called, with their place among its elements; numbered where there are several."""
    found: dict[str, int] = {}
    for kind, name in KINDS.items():
        places = [i for i, element in enumerate(tuner.elements) if element.kind == kind]
        found |= {name if len(places) == 1 else f"{name} {n}": i for n, i in enumerate(places, 1)}
    return found


def _tuner(scenario: Scenario) -> tuple[int, Network]:
    for place, part in enumerate(scenario.path):
        if isinstance(part, Network) and part.is_tuner and any(isinstance(line, Line) for line in scenario.path[place:]):
            return place, part
    raise OptionError("This station has no tuner with a line behind it: there is nothing to turn.")


def _turned(scenario: Scenario, place: int, tuner: Network, at: int, value: float) -> Scenario:
    """The station with one element of its tuner at another value, and at the same Q."""
    old = tuner.elements[at]
    more = value / old.value if old.kind == "inductor" else old.value / value
    changed = old.model_copy(update={"value": value, "loss_ohm": old.loss_ohm * more})
    elements = (*tuner.elements[:at], changed, *tuner.elements[at + 1 :])
    path = (*scenario.path[:place], tuner.model_copy(update={"elements": elements}), *scenario.path[place + 1 :])
    return scenario.model_copy(update={"path": path})
