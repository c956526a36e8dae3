"""What a one-port of resistors, coils and capacitors is at a frequency: its impedance, and where its power goes.

Open ends and short circuits are told apart at every join (an impedance is infinite, or exactly zero), so that neither a perfect
resonance nor an empty join makes a nan.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario.oneport import Lumped, OnePort

OPEN = complex(np.inf)
LARGEST = 1e300  # beyond it an impedance, or an admittance, has no reciprocal: it counts as open, or as short


def impedance(port: OnePort, omega: ArrayLike) -> Complex:
    """Impedance of `port` at the angular frequencies `omega` (any shape, rad/s), ohm, in the same shape; inf + 0j where it is open.

    Impedances in series add, admittances in parallel likewise (definition).
    """
    w = np.asarray(omega, dtype=float)
    if isinstance(port, Lumped):
        return _element(port, w)
    total = np.zeros(w.shape, dtype=complex)
    for member in port.members:
        z = impedance(member, w)
        total = _sum(total, z if port.how == "series" else _reciprocal(z))
    return total if port.how == "series" else _reciprocal(total)


def split(port: OnePort, omega: ArrayLike, voltage: ArrayLike, current: ArrayLike) -> tuple[Real, Real]:
    """The power that `port` takes, in two parts: (radiated, heat), W, from the peak phasors at its terminals, V = Z I.

    Radiated is what the resistors marked `radiates` take, heat what the others do. Both are zero where the port is open or a short
    circuit. The arrays broadcast. Source: P = 1/2 Re(V I*) of each resistor.
    """
    w, v, i = np.broadcast_arrays(np.asarray(omega, dtype=float), np.asarray(voltage, dtype=complex), np.asarray(current, dtype=complex))
    if isinstance(port, Lumped):
        power = np.asarray((v * np.conj(i)).real / 2 if port.kind == "resistor" else np.zeros(w.shape))
        return (power, np.zeros(w.shape)) if port.radiates else (np.zeros(w.shape), power)
    radiated, heat = np.zeros(w.shape), np.zeros(w.shape)
    for member in port.members:
        z = impedance(member, w)
        if port.how == "series":  # one current through all; a member that is open lets none through
            parts = split(member, w, i * np.where(np.isinf(z), 0, z), i)
        else:  # one voltage across all; across a short circuit there is none
            parts = split(member, w, v, v * np.where(z == 0, 0, _reciprocal(z)))
        radiated, heat = radiated + parts[0], heat + parts[1]
    return radiated, heat


def _element(part: Lumped, w: Real) -> Complex:
    if part.kind == "resistor":
        return np.full(w.shape, part.value, dtype=complex)
    x = np.asarray(1j * w * part.value)
    return x if part.kind == "inductor" else _reciprocal(x)


def _sum(a: Complex, b: Complex) -> Complex:
    return np.asarray(np.where(np.isinf(a) | np.isinf(b), OPEN, np.where(np.isinf(a), 0, a) + np.where(np.isinf(b), 0, b)))


def _reciprocal(z: Complex) -> Complex:
    """1/z, with 1/0 = inf + 0j and 1/inf = 0."""
    zero, endless = np.abs(z) < 1 / LARGEST, np.isinf(z) | (np.abs(z) > LARGEST)
    return np.asarray(np.where(zero, OPEN, np.where(endless, 0, 1 / np.where(zero | endless, 1, z))))
