"""L sections with real parts, solved exactly; and the handbook's pi and T sections, two L sections back to back.

The L section, both ways round, is one problem. Let the `near` part be the one at the transmitter and the `far` part the one at the
load, and write each part as size (q + j s), with s = +-1 the sign of its reactance (or susceptance) and q = 1/Q its loss: a coil
of reactance X has the resistance X/Q in series, a capacitor |X|/Q. With the shunt at the transmitter, work on the load's impedance Z:
a series part f a, a = qf + j sf, and a shunt admittance n b, b = qn + j sn, make of it the admittance T. With the shunt at the load, work
on its admittance: the very same equation with Y for Z and an impedance for T. So for a load Z and a target T, either of them complex,

    (Z + f a)(T - n b) = 1,    f >= 0, n >= 0.

f = (1/(T - n b) - Z)/a must be real. With k = Im(Z a*), that is a quadratic in n alone, exact at any loss:

    k |b|^2 n^2 + (Im(a* b*) - 2 k Re(T b*)) n + k |T|^2 - Im(T* a*) = 0.

Derived here; without loss, and for a real target, it is the L section of Pozar, Microwave Engineering, section 5.1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Literal

from bouncesim.scenario import Element

Place = Literal["transmitter", "antenna"]

# A part smaller than this, against the impedances around it, is rounding: it is left out. So is a load's resistance against its reactance.
NOTHING = 1e-13
# A shunt part above this many ohm is left out too: a scenario holds no larger one, and at 50 ohm it is a reflection of 25 in a billion.
LARGEST_SHUNT_OHM = 1e9
# Heats this close, as a part of the power, are equal; then a series coil is taken.
SAME_HEAT = 1e-12
SAME_REACTIVE = 1e-9  # of the largest: reactive powers this close are equal too


@dataclass(frozen=True)
class LSection:
    """One L section that matches; reactances carry their sign, a part that is not needed is 0 (series) or infinite (shunt)."""

    shunt_at: Place
    series_ohm: float
    shunt_ohm: float
    series_loss_ohm: float
    shunt_loss_ohm: float
    series_heat: float  # parts of the power that enters
    shunt_heat: float
    series_reactive: float  # reactive power in each part, as a multiple of the power that enters
    shunt_reactive: float

    @property
    def heat(self) -> float:
        """Heat in both parts, as a part of the power that enters."""
        return self.series_heat + self.shunt_heat

    @property
    def reactive(self) -> float:
        """Reactive power in both parts, as a multiple of the power that enters."""
        return self.series_reactive + self.shunt_reactive

    @property
    def coil_reactive(self) -> float:
        """Reactive power in the coil, or in both if there are two, likewise."""
        return self.series_reactive * (self.series_ohm > 0) + self.shunt_reactive * (self.shunt_ohm > 0)

    def is_kind(self, kind: str) -> bool:
        """Whether its series part is what `kind` asks for; no series part at all suits every kind."""
        return self.series_ohm == 0 or kind == ("series coil" if self.series_ohm > 0 else "series capacitor")

    def elements(self, frequency_hz: float) -> tuple[Element, ...]:
        """Its parts in order from the transmitter; one that is not needed is left out."""
        parts = []
        if math.isfinite(self.shunt_ohm):
            parts.append(as_element("shunt", self.shunt_ohm, self.shunt_loss_ohm, frequency_hz))
        if self.series_ohm != 0:
            parts.append(as_element("series", self.series_ohm, self.series_loss_ohm, frequency_hz))
        return tuple(parts if self.shunt_at == "transmitter" else reversed(parts))


def l_sections(target_ohm: complex, load_ohm: complex, coil_q: float | None = None, capacitor_q: float | None = None) -> list[LSection]:
    """Every L section that turns `load_ohm` into `target_ohm`: without loss, up to two for each place of the shunt.

    Sorted by heat, equal heats with the series coil first, then the shunt capacitor, then the least reactive power. Empty if there is
    none: the load takes no power, or the parts lose too much.
    """
    if not takes_power(load_ohm):
        return []
    loss = {1: 1 / coil_q if coil_q else 0.0, -1: 1 / capacitor_q if capacitor_q else 0.0}
    if abs(load_ohm - target_ohm) <= NOTHING * abs(target_ohm):
        return [_section("transmitter", 0.0, 0.0, loss, target_ohm)]
    found = []
    places: tuple[Place, ...] = ("transmitter", "antenna")
    for shunt_at, series_sign, shunt_sign in product(places, (1, -1), (1, -1)):
        series, shunt = complex(loss[series_sign], series_sign), complex(loss[shunt_sign], -shunt_sign)
        if shunt_at == "transmitter":
            sizes = [(far, near) for near, far in _halves(1 / target_ohm, load_ohm, series, shunt)]
        else:
            sizes = _halves(target_ohm, 1 / load_ohm, shunt, series)
        for series_size, shunt_size in sizes:
            found.append(_section(shunt_at, series_sign * series_size, -shunt_sign * shunt_size, loss, target_ohm))
    return _in_order(list(dict.fromkeys(found)))


def _in_order(found: list[LSection]) -> list[LSection]:
    """Sorted as `l_sections` says; of equals, that with its shunt at the transmitter first. Two coils of one Q, say, make the same heat and
    the same reactive power either way round: what is left of a difference is rounding, and must not choose."""
    heats = _ranks([s.heat for s in found], SAME_HEAT)
    reactives = _ranks([s.reactive for s in found], SAME_REACTIVE * max((s.reactive for s in found), default=0.0))
    keys = [(heat, s.series_ohm < 0, s.shunt_ohm > 0, reactive) for heat, s, reactive in zip(heats, found, reactives, strict=True)]
    return [found[k] for k in sorted(range(len(found)), key=keys.__getitem__)]


def _ranks(values: list[float], same: float) -> list[int]:
    """The rank of each value, the same for values that are no more than `same` above the next smaller one."""
    rising, ranks = sorted(range(len(values)), key=values.__getitem__), [0] * len(values)
    for before, after in pairwise(rising):
        ranks[after] = ranks[before] + (values[after] - values[before] > same)
    return ranks


def takes_power(load_ohm: complex) -> bool:
    """Whether an impedance is more than rounding away from taking no power at all."""
    return math.isfinite(abs(load_ohm)) and load_ohm.real > NOTHING * abs(load_ohm)


@dataclass(frozen=True)
class TwoLs:
    """A pi or T section as two L sections that meet at a virtual resistance; sizes of the reactances in ohm.

    `source_*` belong to the L at the source, `load_*` to the one at the load; in a pi the shunts are outside, in a T the series parts.
    The two parts of each L are of opposite kinds.
    """

    virtual_ohm: float
    source_q: float
    load_q: float
    source_shunt_ohm: float
    source_series_ohm: float
    load_series_ohm: float
    load_shunt_ohm: float


def pi_section(source_ohm: float, load_ohm: float, loaded_q: float) -> TwoLs:
    """Pi section between two resistances: each L goes DOWN to R = Rlarge/(Q^2 + 1). ValueError if Q is too small for R to be below both.

    Source: the two L sections back to back of C. Bowick, RF Circuit Design, chapter 4 (from memory). Q is that of the L at the larger
    resistance.
    """
    virtual = max(source_ohm, load_ohm) / (loaded_q**2 + 1)
    if virtual > min(source_ohm, load_ohm):
        raise ValueError(f"a pi section between {source_ohm:g} and {load_ohm:g} ohm needs a higher loaded Q than {loaded_q:g}")
    source_q, load_q = math.sqrt(source_ohm / virtual - 1), math.sqrt(load_ohm / virtual - 1)
    return TwoLs(virtual, source_q, load_q, _over(source_ohm, source_q), virtual * source_q, virtual * load_q, _over(load_ohm, load_q))


def t_section(source_ohm: float, load_ohm: float, loaded_q: float) -> TwoLs:
    """T section between two resistances: each L goes UP to R = Rsmall (Q^2 + 1). ValueError and source as for `pi_section`.

    Q is that of the L at the smaller resistance.
    """
    virtual = min(source_ohm, load_ohm) * (loaded_q**2 + 1)
    if virtual < max(source_ohm, load_ohm):
        raise ValueError(f"a T section between {source_ohm:g} and {load_ohm:g} ohm needs a higher loaded Q than {loaded_q:g}")
    source_q, load_q = math.sqrt(virtual / source_ohm - 1), math.sqrt(virtual / load_ohm - 1)
    return TwoLs(virtual, source_q, load_q, _over(virtual, source_q), source_ohm * source_q, load_ohm * load_q, _over(virtual, load_q))


def _over(ohm: float, q: float) -> float:
    return ohm / q if q else math.inf


def _halves(target: complex, load: complex, far: complex, near: complex) -> list[tuple[float, float]]:
    """Sizes (n, f) of the near part n `near` and the far part f `far`, each at least 0: the roots of the quadratic above."""
    k = (load * far.conjugate()).imag
    middle = (far.conjugate() * near.conjugate()).imag - 2 * k * (target * near.conjugate()).real
    roots = real_roots(k * abs(near) ** 2, middle, k * abs(target) ** 2 - (target * far).conjugate().imag)
    sizes = []
    for n in roots:
        if abs(n) <= NOTHING * abs(target):
            n = 0.0
        f = (1 / (target - n * near) - load).imag / far.imag
        if abs(f) <= NOTHING * abs(load):
            f = 0.0
        if n >= 0 and f >= 0:
            sizes.append((n, f))
    return sizes


def real_roots(a: float, b: float, c: float) -> list[float]:
    """Real roots of a x^2 + b x + c, none of them by a difference of nearly equal numbers."""
    if a == 0:
        return [-c / b] if b else []
    square = b * b - 4 * a * c
    if -4 * NOTHING * abs(a * c) < square < 0:  # a double root, but for rounding
        square = 0.0
    if square < 0:
        return []
    half = -(b + math.copysign(math.sqrt(square), b)) / 2
    return [half / a, c / half] if half else [0.0]


def _section(shunt_at: Place, series_x: float, shunt_b: float, loss: dict[int, float], target_ohm: complex) -> LSection:
    """The section with its losses and heats, for one watt entering; shunt_b is the size of its admittance, signed (capacitor: plus)."""
    if abs(shunt_b) * LARGEST_SHUNT_OHM < 1:
        shunt_b = 0.0
    series_r = abs(series_x) * loss[1 if series_x > 0 else -1]
    q_shunt = loss[-1 if shunt_b > 0 else 1]
    # admittance b (q + j) of a part r + jX: |X| = 1/(b (1 + q^2)), and r = q |X|
    shunt_x = -1 / (shunt_b * (1 + q_shunt**2)) if shunt_b else math.inf
    i_squared_in = 2 / target_ohm.real  # peak, for 1 W
    v_squared_in = i_squared_in * abs(target_ohm) ** 2
    if shunt_at == "transmitter":
        v_squared = v_squared_in
        i_squared = v_squared_in * abs(1 / target_ohm - abs(shunt_b) * q_shunt - 1j * shunt_b) ** 2
    else:
        i_squared = i_squared_in
        v_squared = i_squared_in * abs(target_ohm - series_r - 1j * series_x) ** 2
    return LSection(
        shunt_at=shunt_at,
        series_ohm=series_x,
        shunt_ohm=shunt_x,
        series_loss_ohm=series_r,
        shunt_loss_ohm=q_shunt * abs(shunt_x) if shunt_b else 0.0,
        series_heat=i_squared * series_r / 2,
        shunt_heat=v_squared * abs(shunt_b) * q_shunt / 2,
        series_reactive=i_squared * abs(series_x) / 2,
        shunt_reactive=v_squared * abs(shunt_b) / 2,
    )


def as_element(position: Literal["series", "shunt"], reactance_ohm: float, loss_ohm: float, frequency_hz: float) -> Element:
    omega = 2 * math.pi * frequency_hz
    if reactance_ohm > 0:
        return Element(position=position, kind="inductor", value=reactance_ohm / omega, loss_ohm=loss_ohm)
    return Element(position=position, kind="capacitor", value=-1 / (omega * reactance_ohm), loss_ohm=loss_ohm)
