"""Noise on receive: what comes in with the signal, and what the station adds. Loss in the station costs only as much as the latter matters.

A passive path at the temperature T passes G of the power that is available from the antenna and adds its own noise of (1 - G) k T b
(source: Pozar, Microwave Engineering, section 10.1; a matched or mismatched path alike, with G its available gain). External noise
f_a k T0 b comes with the signal and is lost with it; the receiver adds (f_r - 1) k T0 b at its input. Signal to noise behind the path is

    S G m / (k T0 b (m (f_a G + (1 - G) T/T0) + f_r - 1)),    m the part of the available power that the receiver takes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.phasor import Real

BOLTZMANN = 1.380649e-23  # J/K, exact since 2019
T0 = 290.0  # K, the reference temperature of noise figures

# Median external noise figure F_am = c - d log10(f/MHz), dB above k T0 b, that an antenna without loss receives (a short vertical one near
# the ground). Source: Recommendation ITU-R P.372-16 (2022), Radio noise: man-made noise, 0.3 to 250 MHz, by surroundings, constants from
# memory; galactic noise, eq. 13, seen as quoted, below about 100 MHz and only above the critical frequency of the ionosphere. Medians:
# a tenth of the times and places lie 4 to 11 dB off to either side (from memory), and a local source of noise far above.
SURROUNDINGS = {
    "city": (76.8, 27.7),
    "residential": (72.5, 27.7),
    "rural": (67.2, 27.7),
    "quiet rural": (53.6, 28.6),
    "galactic": (52.0, 23.0),
}
LEAST_HZ, MOST_HZ = 0.3e6, 100e6  # where all of them hold


class NoiseAtReceiver(NamedTuple):
    """Noise at a receiver's input in units of k T0 b (a noise factor each), and what the path has cost."""

    external: Real  # with the signal, through the path
    path: Real  # thermal noise of what is lossy in it
    receiver: Real  # the receiver's own
    change_db: Real  # of the signal-to-noise ratio, against a matched path without loss: 0 or less

    @property
    def external_share(self) -> Real:
        """The part of all noise that came in at the antenna: near 1, loss in the station costs next to nothing."""
        return np.asarray(self.external / (self.external + self.path + self.receiver))


def external_noise_db(surroundings: str, frequency_hz: ArrayLike) -> Real:
    """Median external noise figure F_am, dB above k T0 b, at frequencies of 0.3 to 100 MHz (any shape). ScenarioError for others, and for
    surroundings that are not in SURROUNDINGS. Source: see there."""
    if surroundings not in SURROUNDINGS:
        raise ScenarioError(Problem("receiver.surroundings", f'"{surroundings}" is not known', f"Allowed: {', '.join(SURROUNDINGS)}"))
    f = np.asarray(frequency_hz, dtype=float)
    if not ((f >= LEAST_HZ) & (f <= MOST_HZ)).all():
        raise ScenarioError(Problem("receiver.surroundings", "external noise is not known at this frequency", "Allowed: 0.3 to 100 MHz"))
    c, d = SURROUNDINGS[surroundings]
    return np.asarray(c - d * np.log10(f / 1e6))


def noise_power_w(noise_figure_db: ArrayLike, bandwidth_hz: ArrayLike) -> Real:
    """Available noise power k T0 b f of a noise figure in a bandwidth, W; 0 dB is thermal noise at 290 K. Source: ITU-R P.372, eq. 2."""
    return np.asarray(BOLTZMANN * T0 * np.asarray(bandwidth_hz, dtype=float) * 10 ** (np.asarray(noise_figure_db, dtype=float) / 10))


def noise_after(
    path_gain: ArrayLike, external_db: ArrayLike, receiver_db: ArrayLike, match: ArrayLike = 1.0, path_temperature_k: ArrayLike = T0
) -> NoiseAtReceiver:
    """The noise at a receiver behind a passive path, and the change of signal to noise that the path makes.

    `path_gain`: the path's available gain, 0 to 1: its loss, mismatch set aside. `external_db`: external noise figure at the antenna;
    `receiver_db`: the receiver's noise figure; `match`: 1 - |rho|^2 at the receiver's input. The transducer gain is path_gain times match.
    The arrays broadcast. The receiver's own noise is taken to be the same whatever it is connected to. Source: see the module.
    """
    g, m = np.asarray(path_gain, dtype=float), np.asarray(match, dtype=float)
    outside, own = 10 ** (np.asarray(external_db, dtype=float) / 10), 10 ** (np.asarray(receiver_db, dtype=float) / 10) - 1
    external, path = m * g * outside, m * (1 - g) * np.asarray(path_temperature_k, dtype=float) / T0
    with np.errstate(divide="ignore"):  # nothing comes through: minus infinity
        change = 10 * np.log10(g * m * (outside + own) / (external + path + own))
    outside_now, thermal, receiver, _ = np.broadcast_arrays(external, path, own, change)
    return NoiseAtReceiver(outside_now, thermal, receiver, np.asarray(change))


def signal_to_noise_db(
    signal_w: ArrayLike, bandwidth_hz: ArrayLike, external_db: ArrayLike, receiver_db: ArrayLike, path: NoiseAtReceiver | None = None
) -> Real:
    """Signal to noise in a bandwidth, dB, of a signal that is available from the antenna with `signal_w`: behind `path`, or, without one,
    straight at the receiver's input."""
    own = 10 ** (np.asarray(receiver_db, dtype=float) / 10) - 1
    noise = noise_power_w(0.0, bandwidth_hz) * (10 ** (np.asarray(external_db, dtype=float) / 10) + own)
    return np.asarray(10 * np.log10(np.asarray(signal_w, dtype=float) / noise) + (0.0 if path is None else path.change_db))
