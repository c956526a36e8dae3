"""Questions of choice, answered by arrays of stations in closed form."""

from bouncesim.survey.answers.bands import on_bands
from bouncesim.survey.answers.lines import cable_losses, swr_limits

__all__ = ["cable_losses", "on_bands", "swr_limits"]
