"""The EMF of a keyed carrier as a function of time and of s: sines that start at one instant or at two.

A step of the key is one sine from t = 0. A raised-cosine key of length r is two pieces, each nothing before its start: from 0

    1/2 (1 - cos p t) sin w t = 1/2 sin w t - 1/4 [sin((w + p) t) + sin((w - p) t)],      p = pi/r,

and from r what is missing to sin w t, which in t' = t - r is 1/2 (1 - cos p t') sin(w t' + w r) once more. The Laplace transform of
sin(a t + b) is (a cos b + s sin b)/(s^2 + a^2) (any table). Written apart from march.transmitter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.exact.phasor import Real
from bouncesim.scenario import Keying, Scenario


@dataclass(frozen=True)
class Tone:
    """peak_v sin(omega t + phase)."""

    peak_v: float
    omega: float
    phase: float

    def transform(self, s: Any) -> Any:
        """Laplace transform, V s, at s in 1/s, of any kind of number."""
        return self.peak_v * (self.omega * math.cos(self.phase) + s * math.sin(self.phase)) / (s * s + self.omega**2)


@dataclass(frozen=True)
class Piece:
    """A sum of tones that begins at `start_s`, in time counted from there."""

    start_s: float
    tones: tuple[Tone, ...]

    def volts(self, time_s: Real) -> Real:
        """V at times in s."""
        since = np.maximum(time_s - self.start_s, 0.0)
        wave = sum((tone.peak_v * np.sin(tone.omega * since + tone.phase) for tone in self.tones), np.zeros_like(since))
        return np.where(time_s >= self.start_s, wave, 0.0)

    def transform(self, s: Any) -> Any:
        """Laplace transform without exp(-s start_s), V s."""
        return sum(tone.transform(s) for tone in self.tones)


def _raised(peak_v: float, omega: float, rise_s: float, start_s: float) -> Piece:
    phase, p = omega * start_s, math.pi / rise_s
    sides = tuple(Tone(-peak_v / 4, omega + sign * p, phase) for sign in (1, -1))
    return Piece(start_s, (Tone(peak_v / 2, omega, phase), *sides))


def pieces(scenario: Scenario) -> tuple[Piece, ...]:
    """The EMF of a station that is keyed by a step or a raised cosine. ValueError for other keys."""
    peak, key, omega = scenario.emf_v_peak, scenario.keying, scenario.omega
    if key.shape == "step":
        return (Piece(0.0, (Tone(peak, omega, 0.0),)),)
    if key.shape == "raised-cosine":
        return (_raised(peak, omega, key.rise_s, 0.0), _raised(peak, omega, key.rise_s, key.rise_s))
    raise ValueError(f"no closed form for a {key.shape} key here")


def volts(scenario: Scenario, time_s: ArrayLike) -> Real:
    """The EMF at times in s, V; a linear key too, which the lattice series takes as well as any. ValueError for other keys."""
    time = np.asarray(time_s, dtype=float)
    if scenario.keying.shape == "linear":
        step = scenario.model_copy(update={"keying": Keying(shape="step")})
        return np.clip(time / scenario.keying.rise_s, 0.0, 1.0) * volts(step, time)
    return np.asarray(sum((piece.volts(time) for piece in pieces(scenario)), np.zeros_like(time)))
