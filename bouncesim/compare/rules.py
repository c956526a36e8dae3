"""Published rules of thumb laid over their range: where each holds within 1 %, and how far off it is elsewhere.

The exact engine solves every place of the range at once; the few places that are marched in time are in compare.spots.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bouncesim.account.rulemap import MapAxis, Point, RuleMap
from bouncesim.compare.trials import TRIALS
from bouncesim.exact.formulas.rules import Axis, Rule
from bouncesim.exact.phasor import Complex, Real

STEPS = 41  # along each axis


def map_rule(rule: Rule, steps: int = STEPS) -> RuleMap:
    """The rule over its range, `steps` by `steps` places, each at the worst of what else the range holds."""
    trial, held = TRIALS[rule.name]
    x, y = _values(rule.x, steps), _values(rule.y, steps)
    with np.errstate(divide="ignore", invalid="ignore"):
        arguments, exact = trial(x[None, :, None], y[:, None, None], held)
        by_rule, exact = np.broadcast_arrays(rule.function(*arguments), exact)
        off = _off(by_rule, exact)
    worst = np.take_along_axis(off, np.abs(off).argmax(axis=-1)[..., None], axis=-1)[..., 0]

    def point(at: np.intp) -> Point:
        row, column, _ = (int(index) for index in np.unravel_index(at, off.shape))
        return Point(float(x[column]), float(y[row]), complex(by_rule.flat[at]), complex(exact.flat[at]), float(off.flat[at]))

    return RuleMap(
        rule.name,
        rule.says,
        rule.formula,
        rule.quantity,
        rule.unit,
        rule.source,
        rule.assumes,
        rule.held,
        MapAxis(rule.x.label, rule.x.unit, rule.x.log, x),
        MapAxis(rule.y.label, rule.y.unit, rule.y.log, y),
        worst,
        point(off.argmax()),
        point(off.argmin()),
    )


def _values(axis: Axis, steps: int) -> Real:
    return np.geomspace(axis.low, axis.high, steps) if axis.log else np.linspace(axis.low, axis.high, steps)


def _off(by_rule: Real | Complex, exact: Real | Complex) -> Real:
    """(rule - exact)/exact; of impedances the size of the difference, with no sign of its own."""
    difference = by_rule - exact
    if np.iscomplexobj(difference):
        return np.asarray(np.abs(difference) / np.abs(exact))
    return np.asarray(difference / np.abs(exact))


@dataclass(frozen=True)
class Row:
    """One y of a mapped rule: the stretches of x where it holds within 1 %, and the range of how far off it is, both relative."""

    y: float
    holds: tuple[tuple[float, float], ...]
    everywhere: bool
    least_off: float
    most_off: float


def rows(mapped: RuleMap, count: int = 5) -> list[Row]:
    """`count` rows of the range, evenly spread over it, from its lowest y to its highest."""
    x, made = mapped.x.values, []
    for at in np.linspace(0, len(mapped.y.values) - 1, count).round().astype(int):
        holding = mapped.holding[at]
        edges = np.flatnonzero(np.diff(np.concatenate([[False], holding, [False]]).astype(int)))
        stretches = tuple((float(x[a]), float(x[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True))
        off = mapped.off[at]
        made.append(Row(float(mapped.y.values[at]), stretches, bool(holding.all()), float(off.min()), float(off.max())))
    return made
