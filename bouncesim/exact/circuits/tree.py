"""One-ports in series and in parallel with element values to be fitted: their impedance, how each element moves it, the fit itself.

The elements are fitted in the logarithm of their values, so that they stay positive and the circuit passive, whatever the data.
"""

from __future__ import annotations

import functools
import operator
from dataclasses import dataclass

import numpy as np

from bouncesim.exact.phasor import Complex, Real
from bouncesim.scenario.oneport import Joined, Lumped, OnePort

SHIFT = 1.0  # the largest change of a logarithm in a step
FAR = 25.0  # the largest logarithm, relative to an impedance and a frequency in the middle of the data
SLOW, PATIENCE = 1e-4, 6  # end when the error has fallen by less than so much, so many steps in a row
NOTHING = 1e-26  # a sum of squares that is rounding error
TRIES = 12  # dampings in a step
FIRST_DAMPING = 1e-2


@dataclass(frozen=True)
class Leaf:
    """One element: its kind, and the place of its value in the list of values."""

    kind: str  # "resistor", "inductor", "capacitor"
    place: int


@dataclass(frozen=True)
class Join:
    """Trees in series or in parallel."""

    how: str
    members: tuple[Tree, ...]


Tree = Leaf | Join


class Build:
    """Gives elements their places while a tree is built."""

    def __init__(self, values: Real | None = None) -> None:
        self.values: list[float] = [] if values is None else [float(each) for each in values]

    def leaf(self, kind: str, value: float) -> Leaf:
        """A new element."""
        self.values.append(value)
        return Leaf(kind, len(self.values) - 1)


def response(tree: Tree, values: Real, s: Complex) -> tuple[Complex, Complex]:
    """(impedance, its derivative by the logarithm of each value) at the complex frequencies s (N,); shapes (N,) and (values, N).

    An element in series with the port has the whole weight, one in parallel the square of its share of the current (Tellegen).
    """
    seen: dict[int, Complex] = {}
    slopes = np.zeros((len(values), len(s)), dtype=complex)
    total = _impedance(tree, values, s, seen)
    _slopes(tree, np.ones(len(s), dtype=complex), seen, slopes)
    return total, slopes


def _impedance(tree: Tree, values: Real, s: Complex, seen: dict[int, Complex]) -> Complex:
    if isinstance(tree, Leaf):
        value = values[tree.place]
        z = np.full(s.shape, value + 0j) if tree.kind == "resistor" else (s * value if tree.kind == "inductor" else 1 / (s * value))
    elif tree.how == "series":
        z = functools.reduce(operator.add, [_impedance(member, values, s, seen) for member in tree.members])
    else:
        z = 1 / functools.reduce(operator.add, [1 / _impedance(member, values, s, seen) for member in tree.members])
    seen[id(tree)] = z
    return z


def _slopes(tree: Tree, weight: Complex, seen: dict[int, Complex], slopes: Complex) -> None:
    if isinstance(tree, Leaf):
        slopes[tree.place] = weight * seen[id(tree)] * (-1 if tree.kind == "capacitor" else 1)
        return
    for member in tree.members:
        share = 1.0 if tree.how == "series" else (seen[id(tree)] / seen[id(member)]) ** 2
        _slopes(member, weight * share, seen, slopes)


def errors(tree: Tree, values: Real, s: Complex, target: Complex) -> Real:
    """|Z - target|/|target| at each frequency."""
    return np.asarray(np.abs(response(tree, values, s)[0] / target - 1))


def fit(tree: Tree, values: Real, s: Complex, target: Complex, steps: int, weight: Real | None = None) -> Real:
    """The values that bring the impedance nearest to `target`, in the sum of the squares of `weight` times the relative error.

    Levenberg's and Marquardt's damped least squares (Press et al., Numerical Recipes, section 15.5), from `values` on; it never gets
    worse.
    """
    scale = (np.ones(len(s)) if weight is None else weight) / np.abs(target)

    def residual(logs: Real) -> tuple[Real, Real]:
        z, slopes = response(tree, np.exp(logs), s)
        off, move = (z - target) * scale, slopes.T * scale[:, None]
        return np.concatenate([off.real, off.imag]), np.vstack([move.real, move.imag])

    logs, damping, slow = np.clip(np.log(values), -FAR, FAR), FIRST_DAMPING, 0
    off, move = residual(logs)
    for _ in range(steps):
        if off @ off < NOTHING:
            break
        square, slope = move.T @ move, move.T @ off
        floor = 1e-12 * np.trace(square) / len(logs)
        for _ in range(TRIES):
            step = -np.linalg.solve(square + np.diag(damping * np.diag(square) + floor), slope)
            trial = np.clip(logs + step * min(1.0, SHIFT / np.abs(step).max()), -FAR, FAR)
            new = residual(trial)
            if new[0] @ new[0] < off @ off:
                break
            damping *= 3
        else:
            break
        slow = slow + 1 if new[0] @ new[0] > (1 - SLOW) * (off @ off) else 0
        logs, (off, move), damping = trial, new, max(damping / 4, 1e-10)
        if slow == PATIENCE:
            break
    return np.asarray(np.exp(logs))


def as_oneport(tree: Tree, values: Real, impedance: float, omega: float) -> OnePort:
    """The circuit in ohm, H and F, of values that are relative to an impedance and an angular frequency."""
    if isinstance(tree, Join):
        members = tuple(as_oneport(member, values, impedance, omega) for member in tree.members)
        return members[0] if len(members) == 1 else Joined(how="series" if tree.how == "series" else "parallel", members=members)
    value = float(values[tree.place])
    if tree.kind == "resistor":
        return Lumped(kind="resistor", value=value * impedance)
    if tree.kind == "inductor":
        return Lumped(kind="inductor", value=value * impedance / omega)
    return Lumped(kind="capacitor", value=value / (impedance * omega))
