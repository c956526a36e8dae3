"""Tuners of many stations, set at once: every L section of each as exact.matching finds them, over arrays.

What an L is, and its quadratic, stands in exact.matching.l_sections. The settings of a pi or T are a curve each that has to be searched:
these are set one by one by exact.matching itself, and take longer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bouncesim.exact import phasor
from bouncesim.exact.matching.l_sections import LARGEST_SHUNT_OHM, NOTHING, SAME_HEAT, SAME_REACTIVE
from bouncesim.exact.matching.three_parts import AT_LIMIT
from bouncesim.exact.phasor import Chain, Complex, Real
from bouncesim.scenario import Element, Tuner

Bools = NDArray[np.bool_]
OneByOne = Callable[[int], tuple[Element, ...] | None]

ABSENT, SERIES_COIL, SERIES_CAPACITOR, SHUNT_COIL, SHUNT_CAPACITOR = range(5)
NAMES = ("", "series inductor", "series capacitor", "shunt inductor", "shunt capacitor")  # by code
CODES = {name: code for code, name in enumerate(NAMES)}
MOST_PARTS = 3


@dataclass(frozen=True)
class Parts:
    """The parts of many tuners in order from the transmitter, shape (3, n): code (see NAMES), value in H or F, loss resistance in ohm."""

    code: NDArray[np.int64]
    value: Real
    loss: Real

    @classmethod
    def none(cls, count: int) -> Parts:
        """No part in any of them."""
        shape = (MOST_PARTS, count)
        return cls(np.zeros(shape, dtype=np.int64), np.zeros(shape), np.zeros(shape))

    @property
    def is_coil(self) -> Bools:
        return np.asarray((self.code == SERIES_COIL) | (self.code == SHUNT_COIL))

    @property
    def in_series(self) -> Bools:
        return np.asarray((self.code == SERIES_COIL) | (self.code == SERIES_CAPACITOR))

    def impedance(self, frequency_hz: Real) -> Complex:
        """Of every part, ohm (3, n); 1 ohm stands for one that is absent."""
        with np.errstate(divide="ignore", invalid="ignore"):
            capacitor = phasor.capacitor(self.value, frequency_hz, self.loss)
        z = np.where(self.is_coil, phasor.inductor(self.value, frequency_hz, self.loss), capacitor)
        return np.where(self.code == ABSENT, 1.0, z)

    def chains(self, frequency_hz: Real) -> list[Chain]:
        """One two-port a part."""
        z, absent, series = self.impedance(frequency_hz), self.code == ABSENT, self.in_series
        in_series, in_shunt = np.where(series, z, 0), np.where(series | absent, 0, 1 / z)
        found = []
        for k in range(MOST_PARTS):
            matrix = phasor.series(in_series[k]).matrix
            matrix[..., 1, 0] = in_shunt[k]
            found.append(Chain(matrix, np.zeros(matrix.shape[:-2])))
        return found


class _Section(NamedTuple):
    """One candidate for every station, as exact.matching.l_sections.LSection; nan where there is none."""

    shunt_first: bool
    series_x: Real
    shunt_x: Real
    series_loss: Real
    shunt_loss: Real
    heat: Real
    reactive: Real


def takes_power(load_ohm: Complex) -> Bools:
    """exact.matching.l_sections.takes_power, over arrays."""
    return np.asarray(np.isfinite(load_ohm) & (load_ohm.real > NOTHING * np.abs(load_ohm)))


def set_tuners(
    tuner: Tuner, shapes: NDArray[np.str_], target_ohm: Complex, load_ohm: Complex, frequency_hz: Real, one_by_one: OneByOne
) -> tuple[Parts, Bools]:
    """Set a tuner for many stations, shapes (n,) by station ("none" among them): its parts, and whether it can be set.

    one_by_one(k) gives the parts of station k, a pi or T; None if there is no setting.
    """
    count = len(shapes)
    parts, good = Parts.none(count), shapes == "none"
    able = takes_power(load_ohm) & takes_power(target_ohm)
    ls = np.flatnonzero((shapes == "L") & able)
    if ls.size:
        found, matched = _l_parts(tuner.model_copy(update={"shape": "L"}), target_ohm[ls], load_ohm[ls], frequency_hz[ls])
        parts.code[:, ls], parts.value[:, ls], parts.loss[:, ls], good[ls] = found.code, found.value, found.loss, matched
    for k in np.flatnonzero(((shapes == "pi") | (shapes == "T")) & able):
        elements = one_by_one(int(k))
        good[k] = elements is not None
        for place, element in enumerate(elements or ()):
            parts.code[place, k] = CODES[f"{element.position} {element.kind}"]
            parts.value[place, k], parts.loss[place, k] = element.value, element.loss_ohm
    return parts, good


def _l_parts(tuner: Tuner, target: Complex, load: Complex, frequency: Real) -> tuple[Parts, Bools]:
    """The L with the least heat of each station, by the order of exact.matching; and whether there is one."""
    sections = list(_sections(tuner, target, load))
    heat, reactive = (np.stack(column) for column in zip(*((s.heat, s.reactive) for s in sections), strict=True))
    left = np.stack([np.isfinite(s.heat) & _is_allowed(tuner, s, frequency) for s in sections])
    same = SAME_REACTIVE * np.where(np.isfinite(reactive), reactive, 0.0).max(axis=0)
    signs = (np.stack([s.series_x < 0 for s in sections]), np.stack([s.shunt_x > 0 for s in sections]))
    for key, margin in ((heat, SAME_HEAT), (signs[0], 0.0), (signs[1], 0.0), (reactive, same)):
        least = np.where(left, key, np.inf).min(axis=0)
        left &= key <= least + margin
    chosen, found = np.argmax(left, axis=0), left.any(axis=0)

    def take(values: list[Real]) -> Real:
        return np.asarray(np.choose(chosen, values))

    shunt_first = np.asarray([s.shunt_first for s in sections])[chosen]
    nothing = np.abs(load - target) <= NOTHING * np.abs(target)
    series = (take([s.series_x for s in sections]), take([s.series_loss for s in sections]))
    shunt = (take([s.shunt_x for s in sections]), take([s.shunt_loss for s in sections]))
    parts, omega = Parts.none(len(load)), 2 * np.pi * frequency
    for place, is_shunt in ((0, shunt_first), (1, ~shunt_first)):
        x, loss = (np.where(is_shunt, a, b) for a, b in zip(shunt, series, strict=True))
        there = found & ~nothing & np.where(is_shunt, np.isfinite(x), x != 0)
        code = np.where(x > 0, np.where(is_shunt, SHUNT_COIL, SERIES_COIL), np.where(is_shunt, SHUNT_CAPACITOR, SERIES_CAPACITOR))
        with np.errstate(divide="ignore", invalid="ignore"):
            value = np.where(x > 0, x / omega, -1 / (omega * x))
        parts.code[place] = np.where(there, code, ABSENT)
        parts.value[place], parts.loss[place] = np.where(there, value, 0.0), np.where(there, loss, 0.0)
    return parts, found | nothing


def _sections(tuner: Tuner, target: Complex, load: Complex) -> list[_Section]:
    """Every candidate of exact.matching.l_sections.l_sections, in its order."""
    loss = {1: 1 / tuner.coil_q if tuner.coil_q else 0.0, -1: 1 / tuner.capacitor_q if tuner.capacitor_q else 0.0}
    found = []
    with np.errstate(all="ignore"):
        for shunt_first, series_sign, shunt_sign in product((True, False), (1, -1), (1, -1)):
            series, shunt = complex(loss[series_sign], series_sign), complex(loss[shunt_sign], -shunt_sign)
            for root in (0, 1):
                if shunt_first:
                    shunt_size, series_size = _half(1 / target, load, series, shunt, root)
                else:
                    series_size, shunt_size = _half(target, 1 / load, shunt, series, root)
                found.append(_section(shunt_first, series_sign * series_size, -shunt_sign * shunt_size, loss, target))
    return found


def _half(target: Complex, load: Complex, far: complex, near: complex, root: int) -> tuple[Real, Real]:
    """Sizes (near, far) of one root of the quadratic; nan where it is no setting."""
    k = (load * far.conjugate()).imag
    middle = (far.conjugate() * near.conjugate()).imag - 2 * k * (target * near.conjugate()).real
    n = _root(k * abs(near) ** 2, middle, k * np.abs(target) ** 2 - np.conj(target * far).imag, root)
    n = np.where(np.abs(n) <= NOTHING * np.abs(target), 0.0, n)
    f = (1 / (target - n * near) - load).imag / far.imag
    f = np.where(np.abs(f) <= NOTHING * np.abs(load), 0.0, f)
    good = (n >= 0) & (f >= 0)
    return np.where(good, n, np.nan), np.where(good, f, np.nan)


def _root(a: Real, b: Real, c: Real, root: int) -> Real:
    """One of the two real roots of a x^2 + b x + c; nan where it is not real. A double root, and that of a = 0, is the first."""
    square = b * b - 4 * a * c
    square = np.where((square < 0) & (square > -4 * NOTHING * np.abs(a * c)), 0.0, square)
    half = -(b + np.copysign(np.sqrt(square), b)) / 2
    straight = a == 0
    if root == 0:
        return np.where(straight, np.where(b != 0, -c / b, np.nan), np.where(half == 0, 0.0, half / a))
    return np.where(straight | (half == 0), np.nan, c / half)


def _section(shunt_first: bool, series_x: Real, shunt_b: Real, loss: dict[int, float], target: Complex) -> _Section:
    """exact.matching.l_sections._section, over arrays."""
    shunt_b = np.where(np.abs(shunt_b) * LARGEST_SHUNT_OHM < 1, 0.0, shunt_b)
    series_r = np.abs(series_x) * np.where(series_x > 0, loss[1], loss[-1])
    q_shunt = np.where(shunt_b > 0, loss[-1], loss[1])
    shunt_x = np.where(shunt_b != 0, -1 / (shunt_b * (1 + q_shunt**2)), np.inf)
    entering = 2 / target.real
    v_squared_in = entering * np.abs(target) ** 2
    if shunt_first:
        v_squared = v_squared_in
        i_squared = v_squared_in * np.abs(1 / target - np.abs(shunt_b) * q_shunt - 1j * shunt_b) ** 2
    else:
        i_squared = entering
        v_squared = entering * np.abs(target - series_r - 1j * series_x) ** 2
    heat = i_squared * series_r / 2 + v_squared * np.abs(shunt_b) * q_shunt / 2
    reactive = i_squared * np.abs(series_x) / 2 + v_squared * np.abs(shunt_b) / 2
    shunt_loss = np.where(shunt_b != 0, q_shunt * np.abs(shunt_x), 0.0)
    return _Section(shunt_first, series_x, shunt_x, series_r, shunt_loss, heat, reactive)


def _is_allowed(tuner: Tuner, section: _Section, frequency: Real) -> Bools:
    """Whether the parts are within the tuner's ranges, and of the kind that is asked for."""
    omega, allowed = 2 * np.pi * frequency, np.ones(len(frequency), dtype=bool)
    for x, there in ((section.series_x, section.series_x != 0), (section.shunt_x, np.isfinite(section.shunt_x))):
        coil, capacitor = there & (x > 0), there & (x < 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            henry, farad = x / omega, -1 / (omega * x)
        if tuner.largest_coil_h is not None:
            allowed &= ~(coil & (henry > tuner.largest_coil_h * (1 + AT_LIMIT)))
        if tuner.largest_capacitor_f is not None:
            allowed &= ~(capacitor & (farad > tuner.largest_capacitor_f * (1 + AT_LIMIT)))
        if tuner.smallest_capacitor_f is not None:
            allowed &= ~(capacitor & (farad < tuner.smallest_capacitor_f * (1 - AT_LIMIT)))
    if tuner.kind != "least heat":
        allowed &= (section.series_x == 0) | ((section.series_x > 0) == (tuner.kind == "series coil"))
    return allowed
