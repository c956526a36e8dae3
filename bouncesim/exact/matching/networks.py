"""Every network that would match a station in the place of its tuner: L, pi, T, a stub, a quarter wave; the least heat first."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from bouncesim.account.readings import swr_of
from bouncesim.exact.antenna import known_antenna
from bouncesim.exact.matching.bandwidth import Band, Spectrum
from bouncesim.exact.matching.choice import Option, best, options, why_none
from bouncesim.exact.matching.l_sections import NOTHING, takes_power
from bouncesim.exact.matching.line_sections import LineSection, quarter_waves, stubs
from bouncesim.exact.matching.nearest import Nearest, nearest
from bouncesim.exact.matching.tuner import Task, load_of, no_setting, target_of
from bouncesim.exact.retuned import AntennaLaw, antenna_law
from bouncesim.exact.solve import solve
from bouncesim.quantity import show
from bouncesim.scenario import Line, Network, Part, Scenario, Stub, Tuner
from bouncesim.scenario.catalogue import LineType, catalogue
from bouncesim.scenario.model import flat_parts

SHAPES: tuple[Literal["L", "pi", "T"], ...] = ("L", "pi", "T")
EQUAL_HEAT = 1e-9  # of the power that enters: rounding of whole stations
AT_HAND = 0.02  # a quarter wave within this share of a type's impedance can be made of it


@dataclass(frozen=True)
class Candidate:
    """One network between the load and the target. `obstacle`: why it cannot be had; `note`: what else to know of it."""

    kind: str  # "L", "pi", "T", "stub", "quarter wave", "nothing"
    told: str  # which one of its kind
    parts: tuple[Part, ...]
    loaded_q: float | None  # reactive power in the coils over the power that enters; None: it has none
    obstacle: str = ""
    note: str = ""
    is_at_hand: bool = True  # False for a quarter wave of an impedance that no type of line known here has
    is_set: bool = False  # what the scenario's own tuner takes


@dataclass(frozen=True)
class Match:
    """A candidate in its station, at the scenario's power: heat in all of its parts, its largest stresses (0: no such part), and how far
    from the carrier the SWR at the transmitter stays low."""

    candidate: Candidate
    scenario: Scenario
    heat_w: float
    coil_a_peak: float
    capacitor_v_peak: float
    line_v_peak: float
    line_a_peak: float
    bands: tuple[Band, ...]


@dataclass(frozen=True)
class Matches:
    """One tuner, or the place right behind the transmitter: what stands there, what it sees and is to present, and every network for it.

    Those that can be had come first, in rising order of heat. `why_not` and `nearest`: where the scenario's own tuner cannot be set, the
    reason, and the least SWR within its ranges."""

    tuner: Tuner
    is_added: bool
    load_ohm: complex
    target_ohm: complex
    matches: tuple[Match, ...]
    why_not: str = ""
    nearest: Nearest | None = None

    @property
    def best(self) -> Match | None:
        """The least heat that can be had from what is at hand; None if there is nothing."""
        return next((match for match in self.matches if not match.candidate.obstacle and match.candidate.is_at_hand), None)


def every_match(
    scenario: Scenario, change: dict[str, Any] | None = None, assumed: dict[str, Any] | None = None, by_loaded_q: bool = False
) -> tuple[Matches, ...]:
    """Every network for every tuner of a scenario whose antenna is told, in the order of the path; without one, right behind the
    transmitter.

    `change`: fields that replace those of every tuner; `assumed`: fields of the tuner that stands in where there is none. `by_loaded_q`: of
    a pi or T also one for each of several loaded Qs. The other tuners of the path are set meanwhile. ScenarioError where next to no power
    can enter a tuner, or nothing at all would match."""
    law, known = antenna_law(scenario), known_antenna(scenario)
    has_tuner = any(isinstance(part, Tuner) for part in known.path)
    if not has_tuner:
        added = Tuner(name=_free_name("tuner", known), **(assumed or {}))
        known = known.model_copy(update={"path": (added, *known.path)})
    path = tuple(part.model_copy(update=change) if isinstance(part, Tuner) and change else part for part in known.path)
    resolved, found = known.model_copy(update={"path": path}), list[tuple[Task, list[Candidate]]]()
    for place in reversed(range(len(path))):
        if isinstance(tuner := path[place], Tuner):
            task = Task(place, tuner, target_of(resolved, place), load_of(resolved, place))
            candidates = list(_candidates(resolved, task, has_tuner, by_loaded_q)) if takes_power(task.load_ohm) else []
            chosen = next((c for c in candidates if c.is_set), None) or next((c for c in candidates if not c.obstacle), None)
            if chosen is None:
                raise no_setting(resolved, task)
            found.append((task, candidates))
            resolved = _with(resolved, place, chosen.parts)
    return _judged(resolved, found, law, has_tuner)


def _judged(resolved: Scenario, found: list[tuple[Task, list[Candidate]]], law: AntennaLaw, has_tuner: bool) -> tuple[Matches, ...]:
    """The candidates of every tuner in the station whose other tuners are set; `found` begins at the antenna."""
    judged, shift = [], 0
    for task, candidates in reversed(found):
        chosen = next((c for c in candidates if c.is_set), None) or next(c for c in candidates if not c.obstacle)
        place = task.place + shift
        shift += len(chosen.parts) - 1
        front, tail = resolved.path[:place], resolved.path[place + len(chosen.parts) :]
        spectrum = Spectrum(resolved, front, tail, law)
        matches = [_match(resolved, front, tail, candidate, spectrum) for candidate in candidates]
        matches.sort(key=_order)
        judged.append(_told(task, tuple(matches), resolved.transmitter.frequency_hz, has_tuner))
    return tuple(judged)


def _order(match: Match) -> tuple[bool, int, bool, float]:
    """What can be had first, the least heat first; of equal heats coils and capacitors before lines, and the least loaded Q."""
    c, heat = match.candidate, match.heat_w / match.scenario.transmitter.power_w
    return bool(c.obstacle), round(heat / EQUAL_HEAT), c.loaded_q is None, c.loaded_q or 0.0


def _told(task: Task, matches: tuple[Match, ...], frequency_hz: float, has_tuner: bool) -> Matches:
    told = Matches(task.tuner, not has_tuner, task.load_ohm, complex(task.target_ohm), matches)
    if not has_tuner or any(match.candidate.is_set for match in matches):
        return told
    reason, _ = why_none(task.tuner, task.target_ohm, task.load_ohm, frequency_hz)
    near = nearest(task.tuner, complex(task.target_ohm), task.load_ohm, frequency_hz)
    return replace(told, why_not=reason, nearest=near)


def _match(resolved: Scenario, front: tuple[Part, ...], tail: tuple[Part, ...], candidate: Candidate, spectrum: Spectrum) -> Match:
    station = resolved.model_copy(update={"path": (*front, *candidate.parts, *tail)})
    readings = solve(station)
    own = {part.name for part in candidate.parts}
    inside = {part.name for part in flat_parts(candidate.parts) if isinstance(part, Line)}
    networks = [part for part in readings.networks if part.name in own]
    lines = [line for line in readings.lines if line.name in inside]
    heat = sum(part.heat_w for part in networks) + sum(line.heat_w for line in lines if line.name in own)
    return Match(
        candidate,
        station,
        heat,
        max((part.coil_a_peak for part in networks), default=0.0),
        max((part.capacitor_v_peak for part in networks), default=0.0),
        max((line.largest_v_peak for line in lines), default=0.0),
        max((line.largest_a_peak for line in lines), default=0.0),
        spectrum.bands(candidate.parts),
    )


def _candidates(scenario: Scenario, task: Task, has_tuner: bool, by_loaded_q: bool) -> Iterator[Candidate]:
    """Every network for one tuner, the one that the scenario's tuner takes marked."""
    frequency, tuner = scenario.transmitter.frequency_hz, task.tuner
    name = tuner.name
    if abs(task.load_ohm - task.target_ohm) <= NOTHING * abs(task.target_ohm):
        yield Candidate("nothing", "nothing is left to match", (Network(name=name, elements=(), is_tuner=True),), 0.0, is_set=has_tuner)
        return
    own = best(tuner, task.target_ohm, task.load_ohm, frequency) if has_tuner else None
    for shape in SHAPES:
        shaped = tuner.model_copy(update={"shape": shape, "kind": "least heat"})
        found = options(shaped, task.target_ohm, task.load_ohm, frequency)
        for count, option in enumerate(found if shape == "L" or by_loaded_q else _worth_telling(found)):
            network = Network(name=name, elements=option.elements, is_tuner=True)
            is_set = own is not None and shape == tuner.shape and option.elements == own.elements
            yield Candidate(shape, _which(shape, option, count), (network,), option.loaded_q, option.obstacle, is_set=is_set)
    line = next((part for part in scenario.path[task.place :] if isinstance(part, Line)), scenario.lines[-1])
    target = complex(task.target_ohm)
    for section in (*stubs(target, task.load_ohm, line, frequency), *quarter_waves(target, task.load_ohm, line, frequency)):
        told = f"{section.end} end" if section.end else f"of {show(section.section_ohm or 0.0, 'ohm', 4)}"
        note, at_hand = _made_of(section)
        yield Candidate(section.kind, told, _named(section.parts, name, scenario), None, note=note, is_at_hand=at_hand)


def _worth_telling(found: list[Option]) -> list[Option]:
    """Of a pi or T: the setting with the least heat; and where that is an L, one part of it being left out, the next one with all three."""
    if not found or len(found[0].elements) == 3:
        return found[:1]
    whole = (option for option in found[1:] if len(option.elements) == 3 and option.loaded_q > found[0].loaded_q)
    return [found[0], *list(whole)[:1]]


def _which(shape: str, option: Option, count: int) -> str:
    """In words: which way round an L stands; how a pi or T is set."""
    if shape != "L":
        least = "least heat" if len(option.elements) == 3 else "least heat, which leaves out a part"
        return least if count == 0 else f"set to a loaded Q of {option.loaded_q:.3g}"
    if len(option.elements) < 2:
        return f"one {option.elements[0].position} part" if option.elements else "nothing is left to match"
    return "shunt at the transmitter" if option.elements[0].position == "shunt" else "shunt at the antenna"


def _made_of(section: LineSection) -> tuple[str, bool]:
    """Of a quarter wave: the type of line that comes nearest to its impedance, what SWR that would leave, and whether it will do."""
    if section.section_ohm is None:
        return "", True
    ohm = section.section_ohm

    def away(kind: LineType) -> float:
        return abs(math.log(kind.impedance_ohm / ohm))

    kind = min(catalogue().values(), key=away)
    if away(kind) <= AT_HAND:
        return f"{kind.name} ({kind.impedance_ohm:g} ohm) will do", True
    # Z^2/R in the place of the target: without loss the SWR is the square of the ratio of impedances
    left = swr_of(abs((kind.impedance_ohm**2 - ohm**2) / (kind.impedance_ohm**2 + ohm**2)))
    return f"no type of line known here has it; the nearest, {kind.name} ({kind.impedance_ohm:g} ohm), would leave SWR {left:.3g}", False


def _named(parts: Sequence[Part], name: str, scenario: Scenario) -> tuple[Part, ...]:
    """The parts of a line match with names: the stub or the quarter wave has the tuner's, so that what names the tuner still finds it."""
    first, *rest = parts
    if isinstance(first, Stub):
        inner = tuple(part.model_copy(update={"name": _free_name("stub line", scenario)}) for part in first.path)
        first = first.model_copy(update={"path": inner})
    added = (part.model_copy(update={"name": _free_name("added line", scenario)}) for part in rest)
    return (first.model_copy(update={"name": name}), *added)


def _free_name(wanted: str, scenario: Scenario) -> str:
    """`wanted`, or `wanted` with a number where the path has a part of that name."""
    taken = {part.name for part in flat_parts(scenario.path)}
    names = (wanted if n == 1 else f"{wanted} {n}" for n in range(1, len(taken) + 2))
    return next(name for name in names if name not in taken)


def _with(scenario: Scenario, place: int, parts: tuple[Part, ...]) -> Scenario:
    return scenario.model_copy(update={"path": (*scenario.path[:place], *parts, *scenario.path[place + 1 :])})
