"""The closed form: what a station does, from its own numbers, with no time step anywhere. Shares no code with march."""

from bouncesim.exact import bounces, formulas, matching, phasor
from bouncesim.exact.solve import over_sources, solve
from bouncesim.exact.station import profile

__all__ = ["bounces", "formulas", "matching", "over_sources", "phasor", "profile", "solve"]
