"""Surveys for the tests; everything in them is invented."""

from __future__ import annotations

from bouncesim.scenario import Scenario, parse_scenario

HEAD = """
title = "Survey"
[transmitter]
frequency = "7.1 MHz"
power = "45 W"
"""
PLAIN = """
[[path]]
part = "tuner"
coil_q = 200
capacitor_q = 1000
[[path]]
part = "meter"
directivity = "25 dB"
[[path]]
part = "line"
type = "rg58c"
length = "31 m"
[antenna]
impedance = "25 - 60j ohm"
"""
MANY = """
[survey]
bands = ["80 m", "40 m", "20 m", "10 m"]
type = ["rg58c", "rg213", "window-line", "open-wire-2mm"]
length = { from = "3 m", to = "60 m", count = 5 }
swr = [1, 1.5, 3, 10, 100]
phases = 12
tuner = ["none", "L"]
power = ["20 W", "50 W"]
"""
EVERY_PART = """
behaviour = "fold-back"
[[path]]
part = "network"
elements = [{ shunt = "capacitor", value = "47 pF", q = 500 }, { series = "resistor", value = "1 ohm" }]
[[path]]
part = "line"
name = "first"
type = "rg213"
length = "12 m"
loss_law = "wideband"
[[path]]
part = "tuner"
coil_q = 150
kind = "series coil"
largest_coil = "2 uH"
[[path]]
part = "transformer"
ratio = "1:4"
magnetising_inductance = "20 uH"
core_resistance = "5 kohm"
winding_resistance = "0.1 ohm"
[[path]]
part = "stub"
end = "short"
[[path.path]]
part = "line"
name = "in the stub"
type = "rg58c"
length = "7 m"
[[path]]
part = "line"
name = "second"
type = "window-line"
length = "20 m"
[antenna]
dipole = { length = "20 m", wire = "2 mm" }
loss_resistance = "3 ohm"
[survey]
frequency = { from = "3 MHz", to = "30 MHz", count = 16, spacing = "ratio" }
line = "second"
length = ["10 m", "21 m"]
tuner = ["none", "L"]
"""
SMALL = """
[survey]
bands = ["40 m", "20 m"]
swr = 3
phases = 2
tuner = ["none", "L"]
"""
SHARP = """
[keying]
shape = "step"
"""


def many() -> Scenario:
    """19,200 stations."""
    return parse_scenario(HEAD + PLAIN + MANY)


def every_part() -> Scenario:
    """A path with every kind of part, a doublet that depends on the frequency, and a transmitter that folds back."""
    return parse_scenario(HEAD + EVERY_PART)


def small() -> Scenario:
    """Eight stations whose key takes two periods."""
    return parse_scenario(HEAD + PLAIN + SMALL)
