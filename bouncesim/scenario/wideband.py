"""A line's loss over many frequencies at once: skin effect and dielectric loss as passive branches.

Skin effect gives a conductor the series impedance A sqrt(s); a dielectric of constant loss tangent the shunt admittance
G (-(2/pi)) (s/w) ln(s/w), whose real part is G at the frequency w and grows with it (the first order in the loss of (s/w)^(1 - 2
delta/pi); its imaginary part is the capacitance that causality attaches, up to a constant one). Neither can be stepped in time as it
stands. Fitted by sums with positive coefficients,

    sqrt(x) ~ r_0 + sum r_j x/(x + p_j),        -(2/pi) x ln x ~ sum g_j x/(x + q_j) - c x,        x = s/w_carrier,

both are circuits of resistors, inductors and capacitors, passive by construction: each term of the first is a resistor and an inductor in
parallel, each of the second a resistor and a capacitor in series. (The constant capacitance c is left out: it belongs to the line's own.)
The tables hold from a hundredth of the carrier to a hundred times it; below, the loss stays above r_0, as that of a real wire does. They
are non-negative least-squares fits, reweighted towards the smallest worst error, made for this project; a test fits them again. Idea of
the fit: C. R. Paul, Analysis of Multiconductor Transmission Lines, ch. 8, from memory.
"""

from __future__ import annotations

import math

from bouncesim.scenario.lines import DB_PER_NEPER, SPEED_OF_LIGHT, LineConstants

BAND = (0.01, 100.0)  # of the carrier
SKIN_ERROR = 0.0039  # worst error of the first fit over the band, relative to |sqrt x|
DIELECTRIC_ERROR = 0.0095  # worst error of the second, relative to |x|, that is to the loss conductance
SKIN_CONSTANT = 2.85386015e-02
SKIN = (  # pole p, coefficient r
    (7.42819995e-03, 5.45278241e-02),
    (3.89164661e-02, 9.73347721e-02),
    (1.84315911e-01, 2.13904826e-01),
    (8.86892843e-01, 4.71473661e-01),
    (4.25170500e00, 1.02104141e00),
    (1.91349600e01, 1.98586723e00),
    (8.09125744e01, 4.54345975e00),
    (8.08564448e02, 3.61557442e01),
)
DIELECTRIC = (  # pole q, coefficient g
    (2.28402139e-03, 4.28843542e-03),
    (1.82239748e-02, 1.93306163e-02),
    (9.22969804e-02, 9.49332384e-02),
    (4.67247055e-01, 4.83715074e-01),
    (2.37829067e00, 2.46323218e00),
    (1.20630461e01, 1.24382623e01),
    (6.18654229e01, 6.68501957e01),
    (5.47937760e02, 1.09952481e03),
)
ROUNDS = 60  # the loss at the carrier is set exactly, by rounds that each leave a small part of the miss
EXACT = 1e-15


def wideband_constants(
    impedance_ohm: float, velocity_factor: float, conductor_db_per_m: float, dielectric_db_per_m: float, frequency_hz: float
) -> LineConstants:
    """Constants and branches a metre of a line whose matched loss at `frequency_hz` is exactly the sum of the two parts (dB/m).

    Impedance and velocity are those of the front (the limit of high frequency); the inductance inside the conductors lowers the velocity
    and raises the impedance below it, as it does in a real cable.
    """
    velocity, w = velocity_factor * SPEED_OF_LIGHT, 2 * math.pi * frequency_hz
    inductance, capacitance = impedance_ohm / velocity, 1 / (impedance_ohm * velocity)
    target = (conductor_db_per_m + dielectric_db_per_m) / DB_PER_NEPER
    scale = 1.0
    for _ in range(ROUNDS):
        a = math.sqrt(2) * 2 * impedance_ohm * scale * conductor_db_per_m / DB_PER_NEPER  # Re sqrt(j) = 1/sqrt 2
        g = 2 / impedance_ohm * scale * dielectric_db_per_m / DB_PER_NEPER
        constants = LineConstants(
            resistance=a * SKIN_CONSTANT,
            inductance=inductance,
            conductance=0.0,
            capacitance=capacitance,
            series_branches=tuple((a * r, a * r / (p * w)) for p, r in SKIN) if a > 0 else (),
            shunt_branches=tuple((g * r, g * r / (q * w)) for q, r in DIELECTRIC) if g > 0 else (),
        )
        if target == 0 or abs(constants.propagation(frequency_hz).real / target - 1) < EXACT:
            break
        scale *= target / constants.propagation(frequency_hz).real
    return constants


def fit_error(constants: LineConstants) -> float:
    """How far the loss of these branches may be from the law that they stand for, relative, anywhere in the band; 0 without branches."""
    return max(SKIN_ERROR if constants.series_branches else 0.0, DIELECTRIC_ERROR if constants.shunt_branches else 0.0)
