"""Line constants from dimensions: two round wires in air, and coax.

External inductance and capacitance are those of perfect conductors; skin effect gives the resistance, from the surface resistance
Rs = sqrt(pi f mu0 rho) of copper (conductors much thicker than the skin depth). For both lines the resistance follows from Wheeler's
rule R = (Rs/mu0) dL/dn, n the depth by which every surface recedes (H. A. Wheeler, Proc. IRE, September 1942); for two wires it holds the
crowding of the current on their near sides, the factor 1/sqrt(1 - (d/D)^2), which is in S. Ramo, J. R. Whinnery and T. Van Duzer, Fields
and Waves in Communication Electronics, table of common lines, too (from memory). The inductance inside the conductors is left out.
"""

from __future__ import annotations

import math

from bouncesim.scenario.lines import SPEED_OF_LIGHT, LineConstants

MU_0 = 1.25663706212e-6  # H/m (CODATA 2018)
ETA_0 = MU_0 * SPEED_OF_LIGHT  # 376.730 ohm
COPPER = 1 / 58e6  # ohm m at 20 degrees Celsius: the International Annealed Copper Standard


def skin_depth_m(frequency_hz: float, resistivity: float = COPPER) -> float:
    """sqrt(rho/(pi f mu0)), m."""
    return math.sqrt(resistivity / (math.pi * frequency_hz * MU_0))


def surface_resistance_ohm(frequency_hz: float, resistivity: float = COPPER) -> float:
    """Resistance of a square of the surface, rho over the skin depth, ohm."""
    return resistivity / skin_depth_m(frequency_hz, resistivity)


def open_wire_impedance_ohm(wire_diameter_m: float, spacing_m: float) -> float:
    """(eta0/pi) acosh(D/d): two equal round wires in air, D between their centres; exact."""
    return ETA_0 / math.pi * math.acosh(spacing_m / wire_diameter_m)


def open_wire(wire_diameter_m: float, spacing_m: float, frequency_hz: float) -> LineConstants:
    """Two bare copper wires in air: no spreaders, no radiation, no ground."""
    impedance, ratio = open_wire_impedance_ohm(wire_diameter_m, spacing_m), wire_diameter_m / spacing_m
    crowding = 1 / math.sqrt(1 - ratio**2)
    resistance = 2 * surface_resistance_ohm(frequency_hz) / (math.pi * wire_diameter_m) * crowding
    return LineConstants(resistance, impedance / SPEED_OF_LIGHT, 0.0, 1 / (impedance * SPEED_OF_LIGHT))


def coax_impedance_ohm(inner_diameter_m: float, outer_diameter_m: float, permittivity: float) -> float:
    """(eta0/2 pi) ln(D/d)/sqrt(er), ohm."""
    return ETA_0 / (2 * math.pi * math.sqrt(permittivity)) * math.log(outer_diameter_m / inner_diameter_m)


def coax(
    inner_diameter_m: float, outer_diameter_m: float, permittivity: float, loss_tangent: float, frequency_hz: float, rho: float = COPPER
) -> LineConstants:
    """Smooth solid conductors; `outer_diameter_m` is where the outer conductor begins. The dielectric's G is w C tan delta."""
    impedance = coax_impedance_ohm(inner_diameter_m, outer_diameter_m, permittivity)
    velocity = SPEED_OF_LIGHT / math.sqrt(permittivity)
    capacitance = 1 / (impedance * velocity)
    resistance = surface_resistance_ohm(frequency_hz, rho) / math.pi * (1 / inner_diameter_m + 1 / outer_diameter_m)
    conductance = 2 * math.pi * frequency_hz * capacitance * loss_tangent
    return LineConstants(resistance, impedance / velocity, conductance, capacitance)
