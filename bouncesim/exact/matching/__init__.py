"""Matching: tuners set for the carrier (L, pi, T), every network that matches, and the place and length of a stub."""

from bouncesim.exact.matching.l_sections import LSection, l_sections, pi_section, t_section
from bouncesim.exact.matching.stubs import StubSection, stub_sections
from bouncesim.exact.matching.three_parts import Ranges, ThreeParts
from bouncesim.exact.matching.tuner import set_tuner

__all__ = [
    "LSection",
    "Ranges",
    "StubSection",
    "ThreeParts",
    "l_sections",
    "pi_section",
    "set_tuner",
    "stub_sections",
    "t_section",
]
