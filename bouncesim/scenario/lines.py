"""What a line is: resistance, inductance, conductance and capacitance a metre, and what follows from them.

A line that is known by its nominal impedance Z0, its velocity v and its matched loss alpha (Np/m at the angular frequency w) gets
L = Z0/v and C = 1/(Z0 v). For its losses write R = 2 Z0 a (1 - s) and G = 2 a s/Z0, where s is the dielectric's share of the loss, and
k = w/v. Then gamma^2 = (R + jwL)(G + jwC) = 4 a^2 s (1 - s) - k^2 + 2 j k a. With gamma = alpha + j beta, the imaginary part gives
beta = k a/alpha; put into the real part, alpha^2 - beta^2 = 4 a^2 s (1 - s) - k^2, it gives

    a = alpha sqrt((alpha^2 + k^2)/(k^2 + 4 alpha^2 s (1 - s))),

so that Re gamma is alpha exactly, at any loss. (a = alpha, the usual low-loss rule, is its limit for alpha << k, and is exact at any loss
for s = 1/2, the line without distortion.) Derived here. The impedance sqrt((R + jwL)/(G + jwC)) that results is complex.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

SPEED_OF_LIGHT = 299_792_458.0  # m/s, exact (definition of the metre)
DB_PER_NEPER = 20 / math.log(10)


@dataclass(frozen=True)
class LineConstants:
    """Constants of a uniform line a metre, in SI: ohm/m, H/m, S/m, F/m.

    Without branches R, L, G, C are taken as constant over frequency. With them, a wideband law: each series branch (R_j ohm/m, L_j H/m)
    is a resistor and an inductor in parallel, in series with R and L; each shunt branch (G_j S/m, C_j F/m) is a resistor and a capacitor
    in series, across G and C:

        Z = R + sL + sum s L_j R_j/(R_j + s L_j),      Y = G + sC + sum s C_j G_j/(G_j + s C_j).
    """

    resistance: float
    inductance: float
    conductance: float
    capacitance: float
    series_branches: tuple[tuple[float, float], ...] = ()
    shunt_branches: tuple[tuple[float, float], ...] = ()

    @property
    def impedance_ohm(self) -> float:
        """sqrt(L/C): the real impedance to which forward and reflected waves on the line refer."""
        return math.sqrt(self.inductance / self.capacitance)

    @property
    def velocity(self) -> float:
        """1/sqrt(LC), m/s: the speed of the wave's front."""
        return 1 / math.sqrt(self.inductance * self.capacitance)

    def series_impedance(self, frequency_hz: float) -> complex:
        """Z, ohm/m, branches included."""
        s = 2j * math.pi * frequency_hz
        return self.resistance + s * self.inductance + sum((s * l * r / (r + s * l) for r, l in self.series_branches), 0j)

    def shunt_admittance(self, frequency_hz: float) -> complex:
        """Y, S/m, branches included."""
        s = 2j * math.pi * frequency_hz
        return self.conductance + s * self.capacitance + sum((s * c * g / (g + s * c) for g, c in self.shunt_branches), 0j)

    def propagation(self, frequency_hz: float) -> complex:
        """gamma = alpha + j beta, 1/m, at a frequency above 0.

        Two roots multiplied, as one combined root may take the wrong branch; and the smaller of alpha and beta from
        2 alpha beta = Im(Z Y), as the product of the roots keeps only the larger one's precision.
        """
        z, y = self.series_impedance(frequency_hz), self.shunt_admittance(frequency_hz)
        gamma = cmath.sqrt(z) * cmath.sqrt(y)
        both = (z.real * y.imag + z.imag * y.real) / 2
        return complex(both / gamma.imag, gamma.imag) if gamma.imag > gamma.real else complex(gamma.real, both / gamma.real)

    def complex_impedance_ohm(self, frequency_hz: float) -> complex:
        """Characteristic impedance sqrt(Z/Y)."""
        return cmath.sqrt(self.series_impedance(frequency_hz)) / cmath.sqrt(self.shunt_admittance(frequency_hz))

    def phase_velocity(self, frequency_hz: float) -> float:
        """w/beta, m/s: the speed of a steady carrier's phase, below `velocity` on a line with loss (unless it is free of distortion)."""
        return 2 * math.pi * frequency_hz / self.propagation(frequency_hz).imag

    def loss_db_per_m(self, frequency_hz: float) -> float:
        """Matched loss, dB/m."""
        return DB_PER_NEPER * self.propagation(frequency_hz).real


def nominal_constants(
    impedance_ohm: float, velocity_factor: float, loss_db_per_m: float, dielectric_share: float, frequency_hz: float
) -> LineConstants:
    """Constants of a line of nominal impedance, with exactly this matched loss at this frequency (equation: head of the module)."""
    velocity = velocity_factor * SPEED_OF_LIGHT
    alpha, k = loss_db_per_m / DB_PER_NEPER, 2 * math.pi * frequency_hz / velocity
    both = dielectric_share * (1 - dielectric_share)
    a = alpha * math.sqrt((alpha**2 + k**2) / (k**2 + 4 * alpha**2 * both))
    return LineConstants(
        resistance=2 * impedance_ohm * a * (1 - dielectric_share),
        inductance=impedance_ohm / velocity,
        conductance=2 * a * dielectric_share / impedance_ohm,
        capacitance=1 / (impedance_ohm * velocity),
    )


def loss_at(frequency_hz: float, known_at_hz: float, loss_db_per_m: float, dielectric_share: float) -> tuple[float, float]:
    """Matched loss (dB/m) and dielectric share at a frequency, from those known at another.

    Loss in the conductor follows the square root of frequency (skin effect), loss in the dielectric the frequency itself (constant
    loss tangent): the usual two-term law.
    """
    ratio = frequency_hz / known_at_hz
    conductor, dielectric = (1 - dielectric_share) * math.sqrt(ratio), dielectric_share * ratio
    return loss_db_per_m * (conductor + dielectric), dielectric / (conductor + dielectric)
