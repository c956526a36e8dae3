"""The part of an antenna's resistance that is heat, as a resistor of its own."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.phasor import Complex
from bouncesim.quantity import show
from bouncesim.scenario.oneport import Joined, Lumped, OnePort


def without_loss(impedance_ohm: ArrayLike, loss_ohm: float, added: bool) -> Complex:
    """What is left for the circuit in front of the loss resistor: all, if the loss is added to it, else the rest.

    Raises ScenarioError where the loss is more than the resistance that it is to be taken out of.
    """
    z = np.asarray(impedance_ohm, dtype=complex)
    if added or not loss_ohm:
        return z
    if (z.real < loss_ohm).any():
        reason = f"{show(loss_ohm, 'ohm')} is more than the whole resistance, {show(float(z.real.min()), 'ohm')}"
        remedy = "Allowed: up to the resistance of the antenna, of which the loss is a part"
        raise ScenarioError(Problem("antenna.loss_resistance", reason, remedy))
    return np.asarray(z - loss_ohm)


def with_loss(port: OnePort, loss_ohm: float) -> OnePort:
    """`port` with the loss resistor in series; itself where there is no loss."""
    if not loss_ohm:
        return port
    return Joined(how="series", members=(Lumped(kind="resistor", value=loss_ohm, radiates=False), port))
