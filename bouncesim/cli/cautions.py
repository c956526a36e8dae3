"""The dangers of a station, said where its own figures call for it. No figure here is a safe limit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from bouncesim.account.exposure import Limit, limits
from bouncesim.account.readings import Readings
from bouncesim.account.run import Stress
from bouncesim.quantity import show
from bouncesim.scenario import Line, Meter, Scenario, Transformer

# Where to start speaking, not where danger starts: common practice, no source.
VOLTAGE_V_PEAK = 50.0
POWER_W = 3.0
CONTEXT = "For context only"  # how the caution begins that names published limits
BALANCED_OHM = 200.0  # from here on a line is taken to be two wires: common practice, no source


def cautions(scenario: Scenario, readings: Readings, stresses: Sequence[Stress] = ()) -> list[str]:
    """Plain sentences, none for a station of little power and low voltage; `stresses` of its start-up count too."""
    voltages = [line.largest_v_peak for line in readings.lines] + [part.capacitor_v_peak for part in readings.networks]
    highest = max(voltages + [stress.largest for stress in stresses if stress.quantity.endswith("voltage")])
    above = _above_ratings(scenario, readings)
    found = general(highest, readings.transmitter.power_w, scenario.transmitter.frequency_hz, above)
    return found + list(_left_out(scenario))


def general(highest_v_peak: float, power_w: float, frequency_hz: float, above_ratings: Sequence[str] = ()) -> list[str]:
    """What this voltage, this power and this frequency call for; what is said of ratings stands among it."""
    found = []
    if highest_v_peak > VOLTAGE_V_PEAK:
        found.append(
            f"Up to {show(highest_v_peak, 'V')} peak stands on the line or in its tuner. Tuner terminals, the feed point and open wire "
            "carry it bare, and the antenna's ends carry more (not simulated). Check the voltage and current ratings of every part."
        )
    found += above_ratings
    if power_w > POWER_W or highest_v_peak > VOLTAGE_V_PEAK:
        found.append(
            "Any bare conductor that carries RF can burn at a few watts. No figure here is a safe limit. Never switch or retune at full "
            "power; demonstrate at low power, listen first, identify, and transmit only with a licence."
        )
    if power_w > POWER_W:
        found += _exposure(frequency_hz)
    return found


def _above_ratings(scenario: Scenario, readings: Readings) -> list[str]:
    """What goes beyond the ratings that [survey.ratings] tells."""
    if scenario.survey is None:
        return []
    given = scenario.survey.ratings
    asked = [(line.name, "V", line.largest_v_peak, given.line_v_peak) for line in readings.lines]
    asked += [(line.name, "A", line.largest_a_peak, given.line_a_peak) for line in readings.lines]
    asked += [(part.name, "A", part.coil_a_peak, given.coil_a_peak) for part in readings.networks]
    asked += [(part.name, "V", part.capacitor_v_peak, given.capacitor_v_peak) for part in readings.networks]
    return [
        f"{name}: {show(value, unit)} peak is above its rating of {show(rating, unit)} peak. Lower the power, or take a stronger part."
        for name, unit, value, rating in asked
        if rating is not None and value > rating
    ]


def _exposure(frequency_hz: float) -> list[str]:
    """That fields matter, and what is published about them at this frequency."""
    told = (
        "Field exposure depends on duty, averaging, gain and distance, none of which is simulated here: follow the rules of your country; "
        "nothing here certifies a station."
    )
    known = limits(frequency_hz)
    if not known:
        return [told]
    words = "; ".join(
        f"{source}: " + ", ".join(f"{_level(limit)} ({limit.who}, {limit.average_min:g} min)" for limit in known if limit.source == source)
        for source in dict.fromkeys(limit.source for limit in known)
    )
    return [told, f"{CONTEXT}, published limits at {show(frequency_hz, 'Hz', 4)}, each a mean over so many minutes. {words}."]


def _level(limit: Limit) -> str:
    """Field strengths, rms; else the power density."""
    if limit.electric_v_per_m is not None and limit.magnetic_a_per_m is not None:
        return f"{limit.electric_v_per_m:.3g} V/m and {limit.magnetic_a_per_m:.3g} A/m"
    return f"{limit.density_w_per_m2:.3g} W/m²"


def _left_out(scenario: Scenario) -> Iterator[str]:
    """Where a balanced line makes what the model leaves out matter."""
    frequency = scenario.transmitter.frequency_hz
    balanced = {line.name for line in scenario.all_lines if line.constants(frequency).impedance_ohm >= BALANCED_OHM}
    if balanced:
        yield (
            "A balanced line can carry common-mode current and radiate, near people and equipment too: neither is simulated here. Keep it "
            "away from both."
        )
    path = scenario.path
    for k, meter in enumerate(path):
        around = (next((p for p in side if isinstance(p, Line | Transformer)), None) for side in (path[k + 1 :], path[:k][::-1]))
        if isinstance(meter, Meter) and any(part is not None and part.name in balanced for part in around):
            yield f"The {meter.name} stands in a balanced line: made for coax, it reads right only between baluns."


def line_notes(scenario: Scenario, readings: Readings) -> list[str]:
    """What to know of each line's figures at the carrier, and where it works above its rated voltage."""
    frequency = scenario.transmitter.frequency_hz
    found = [f"{line.name}: {note}." for line in scenario.all_lines for note in line.notes(frequency)]
    for line, reading in zip(scenario.all_lines, readings.lines, strict=True):
        rated, carries = line.working_voltage_v_rms, reading.largest_v_peak / math.sqrt(2)
        if rated is not None and carries > rated:
            found.append(f"{line.name}: it carries {show(carries, 'V')} rms, above its working voltage of {show(rated, 'V')}.")
    return found
