"""A passive circuit that stands for an antenna over a whole band, for pulses and sharp keys.

An antenna's resonances are branches of L and C in parallel at its terminals, each with the resistance of what it radiates: a resistor,
and one that a coil bridges, as radiation grows with frequency. They radiate into one another's fields too, so that they alone leave some
per cent. What is left is taken up by a few more parts around them: a branch across them (L, C and R, or C and R) and a capacitor bridged
by a resistor in series, once or twice over. Every element is positive: the circuit is passive at every frequency, in the band and
outside, and its energy can be booked; and every branch has a capacitor, so that no direct current flows. (A chain of parallel R-L-C, or any
sum of terms that are each passive, misses the antenna between its resonances, by 20 to 45 per cent, however many there are.)

The start comes from vector fitting, the values from least squares of the relative error, then weighted towards the worst. Outside of the
band the circuit is passive, and nothing else is known of it.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike

from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.circuits.loss import with_loss, without_loss
from bouncesim.exact.circuits.poles import Resonance, resonances
from bouncesim.exact.circuits.tree import Build, Join, Leaf, Tree, errors, fit
from bouncesim.exact.circuits.tree import as_oneport as made
from bouncesim.exact.oneport import impedance
from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario.oneport import OnePort

FEWEST_POINTS = 8
MOST_POINTS = 160  # for the fit; the error is taken over all
MOST_RESONANCES = 10
ENOUGH = 0.01  # rms of vector fitting: more poles add nothing that the circuit could hold
GOAL = 0.003  # worst relative error: no more parts beyond it
STAGES = (("LCR", "bridged"), ("CR", "bridged"))  # one part across all so far, one in series with it; and again
GAIN = 0.9  # of the rms error, at most, is left by two parts that are worth having
SIZES = (0.5, 0.05)  # how strong a new part is at first, relative to what is there
QUICK, LONG = 25, 200  # steps of the fit, to compare ways in which a new part could start, and to finish
BALANCING = 6  # rounds of weighting towards the worst error
IDLE = 1e-4  # a part that changes the errors by less than so much of themselves, or of GOAL, is taken out


def wideband_circuit(
    frequency_hz: ArrayLike, impedance_ohm: ArrayLike, loss_ohm: float = 0.0, added: bool = False
) -> tuple[OnePort, float]:
    """(circuit, worst relative error |Z - Zi|/|Zi| over the points) for the impedances Zi (N,) at rising frequencies (N,), N at least 8.

    `loss_ohm` is a resistor of its own in series, of which the power is heat: a part of the impedances, or, with `added`, on top of them;
    all other resistors radiate. Raises ScenarioError for too few points, or a loss that is more than the resistance that it is a part of.
    """
    f, z = np.asarray(frequency_hz, dtype=float), without_loss(impedance_ohm, loss_ohm, added)
    f, z = f[f > 0], z[f > 0]  # a file may start with direct current
    if len(f) < FEWEST_POINTS:
        raise ScenarioError(Problem("antenna", f"{len(f)} frequencies are too few for a band", f"Allowed: {FEWEST_POINTS} or more"))
    some = np.unique(np.linspace(0, len(f) - 1, min(len(f), MOST_POINTS)).round().astype(int))
    omega, level = 2 * np.pi * np.sqrt(f[0] * f[-1]), np.exp(np.mean(np.log(np.abs(z[some]))))  # the middle of the data
    tree, values = _fitted_once((2j * np.pi * f[some] / omega).tobytes(), (z[some] / level).tobytes())
    port = with_loss(made(tree, values, level, omega), loss_ohm)
    return port, float(np.abs(impedance(port, 2 * np.pi * f) / (z + loss_ohm) - 1).max())


@functools.lru_cache(maxsize=8)  # seconds of work, and a command asks for the same antenna several times
def _fitted_once(s: bytes, z: bytes) -> tuple[Tree, Real]:
    """`_fitted` of the bytes of its arguments. What it returns is not to be changed."""
    return _fitted(np.frombuffer(s, dtype=complex), np.frombuffer(z, dtype=complex))


def _fitted(s: Complex, z: Complex) -> tuple[Tree, Real]:
    tree, values = _branches(s, z)
    values = fit(tree, values, s, z, LONG)
    for stage in STAGES:
        bigger, trial = tree, values
        if errors(tree, values, s, z).max() < GOAL:
            break
        for kind in stage:
            bigger, trial = _with_part(bigger, trial, s, z, kind)
        if _rms(bigger, trial, s, z) > GAIN * _rms(tree, values, s, z):
            break
        tree, values = bigger, trial
    if _rms(tree, values, s, z) < ENOUGH:  # the noise of a measurement is not worth following
        values = _balanced(tree, values, s, z)
    return _pruned(tree, values, s, z), values


def _with_part(tree: Tree, values: Real, s: Complex, z: Complex, kind: str) -> tuple[Tree, Real]:
    tries = [(bigger, fit(bigger, start, s, z, QUICK)) for bigger, start in _grown(tree, values, s, z, kind)]
    best, start = min(tries, key=lambda each: _rms(each[0], each[1], s, z))
    return best, fit(best, start, s, z, LONG)


def _rms(tree: Tree, values: Real, s: Complex, z: Complex) -> float:
    return float(np.sqrt(np.mean(errors(tree, values, s, z) ** 2)))


def _branches(s: Complex, z: Complex) -> tuple[Tree, Real]:
    """The resonances, in parallel with each other and with a capacitor."""
    for pairs in range(1, MOST_RESONANCES + 1):
        found = resonances(s, 1 / z, pairs)
        if found.rms < ENOUGH:
            break
    plain = float(np.median(np.abs(z)))  # no resonance: a resistor, with a coil and a capacitor of little effect
    low, high, build = float(s.imag[0]), float(s.imag[-1]), Build()
    members: list[Tree] = []
    for inductance, capacitance, resistance in found.resonances or (Resonance(0.1 * plain / high, 10 / (plain * low), plain),):
        omega = 1 / np.sqrt(inductance * capacitance)
        radiation = build.leaf("resistor", 2 * resistance), build.leaf("inductor", 2 * resistance / omega)
        parts = build.leaf("inductor", inductance), build.leaf("capacitor", capacitance), build.leaf("resistor", resistance / 2)
        members.append(Join("series", (*parts, Join("parallel", radiation))))
    least = 1e-4 / (high * float(np.abs(z).max()))
    members.append(build.leaf("capacitor", max(found.capacitance, least)))
    return Join("parallel", tuple(members)), np.array(build.values)


def _grown(tree: Tree, values: Real, s: Complex, z: Complex, kind: str) -> Iterator[tuple[Tree, Real]]:
    """`tree` with one more part, in a few sizes and at a few frequencies."""
    low, high = float(s.imag[0]), float(s.imag[-1])
    least, most = float(np.abs(z).min()), float(np.abs(z).max())
    for size in SIZES:
        for omega in (low, np.sqrt(low * high), high):
            build = Build(values)
            if kind == "bridged":
                r = least * size
                bridged = Join("parallel", (build.leaf("resistor", r), build.leaf("capacitor", 1 / (r * omega))))
                yield Join("series", (tree, bridged)), np.array(build.values)
                continue
            r = most / size
            c = build.leaf("capacitor", (3 if kind == "LCR" else 1) / (r * omega))
            branch: tuple[Leaf, ...] = (build.leaf("resistor", r), c)
            if kind == "LCR":
                branch = (build.leaf("inductor", r / (3 * omega)), *branch)
            yield Join("parallel", (tree, Join("series", branch))), np.array(build.values)


def _balanced(tree: Tree, values: Real, s: Complex, z: Complex) -> Real:
    """Values with a smaller worst error: least squares with weights that grow where the error is large (Lawson's idea, from memory)."""
    best, weight, now = values, np.ones(len(s)), values
    for _ in range(BALANCING):
        off = errors(tree, now, s, z)
        weight = weight * np.sqrt(off / off.max() + 0.1)
        weight /= weight.mean()
        now = fit(tree, now, s, z, QUICK, weight)
        if errors(tree, now, s, z).max() < errors(tree, best, s, z).max():
            best = now
    return best


def _pruned(tree: Tree, values: Real, s: Complex, z: Complex) -> Tree:
    """`tree` without the parts that do nothing, neither to the worst error nor to the rms."""

    def size(which: Tree) -> Real:
        off = errors(which, values, s, z)
        return np.array([off.max(), np.sqrt(np.mean(off**2))])

    allowed = size(tree)
    allowed += IDLE * np.maximum(allowed, GOAL)
    for smaller in _without_one(tree):
        if (size(smaller) <= allowed).all():
            return _pruned(smaller, values, s, z)
    return tree


def _without_one(tree: Tree) -> Iterator[Tree]:
    """`tree` without one of its parts, in every way but those that would let direct current through a branch."""
    if isinstance(tree, Leaf):
        return
    for place, member in enumerate(tree.members):
        before, after = tree.members[:place], tree.members[place + 1 :]
        keeps_out = tree.how == "series" and isinstance(member, Leaf) and member.kind == "capacitor"
        if len(tree.members) > 1 and not keeps_out:
            yield Join(tree.how, before + after)
        for smaller in _without_one(member):
            yield Join(tree.how, (*before, smaller, *after))
