"""Tuners of a scenario set for its carrier, from the antenna to the transmitter.

Each tuner is set so that the nearest line in front of it sees its own impedance, sqrt(L/C); with no line in front, so that the transmitter
sees its rated load. Whatever stands between (meters, networks, transformers, stubs) is reckoned in: what the tuner itself presents is
then the impedance that these turn into the wanted one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.matching.choice import Option, best, options, reason_against, reason_for, shown, why_none
from bouncesim.exact.matching.l_sections import takes_power
from bouncesim.exact.parts import input_impedance, path_chains
from bouncesim.exact.solve import solve
from bouncesim.scenario import Element, Line, Network, Part, Scenario, Tuner
from bouncesim.scenario.model import flat_parts


@dataclass(frozen=True)
class Setting:
    """One setting of a tuner in its station, at full power. `chosen`: the tuner takes it. `why`: why it does, or why it does not."""

    elements: tuple[Element, ...]
    heat_w: float
    coil_a_peak: float
    capacitor_v_peak: float
    loaded_q: float  # reactive power in the coils, as a multiple of the power that enters
    chosen: bool
    why: str


@dataclass(frozen=True)
class TunerSettings:
    """One tuner: what it has to match, to what, and its settings, the chosen one first."""

    name: str
    shape: str
    load_ohm: complex
    target_ohm: complex
    settings: tuple[Setting, ...]


@dataclass(frozen=True)
class _Task:
    """One tuner on its way to a setting."""

    place: int
    tuner: Tuner
    target_ohm: complex
    load_ohm: complex


def set_tuner(scenario: Scenario) -> Scenario:
    """The scenario with every tuner set: each has become an explicit network of the same name.

    A scenario without a tuner comes back unchanged. ScenarioError if a tuner sees a load that takes no power, if what stands in front of it
    loses too much, or if none of its settings is within its ranges.
    """
    return _resolved(scenario)[0]


def settings(scenario: Scenario) -> tuple[TunerSettings, ...]:
    """What each tuner has to match, and every setting with what it costs at the scenario's power, in the order of the path.

    Of a pi or T: the one with the least heat and a few others, by loaded Q. ScenarioError as for `set_tuner`.
    """
    resolved, tasks = _resolved(scenario)
    frequency = scenario.transmitter.frequency_hz
    found = []
    for task in reversed(tasks):
        every = options(task.tuner, task.target_ohm, task.load_ohm, frequency)
        reason = reason_for(every[0], every[1:], task.tuner)
        judged = [(every[0], reason), *((option, reason_against(option, every[0])) for option in every[1:])]
        tried = tuple(_tried(resolved, task, option, why, option is every[0]) for option, why in judged)
        found.append(TunerSettings(task.tuner.name, task.tuner.shape, task.load_ohm, task.target_ohm, tried))
    return tuple(found)


def suggestions(scenario: Scenario, coil_q: float, capacitor_q: float) -> tuple[TunerSettings, ...]:
    """What an L, a pi and a T of parts with this Q would do right behind the transmitter. ScenarioError as for `set_tuner`."""
    name = "tuner"
    while any(part.name == name for part in flat_parts(scenario.path)):
        name = f"added {name}"
    shapes: tuple[Literal["L", "pi", "T"], ...] = ("L", "pi", "T")
    tuners = [Tuner(name=name, shape=shape, coil_q=coil_q, capacitor_q=capacitor_q) for shape in shapes]
    return tuple(settings(scenario.model_copy(update={"path": (tuner, *scenario.path)}))[0] for tuner in tuners)


def impedance_seen(scenario: Scenario) -> complex:
    """What the transmitter of a scenario without a tuner sees, ohm."""
    return input_impedance(path_chains(scenario.path, scenario.transmitter.frequency_hz), scenario.antenna.at_carrier_ohm)


def _resolved(scenario: Scenario) -> tuple[Scenario, list[_Task]]:
    """The scenario with its tuners set, and what each had to do, the one nearest the antenna first."""
    tasks = []
    for place in reversed(range(len(scenario.path))):
        tuner = scenario.path[place]
        if isinstance(tuner, Tuner):
            task = _Task(place, tuner, _target(scenario, place), _load(scenario, place))
            option = best(tuner, task.target_ohm, task.load_ohm, scenario.transmitter.frequency_hz) if takes_power(task.load_ohm) else None
            if option is None:
                raise _nothing(scenario, task)
            tasks.append(task)
            scenario = _with(scenario, task, option)
    return scenario, tasks


def _with(scenario: Scenario, task: _Task, option: Option) -> Scenario:
    network = Network(name=task.tuner.name, elements=option.elements, is_tuner=True)
    return scenario.model_copy(update={"path": (*scenario.path[: task.place], network, *scenario.path[task.place + 1 :])})


def _tried(resolved: Scenario, task: _Task, option: Option, why: str, chosen: bool) -> Setting:
    """A setting, with its readings in the station whose other tuners are as they were set."""
    readings = solve(_with(resolved, task, option))
    part = next(each for each in readings.networks if each.name == task.tuner.name)
    return Setting(option.elements, part.heat_w, part.coil_a_peak, part.capacitor_v_peak, option.loaded_q, chosen, why)


def _load(scenario: Scenario, place: int) -> complex:
    """Impedance at the antenna side of the part at `place`."""
    chains = path_chains(scenario.path[place + 1 :], scenario.transmitter.frequency_hz)
    return input_impedance(chains, scenario.antenna.at_carrier_ohm)


def _target(scenario: Scenario, place: int) -> complex:
    """What the tuner at `place` has to present at its transmitter side."""
    frequency = scenario.transmitter.frequency_hz
    between: list[Part] = []
    wanted: float = scenario.transmitter.rated_load_ohm
    seer = "the transmitter"
    for part in reversed(scenario.path[:place]):
        if isinstance(part, Line):
            wanted, seer = part.constants(frequency).impedance_ohm, part.name
            break
        if isinstance(part, Tuner):
            break
        between.insert(0, part)
    pair = np.array([wanted, 1.0], dtype=complex)
    for chain in path_chains(tuple(between), frequency):
        (a, b), (c, d) = chain.matrix
        pair = np.array([[d, -b], [-c, a]]) @ pair  # the inverse, as AD - BC = 1
    target = complex(pair[0] / pair[1]) if pair[1] else complex(np.inf)
    if not between or takes_power(target):
        return wanted if not between else target
    names = ", ".join(part.name for part in between)
    reason = f"nothing that the tuner could present makes {seer} see {wanted:.4g} ohm through {names}"
    raise ScenarioError(Problem(f"path[{place + 1}]", reason, "Move the tuner in front of it, or let it lose less"))


def _nothing(scenario: Scenario, task: _Task) -> ScenarioError:
    where = f"path[{task.place + 1}]"
    if takes_power(task.load_ohm):
        reason, remedy = why_none(task.tuner, task.target_ohm, task.load_ohm, scenario.transmitter.frequency_hz)
        return ScenarioError(Problem(where, f"the tuner sees {shown(task.load_ohm)}; {reason}", remedy))
    reason = f"no tuner matches {shown(task.load_ohm)}, which is what the tuner sees: next to no power can enter it"
    return ScenarioError(Problem(where, reason, "Give the antenna a resistance, or shorten the line"))
