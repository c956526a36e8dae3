"""Tuners of a scenario set for its carrier, from the antenna to the transmitter.

Each tuner is set so that the nearest line in front of it sees its own impedance, sqrt(L/C); with no line in front, so that the transmitter
sees its rated load. Whatever stands between (meters, networks, transformers, stubs) is reckoned in: what the tuner itself presents is
then the impedance that these turn into the wanted one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.matching.choice import best, shown, why_none
from bouncesim.exact.matching.l_sections import takes_power
from bouncesim.exact.parts import input_impedance, path_chains
from bouncesim.scenario import Line, Network, Part, Scenario, Tuner


@dataclass(frozen=True)
class Task:
    """One tuner on its way to a setting: its place in the path, what it is to present, and what it sees."""

    place: int
    tuner: Tuner
    target_ohm: complex
    load_ohm: complex


def set_tuner(scenario: Scenario) -> Scenario:
    """The scenario with every tuner set: each has become an explicit network of the same name.

    A scenario without a tuner comes back unchanged. ScenarioError if a tuner sees a load that takes no power, if what stands in front of it
    loses too much, or if none of its settings is within its ranges.
    """
    for place in reversed(range(len(scenario.path))):
        tuner = scenario.path[place]
        if isinstance(tuner, Tuner):
            task = Task(place, tuner, target_of(scenario, place), load_of(scenario, place))
            option = best(tuner, task.target_ohm, task.load_ohm, scenario.transmitter.frequency_hz) if takes_power(task.load_ohm) else None
            if option is None:
                raise no_setting(scenario, task)
            network = Network(name=tuner.name, elements=option.elements, is_tuner=True)
            scenario = scenario.model_copy(update={"path": (*scenario.path[:place], network, *scenario.path[place + 1 :])})
    return scenario


def load_of(scenario: Scenario, place: int) -> complex:
    """Impedance at the antenna side of the part at `place`."""
    chains = path_chains(scenario.path[place + 1 :], scenario.transmitter.frequency_hz)
    return input_impedance(chains, scenario.antenna.at_carrier_ohm)


def target_of(scenario: Scenario, place: int) -> complex:
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


def no_setting(scenario: Scenario, task: Task) -> ScenarioError:
    where = f"path[{task.place + 1}]"
    if takes_power(task.load_ohm):
        reason, remedy = why_none(task.tuner, task.target_ohm, task.load_ohm, scenario.transmitter.frequency_hz)
        return ScenarioError(Problem(where, f"the tuner sees {shown(task.load_ohm)}; {reason}", remedy))
    reason = f"no tuner matches {shown(task.load_ohm)}, which is what the tuner sees: next to no power can enter it"
    return ScenarioError(Problem(where, reason, "Give the antenna a resistance, or shorten the line"))
