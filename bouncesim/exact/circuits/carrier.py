"""The circuit that stands for an antenna around its carrier: three elements that match its impedance and how the reactance moves.

In series, X = w L - 1/(w C) and X' = L + 1/(w^2 C), so that L = (X' + X/w)/2 and 1/(w^2 C) = (X' - X/w)/2: both positive where X' is at
least |X|/w. In parallel likewise with B, C and 1/L. One of the two holds for any one-port without loss (Foster: X' >= |X|/w, as B'), and
near the resonances of a good antenna: a half-wave one is a series circuit, a full-wave one a parallel circuit.
"""

from __future__ import annotations

from typing import NamedTuple

from bouncesim.exact.circuits.loss import with_loss, without_loss
from bouncesim.scenario.oneport import Joined, Lumped, OnePort

ROUNDING = 1e-9  # of the slope, or of the impedance over w: a term smaller than that is none


class CarrierCircuit(NamedTuple):
    """A circuit for the carrier, and how much of the antenna it holds."""

    port: OnePort
    form: str  # "series" or "parallel": impedance and slope match; "value": the impedance alone, its slope does not

    @property
    def slope_held(self) -> bool:
        """Whether the reactance moves with frequency as the antenna's does, so that keying and settling time are those of the antenna."""
        return self.form != "value"


def carrier_circuit(
    impedance_ohm: complex, slope_ohm_s: complex, omega: float, loss_ohm: float = 0.0, added: bool = False
) -> CarrierCircuit:
    """R, L and C with the impedance Z and the slope dZ/dw at the angular frequency `omega` (rad/s).

    `loss_ohm` is a resistor of its own in series, of which the power is heat: a part of Z, or, with `added`, on top of it. Raises
    ScenarioError where it is more than the resistance that it is a part of.
    """
    z = complex(without_loss(impedance_ohm, loss_ohm, added))
    port = _from(z.real, z.imag, slope_ohm_s.imag, omega, "series")
    if port is not None:
        return CarrierCircuit(with_loss(port, loss_ohm), "series")
    if z:
        y = 1 / z
        port = _from(y.real, y.imag, (-slope_ohm_s * y * y).imag, omega, "parallel")
        if port is not None:
            return CarrierCircuit(with_loss(port, loss_ohm), "parallel")
    port = _from(z.real, z.imag, abs(z.imag) / omega, omega, "series")
    return CarrierCircuit(with_loss(port or Joined(how="series"), loss_ohm), "value")


def _from(real: float, imaginary: float, slope: float, omega: float, how: str) -> OnePort | None:
    """The circuit in series from R, X and X', or in parallel from G, B and B'; None where an element would be negative."""
    size = abs(slope) + abs(complex(real, imaginary)) / omega
    rising, falling = (slope + imaginary / omega) / 2, (slope - imaginary / omega) / 2 * omega**2
    if min(rising, falling / omega**2) < -ROUNDING * size:
        return None
    series = how == "series"
    members = []
    if real > 0:
        members.append(Lumped(kind="resistor", value=real if series else 1 / real))
    if rising > ROUNDING * size:
        members.append(Lumped(kind="inductor" if series else "capacitor", value=rising))
    if falling > ROUNDING * size * omega**2:
        members.append(Lumped(kind="capacitor" if series else "inductor", value=1 / falling))
    return Joined(how="series" if series else "parallel", members=tuple(members))
