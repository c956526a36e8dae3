"""How the forward power on a single line builds up, echo by echo, while the carrier is quasi-steady between echoes.

On the line's own impedance Z0 (complex on a line with loss) a wave travels without being reflected on the way. Let a0 be the wave that
first leaves the input, gi = GL exp(-2 gamma l) what the far end returns to the input with GL = (ZL - Z0)/(ZL + Z0), and
gb = (Zb - Z0)/(Zb + Z0) what the transmitter's side, of output impedance Zb and open-circuit voltage Vth, sends out again:

    a0 = Vth Z0/(Zb + Z0),    b_n = gi a_(n-1),    a_n = a0 + gb b_n = a0 * sum over k <= n of (gb gi)^k.

After n round trips the input carries V = a_n + b_n and Z0 I = a_n - b_n, and the forward power against the real reference
Zr = sqrt(L/C), which is what a meter reads, is |V + Zr I|^2/(8 Zr) = |a_n (1 + Zr/Z0) + b_n (1 - Zr/Z0)|^2/(8 Zr).
As n grows, a_n and b_n become the steady waves of the line, so its limit is the steady forward power exactly; without loss Zr = Z0, and
it is |a_n|^2/(2 Z0). (The same sum with gb, gi and a0 taken against Zr has the same limit, but its terms are not echoes: a wave
against Zr is reflected all along a line whose Z0 is not Zr. At the very first arrival a line with loss is met with Zr, not Z0; the
difference dies out within about 1/(R/L + G/C).)
"""

from __future__ import annotations

from bouncesim.account.readings import Echoes

# Stop when the forward power is this close to its limit, and the wave that leaves too (the power alone may pass its limit by chance), or
# after this many entries.
CLOSE = 1e-6
ENTRIES = 60


def echoes(
    line: str, reference_ohm: float, impedance_ohm: complex, v_in: complex, i_in: complex, back: tuple[complex, complex], emf_v_peak: float
) -> Echoes:
    """Echoes on the line called `line`, from the steady phasors at its input and what it sees looking back.

    `reference_ohm` is sqrt(L/C), `impedance_ohm` the line's own Z0; `back` = (n, d): output impedance n/d, open-circuit voltage
    emf/d (phasor.looking_back).
    """
    zr, z0, (n, d) = reference_ohm, impedance_ohm, back
    steady = abs(v_in + zr * i_in) ** 2 / (8 * zr)
    at_input = (v_in - z0 * i_in) / (v_in + z0 * i_in)
    round_trip = (n - z0 * d) / (n + z0 * d) * at_input
    first, settled = emf_v_peak * z0 / (n + z0 * d), (v_in + z0 * i_in) / 2
    powers: list[float] = []
    leaving, arriving = first, 0j
    while len(powers) < ENTRIES:
        powers.append(abs(leaving * (1 + zr / z0) + arriving * (1 - zr / z0)) ** 2 / (8 * zr))
        if abs(powers[-1] - steady) <= CLOSE * steady and abs(leaving - settled) <= CLOSE * abs(settled):
            break
        leaving, arriving = first + round_trip * leaving, at_input * leaving
    return Echoes(
        line=line,
        reflection_at_input=(v_in - zr * i_in) / (v_in + zr * i_in),
        reflection_looking_back=(n - zr * d) / (n + zr * d),
        forward_after_round_trips_w=tuple(powers),
    )
