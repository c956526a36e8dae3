"""The settings of one tuner between its load and its target: which there are, which one is taken, and what stands in the way of none."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from bouncesim.exact.matching.l_sections import NOTHING, LSection, l_sections
from bouncesim.exact.matching.three_parts import AT_LIMIT, Ranges, Sizes, ThreeParts
from bouncesim.quantity import show
from bouncesim.scenario import Element, Tuner

# Loaded Q of the settings that are shown beside the one with the least heat.
LOADED_Q = (1.0, 2.0, 4.0, 8.0, 16.0)
DIGITS = 4


@dataclass(frozen=True)
class Option:
    """One setting. `heat` and `loaded_q` are parts of the power that enters; `obstacle`: why it cannot be taken, if so."""

    elements: tuple[Element, ...]
    heat: float
    loaded_q: float
    obstacle: str = ""


def options(tuner: Tuner, target_ohm: complex, load_ohm: complex, frequency_hz: float) -> list[Option]:
    """Every setting of the tuner's shape: first those that can be taken, the chosen one before all others. Of a pi or T, whose settings
    are without number: the one with the least heat, and one for each loaded Q of `LOADED_Q` that its parts reach."""
    if tuner.shape == "L":
        found = [_l_option(tuner, section, frequency_hz) for section in l_sections(target_ohm, load_ohm, tuner.coil_q, tuner.capacitor_q)]
        return sorted(found, key=lambda option: bool(option.obstacle))
    family = _family(tuner, target_ohm, load_ohm, frequency_hz)
    least = family.least_heat()
    if least is None:
        return []
    others = [family.with_loaded_q(q) for q in LOADED_Q]
    return [_option(family, sizes) for sizes in (least, *(each for each in others if each is not None))]


def best(tuner: Tuner, target_ohm: complex, load_ohm: complex, frequency_hz: float) -> Option | None:
    """The setting that is taken; None if there is none."""
    if tuner.shape == "L":
        found = options(tuner, target_ohm, load_ohm, frequency_hz)
        return found[0] if found and not found[0].obstacle else None
    family = _family(tuner, target_ohm, load_ohm, frequency_hz)
    least = family.least_heat()
    return None if least is None else _option(family, least)


def why_none(tuner: Tuner, target_ohm: complex, load_ohm: complex, frequency_hz: float) -> tuple[str, str]:
    """Reason and remedy where no setting can be taken: which part limits it, if one alone does."""
    what = f"no {tuner.shape} setting"
    if tuner.shape == "L":
        wanted = "" if tuner.kind == "least heat" else f" with a {tuner.kind}"
        found = [o for o in options(tuner, target_ohm, load_ohm, frequency_hz) if o.obstacle and not o.obstacle.startswith("not ")]
        if found:
            needs = list(dict.fromkeys(option.obstacle for option in found))
            return f"{what}{wanted} is within its range: {' or '.join(needs)}", "Allow for that part, or choose another shape of tuner"
        return f"{what}{wanted} matches, the parts lose too much", "Choose parts with a higher Q"
    needs = list(_needs(_family(tuner, target_ohm, load_ohm, frequency_hz)))
    if needs:
        return f"{what} is within its range: it would need {' or '.join(needs)}", "Allow for that part, or choose another shape of tuner"
    if tuner.largest_coil_h or tuner.largest_capacitor_f or tuner.smallest_capacitor_f:
        return (
            f"{what} is within its range, whichever one of its limits is lifted",
            "Allow for wider ranges, or choose another shape of tuner",
        )
    return f"{what} matches, the parts lose too much", "Choose parts with a higher Q"


def _needs(family: ThreeParts) -> Iterator[str]:
    """For each limit that alone stands in the way: the least that the part would have to be."""
    given = family.ranges
    for name, limit in vars(given).items():
        if limit is None:
            continue
        free = replace(family, ranges=replace(given, **{name: None}))
        most = name.startswith("largest")
        kind = "inductor" if name == "largest_coil_h" else "capacitor"

        def cost(sizes: Sizes, free: ThreeParts = free, kind: str = kind, most: bool = most) -> np.ndarray:
            values = _values(free, sizes, kind)
            return np.asarray(np.max(values, axis=0) if most else -np.min(values, axis=0))

        sizes = free.best(cost)
        if sizes is not None:
            value = abs(float(cost(sizes)))
            what = "a coil of" if kind == "inductor" else "a capacitor of"
            bound = ("at least" if most else "at most") if value else "nothing like"
            unit = "H" if kind == "inductor" else "F"
            yield f"{what} {bound} {show(value, unit, DIGITS)} ({'largest' if most else 'smallest'}: {show(limit, unit, DIGITS)})"


def _values(family: ThreeParts, sizes: Sizes, kind: str) -> np.ndarray:
    """Inductance of the coil, shape (1, ...), or capacitances, shape (2, ...)."""
    omega, series_capacitors = 2 * math.pi * family.frequency_hz, family.shape == "T"
    with np.errstate(divide="ignore"):
        if kind == "inductor":
            reactance = 1 / (sizes.coil * abs(family.coil) ** 2) if series_capacitors else sizes.coil
            return np.asarray([reactance / omega])
        both = np.asarray([sizes.near, sizes.far])
        return np.asarray(1 / (omega * both) if series_capacitors else both * abs(family.capacitor) ** 2 / omega)


def _family(tuner: Tuner, target_ohm: complex, load_ohm: complex, frequency_hz: float) -> ThreeParts:
    assert tuner.shape != "L"
    ranges = Ranges(tuner.largest_coil_h, tuner.largest_capacitor_f, tuner.smallest_capacitor_f)
    return ThreeParts(tuner.shape, target_ohm, load_ohm, frequency_hz, tuner.coil_q, tuner.capacitor_q, ranges)


def _option(family: ThreeParts, sizes: Sizes) -> Option:
    return Option(family.elements(sizes), float(family.heat(sizes)), float(family.loaded_q(sizes)))


def _l_option(tuner: Tuner, section: LSection, frequency_hz: float) -> Option:
    elements = section.elements(frequency_hz)
    obstacle = next(_beyond(tuner, elements), "")
    if tuner.kind != "least heat" and not section.is_kind(tuner.kind):
        obstacle = f"not a {tuner.kind}"
    return Option(elements, section.heat, section.coil_reactive, obstacle)


def _beyond(tuner: Tuner, elements: tuple[Element, ...]) -> Iterator[str]:
    """Each part that is outside the tuner's ranges, in words."""
    for element in elements:
        is_coil = element.kind == "inductor"
        name, unit = ("coil", "H") if is_coil else ("capacitor", "F")
        largest = tuner.largest_coil_h if is_coil else tuner.largest_capacitor_f
        smallest = None if is_coil else tuner.smallest_capacitor_f
        told = f"the {element.position} {name} would have to be {show(element.value, unit, DIGITS)}"
        if largest is not None and element.value > largest * (1 + AT_LIMIT):
            yield f"{told} (largest: {show(largest, unit, DIGITS)})"
        if smallest is not None and element.value < smallest * (1 - AT_LIMIT):
            yield f"{told} (smallest: {show(smallest, unit, DIGITS)})"


def shown(ohm: complex) -> str:
    """An impedance to four digits, a part of it that is rounding as 0."""
    real, imag = (0.0 if abs(part) <= NOTHING * abs(ohm) else part for part in (ohm.real, ohm.imag))
    return f"{real:.4g} {'-' if imag < 0 else '+'} {abs(imag):.4g}j ohm"
