"""Tuners set for the carrier: L sections with real parts, solved exactly; pi and T sections from two L sections back to back.

The L section, both ways round, is one problem. Let the `near` part be the one at the transmitter and the `far` part the one at the
load, and write each part as size (q + j s), with s = +-1 the sign of its reactance (or susceptance) and q = 1/Q its loss: a coil
of reactance X has the resistance X/Q in series, a capacitor |X|/Q. With the shunt at the transmitter, work on the load's impedance:
W = Z + f (qf + j sf) and 1/W = 1/R0 - n (qn + j sn), n (qn + j sn) being the shunt's admittance. With the shunt at the load, work
on its admittance: the very same equations with Y for Z and R0 for 1/R0. So for a load R + jX and a target T

    W = R + jX + f (qf + j sf),    1/W = T - n (qn + j sn),    f >= 0, n >= 0.

W = (T - qn n + j sn n)/D with D = |1/W|^2 = T^2 - 2 T qn n + (1 + qn^2) n^2. Its imaginary part gives f = sf (sn n/D - X); put into
the real part, with K = R - qf sf X, it leaves a quadratic in n alone, exact at any loss:

    K (1 + qn^2) n^2 + (qn + qf sf sn - 2 K T qn) n + K T^2 - T = 0.

Derived here; without loss it is the L section of Pozar, Microwave Engineering, section 5.1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from typing import Literal

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact import phasor
from bouncesim.exact.parts import part_chains
from bouncesim.scenario import Element, Meter, Network, Scenario, Tuner

Place = Literal["transmitter", "antenna"]

# A part smaller than this, against the impedances around it, is rounding: it is left out. So is a load's resistance against its reactance.
NOTHING = 1e-13
# A shunt part above this many ohm is left out too: a scenario holds no larger one, and at 50 ohm it is a reflection of 25 in a billion.
LARGEST_SHUNT_OHM = 1e9
# Heats this close, as a part of the power, are equal; then a series coil is taken.
SAME_HEAT = 1e-12


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
    reactive: float  # reactive power in both parts, as a multiple of the power that enters

    @property
    def heat(self) -> float:
        """Heat in both parts, as a part of the power that enters."""
        return self.series_heat + self.shunt_heat

    def is_kind(self, kind: str) -> bool:
        """Whether its series part is what `kind` asks for; no series part at all suits every kind."""
        return self.series_ohm == 0 or kind == ("series coil" if self.series_ohm > 0 else "series capacitor")

    def elements(self, frequency_hz: float) -> tuple[Element, ...]:
        """Its parts in order from the transmitter; one that is not needed is left out."""
        parts = []
        if math.isfinite(self.shunt_ohm):
            parts.append(_element("shunt", self.shunt_ohm, self.shunt_loss_ohm, frequency_hz))
        if self.series_ohm != 0:
            parts.append(_element("series", self.series_ohm, self.series_loss_ohm, frequency_hz))
        return tuple(parts if self.shunt_at == "transmitter" else reversed(parts))


def l_sections(target_ohm: float, load_ohm: complex, coil_q: float | None = None, capacitor_q: float | None = None) -> list[LSection]:
    """Every L section that turns `load_ohm` into the real `target_ohm`: up to two for each place of the shunt without loss.

    Sorted by heat, equal heats with the series coil first, then the shunt capacitor, then the least reactive power. Empty if there is
    none: the load takes no power, or the parts lose too much.
    """
    if not (math.isfinite(abs(load_ohm)) and load_ohm.real > NOTHING * abs(load_ohm)):
        return []
    loss = {1: 1 / coil_q if coil_q else 0.0, -1: 1 / capacitor_q if capacitor_q else 0.0}
    found = []
    places: tuple[Place, ...] = ("transmitter", "antenna")
    for shunt_at, series_sign, shunt_sign in product(places, (1, -1), (1, -1)):
        q_series, q_shunt = loss[series_sign], loss[shunt_sign]
        if shunt_at == "transmitter":
            halves = _halves(1 / target_ohm, load_ohm, q_series, series_sign, q_shunt, -shunt_sign)
            sizes = [(far, near) for near, far in halves]
        else:
            sizes = _halves(target_ohm, 1 / load_ohm, q_shunt, -shunt_sign, q_series, series_sign)
        for series_size, shunt_size in sizes:
            found.append(_section(shunt_at, series_sign * series_size, -shunt_sign * shunt_size, loss, target_ohm, load_ohm))
    unique = list(dict.fromkeys(found))
    return sorted(unique, key=lambda s: (round(s.heat / SAME_HEAT), s.series_ohm < 0, s.shunt_ohm > 0, s.reactive))


def set_tuner(scenario: Scenario) -> Scenario:
    """The scenario with its tuner set, so that the transmitter sees its rated load: the tuner has become an explicit network.

    A scenario without a tuner comes back unchanged. ScenarioError if there are several, if anything but meters stands before the
    tuner, or if the tuner sees a load that takes no power.
    """
    places = [place for place, part in enumerate(scenario.path) if isinstance(part, Tuner)]
    if not places:
        return scenario
    if len(places) > 1:
        names = ", ".join(scenario.path[place].name for place in places)
        remedy = "Keep one; give the values of the others as networks"
        raise ScenarioError(Problem("path", f"{len(places)} tuners are to be set ({names}); only one can be", remedy))
    place = places[0]
    in_the_way = [part.name for part in scenario.path[:place] if not isinstance(part, Meter)]
    if in_the_way:
        reason = f"{', '.join(in_the_way)} stands between the transmitter and the tuner"
        remedy = "Only meters may stand there: move the tuner next to the transmitter, or give its values as a network"
        raise ScenarioError(Problem(f"path[{place + 1}]", reason, remedy))
    tuner = scenario.path[place]
    assert isinstance(tuner, Tuner)
    section = _choose(tuner, f"path[{place + 1}]", scenario, _load_of(scenario, place))
    elements = section.elements(scenario.transmitter.frequency_hz)
    network = Network(name=tuner.name, elements=elements, is_tuner=True)
    return scenario.model_copy(update={"path": (*scenario.path[:place], network, *scenario.path[place + 1 :])})


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


def _halves(target: float, load: complex, q_far: float, s_far: int, q_near: float, s_near: int) -> list[tuple[float, float]]:
    """Sizes (near, far) of the two parts, each at least 0: the roots of the quadratic at the head of the module."""
    k = load.real - q_far * s_far * load.imag
    roots = _roots(k * (1 + q_near**2), q_near + q_far * s_far * s_near - 2 * k * target * q_near, k * target**2 - target)
    sizes = []
    for near in roots:
        if abs(near) <= NOTHING * target:
            near = 0.0
        size = target**2 - 2 * target * q_near * near + (1 + q_near**2) * near**2
        far = s_far * (s_near * near / size - load.imag)
        if abs(far) <= NOTHING * abs(load):
            far = 0.0
        if near >= 0 and far >= 0:
            sizes.append((near, far))
    return sizes


def _roots(a: float, b: float, c: float) -> list[float]:
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


def _section(shunt_at: Place, series_x: float, shunt_b: float, loss: dict[int, float], target_ohm: float, load_ohm: complex) -> LSection:
    """The section with its losses and heats, for one watt entering; shunt_b is the size of its admittance, signed (capacitor: plus)."""
    if abs(shunt_b) * LARGEST_SHUNT_OHM < 1:
        shunt_b = 0.0
    series_r = abs(series_x) * loss[1 if series_x > 0 else -1]
    q_shunt = loss[-1 if shunt_b > 0 else 1]
    # admittance b (q + j) of a part r + jX: |X| = 1/(b (1 + q^2)), and r = q |X|
    shunt_x = -1 / (shunt_b * (1 + q_shunt**2)) if shunt_b else math.inf
    v_squared_in, i_squared_in = 2 * target_ohm, 2 / target_ohm  # peak, for 1 W
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
        reactive=(i_squared * abs(series_x) + v_squared * abs(shunt_b)) / 2,
    )


def _element(position: Literal["series", "shunt"], reactance_ohm: float, loss_ohm: float, frequency_hz: float) -> Element:
    omega = 2 * math.pi * frequency_hz
    if reactance_ohm > 0:
        return Element(position=position, kind="inductor", value=reactance_ohm / omega, loss_ohm=loss_ohm)
    return Element(position=position, kind="capacitor", value=-1 / (omega * reactance_ohm), loss_ohm=loss_ohm)


def _load_of(scenario: Scenario, place: int) -> complex:
    """Impedance at the antenna side of the part at `place`."""
    frequency = scenario.transmitter.frequency_hz
    v, i = phasor.load_pair(scenario.antenna.impedance_ohm)
    for part in reversed(scenario.path[place + 1 :]):
        for chain in reversed(part_chains(part, frequency)):
            v, i = phasor.step_back(chain, v, i)
    return complex(v / i) if i else complex(math.inf)


def _shown(ohm: complex) -> str:
    """An impedance to four digits, a part of it that is rounding as 0."""
    real, imag = (0.0 if abs(part) <= NOTHING * abs(ohm) else part for part in (ohm.real, ohm.imag))
    return f"{real:.4g} {'-' if imag < 0 else '+'} {abs(imag):.4g}j ohm"


def _choose(tuner: Tuner, where: str, scenario: Scenario, load_ohm: complex) -> LSection:
    """The first section of the wanted kind. Any load that takes power has sections of both kinds, for parts with a Q of 1 or more."""
    for section in l_sections(scenario.transmitter.rated_load_ohm, load_ohm, tuner.coil_q, tuner.capacitor_q):
        if tuner.kind == "least heat" or section.is_kind(tuner.kind):
            return section
    part = "" if tuner.kind == "least heat" else f" with a {tuner.kind}"
    reason = f"no L section{part} matches {_shown(load_ohm)}, which is what the tuner sees: next to no power can enter it"
    raise ScenarioError(Problem(where, reason, "Give the antenna a resistance, or shorten the line"))
