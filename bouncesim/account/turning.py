"""What happens at a tuner while one of its parts is turned: one steady state a setting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bouncesim.scenario import Scenario

Real = NDArray[np.float64]
Waves = NDArray[np.complex128]


@dataclass(frozen=True)
class Turning:
    """N settings of one part of a tuner, each a steady state.

    Waves are in root watts, peak phasors over the root of twice the reference: the square of a size is a power. Their phases count from
    that of the wave which comes from the transmitter. Each wave that leaves the tuner has two parts: what the tuner makes of the wave from
    the transmitter, and what it makes of the echo on the line.
    """

    scenario: Scenario  # with the tuner as it was set
    part: str  # which part: "coil", "capacitor 2"
    unit: str  # of its values: "H" or "F"
    values: Real  # (N,) rising
    set_at: float  # the value at which the tuner sets itself
    transmitter_ohm: float  # reference of the waves on the transmitter's side
    line_ohm: float  # and on the line behind the tuner, its sqrt(L/C)
    through: Waves  # (N,) onto the line, of the transmitter's wave
    sent_again: Waves  # (N,) onto the line, of the echo
    turned_back: Waves  # (N,) toward the transmitter, of its own wave
    let_through: Waves  # (N,) toward the transmitter, of the echo
    echo_w: Real  # (N,) reflected power on the line, as it comes to the tuner
    antenna_w: Real  # (N,) into the antenna
    accepted_w: Real  # (N,) net power that leaves the transmitter

    @property
    def forward_w(self) -> Real:
        """Forward power on the line behind the tuner, (N,)."""
        return np.asarray(np.abs(self.through + self.sent_again) ** 2)

    @property
    def back_w(self) -> Real:
        """Reflected power on the transmitter's side, (N,)."""
        return np.asarray(np.abs(self.turned_back + self.let_through) ** 2)
