"""A few places of each rule's range as real stations, marched in time: does the simulation confirm the exact answer there?

Where the reading is one of the steady state, three grids and their extrapolation (compare.check) read it; where it is a matter of echoes,
one run from a step of the key, read just before each echo.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from bouncesim import perform
from bouncesim.account.rulemap import Spot
from bouncesim.account.run import Run
from bouncesim.compare import trials
from bouncesim.compare.check import check
from bouncesim.compare.trials import COIL_Q, FREQUENCY, LARGEST_SWR, THIN_DB, TRIALS, VELOCITY_FACTOR, WAVE, Z0
from bouncesim.exact.formulas.rules import Rule
from bouncesim.scenario import Antenna, Beat, Element, Keying, Line, Meter, Network, Part, Scenario, Transmitter

# Powers and ratios of an extrapolated steady state; the check itself holds powers to 1e-9 and the SWR of an extreme load to less.
STEADY = 1e-6
# The means over a period of one run on the ordinary grid, and how far a tuner has come to rest in the eight periods between echoes.
STAIRCASE = 5e-3
STAIRCASE_WAVES = 4.0  # wavelengths of line: a round trip is eight periods
COUNTED = 12  # round trips
POWER_W = 40.0
NEAR = 1e-3  # wavelengths of line where only its load matters: a march wants one

Numbers = Mapping[str, float]


@dataclass(frozen=True)
class Station:
    """A station at one place of a range, what is read from its steady state or measured in its run, and what the exact engine expects."""

    scenario: Scenario
    reading: str
    exact: float
    read: Callable[[Numbers], float] | None = None
    measure: Callable[[Run], float] | None = None

    def spot(self, x: float, y: float) -> Spot:
        """March it. Raises NotSettled, Diverged."""
        if self.read:
            simulated = self.read({row.quantity: row.simulated for row in check(self.scenario).rows})
            return Spot(x, y, self.reading, simulated, self.exact, STEADY)
        assert self.measure is not None
        return Spot(x, y, self.reading, self.measure(perform.simulate(self.scenario)), self.exact, STAIRCASE)


PLACES: dict[str, tuple[tuple[float, float], ...]] = {  # of each rule: where in x and y
    "reflected-share": ((3.0, 0.05), (8.0, 1.5)),
    "tuned-forward": ((3.0, 0.0), (6.0, 2.0)),
    "one-echo": ((1.5, 0.0), (6.0, 0.5)),
    "added-loss": ((30.0, 0.03), (15.0, 0.05), (3.0, 3.0)),
    "largest-voltage": ((5.0, 0.1), (5.0, 0.8)),
    "swr-in-the-shack": ((10.0, 0.11), (4.0, 3.0)),
    "untuned-power": ((3.0, 5.0), (3.0, 50.0), (3.0, 500.0)),
    "tuner-loss": ((20.0, 0.0), (10.0, -250.0)),
    "quarter-wave-bandwidth": ((4.0, 0.0), (3.0, 10.0)),
    "half-an-s-unit": ((0.5, 6.0), (0.25, 4.0)),
    "round-trips": ((0.5, 0.8), (0.8, 0.4)),
    "open-end": ((3.0, 50.0), (5.0, 200.0)),
    "meter-on-any-line": ((2.0, 50.0), (3.0, 400.0)),
    "half-wave-line": ((3.0, 0.05), (8.0, 1.5)),
}


def spots(rule: Rule) -> tuple[Spot, ...]:
    """Every place of `PLACES`, marched in time, each at the worst of what else the range holds. Raises NotSettled, Diverged."""
    return tuple(station_at(rule, x, y).spot(x, y) for x, y in PLACES[rule.name])


def station_at(rule: Rule, x: float, y: float) -> Station:
    """The station of a rule at one place of its range."""
    trial, held = TRIALS[rule.name]
    arguments, exact = trial(np.asarray(x), np.asarray(y), held)
    by_rule, exact = np.broadcast_arrays(rule.function(*arguments), exact)
    at = int(np.abs(by_rule / exact - 1).argmax())
    return STATIONS[rule.name](rule, x, y, float(held[at]), abs(exact[at]) if np.iscomplexobj(exact) else float(exact[at]))


def _line(waves: float, db_a_wave: float = 0.0, impedance_ohm: float = Z0) -> Line:
    return Line(
        name="line",
        length_m=waves * WAVE,
        impedance_ohm=impedance_ohm,
        velocity_factor=VELOCITY_FACTOR,
        loss_db_per_m=db_a_wave / WAVE,
    )


def _scenario(path: tuple[Part, ...], antenna_ohm: complex, source_ohm: float = Z0, frequency_hz: float = FREQUENCY) -> Scenario:
    transmitter = Transmitter(frequency_hz=frequency_hz, power_w=POWER_W, source_impedance_ohm=source_ohm)
    return Scenario(
        title="a place of a rule's range", transmitter=transmitter, path=path, antenna=Antenna(impedance_ohm=complex(antenna_ohm))
    )


def _with_load(waves: Callable[[float], float], loss: Callable[[float], float], reading: Callable[[Numbers], float]) -> Place:
    """A line of the length and loss (dB a wavelength) that y gives, to an antenna of the SWR x and the phase h."""

    def build(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
        return Station(_scenario((_line(waves(y), loss(y)),), complex(trials.load(x, h))), rule.quantity, exact, reading)

    return build


def _untuned(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    scenario = _scenario((_line(1.0),), complex(trials.load(x, h)), y)  # a whole wave repeats its load
    return Station(scenario, rule.quantity, exact, lambda n: n["transmitter.power_w"] / POWER_W)


def _tuner(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    susceptance, coil = (float(part) for part in trials.coil_tuner(x, y))
    omega = 2 * np.pi * FREQUENCY
    shunt = Element(position="shunt", kind="capacitor", value=susceptance / omega)
    series = Element(position="series", kind="inductor", value=coil / omega, loss_ohm=coil / COIL_Q)
    scenario = _scenario((Network(name="tuner", elements=(shunt, series), is_tuner=True), _line(1.0)), complex(x, y))
    return Station(scenario, rule.quantity, exact, lambda n: n["tuner.heat_w"] / n["transmitter.power_w"])


def _quarter_wave(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    edge = float(trials.band_edge(np.asarray(x), np.asarray(y), True))
    antenna = complex(trials.quarter_wave_antenna(x, y, edge))
    scenario = _scenario((_line(0.25, 0.0, Z0 * float(np.sqrt(x))),), antenna, Z0, FREQUENCY * edge)
    return Station(scenario, "SWR at the upper edge of the band", LARGEST_SWR, lambda n: n["transmitter.swr"])


def _s_units(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    loss = -10 * np.log10(x)
    line = _line(1.0, loss).model_copy(update={"dielectric_share": 0.5})  # a real impedance: matched by 50 ohm exactly
    return Station(_scenario((line,), Z0), rule.quantity, exact, lambda n: -10 * float(np.log10(n["antenna.power_w"] / POWER_W)) / y)


def _meter(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    scenario = _scenario((Meter(name="meter", reference_ohm=Z0), _line(1.0, 0.0, y)), complex(trials.load(x, h, y)))
    return Station(scenario, rule.quantity, exact, lambda n: n["line.swr_in"])


def _stepped(path: tuple[Part, ...], antenna_ohm: complex, source_ohm: float, waves: float) -> Scenario:
    """With a step of the key, kept in the traces until `COUNTED` round trips have passed."""
    end = Beat(until=(COUNTED + 1) * 2 * waves / FREQUENCY, lasts_s=1.0, caption="the end")
    return _scenario(path, antenna_ohm, source_ohm).model_copy(update={"keying": Keying(shape="step"), "beats": (end,)})


def _steps(run: Run) -> list[float]:
    """Forward power at the line's input, a mean over the last period before each echo: after 0, 1, 2 ... round trips."""
    trip = run.moments["round trip 1"]
    ends = trip * np.arange(1, COUNTED + 1) - 1 / (16 * FREQUENCY)
    return [float(power) for power in np.interp(ends, run.traces.time_s, run.traces.forward_w["line"])]


def _counted(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    """Resistive ends; the phase of a round trip is made by the length of the line."""
    waves = STAIRCASE_WAVES - h / (4 * np.pi)
    source, antenna = (Z0 * (1 + rho) / (1 - rho) for rho in (x, y))
    scenario = _stepped((_line(waves),), antenna, source, waves)

    def measure(run: Run) -> float:
        final = run.readings.lines[0].forward_in_w
        return 1.0 + max((n for n, power in enumerate(_steps(run), 1) if abs(power / final - 1) > 0.01), default=0)

    return Station(scenario, rule.quantity, exact, measure=measure)


def _again(rule: Rule, x: float, y: float, h: float, exact: float) -> Station:
    """What sets out again shows in the second step of the forward power."""
    near, susceptance, far = (float(part) for part in trials.l_tuner(np.asarray(trials.load(x, h))))
    omega = 2 * np.pi * FREQUENCY
    ends = [(value, place) for value, place in ((near, "series"), (susceptance, "shunt"), (far, "series")) if value]
    elements = tuple(_element(place, value, omega) for value, place in ends)
    path = (Network(name="tuner", elements=elements, is_tuner=True), _line(STAIRCASE_WAVES))
    scenario = _stepped(path, complex(trials.load(x, h)), y, STAIRCASE_WAVES)
    echoes = perform.solve_exact(scenario).echoes
    assert echoes is not None
    assert abs(abs(echoes.reflection_looking_back) ** 2 - exact) < 1e-9, "the same tuner, solved as a station"
    after_one = echoes.forward_after_round_trips_w[1]
    return Station(scenario, "forward power after one round trip (W)", after_one, measure=lambda run: _steps(run)[1])


def _element(place: str, value: float, omega: float) -> Element:
    """A series reactance (ohm) or a shunt susceptance (S), as a part."""
    is_coil = (value > 0) == (place == "series")
    size = abs(value) / omega if (place == "series") == is_coil else 1 / (omega * abs(value))
    return Element.model_validate({"position": place, "kind": "inductor" if is_coil else "capacitor", "value": size})


Place = Callable[[Rule, float, float, float, float], Station]


def _swr_found(n: Numbers) -> float:
    return n["line.reflected_out_w"] / n["line.forward_out_w"]


def _forward(n: Numbers) -> float:
    return n["line.forward_in_w"] / n["transmitter.power_w"]


def _largest(n: Numbers) -> float:
    return float(n["line.largest_v_peak"] / np.sqrt(2 * n["transmitter.power_w"]))


def _seen(n: Numbers) -> float:
    return abs(complex(n["transmitter.impedance_ohm.real"], n["transmitter.impedance_ohm.imag"]))


STATIONS: dict[str, Place] = {
    "reflected-share": _with_load(lambda y: 1.0, lambda y: y, _swr_found),
    "tuned-forward": _with_load(lambda y: 2.0, lambda y: y / 2, _forward),
    "one-echo": _with_load(lambda y: 2.0, lambda y: y / 2, _forward),
    "added-loss": _with_load(lambda y: y, lambda y: THIN_DB, lambda n: n["line.loss_db"]),
    "largest-voltage": _with_load(lambda y: y, lambda y: 0.0, _largest),
    "swr-in-the-shack": _with_load(lambda y: y / THIN_DB, lambda y: THIN_DB, lambda n: n["line.swr_in"]),
    "untuned-power": _untuned,
    "tuner-loss": _tuner,
    "quarter-wave-bandwidth": _quarter_wave,
    "half-an-s-unit": _s_units,
    "round-trips": _counted,
    "open-end": _again,
    "meter-on-any-line": _meter,
    "half-wave-line": _with_load(lambda y: 0.5, lambda y: y, _seen),
}
