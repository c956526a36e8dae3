"""The stations that each published rule is held against: arrays of them at once, solved by the exact engine.

A trial takes x and y of the rule's range and h, what else it holds (a phase, mostly), of any shapes that broadcast, and gives the rule's
own arguments there and the exact answer.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.exact import formulas, phasor
from bouncesim.exact.phasor import Chain, Complex, PerMetre, Real
from bouncesim.scenario.lines import DB_PER_NEPER, SPEED_OF_LIGHT

Z0 = 50.0  # ohm: the line, unless its impedance is varied; the rated load; the meter
FREQUENCY = 10e6
VELOCITY_FACTOR = 0.66
VELOCITY = VELOCITY_FACTOR * SPEED_OF_LIGHT
WAVE = VELOCITY / FREQUENCY  # m
THIN_DB = 0.5  # loss of thin cable, dB a wavelength
COIL_Q = 200.0
LARGEST_SWR = 1.5  # that a quarter-wave match may show in its band
MOST_WAVES = 80  # that may set out until a line has settled; rho^n is far below 1 % by then
PHASES: Real = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
PLACES = 97  # along half a wave; between them a parabola, which is right to 1e-5 there
BAND = np.linspace(1.0, 2.0, 401)

Arguments = tuple[ArrayLike, ...]
Trial = Callable[[Real, Real, Real], tuple[Arguments, Real | Complex]]


def load(swr: ArrayLike, phase: ArrayLike, impedance_ohm: ArrayLike = Z0) -> Complex:
    """The impedance (ohm) of this SWR and this phase of the reflection coefficient, against a real impedance."""
    reflection = formulas.rho(swr) * np.exp(1j * np.asarray(phase))
    return np.asarray(np.asarray(impedance_ohm) * (1 + reflection) / (1 - reflection))


def line(waves: ArrayLike, db_a_wave: ArrayLike = 0.0) -> Chain:
    """A line of 50 ohm, all of its loss in the conductors; length and loss by the wavelength."""
    alpha, k = np.asarray(db_a_wave) / DB_PER_NEPER / WAVE, 2 * np.pi / WAVE
    resistance = 2 * Z0 * alpha * np.sqrt(1 + (alpha / k) ** 2)  # so that Re gamma is alpha exactly (scenario.lines, share 0)
    constants = PerMetre(resistance, Z0 / VELOCITY, 0.0, 1 / (Z0 * VELOCITY))
    return phasor.line(constants, np.asarray(waves) * WAVE, FREQUENCY)


def forward_and_reflected(v: Complex, i: Complex | float, reference_ohm: ArrayLike = Z0) -> tuple[Real, Real]:
    """Powers (W) that a meter of this reference reads."""
    z = np.asarray(reference_ohm)
    return np.asarray(np.abs(v + z * i) ** 2 / (8 * z)), np.asarray(np.abs(v - z * i) ** 2 / (8 * z))


def along(swr: ArrayLike, phase: ArrayLike, waves: ArrayLike, db_a_wave: ArrayLike = 0.0) -> Real:
    """|V|^2 at `PLACES` places from a load back to `waves` in front of it, in a new first axis; 1 A through the load."""
    z = load(swr, phase)
    places = []
    for part in np.linspace(0.0, 1.0, PLACES):
        chain = line(part * np.asarray(waves), db_a_wave)
        v, _ = phasor.step_back(chain, z, 1.0)
        places.append(np.abs(v * np.exp(chain.nepers)) ** 2)
    return np.stack(places)


def largest(squares: Real) -> Real:
    """The largest along the first axis, by the parabola through the largest sample and its neighbours; at an end, the end itself."""
    at = squares.argmax(axis=0)
    inside = (at > 0) & (at < len(squares) - 1)
    middle = np.clip(at, 1, len(squares) - 2)
    left, top, right = (np.take_along_axis(squares, middle[None] + step, axis=0)[0] for step in (-1, 0, 1))
    curve = left - 2 * top + right
    risen = top - np.divide((right - left) ** 2, 8 * curve, out=np.zeros_like(top), where=inside & (curve < 0))
    return np.asarray(np.where(inside, risen, squares.max(axis=0)))


def reflected_share(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    squares = along(x, h, 0.5, y)
    found = np.sqrt(largest(squares) / -largest(-squares))
    return (found,), formulas.rho(x) ** 2 + 0 * found


def tuned_forward(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    walk = phasor.walk([line(2.0, y / 2.0)], 1.0, Z0, load(x, h))
    forward, _ = forward_and_reflected(walk.voltage[0], walk.current[0])
    return (1.0, formulas.rho(x)), np.asarray(forward / walk.power[0])


def added_loss(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    walk = phasor.walk([line(y, THIN_DB)], 1.0, Z0, load(x, h))
    return (THIN_DB * y, x), np.asarray(10 * np.log10(walk.power[0] / walk.power[-1]))


def largest_voltage(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    z = load(x, h)
    squares = along(x, h, np.minimum(y, 0.5))
    return (1.0, Z0, x), np.asarray(np.sqrt(largest(squares) / z.real))


def swr_in_the_shack(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    v, i = phasor.step_back(line(y / THIN_DB, THIN_DB), load(x, h), 1.0)
    return (y, x), formulas.swr_of_powers(*forward_and_reflected(v, i))


def untuned_power(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    walk = phasor.walk([], np.sqrt(2 / Z0) * (y + Z0), y, load(x, h))
    return (1.0, x), walk.power[0]


def coil_tuner(resistance: ArrayLike, reactance: ArrayLike) -> tuple[Real, Real]:
    """Shunt capacitor (S) and series coil (ohm, with its loss at a Q of `COIL_Q`) that match a load below 50 ohm to 50 ohm."""
    r, coil = np.asarray(resistance, dtype=float), np.zeros(np.broadcast_shapes(np.shape(resistance), np.shape(reactance)))
    for _ in range(60):  # the loss of the coil is part of what it matches: a fixed point, nearer by about 1/Q each time
        together = r + coil / COIL_Q
        net = np.sqrt(together * (Z0 - together))
        coil = net - np.asarray(reactance)
    return net / (Z0 * together), coil


def tuner_loss(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    susceptance, coil = coil_tuner(x, y)
    chains = [phasor.shunt(1j * susceptance), phasor.series(coil / COIL_Q + 1j * coil)]
    walk = phasor.walk(chains, 1.0, Z0, x + 1j * y + 0 * h)
    return (formulas.l_section_q(Z0, x), COIL_Q), np.asarray((walk.power[0] - walk.power[-1]) / walk.power[0])


def band_edge(x: Real, y: Real, upward: bool) -> Real:
    """Where a quarter-wave match first leaves `LARGEST_SWR`, as a multiple of the middle frequency; for `quarter_wave_rho`."""
    steps = BAND if upward else 2 - BAND[:-1]
    most = float(formulas.rho(LARGEST_SWR))
    x, y = np.broadcast_arrays(x, y)
    leaves = np.stack([quarter_wave_rho(x, y, u) > most for u in steps])
    first = np.where(leaves.any(axis=0), leaves.argmax(axis=0), len(steps) - 1)
    inside, outside = steps[np.maximum(first - 1, 0)], steps[first]
    for _ in range(50):
        middle = (inside + outside) / 2
        out = quarter_wave_rho(x, y, middle) > most
        inside, outside = np.where(out, inside, middle), np.where(out, middle, outside)
    return np.asarray(np.where(leaves.any(axis=0), inside, 2.0 if upward else 0.0))


def quarter_wave_rho(x: ArrayLike, y: ArrayLike, u: ArrayLike) -> Real:
    """rho of a quarter-wave match to an antenna of x times 50 ohm and the Q y, at u times the middle frequency."""
    impedance = Z0 * np.sqrt(np.asarray(x))
    constants = PerMetre(0.0, impedance / VELOCITY, 0.0, 1 / (impedance * VELOCITY))
    antenna = quarter_wave_antenna(x, y, u)
    v, i = phasor.step_back(phasor.line(constants, WAVE / 4, FREQUENCY * np.asarray(u)), antenna, 1.0)
    return np.asarray(np.abs(formulas.reflection(v / i, Z0)))


def quarter_wave_antenna(x: ArrayLike, y: ArrayLike, u: ArrayLike) -> Complex:
    """A series circuit of x times 50 ohm and the Q y, resonant at the middle frequency."""
    u = np.asarray(u, dtype=float)
    return np.asarray(Z0 * np.asarray(x) * (1 + 1j * np.asarray(y) * (u - 1 / u)))


def quarter_wave_bandwidth(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    return (Z0, Z0 * x, formulas.rho(LARGEST_SWR)), band_edge(x, y, True) - band_edge(x, y, False) + 0 * h


def half_an_s_unit(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    return (x,), np.asarray(-10 * np.log10(x) / y + 0 * h)


def round_trips(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    """The sum of n waves is 1 - g^n of the whole, g = the product of both ends with its phase."""
    turn = np.exp(1j * h) * x * y
    count = np.ones(turn.shape)
    for n in range(1, MOST_WAVES):
        count = np.where(np.abs(np.abs(1 - turn**n) ** 2 - 1) > 0.01, n + 1, count)
    return (x, y), count


def l_tuner(load_ohm: Complex) -> tuple[Real, Real, Real]:
    """Series reactance (ohm), shunt susceptance (S), series reactance, from the transmitter: the L without loss that makes a load 50 ohm.

    Below 50 ohm the shunt part stands at the transmitter, above at the load (Pozar, section 5.1); the outer part that is not used is 0.
    """
    r, x = load_ohm.real, load_ohm.imag
    admittance = 1 / load_ohm
    g, below = admittance.real, r <= Z0
    with np.errstate(invalid="ignore"):
        net, shunt = np.sqrt(r * (Z0 - r)), np.sqrt(g / Z0 - g**2)
        near = np.where(below, 0.0, Z0 * shunt / g)
        susceptance = np.where(below, np.sqrt((Z0 - r) / r) / Z0, shunt - admittance.imag)
        far = np.where(below, net - x, 0.0)
    return near, susceptance, far


def open_end(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    near, susceptance, far = l_tuner(load(x, h))
    n, d, _ = phasor.looking_back([phasor.series(1j * near), phasor.shunt(1j * susceptance), phasor.series(1j * far)], y)
    return (), np.asarray(np.abs((n - Z0 * d) / (n + Z0 * d)) ** 2)


def meter_on_any_line(x: Real, y: Real, h: Real) -> tuple[Arguments, Real]:
    z = load(x, h, y)
    return forward_and_reflected(z, 1.0), formulas.swr(np.abs(formulas.reflection(z, y)))


def half_wave_line(x: Real, y: Real, h: Real) -> tuple[Arguments, Complex]:
    z = load(x, h)
    v, i = phasor.step_back(line(0.5, y), z, 1.0)
    return (z,), np.asarray(v / i)


ONE: Real = np.zeros(1)
TRIALS: dict[str, tuple[Trial, Real]] = {  # by the rule's name: the trial, and the values of what else the range holds
    "reflected-share": (reflected_share, PHASES),
    "tuned-forward": (tuned_forward, PHASES),
    "one-echo": (tuned_forward, PHASES),
    "added-loss": (added_loss, PHASES),
    "largest-voltage": (largest_voltage, PHASES),
    "swr-in-the-shack": (swr_in_the_shack, PHASES),
    "untuned-power": (untuned_power, PHASES),
    "tuner-loss": (tuner_loss, ONE),
    "quarter-wave-bandwidth": (quarter_wave_bandwidth, ONE),
    "half-an-s-unit": (half_an_s_unit, ONE),
    "round-trips": (round_trips, PHASES),
    "open-end": (open_end, PHASES),
    "meter-on-any-line": (meter_on_any_line, PHASES),
    "half-wave-line": (half_wave_line, PHASES),
}
