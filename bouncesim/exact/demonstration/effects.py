"""What a demonstration shows, and where: one station over the amateur bands, its effects against the doubt of the meters that show them.

Three meters: at the transmitter, and at both ends of the line with the highest SWR. Three effects:

    above   the forward needle on the line stands above what the transmitter gives;
    flat    the transmitter sees next to no reflection, while the line carries a lot;
    place   the same meter shows something else at the other end of the line.

The contrast of an effect is the difference of the two readings that show it over the sum of what either may be off: above 1 no allowed
error of the meters hides it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from bouncesim import budget, exact
from bouncesim.account.readings import LineReading, MeterReading, Readings
from bouncesim.errors import ScenarioError
from bouncesim.exact.antenna import known_antenna
from bouncesim.exact.demonstration.instruments import Instrument, Interval, Shown, scale_for
from bouncesim.exact.dipole import dipole_work
from bouncesim.exact.matching import set_tuner
from bouncesim.exact.phasor import characteristic
from bouncesim.exact.retuned import at_frequency
from bouncesim.scenario import Line, Meter, Scenario, Tuner
from bouncesim.scenario.bands import edges
from bouncesim.scenario.model import flat_parts

EFFECTS = ("above", "flat", "place")
PLACES_IN_A_BAND = 5  # tried, evenly inside it: an edge is no place to transmit on
TUNING_W = 5.0  # to tune up with: common practice, no source
FULL = 0.8  # of a scale: where a needle is read well (common practice, no source)
LEAST_ARRIVING = 0.5  # of the power, at the antenna: a station that turns more into heat is left for the end of the list
ENOUGH = 3.0  # a contrast that leaves nobody in doubt: more shows no more
SAME_LINE = 0.05  # of an impedance: a meter this near to the line's is made for it


@dataclass(frozen=True)
class Meters:
    """The instruments at hand: class as a share of full scale, full scales (W), directivity (dB; None: perfect), reference (ohm)."""

    accuracy: float
    scales_w: tuple[float, ...]
    directivity_db: float | None
    reference_ohm: float

    def instrument(self, forward_w: float, reflected_w: float) -> Instrument:
        """Each needle on the smallest scale that holds its reading."""
        return Instrument(self.accuracy, self.scale(forward_w), self.scale(reflected_w), self.directivity_db)

    def scale(self, power_w: float) -> float:
        """The smallest full scale that holds a power."""
        return scale_for(power_w, self.scales_w)

    def shows(self, reading: MeterReading, share: float = 1.0) -> Shown:
        """What one of them may show in the place of a perfect one, at a share of the power."""
        forward, reflected = reading.forward_w * share, reading.reflected_w * share
        return self.instrument(forward, reflected).shows(forward, reflected)


@dataclass(frozen=True)
class Staged:
    """A station at a frequency with three meters in it, its tuner set; their readings."""

    scenario: Scenario
    readings: Readings
    line: LineReading
    at_transmitter: MeterReading
    near: MeterReading
    far: MeterReading

    @property
    def skew(self) -> float:
        """g of exact.demonstration.inference, of the meters' reference against the line's own impedance."""
        line = next(part for part in self.scenario.all_lines if part.name == self.line.name)
        frequency = self.scenario.transmitter.frequency_hz
        z0 = complex(characteristic(line.constants(frequency), frequency))
        reference = next(part.reference_ohm for part in self.scenario.path if isinstance(part, Meter) and part.name == self.near.name)
        return abs((z0 - reference) / (z0 + reference))


@dataclass(frozen=True)
class Effect:
    """One effect: what it compares, as the meters would truly stand, and its contrast."""

    name: str
    first_w: float
    second_w: float
    contrast: float


@dataclass(frozen=True)
class Candidate:
    """One band: the frequency where an effect shows best; `unfit`: why not to use it, or why there is nothing."""

    band: str
    frequency_hz: float
    staged: Staged | None
    effects: tuple[Effect, ...] = ()
    unfit: str = ""

    def contrast(self, name: str) -> float:
        """Of the effect with this name; 0 if the station does not show it."""
        return next((effect.contrast for effect in self.effects if effect.name == name), 0.0)

    @property
    def arriving(self) -> float:
        """The share of the power that reaches the antenna."""
        return self.staged.readings.antenna.power_w / self.staged.readings.transmitter.power_w if self.staged else 0.0


def tuner_in_front(scenario: Scenario, line: str) -> bool:
    """Whether the tuner stands between the transmitter and the line."""
    names = [part.name for part in scenario.path]
    front = scenario.path[: names.index(line)] if line in names else ()
    return any(isinstance(part, Tuner) or getattr(part, "is_tuner", False) for part in front)


def something_in_front(scenario: Scenario, line: str) -> bool:
    """Whether anything that may take power stands between the transmitter and the line."""
    names = [part.name for part in scenario.path]
    return any(not isinstance(part, Meter) for part in scenario.path[: names.index(line)])


def stage(scenario: Scenario, frequency_hz: float, meters: Meters) -> Staged:
    """A station with the meters in it, at a frequency. ScenarioError where its antenna cannot be told, or its tuner not be set."""
    moved = set_tuner(known_antenna(at_frequency(_plain(scenario), frequency_hz)))
    bare = exact.solve(moved)
    main = {line.name for line in moved.lines}
    name = max((line for line in bare.lines if line.name in main), key=lambda line: line.swr_out).name
    place = next(k for k, part in enumerate(moved.path) if part.name == name)
    taken = {part.name for part in flat_parts(moved.path)}
    free = [next(n for n in (f"{word} {k}" for k in range(1, 99)) if n not in taken) for word in ("first", "near", "far")]
    first, near, far = (Meter(name=each, reference_ohm=meters.reference_ohm) for each in free)
    path = (first, *moved.path[:place], near, moved.path[place], far, *moved.path[place + 1 :])
    station = moved.model_copy(update={"path": path})
    readings = exact.solve(station)
    found = {meter.name: meter for meter in readings.meters}
    line = next(line for line in readings.lines if line.name == name)
    return Staged(station, readings, line, *(found[each] for each in free))


def effects(staged: Staged, meters: Meters, power_w: float) -> tuple[Effect, ...]:
    """The effects that the station shows at a power of its transmitter, with their contrast."""
    share = power_w / staged.readings.transmitter.power_w
    readings = (staged.at_transmitter, staged.near, staged.far)
    first, near, far = (meters.shows(each, share) for each in readings)
    back = [each.reflected_w * share for each in readings]
    found = [_effect("place", back[1], near.reflected_w, back[2], far.reflected_w)]
    if tuner_in_front(staged.scenario, staged.line.name):
        given = meters.instrument(power_w, 0.0).shows(power_w, 0.0).forward_w
        found.insert(0, _effect("above", power_w, given, staged.near.forward_w * share, near.forward_w))
        found.insert(1, _effect("flat", back[0], first.reflected_w, back[1], near.reflected_w))
    return tuple(found)


def fitting_powers(staged: Staged, meters: Meters) -> tuple[float, float]:
    """Of the transmitter: a low power to tune up with, and one for the demonstration. That brings the forward needle on the line to `FULL`
    of a scale: the lowest such power from `TUNING_W` on, as more shows no more; or else the highest that there is."""
    most = staged.readings.transmitter.power_w
    share = max(meter.forward_w for meter in (staged.near, staged.far, staged.at_transmitter)) / most
    fits = sorted(power for scale in meters.scales_w if (power := FULL * scale / share) <= most)
    high = _rounded_down(next((power for power in fits if power >= TUNING_W), fits[-1] if fits else most))
    return min(TUNING_W, _rounded_down(high / 2)), high


def _rounded_down(power_w: float) -> float:
    """To two figures."""
    size = 10.0 ** (math.floor(math.log10(power_w)) - 1)
    return math.floor(power_w / size + 1e-9) * size


def _effect(name: str, one_w: float, one: Interval, other_w: float, other: Interval) -> Effect:
    """Both true readings, and how far they are apart in units of what the needles may be off."""
    low, high = (one_w, other_w) if one_w <= other_w else (other_w, one_w)
    up, down = (one.most - one_w, other_w - other.least) if one_w <= other_w else (other.most - other_w, one_w - one.least)
    doubt = up + down
    return Effect(name, one_w, other_w, (high - low) / doubt if doubt > 0 else float("inf") if high > low else 0.0)


def best_by_band(
    scenario: Scenario,
    bands: tuple[str, ...],
    region: int,
    meters: Meters,
    wanted: str | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[str, list[Candidate]]:
    """The effect that is shown (`wanted`, or the first with the highest contrast anywhere), and each band at its best frequency, the best
    band first; bands that should not be used come last. From a contrast of `ENOUGH` on, what arrives at the antenna counts. `progress` is
    called with the share that is done."""
    every = []
    if scenario.antenna.dipole is not None:
        budget.check(*(dipole_work(f, scenario.antenna.dipole.length_m) for band in bands for f in _inside(band, region)))
    for count, band in enumerate(bands, 1):
        every.append([_candidate(scenario, band, f, meters) for f in _inside(band, region)])
        if progress:
            progress(count / len(bands))
    flat = [each for of_band in every for each in of_band if not each.unfit]
    shown = [name for name in EFFECTS if any(effect.name == name for each in flat for effect in each.effects)] or ["place"]
    chosen = wanted or max(shown, key=lambda name: max((min(each.contrast(name), ENOUGH) for each in flat), default=0.0))

    def merit(each: Candidate) -> tuple[bool, float, float]:
        return not each.unfit, min(each.contrast(chosen), ENOUGH), each.arriving

    return chosen, sorted((max(of_band, key=merit) for of_band in every), key=merit, reverse=True)


def _candidate(scenario: Scenario, band: str, frequency_hz: float, meters: Meters) -> Candidate:
    try:
        staged = stage(scenario, frequency_hz, meters)
    except ScenarioError as error:
        return Candidate(band, frequency_hz, None, unfit=error.problems[0].reason)
    return Candidate(band, frequency_hz, staged, effects(staged, meters, fitting_powers(staged, meters)[1]), _unfit(staged))


def _unfit(staged: Staged) -> str:
    """Why a station should not be used as it stands, at its full power."""
    arriving = staged.readings.antenna.power_w / staged.readings.transmitter.power_w
    if arriving < LEAST_ARRIVING:
        return "most of it is heat"
    for line, reading in zip(staged.scenario.all_lines, staged.readings.lines, strict=True):
        rated = line.working_voltage_v_rms
        if rated is not None and reading.largest_v_peak / 2**0.5 > rated:
            return f"{line.name} above its working voltage at full power"
    return ""


def _inside(band: str, region: int) -> list[float]:
    low, high = edges(band, region)
    return [low + (high - low) * (k + 0.5) / PLACES_IN_A_BAND for k in range(PLACES_IN_A_BAND)]


def _plain(scenario: Scenario) -> Scenario:
    """The station that transmits its carrier, before anything happens to it."""
    return scenario.model_copy(update={"direction": "transmit", "receiver": None, "events": ()})


def is_made_for(meters: Meters, line: Line, frequency_hz: float) -> bool:
    """Whether the meters' reference is the line's impedance."""
    return abs(line.constants(frequency_hz).impedance_ohm / meters.reference_ohm - 1) <= SAME_LINE
