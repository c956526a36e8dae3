"""What the steady phasors along a line amount to: waves, envelopes, reflection. Waves refer to sqrt(L/C), a real impedance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.readings import LineReading
from bouncesim.account.run import LineTrace, Run

LEAST = float(np.finfo(np.float64).tiny)  # V; of what is smaller no digits are left, and dividing by it overflows
Floats = NDArray[np.float64]
Phasors = NDArray[np.complex128]


def waves(trace: LineTrace) -> tuple[Phasors, Phasors]:
    """Forward and reflected wave (V, peak phasors), (V + ZI)/2 and (V - ZI)/2 with Z = sqrt(L/C); shapes (K,)."""
    v, zi = np.asarray(trace.steady_v, dtype=np.complex128), np.asarray(trace.steady_a, dtype=np.complex128) * trace.reference_ohm
    return np.asarray((v + zi) / 2), np.asarray((v - zi) / 2)


def reflection(trace: LineTrace) -> Phasors:
    """Reflected over forward wave at every place, (K,); 0 where nothing goes forward that could be told from nothing."""
    forward, reflected = waves(trace)
    return np.divide(reflected, forward, out=np.zeros_like(forward), where=np.abs(forward) > LEAST)


def reading_of(run: Run, name: str) -> LineReading:
    """The reading of a line of the path."""
    return next(line for line in run.readings.lines if line.name == name)
