"""The dangers of a station, said where its own figures call for it. No figure here is a safe limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bouncesim.account.readings import Readings
from bouncesim.account.run import Stress
from bouncesim.quantity import show
from bouncesim.scenario import Scenario

# Where to start speaking, not where danger starts: common practice, no source.
VOLTAGE_V_PEAK = 50.0
POWER_W = 3.0


def cautions(readings: Readings, stresses: Sequence[Stress] = ()) -> list[str]:
    """Plain sentences, none for a station of little power and low voltage."""
    found = []
    voltages = [line.largest_v_peak for line in readings.lines] + [part.capacitor_v_peak for part in readings.networks]
    highest = max(voltages + [stress.largest for stress in stresses if stress.quantity.endswith("voltage")])
    if highest > VOLTAGE_V_PEAK:
        found.append(
            f"Up to {show(highest, 'V')} peak stands on the line or in its tuner. Tuner terminals, the feed point and open wire carry it "
            "bare, and the antenna's ends carry more (not simulated). Check the voltage and current ratings of every part."
        )
    if readings.transmitter.power_w > POWER_W or highest > VOLTAGE_V_PEAK:
        found.append(
            "Any bare conductor that carries RF can burn at a few watts. Never switch or retune at full power; demonstrate at low power, "
            "listen first, identify, and transmit only with a licence."
        )
    if readings.transmitter.power_w > POWER_W:
        found.append(
            "Field exposure depends on duty, averaging, gain and distance, none of which is simulated here: follow the rules of your "
            "country."
        )
    return found


def line_notes(scenario: Scenario, readings: Readings) -> list[str]:
    """What to know of each line's figures at the carrier, and where it works above its rated voltage."""
    frequency = scenario.transmitter.frequency_hz
    found = [f"{line.name}: {note}." for line in scenario.all_lines for note in line.notes(frequency)]
    for line, reading in zip(scenario.all_lines, readings.lines, strict=True):
        rated, carries = line.working_voltage_v_rms, reading.largest_v_peak / math.sqrt(2)
        if rated is not None and carries > rated:
            found.append(f"{line.name}: it carries {show(carries, 'V')} rms, above its working voltage of {show(rated, 'V')}.")
    return found
