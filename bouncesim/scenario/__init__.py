"""The input: what a station is, and how it is read."""

from bouncesim.scenario.lines import LineConstants
from bouncesim.scenario.model import (
    Antenna,
    Beat,
    Claim,
    Element,
    Keying,
    Line,
    Meter,
    Network,
    Part,
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
    "Element",
    "Keying",
    "Line",
    "LineConstants",
    "Meter",
    "Network",
    "Part",
    "Scenario",
    "Stub",
    "Transformer",
    "Transmitter",
    "Tuner",
    "parse_scenario",
    "read_scenario",
]
