"""Matches made of line: a stub in shunt, or a quarter of a wavelength of another impedance, behind a piece of line that turns the load.

Without loss both have a closed form. Going back from the load, Gamma = rho exp(j phi) turns by -2 beta a metre, and the conductance is

    Re Y = (1 - rho^2)/(Z0 (1 + rho^2 + 2 rho cos phi)).

A stub goes where that is the target's conductance, and takes the rest of the susceptance away; a quarter wave goes where the impedance
is real (phi = 0 or pi), and has the impedance sqrt(R target). (Pozar, Microwave Engineering, sections 5.2 and 2.5, for a matched line; for
any other target derived here.) With loss, Newton's method goes on from there until the match is exact: two real unknowns, one complex
equation.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bouncesim.exact import phasor
from bouncesim.exact.matching.l_sections import NOTHING, takes_power
from bouncesim.exact.parts import input_impedance, part_chains
from bouncesim.quantity import QuantityError
from bouncesim.scenario import Line, Part, Stub
from bouncesim.scenario.lines import SPEED_OF_LIGHT

NEWTON = 40  # steps; six are usual
MATCHED = 1e-11  # reflection of a match by iteration: rounding, of lengths that turn it by many radians
STEP = 1e-6  # of a wavelength, or of an impedance, for the derivative
SHORTEST = 1e-9  # of a wavelength: a line this short is left out
LONGEST = 0.75  # of a wavelength: a loss that drives the answer further away than a quarter wave has left no match of this kind
DB_PER_NEPER = 20 / math.log(10)


@dataclass(frozen=True)
class LineSection:
    """One match: its parts in order from the transmitter, and the impedance of the quarter wave, if that is what it is."""

    kind: Literal["stub", "quarter wave"]
    end: Literal["open", "short", ""]
    parts: tuple[Part, ...]
    section_ohm: float | None = None


def stubs(target_ohm: complex, load_ohm: complex, line: Line, frequency_hz: float) -> list[LineSection]:
    """Every stub, open and short, on a piece of `line` in front of the load; stub and piece are of that line, with its loss.

    At most four, the nearest first. Empty if the load takes no power, is matched, or no place of the line has the target's conductance."""
    if not _is_to_do(target_ohm, load_ohm):
        return []
    k = line.constants(frequency_hz)
    wavelength, z0 = k.velocity / frequency_hz, k.impedance_ohm
    found = []
    for distance in _places(target_ohm, load_ohm, z0):
        seen = _turned(load_ohm, z0, distance)
        turn = math.atan((1 / target_ohm - 1 / seen).imag * z0) / (2 * math.pi)
        for end, length in (("open", turn % 0.5), ("short", (turn + 0.25) % 0.5)):

            def seen_with(x: np.ndarray, end: Literal["open", "short"] = end) -> complex:  # type: ignore[assignment]
                return _seen(_stub_parts(line, wavelength, end, x), load_ohm, frequency_hz)

            x = _solved(seen_with, target_ohm, np.array([distance, length]), np.array([STEP, STEP]))
            if x is not None and 0 <= x[0] < LONGEST and SHORTEST < x[1] < LONGEST:
                found.append(LineSection("stub", end, _stub_parts(line, wavelength, end, x)))  # type: ignore[arg-type]
    return found


def quarter_waves(target_ohm: complex, load_ohm: complex, line: Line, frequency_hz: float) -> list[LineSection]:
    """Both quarter waves in front of a piece of `line` that makes the load real; their impedance is what it has to be, their velocity and
    loss are those of `line`. Empty if the load takes no power, or the target is no resistance."""
    if not _is_to_do(target_ohm, load_ohm) or abs(target_ohm.imag) > NOTHING * abs(target_ohm):
        return []
    k = line.constants(frequency_hz)
    wavelength, z0 = k.velocity / frequency_hz, k.impedance_ohm
    gamma = (load_ohm - z0) / (load_ohm + z0)
    places = [0.0] if abs(gamma) <= NOTHING else [(cmath.phase(gamma) / (4 * math.pi) + half) % 0.5 for half in (0.0, 0.25)]
    found = []
    for distance in places:
        squared = target_ohm.real * _turned(load_ohm, z0, distance).real
        if squared <= 0:  # rounding: the load takes next to nothing
            continue
        ohm = math.sqrt(squared)

        def seen_with(x: np.ndarray) -> complex:
            return _seen(_quarter_parts(line, wavelength, frequency_hz, x), load_ohm, frequency_hz)

        x = _solved(seen_with, target_ohm, np.array([distance, ohm]), np.array([STEP, STEP * ohm]))
        if x is not None and -SHORTEST < x[0] < LONGEST and x[1] > 0:
            found.append(LineSection("quarter wave", "", _quarter_parts(line, wavelength, frequency_hz, x), float(x[1])))
    return found


def _is_to_do(target_ohm: complex, load_ohm: complex) -> bool:
    return takes_power(load_ohm) and takes_power(target_ohm) and abs(load_ohm - target_ohm) > NOTHING * abs(target_ohm)


def _places(target_ohm: complex, load_ohm: complex, z0: float) -> Iterator[float]:
    """Where, in wavelengths from the load, the conductance is the target's."""
    gamma, wanted = (load_ohm - z0) / (load_ohm + z0), (1 / target_ohm).real * z0
    rho = abs(gamma)
    if rho <= NOTHING:
        return
    cosine = ((1 - rho**2) / wanted - 1 - rho**2) / (2 * rho)
    if abs(cosine) <= 1:
        places = [(cmath.phase(gamma) - side * math.acos(cosine)) / (4 * math.pi) % 0.5 for side in (1, -1)]
        yield from sorted(set(places))


def _turned(load_ohm: complex, z0: float, wavelengths: float) -> complex:
    gamma = (load_ohm - z0) / (load_ohm + z0) * cmath.exp(-4j * math.pi * wavelengths)
    return z0 * (1 + gamma) / (1 - gamma)


def _stub_parts(line: Line, wavelength: float, end: Literal["open", "short"], x: np.ndarray) -> tuple[Part, ...]:
    branch = Stub(path=(_piece(line, abs(x[1]) * wavelength),), end=end)
    return (branch, _piece(line, x[0] * wavelength)) if x[0] > SHORTEST else (branch,)


def _quarter_parts(line: Line, wavelength: float, frequency_hz: float, x: np.ndarray) -> tuple[Part, ...]:
    k = line.constants(frequency_hz)
    r, g = (float(each) for each in (phasor.series_impedance(k, frequency_hz).real, phasor.shunt_admittance(k, frequency_hz).real))
    conductor, dielectric = r / k.impedance_ohm, g * k.impedance_ohm
    section = Line(
        length_m=wavelength / 4,
        impedance_ohm=float(x[1]),
        velocity_factor=min(1.0, k.velocity / SPEED_OF_LIGHT),
        loss_db_per_m=DB_PER_NEPER * float(phasor.propagation(k, frequency_hz).real),
        dielectric_share=dielectric / (conductor + dielectric) if conductor + dielectric > 0 else 0.0,
    )
    return (section, _piece(line, x[0] * wavelength)) if x[0] > SHORTEST else (section,)


def _piece(line: Line, length_m: float) -> Line:
    return line.model_copy(update={"length_m": float(length_m), "name": ""})


def _seen(parts: tuple[Part, ...], load_ohm: complex, frequency_hz: float) -> complex:
    return input_impedance([chain for part in parts for chain in part_chains(part, frequency_hz)], load_ohm)


def _solved(seen: Callable[[np.ndarray], complex], target: complex, x: np.ndarray, step: np.ndarray) -> np.ndarray | None:
    """Newton's method, for the reflection against the target; None where the lines lose too much for a match."""

    def off(x: np.ndarray) -> np.ndarray:
        z = seen(x)
        reflection = (z - target) / (z + target.conjugate())
        return np.array([reflection.real, reflection.imag])

    try:
        here = off(x)
        for _ in range(NEWTON):
            if np.hypot(*here) <= MATCHED:
                return x
            slopes = np.column_stack([(off(x + move) - off(x - move)) / (2 * move.sum()) for move in np.diag(step)])
            x = x - np.linalg.solve(slopes, here)
            here = off(x)
    except (np.linalg.LinAlgError, QuantityError, ValueError, OverflowError):
        return None
    return None
