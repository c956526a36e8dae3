"""Matching: tuners set for the carrier (L, pi, T), every solution that there is, and the place and length of a stub."""

from bouncesim.exact.matching.l_sections import LSection, l_sections, pi_section, t_section
from bouncesim.exact.matching.stubs import StubSection, stub_sections
from bouncesim.exact.matching.three_parts import Ranges, ThreeParts
from bouncesim.exact.matching.tuner import Setting, TunerSettings, impedance_seen, set_tuner, settings, suggestions

__all__ = [
    "LSection",
    "Ranges",
    "Setting",
    "StubSection",
    "ThreeParts",
    "TunerSettings",
    "impedance_seen",
    "l_sections",
    "pi_section",
    "set_tuner",
    "settings",
    "stub_sections",
    "suggestions",
    "t_section",
]
