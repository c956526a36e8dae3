"""S-units: what a receiver's meter should show, by the amateur radio standard. Real meters differ, often by an S-unit or two.

Source: IARU Region 1 Technical Recommendation R.1 (1981), as in the HF Managers Handbook V9 (2018), section 4.1.3: S9 is an available power
of -73 dBm at the receiver's input up to 30 MHz, and of -93 dBm above it; an S-unit is 6 dB.
"""

from __future__ import annotations

import math

S9_DBM = -73.0  # up to 30 MHz
S9_DBM_ABOVE = -93.0
LIMIT_HZ = 30e6
DB_PER_UNIT = 6.0


def dbm(power_w: float) -> float:
    """A power in dBm; minus infinity for none."""
    return 10 * math.log10(power_w / 1e-3) if power_w > 0 else -math.inf


def s_reading(power_w: float, frequency_hz: float) -> float:
    """The reading in S-units, S9 = 9.0, from the power at the receiver's input; nothing keeps it from going below 0."""
    s9 = S9_DBM if frequency_hz <= LIMIT_HZ else S9_DBM_ABOVE
    return 9 + (dbm(power_w) - s9) / DB_PER_UNIT


def s_label(power_w: float, frequency_hz: float) -> str:
    """The reading in words: "S7", or "S9 + 15 dB" above S9; whole S-units and decibels, "below S1" under half of one."""
    reading = s_reading(power_w, frequency_hz)
    if reading < 0.5:
        return "below S1"
    over = round((reading - 9) * DB_PER_UNIT)
    return f"S9 + {over} dB" if over > 0 else f"S{round(reading)}"
