"""The input: what a station is, and how it is read."""

from bouncesim.scenario.lines import LineConstants
from bouncesim.scenario.model import (
    Antenna,
    Beat,
    Claim,
    Dipole,
    Element,
    Event,
    Keying,
    Line,
    Meter,
    Network,
    Part,
    Receiver,
    Scenario,
    Stub,
    Transformer,
    Transmitter,
    Tuner,
)
from bouncesim.scenario.reader import parse_scenario, read_scenario

__all__ = [
    "Antenna",
    "Beat",
    "Claim",
    "Dipole",
    "Element",
    "Event",
    "Keying",
    "Line",
    "LineConstants",
    "Meter",
    "Network",
    "Part",
    "Receiver",
    "Scenario",
    "Stub",
    "Transformer",
    "Transmitter",
    "Tuner",
    "parse_scenario",
    "read_scenario",
]
