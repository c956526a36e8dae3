"""What is not known of a station, and what it leaves open: closed-form readings over everything that it may be."""

from __future__ import annotations

from typing import Any

from bouncesim import exact
from bouncesim.account.readings import Readings
from bouncesim.errors import BouncesimError, TooMuchWork
from bouncesim.exact.antenna import known_antenna, possible
from bouncesim.exact.matching import set_tuner
from bouncesim.scenario import Scenario, Transmitter

SOURCE_RANGE_OHM = (5.0, 50.0, 500.0)
BEHAVIOURS: dict[str, dict[str, Any]] = {
    "linear": {"behaviour": "linear"},
    "isolated": {"behaviour": "isolated"},
    "fold-back": {"behaviour": "fold-back"},
    "holds forward power": {"behaviour": "level-controlled", "holds": "forward"},
    "holds delivered power": {"behaviour": "level-controlled", "holds": "delivered"},
}


def resolve(scenario: Scenario) -> Scenario:
    """The scenario as both engines take it: antenna known, tuner set for the carrier, path from source to load. Raises ScenarioError."""
    return set_tuner(known_antenna(scenario)).driven()


def source_range(scenario: Scenario) -> dict[float, Readings]:
    """Readings by source impedance (ohm) of a linear transmitter: 5, 50, 500 and the scenario's own, the rated power kept; in rising
    order."""
    resolved = resolve(scenario).at_end()
    transmitter = resolved.transmitter.model_copy(update={"behaviour": "linear"})
    linear = resolved.model_copy(update={"transmitter": transmitter})
    return exact.over_sources(linear, sorted({*SOURCE_RANGE_OHM, transmitter.source_impedance_ohm}))


def behaviour_range(scenario: Scenario) -> dict[str, Readings]:
    """Readings by what the transmitter may do about its load, its source impedance the rated load: each behaviour with its own defaults."""
    resolved, own = resolve(scenario).at_end(), scenario.transmitter
    found = {}
    for name, settings in BEHAVIOURS.items():
        known: dict[str, Any] = {"frequency_hz": own.frequency_hz, "power_w": own.power_w, "rated_load_ohm": own.rated_load_ohm}
        found[name] = exact.solve(resolved.model_copy(update={"transmitter": Transmitter(**known, **settings)}))
    return found


def antenna_range(scenario: Scenario) -> list[Readings]:
    """Readings with every antenna that what was told leaves possible, each with its tuner set anew; fewer than two where nothing is left
    open. One that cannot be matched, or solved, is left out."""
    open_to = possible(scenario)
    if len(open_to) < 2:
        return []
    found = []
    for one in open_to:
        try:
            found.append(exact.solve(set_tuner(one).driven().at_end()))
        except TooMuchWork:
            raise
        except BouncesimError:
            continue
    return found


def bounds(readings: list[Readings]) -> dict[str, tuple[float, float]]:
    """Least and most of every number over several stations."""
    numbers = [one.numbers() for one in readings]
    shared = [name for name in numbers[0] if all(name in one for one in numbers)] if numbers else []
    return {name: (min(one[name] for one in numbers), max(one[name] for one in numbers)) for name in shared}
