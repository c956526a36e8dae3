"""The shape of an echo, fitted.

With one coil or capacitor and any resistors at a place, the reflection there has one pole:

    rho(s) = (rho0 + s tau rho8)/(1 + s tau),

rho0 for what is slow, rho8 for what is fast. A pulse's edge finds a coil in series open (rho8 = 1) and a capacitor across the line short
(rho8 = -1); a direct current finds a capacitor in series open (rho0 = 1) and a coil across the line short (rho0 = -1). Resistors, ends
and other lines alone have rho0 = rho8. So there are five families, each with one unknown or two besides the place (derived here).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from bouncesim.account.probing import Floats, Phasors, Probing

PLAIN = "plain"
FAMILIES = ("coil in series", "capacitor across", "capacitor in series", "coil across")
RESISTIVE = 0.03  # of an echo (rms) may be left over for it to count as a plain copy of the pulse
BETTER = 0.7  # of what a plain copy leaves over: a pole must explain that much more to be believed
STARTS = (0.03, 0.15, 0.7, 3.0)  # time constants to start from, in widths of the pulse
SHORTEST, LONGEST = 1e-3, 20.0  # time constants, in widths of the pulse
ROUNDS = 25  # of the fit
NUDGE = 1e-4  # of the pulse's width, for a difference quotient


@dataclass(frozen=True)
class Shape:
    """One reflection with one pole at most, at a place; `delay_s` one way, `left_over` the part of the echo (rms) that it leaves."""

    family: str
    delay_s: float
    slow: float  # rho0
    fast: float  # rho8
    tau_s: float
    left_over: float = math.inf

    def reflection(self, s: Phasors) -> Phasors:
        """rho(s)."""
        return np.asarray((self.slow + s * self.tau_s * self.fast) / (1 + s * self.tau_s))


def shape_of(family: str, delay_s: float, free: float, tau_s: float) -> Shape:
    """The shape of a family with its free reflection."""
    slow, fast = {FAMILIES[0]: (free, 1.0), FAMILIES[1]: (free, -1.0), FAMILIES[2]: (1.0, free), FAMILIES[3]: (-1.0, free)}.get(
        family, (free, free)
    )
    return Shape(family, delay_s, slow, fast, tau_s)


class Fit:
    """Finds the shape that explains an echo in the returned wave; `passed`: what the faults in front let through, both ways."""

    def __init__(self, probing: Probing, returned: Floats, passed: Phasors) -> None:
        self.probing, self.returned, self.passed = probing, returned, passed

    def model(self, shape: Shape) -> Floats:
        """The echo of a shape, V (T,)."""
        p = self.probing
        return p.wave(p.sent * p.way(shape.delay_s) * self.passed * shape.reflection(p.s))

    def best(self, onset_s: float) -> Shape:
        """The plainest shape that explains the echo which begins at `onset_s`."""
        wide = self.probing.width_s
        plain = self._fit(PLAIN, onset_s, self._window(onset_s, 1.1 * wide))
        if plain.left_over < RESISTIVE:
            return plain
        window = self._window(onset_s, 2.2 * wide)
        best = min((self._fit(family, onset_s, window) for family in FAMILIES), key=lambda shape: shape.left_over)
        return best if best.left_over < BETTER * plain.left_over else plain

    def _window(self, onset_s: float, long_s: float) -> Floats:
        time = self.probing.time_s
        return np.asarray((time > onset_s - 0.3 * self.probing.width_s) & (time < onset_s + long_s), dtype=np.float64)

    def _fit(self, family: str, onset_s: float, window: Floats) -> Shape:
        """Down from the two best places of a coarse search."""
        wide = self.probing.width_s
        taus = (1.0,) if family == PLAIN else STARTS
        coarse = [
            self._solved(family, max(onset_s - shift * wide, 0.0) / 2, tau * wide, window)
            for shift, tau in itertools.product((0.0, 0.12, 0.25), taus)
        ]
        coarse.sort(key=lambda one: one[0].left_over)
        return min((self._descend(start, window) for start in coarse[:2]), key=lambda shape: shape.left_over)

    def _solved(self, family: str, delay_s: float, tau_s: float, window: Floats) -> tuple[Shape, Floats]:
        """The model is linear in its free reflection: solve for that. Returns what is left over too."""
        p = self.probing
        way = p.sent * p.way(delay_s) * self.passed
        none, one = (p.wave(way * shape_of(family, delay_s, free, tau_s).reflection(p.s)) * window for free in (0.0, 1.0))
        off, slope = self.returned * window - none, one - none
        free = float(np.clip(np.sum(slope * off) / max(float(np.sum(slope**2)), 1e-300), -1.02, 1.02))
        off = off - free * slope
        size = float(np.linalg.norm(self.returned * window)) or 1.0
        return replace(shape_of(family, delay_s, free, tau_s), left_over=float(np.linalg.norm(off)) / size), off

    def _descend(self, start: tuple[Shape, Floats], window: Floats) -> Shape:
        """Delay and time constant by damped Gauss-Newton steps, the free reflection solved at each."""
        (shape, off), wide, damping = start, self.probing.width_s, 1e-3
        for _ in range(ROUNDS):
            moved = [self._solved(shape.family, shape.delay_s + NUDGE * wide, shape.tau_s, window)[1]]
            if shape.family != PLAIN:
                moved.append(self._solved(shape.family, shape.delay_s, shape.tau_s * (1 + NUDGE), window)[1])
            columns = np.stack([off - one for one in moved]) / NUDGE
            normal = columns @ columns.T
            step = np.linalg.solve(normal + np.diag(damping * np.diag(normal) + 1e-300), columns @ off)
            delay = max(shape.delay_s + float(np.clip(step[0], -0.1, 0.1)) * wide, 0.0)
            tau = shape.tau_s * math.exp(float(np.clip(step[-1], -0.7, 0.7))) if len(moved) == 2 else shape.tau_s
            tried = self._solved(shape.family, delay, float(np.clip(tau, SHORTEST * wide, LONGEST * wide)), window)
            gain = shape.left_over - tried[0].left_over
            if gain > 0:
                (shape, off), damping = tried, damping / 5
            else:
                damping *= 20
            if 0 < gain < 1e-6 or damping > 1e6:
                break
        return shape
