"""A pulse sent down the lines, taken apart: what went out at the start of the first line, what came back, and what an echo from any place
would look like.

Everything is done at complex frequencies s = sigma + jw (a Fourier transform under a decaying weight): there the waves refer to a line's
own impedance Zc(s) = sqrt(Z/Y), so that the slow tail that a line with loss sends back all by itself is not taken for an echo, and the
way to a place and back is exp(-2 gamma(s) x), delay, loss and smear together.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.run import Run
from bouncesim.errors import BouncesimError
from bouncesim.scenario import Line, LineConstants, Part, Transformer

Floats = NDArray[np.float64]
Phasors = NDArray[np.complexfloating]

FADE = 6.0  # nepers over the whole transform: what wraps round is down to e^-6 of an end that is nearly nothing already
FLOOR = 0.005  # of the outgoing pulse: smaller echoes are not looked for
NEAR = 0.02  # of the pulse's width: how well the time of an echo is known (measured: tests/account/test_pulse.py)
LOSS_KNOWN = 0.1  # how well the loss of a cable is known, as a share of it
SAMPLES, FEWEST = 24, 12  # of a pulse that are kept, and that are needed
TRIPS = 2.2  # of the whole path that are looked at: all first echoes, and the second ones


class Probing:
    """The outgoing and the returned wave of a run with a pulse (T,), V, and the echo of any place as it would come back.

    Impedances are those seen from the first line, through ideal transformers. Times count from key-down. `delays` are those of the
        fronts, one way, at the joints between lines and last at the end of the path.
        Raises BouncesimError where the run has no pulse, or too few snapshots of it.
    """

    def __init__(self, run: Run) -> None:
        frequency = run.scenario.transmitter.frequency_hz
        if run.scenario.keying.shape != "pulse":
            raise BouncesimError("There are no echoes to tell apart: the key of this scenario sends no pulse.")
        self.width_s = float(run.scenario.keying.width_s or math.nan)
        self.constants = [line.constants(frequency) for line in run.scenario.lines]
        lengths = [line.length_m for line in run.scenario.lines]
        self.starts_m = np.concatenate([[0.0], np.cumsum(lengths)])
        self.velocities = np.array([one.velocity for one in self.constants])
        self.delays = np.concatenate([[0.0], np.cumsum(np.array(lengths) / self.velocities)])
        voltage, current = self._recorded(run)
        self.size = 1 << math.ceil(math.log2(2 * len(self.time_s)))
        sigma = FADE / (self.size * self.step_s)
        self.s = sigma + 2j * np.pi * np.fft.rfftfreq(self.size, self.step_s)
        self.weight = np.exp(-sigma * self.time_s)
        self.scales = ratios(run.scenario.path)
        self.gammas, own = zip(*(propagation(one, self.s) for one in self.constants), strict=True)
        self.impedances = [impedance / scale for impedance, scale in zip(own, self.scales, strict=True)]
        sent, self.back = ((self.spectrum(voltage) + way * self.impedances[0] * self.spectrum(current)) / 2 for way in (1, -1))
        self._gate(sent)

    def _recorded(self, run: Run) -> tuple[Floats, Floats]:
        """Voltage and current at the start of the first line, no more of them than a pulse needs."""
        time, trace = np.asarray(run.traces.time_s, dtype=np.float64), run.traces.lines[0]
        step = float(time[1] - time[0])
        if self.width_s < FEWEST * step:
            raise BouncesimError(
                "The run kept too few snapshots to tell the echoes of its pulse apart: shorten the lines, or widen the pulse."
            )
        end = TRIPS * 2 * self.delays[-1] + 4 * self.width_s
        kept = slice(0, int(np.searchsorted(time, end)) + 1, max(int(self.width_s / (SAMPLES * step)), 1))
        self.time_s = time[kept]
        self.step_s = float(self.time_s[1] - self.time_s[0])
        return np.asarray(trace.voltage_v[kept, 0], dtype=np.float64), np.asarray(trace.current_a[kept, 0], dtype=np.float64)

    def _gate(self, sent: Phasors) -> None:
        """An echo that the transmitter's side sends out again is a pulse of its own, with echoes of its own: keep it out of the outgoing
        wave, if that pulse was over before anything came back."""
        out, self.returned = self.wave(sent), self.wave(self.back)
        self.peak = float(np.abs(out).max())
        first = np.flatnonzero(np.abs(self.returned) > FLOOR * self.peak)
        self.first_s = float(self.time_s[first[0]]) if first.size else math.inf
        later = float(np.abs(out[first[0] :]).max()) if first.size else 0.0
        self.is_apart = self.first_s >= self.width_s + 2 * self.step_s
        self.goes_again = self.is_apart and later > 2 * FLOOR * self.peak
        self.sent = self.spectrum(np.where(self.time_s < self.first_s, out, 0.0)) if self.goes_again else sent
        self.out = self.wave(self.sent)

    def spectrum(self, values: Floats) -> Phasors:
        """Values against time to the frequencies s."""
        return np.asarray(np.fft.rfft(values * self.weight, self.size))

    def wave(self, spectrum: Phasors) -> Floats:
        """And back, (T,)."""
        return np.asarray(np.fft.irfft(spectrum, self.size)[: len(self.time_s)] / self.weight)

    def line_at(self, delay_s: float) -> int:
        """The line that an echo of this delay (one way) comes from: at a joint the nearer one, behind the end the last."""
        here = int(np.searchsorted(self.delays, delay_s - NEAR * self.width_s)) - 1
        return min(max(here, 0), len(self.constants) - 1)

    def place_m(self, delay_s: float) -> float:
        """How far a front comes in this time, along all lines."""
        k = self.line_at(delay_s)
        return float(self.starts_m[k] + (delay_s - self.delays[k]) * self.velocities[k])

    def joint_at(self, delay_s: float) -> int | None:
        """The joint (k: behind line k; the last one is the end) that an echo of this delay comes from, or None."""
        k = self.line_at(delay_s)
        return k if abs(delay_s - self.delays[k + 1]) <= self.within_s(delay_s) else None

    def within_s(self, delay_s: float) -> float:
        """How well a delay is known: a share of the pulse's width, and a tenth of what the lines' loss holds the
        peak of an echo back by: the loss of a real cable is hardly known better (common practice, no source)."""
        return NEAR * self.width_s + LOSS_KNOWN * self.smear_s / 2 * min(delay_s / float(self.delays[-1]), 1.0)

    @cached_property
    def smear_s(self) -> float:
        """By how much later than the lines' delay the peak of an echo from the end comes, as their loss smears it."""
        if not any(one.series_branches or one.shunt_branches for one in self.constants):
            return 0.0
        end = float(self.delays[-1])
        there = np.abs(self.wave(self.sent * self.way(end)))
        return max(float(self.time_s[np.argmax(there)] - self.time_s[np.argmax(np.abs(self.out))]) - 2 * end, 0.0)

    def way(self, delay_s: float) -> Phasors:
        """What becomes of the outgoing wave on its way to a place and back: delay, loss and smear of the lines, and what passes their
        joints both ways, if nothing stands in them."""
        last, place = self.line_at(delay_s), self.place_m(delay_s)
        exponent, passed = np.zeros_like(self.s), np.ones_like(self.s)
        for k in range(last + 1):
            end = place if k == last else self.starts_m[k + 1]
            exponent = exponent + self.gammas[k] * (end - self.starts_m[k])
            if k < last:
                passed = passed * (1 - self.joint(k) ** 2)
        return np.asarray(passed * np.exp(-2 * exponent))

    def joint(self, k: int) -> Phasors:
        """Reflection where line k meets the next one, if nothing stands between them."""
        near, far = self.impedances[k], self.impedances[k + 1]
        return np.asarray((far - near) / (far + near))


def ratios(path: tuple[Part, ...]) -> list[float]:
    """For every line, the impedance ratio of all transformers in front of it: by as much its impedances look smaller from the start."""
    found, scale = [], 1.0
    for part in path:
        if isinstance(part, Transformer):
            scale *= part.impedance_ratio
        elif isinstance(part, Line):
            found.append(scale)
    return found


def propagation(constants: LineConstants, s: Phasors) -> tuple[Phasors, Phasors]:
    """gamma (1/m) and Zc (ohm) at complex frequencies with a positive real part, as products of roots (one combined root may take the
    wrong branch)."""
    series, shunt = constants.resistance + s * constants.inductance, constants.conductance + s * constants.capacitance
    for r, l in constants.series_branches:
        series = series + s * l * r / (r + s * l)
    for g, c in constants.shunt_branches:
        shunt = shunt + s * c * g / (g + s * c)
    return np.asarray(np.sqrt(series) * np.sqrt(shunt)), np.asarray(np.sqrt(series) / np.sqrt(shunt))
