"""A demonstration at one frequency: powers that fit the meters, and what each meter may show at each power."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bouncesim.account.readings import MeterReading
from bouncesim.errors import ScenarioError
from bouncesim.exact.antenna import possible
from bouncesim.exact.demonstration.effects import Effect, Meters, Staged, effects, fitting_powers, stage
from bouncesim.exact.demonstration.instruments import Instrument, Interval, Shown
from bouncesim.exact.retuned import at_frequency
from bouncesim.scenario import Scenario

PLACES = ("transmitter", "line", "antenna")  # of the three meters, as exact.demonstration.inference calls them


@dataclass(frozen=True)
class Expected:
    """One meter at one power: what it would truly show (of the antenna as told), and what it may show, whatever antenna is possible."""

    place: str
    forward_w: float
    reflected_w: float
    swr: float
    scales_w: tuple[float, float]
    shown: Shown


@dataclass(frozen=True)
class Round:
    """All meters at one power of the transmitter; a dummy load in the place of everything; net power that is lost between the meters."""

    power_w: float
    dummy_load: Shown
    dummy_scale_w: float
    meters: tuple[Expected, ...]
    tuner_heat_w: Interval
    line_heat_w: Interval
    highest_v_peak: float


@dataclass(frozen=True)
class Sheet:
    """What to do and what to expect."""

    staged: Staged
    effects: tuple[Effect, ...]
    rounds: tuple[Round, ...]
    antennas: int  # that are possible; 1 where the antenna is known

    @property
    def frequency_hz(self) -> float:
        """Of the demonstration."""
        return self.staged.scenario.transmitter.frequency_hz


def sheet(scenario: Scenario, frequency_hz: float, meters: Meters, powers_w: tuple[float, ...] = ()) -> Sheet:
    """The sheet at a frequency; powers as given, or two that fit the scales. ScenarioError as for `stage`."""
    told = stage(scenario, frequency_hz, meters)
    stations = [told, *_others(scenario, frequency_hz, meters)]
    power = told.readings.transmitter.power_w
    powers = powers_w or fitting_powers(told, meters)
    rounds = tuple(_round(stations, each / power, meters) for each in powers)
    return Sheet(told, effects(told, meters, max(powers)), rounds, max(1, len(stations) - 1))


def _others(scenario: Scenario, frequency_hz: float, meters: Meters) -> list[Staged]:
    """The station with every other antenna that what was told leaves possible."""
    found: list[Staged] = []
    open_to = possible(at_frequency(scenario, frequency_hz))
    for each in open_to if len(open_to) > 1 else []:
        try:
            found.append(stage(each, frequency_hz, meters))
        except ScenarioError:
            continue
    return found


def _round(stations: list[Staged], share: float, meters: Meters) -> Round:
    """All stations at a share of their power; the first is the one as told."""
    power = stations[0].readings.transmitter.power_w * share
    expected = []
    for place, name in zip(PLACES, ("at_transmitter", "near", "far"), strict=True):
        readings: list[MeterReading] = [getattr(each, name) for each in stations]
        forward, reflected = (max(getattr(each, key) for each in readings) * share for key in ("forward_w", "reflected_w"))
        instrument = meters.instrument(forward, reflected)
        shown = [instrument.shows(each.forward_w * share, each.reflected_w * share) for each in readings]
        union = shown[0]
        for each in shown[1:]:
            union = union | each
        first, scales = readings[0], (instrument.forward_scale_w, instrument.reflected_scale_w)
        expected.append(Expected(place, first.forward_w * share, first.reflected_w * share, first.swr, scales, union))
    tuner = [
        each.at_transmitter.forward_w - each.at_transmitter.reflected_w - each.near.forward_w + each.near.reflected_w for each in stations
    ]
    line = [each.line.heat_w for each in stations]
    scale = meters.scale(power)
    return Round(
        power,
        Instrument(meters.accuracy, scale, min(meters.scales_w), meters.directivity_db).shows(power, 0.0),
        scale,
        tuple(expected),
        Interval(max(0.0, min(tuner) * share), max(0.0, max(tuner) * share)),
        Interval(min(line) * share, max(line) * share),
        max(line.largest_v_peak for each in stations for line in each.readings.lines) * math.sqrt(share),
    )
