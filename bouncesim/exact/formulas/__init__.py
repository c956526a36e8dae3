"""Published rules of the feed line as functions, each with its source and what it takes for granted.

They know no station, so that a rule can be held against both engines: `formulas.rules` lists those that are, with the range that each is
held to. "From memory": the source was not at hand.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.exact.phasor import Complex, PerMetre, Real


def reflection(load_ohm: ArrayLike, reference_ohm: ArrayLike) -> Complex:
    """Voltage reflection coefficient (Z - Z0)/(Z + Z0). Source: definition (Pozar, Microwave Engineering, eq. 2.35)."""
    z, z0 = np.asarray(load_ohm, dtype=complex), np.asarray(reference_ohm)
    return np.asarray((z - z0) / (z + z0))


def swr(rho: ArrayLike) -> Real:
    """SWR = (1 + rho)/(1 - rho). Source: definition. Assumes no loss near the place where it is read, and a real Z0."""
    r = np.asarray(rho, dtype=float)
    return np.asarray((1 + r) / (1 - r))


def rho(swr: ArrayLike) -> Real:
    """Size of the reflection coefficient, (SWR - 1)/(SWR + 1). Source: definition."""
    s = np.asarray(swr, dtype=float)
    return np.asarray((s - 1) / (s + 1))


def swr_of_powers(forward_w: ArrayLike, reflected_w: ArrayLike) -> Real:
    """SWR from a directional wattmeter's readings, rho^2 = Pr/Pf. Source: Blake, Electronic Communication Systems, example 14.20.

    It is the line's SWR only where the meter's reference is the line's impedance.
    """
    return swr(np.sqrt(np.asarray(reflected_w, dtype=float) / np.asarray(forward_w)))


def reflected_share(swr: ArrayLike) -> Real:
    """Reflected power as a part of the forward power, rho^2. Source: definition; real Z0."""
    return np.asarray(rho(swr) ** 2)


def return_loss_db(rho: ArrayLike) -> Real:
    """Return loss, -20 log10 rho, dB. Source: definition (Pozar, eq. 2.38)."""
    return np.asarray(-20 * np.log10(rho))


def mismatch_loss_db(rho: ArrayLike) -> Real:
    """Mismatch loss, -10 log10(1 - rho^2), dB. Source: definition.

    How far the power falls short of what is available from a source that is matched to the reference. Nothing turns into heat by it,
    and with a tuner it is won back.
    """
    return np.asarray(-10 * np.log10(1 - np.asarray(rho, dtype=float) ** 2))


def tuned_forward_w(power_w: ArrayLike, rho: ArrayLike) -> Real:
    """Forward power on a line that passes the net power P on: P/(1 - rho^2). Source: P = Pf - Pr, Pr = rho^2 Pf; real Z0.

    With a lossless tuner and line, P is all that the transmitter gives: the forward power is above it.
    """
    return np.asarray(np.asarray(power_w) / (1 - np.asarray(rho, dtype=float) ** 2))


def one_echo_forward_w(power_w: ArrayLike, rho: ArrayLike) -> Real:
    """Forward power on a tuned line as the transmitter's power plus one echo: P (1 + rho^2). Source: common practice, no source.

    The echo comes back, and the tuner sends it out again. Counts the first echo and forgets its own: the whole series is P/(1 - rho^2).
    """
    return np.asarray(np.asarray(power_w) * (1 + np.asarray(rho, dtype=float) ** 2))


def untuned_power_w(rated_w: ArrayLike, swr: ArrayLike) -> Real:
    """Power that a transmitter delivers without a tuner, P (1 - rho^2). Source: mismatch loss by definition (Stanley and Jeffords,
    Electronic Communications, example 14.11). Assumes a linear source whose impedance is the rated load.
    """
    return np.asarray(np.asarray(rated_w) * (1 - rho(swr) ** 2))


def sent_again_as_open() -> Real:
    """Part of an echo's power that sets out again at a tuner, if the tuner were an open end to it: all of it.

    Source: common practice, no source.
    """
    return np.asarray(1.0)


def waves_to_settle(rho_source: ArrayLike, rho_load: ArrayLike, left: float = 0.01) -> Real:
    """How many waves have set out, one a round trip, before all that are still to come are less than `left` of the whole:
    the least n with (rho_source rho_load)^n <= left.

    Source: the lattice diagram (Gonen, Electric Power Transmission System Engineering, chapter 7). Counts voltage; ends reflect at once.
    """
    return np.asarray(np.maximum(1, np.ceil(np.log(left) / np.log(np.asarray(rho_source) * np.asarray(rho_load)))))


def half_wave_ohm(load_ohm: ArrayLike) -> Complex:
    """Input impedance of a half-wave line, that of its load; no loss. Source: Ulaby, Fundamentals of Applied Electromagnetics, 2.7."""
    return np.asarray(load_ohm, dtype=complex)


def input_impedance(load_ohm: ArrayLike, impedance_ohm: ArrayLike, gamma_length: ArrayLike) -> Complex:
    """Z0 (ZL + Z0 tanh(gamma l))/(Z0 + ZL tanh(gamma l)). Source: Pozar, eq. 2.91; any loss, complex Z0 allowed."""
    z, z0, tanh = np.asarray(load_ohm, dtype=complex), np.asarray(impedance_ohm), np.tanh(np.asarray(gamma_length, dtype=complex))
    return np.asarray(z0 * (z + z0 * tanh) / (z0 + z * tanh))


def load_from_three_inputs(input_ohm: complex, short_ohm: complex, open_ohm: complex) -> tuple[complex, complex]:
    """(Z0, load) from the input impedances of one line with its load, shorted and open. Source: Mishra, RF and Microwave
    Communication Circuits, example 3.9: Z0^2 = Zsc Zoc, ZL = Zoc (Zin - Zsc)/(Zoc - Zin); any loss."""
    return complex(short_ohm * open_ohm) ** 0.5, open_ohm * (input_ohm - short_ohm) / (open_ohm - input_ohm)


def loss_with_swr_db(matched_db: ArrayLike, swr: ArrayLike) -> Real:
    """Whole loss of a line whose load has this SWR: 10 log10((a^2 - rho^2)/(a (1 - rho^2))), a = 10^(matched/10), dB.

    Source: amateur radio handbooks (from memory); follows from Pozar, eq. 2.92-2.94. Assumes a real Z0, that is R/L = G/C:
    with all the loss in the conductor, a short line at an extreme load loses up to about three times as much or as little.
    """
    a, r2 = 10 ** (np.asarray(matched_db, dtype=float) / 10), rho(swr) ** 2
    return np.asarray(10 * np.log10((a**2 - r2) / (a * (1 - r2))))


def additional_loss_db(matched_db: ArrayLike, swr: ArrayLike) -> Real:
    """What the SWR at the load adds to the matched loss, dB. Source and assumptions as for `loss_with_swr_db`."""
    return np.asarray(loss_with_swr_db(matched_db, swr) - np.asarray(matched_db))


def swr_at_input(matched_db: ArrayLike, swr_at_load: ArrayLike) -> Real:
    """SWR at the input of a line with loss: rho shrinks by the matched loss, both ways. Source: Pozar, section 2.7; real Z0."""
    return swr(rho(swr_at_load) * 10 ** (-np.asarray(matched_db, dtype=float) / 10))


def matched_loss_np(swr_at_load: ArrayLike, swr_at_input: ArrayLike) -> Real:
    """Matched loss of a line that hides so much of the SWR, nepers: rho at the input is rho at the load times exp(-2 alpha l).

    Source: Pozar, section 2.7; real Z0. What `swr_at_input` gives, the other way round.
    """
    return np.asarray(np.log(rho(swr_at_load) / rho(swr_at_input)) / 2)


def distortionless(impedance_ohm: float, alpha_np_per_m: float, velocity_m_per_s: float) -> PerMetre:
    """Constants of the line on which every frequency travels alike, R/L = G/C: R = alpha Z0, G = alpha/Z0, L = Z0/v, C = 1/(Z0 v).

    Source: Sadiku, Elements of Electromagnetics, section 11.3.
    """
    z, a, v = impedance_ohm, alpha_np_per_m, velocity_m_per_s
    return PerMetre(a * z, z / v, a / z, 1 / (z * v))


def capacitor_end_v(arriving_v: ArrayLike, impedance_ohm: float, capacitance_f: float, after_s: ArrayLike) -> Real:
    """Voltage of a capacitor at a line's end, so long after a step wave arrives: 2 E (1 - exp(-t/(Z0 C))).

    Source: Wadhwa, High Voltage Engineering, chapter 7. Assumes that nothing comes back from the other end meanwhile.
    """
    return np.asarray(-2 * np.asarray(arriving_v) * np.expm1(-np.asarray(after_s) / (impedance_ohm * capacitance_f)))


def inductor_between_lines_v(arriving_v: ArrayLike, impedance_ohm: float, inductance_h: float, after_s: ArrayLike) -> Real:
    """Step wave passed on by an inductor in series between two equal lines: E (1 - exp(-2 Z0 t/L)). Source and assumption: as above."""
    return np.asarray(-np.asarray(arriving_v) * np.expm1(-2 * impedance_ohm * np.asarray(after_s) / inductance_h))


def power_left(loss_db: ArrayLike) -> Real:
    """Part of the power left after a loss in dB, 10^(-dB/10). Source: definition."""
    return np.asarray(10 ** (-np.asarray(loss_db, dtype=float) / 10))


def largest_voltage_v_rms(power_w: ArrayLike, impedance_ohm: ArrayLike, swr: ArrayLike) -> Real:
    """Largest voltage on a lossless line that passes a net power P: sqrt(P Z0 SWR), V rms. Source: handbook rule (from memory).

    Follows from |V+|^2 (1 + rho)^2 with P = |V+|^2 (1 - rho^2)/(2 Z0). The line must be long enough to hold the place.
    """
    return np.asarray(np.sqrt(np.asarray(power_w) * np.asarray(impedance_ohm) * np.asarray(swr)))


def largest_current_a_rms(power_w: ArrayLike, impedance_ohm: ArrayLike, swr: ArrayLike) -> Real:
    """Largest current likewise: sqrt(P SWR/Z0), A rms. Source: handbook rule (from memory)."""
    return np.asarray(np.sqrt(np.asarray(power_w) * np.asarray(swr) / np.asarray(impedance_ohm)))


def quarter_wave_impedance(first_ohm: ArrayLike, second_ohm: ArrayLike) -> Real:
    """Impedance of the quarter-wave line that matches two resistances, sqrt(R1 R2). Source: Pozar, eq. 5.25; no loss."""
    return np.asarray(np.sqrt(np.asarray(first_ohm, dtype=float) * np.asarray(second_ohm)))


def quarter_wave_bandwidth(reference_ohm: ArrayLike, load_ohm: ArrayLike, largest_rho: ArrayLike) -> Real:
    """Fractional bandwidth over which a quarter-wave match keeps rho: 2 - (4/pi) acos(rm/sqrt(1 - rm^2) 2 sqrt(Z0 RL)/|RL - Z0|).

    Source: Pozar, eq. 5.33. Assumes a line without loss or dispersion and a load that is the same resistance throughout. 2 where rho is
    never exceeded.
    """
    z0, load, rm = (np.asarray(each, dtype=float) for each in (reference_ohm, load_ohm, largest_rho))
    with np.errstate(divide="ignore"):
        cosine = rm / np.sqrt(1 - rm**2) * 2 * np.sqrt(z0 * load) / np.abs(load - z0)
    return np.asarray(2 - 4 / np.pi * np.arccos(np.minimum(cosine, 1.0)))


def l_section_q(larger_ohm: ArrayLike, smaller_ohm: ArrayLike) -> Real:
    """Q of the L section between two resistances, sqrt(Rlarge/Rsmall - 1); series |X| = Q Rsmall, shunt |X| = Rlarge/Q.

    Source: Bowick, RF Circuit Design, chapter 4 (from memory); Mishra, section 6.3. No loss in the parts.
    """
    return np.asarray(np.sqrt(np.asarray(larger_ohm, dtype=float) / np.asarray(smaller_ohm) - 1))


def l_section_efficiency(q: float, coil_q: float) -> float:
    """Efficiency of an L section whose series coil feeds the smaller resistance: exactly 1/(1 + Q/Qcoil), about 1 - Q/Qcoil.

    Source: Niknejad, Matching Networks (lecture, UC Berkeley, 2016). Assumes a lossless capacitor and that the section's Q is X/Rsmall.
    """
    return 1 / (1 + q / coil_q)


def tuner_loss_share(q: ArrayLike, coil_q: ArrayLike) -> Real:
    """Part of the power that a tuner turns into heat: its Q over the coil's Q.

    Source: Niknejad, as for `l_section_efficiency`, to first order; handbook rule (from memory). The Q taken from the two resistances.
    """
    return np.asarray(np.asarray(q, dtype=float) / np.asarray(coil_q))


def s_units_by_halves(power_left: ArrayLike) -> Real:
    """S-units lost, half an S-unit for every halving of the power. Source: common practice, no source."""
    return np.asarray(-np.log2(power_left) / 2)


def s_units(power_ratio: ArrayLike) -> Real:
    """S-units of a power ratio at 6 dB each. Source: IARU Region 1 technical recommendation R.1 (from memory); real meters differ."""
    return np.asarray(10 * np.log10(power_ratio) / 6)
