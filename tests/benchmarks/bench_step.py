"""The whole step (line, networks, energy ledger, eight gauges read) of a station with an L tuner and a series R, L, C antenna on 200 cells.

Against the bare fused update of the same line, and against a march that keeps no ledger: the very loop, with the sums of the line and the
closing of the books taken out. And a step of networks alone, of about ten states.
"""

from __future__ import annotations

import types

import numba
import numpy as np

from bouncesim.march import loop
from bouncesim.march.jit import OPTIONS
from bouncesim.march.line import advance_cells_bare
from bouncesim.march.loop import BARE, UNREAD
from bouncesim.march.simulation import build
from bouncesim.scenario import Antenna, Element, Keying, Line, Meter, Network, Scenario, Transmitter
from bouncesim.scenario.oneport import Joined, Lumped
from tests.benchmarks.bench_line import alike, update

STEPS = 2000
ROUNDS = 300
AT_MOST = 3.2  # what a whole step may cost, in bare line updates
LEDGER_AT_MOST = 1.6  # and in steps without a ledger
GAUGES = 8
FREQUENCY = 7.1e6
VELOCITY_FACTOR = 0.66
CELLS = 200
# 25 - 60j ohm at FREQUENCY: 2 uH in series with what leaves -60 ohm
OMEGA, RESISTANCE, REACTANCE, COIL = 2 * np.pi * FREQUENCY, 25.0, -60.0, 2e-6
SERIES = Joined(
    how="series",
    members=(
        Lumped(kind="resistor", value=RESISTANCE),
        Lumped(kind="inductor", value=COIL),
        Lumped(kind="capacitor", value=1 / (OMEGA * (OMEGA * COIL - REACTANCE))),
    ),
)


@numba.njit(inline="always", **OPTIONS)
def lines_without_sums(v, i, bounds, coefficients, branches, memory, line_heat_j, dt):
    for s in range(bounds.shape[0]):
        v0, i0, n = bounds[s, 0], bounds[s, 1], bounds[s, 2]
        advance_cells_bare(
            v[v0 : v0 + n + 1], i[i0 : i0 + n], coefficients[s, 0], coefficients[s, 1], coefficients[s, 2], coefficients[s, 3]
        )
    return 0.0, 0.0


@numba.njit(inline="always", **OPTIONS)
def no_books(energy, line_heat, y, states, heat_rows, books, scalars, dt):
    pass


def march_without_ledger():
    """loop.march with other functions in the place of those that keep the books."""
    names = vars(loop) | {"advance_lines": lines_without_sums, "close_books": no_books}
    return numba.njit(**OPTIONS)(types.FunctionType(loop.march.py_func.__code__, names, "march_without_ledger"))


def element(position: str, kind: str, value: float, loss: float = 0.0) -> Element:
    return Element(position=position, kind=kind, value=value, loss_ohm=loss)


def station(*elements: Element, cells: int = CELLS, frequency: float = FREQUENCY, keying: Keying | None = None) -> Scenario:
    """A line of so many cells at 200 steps a period; elements before it, a series antenna behind it, and a meter at every joint: eight
    gauges with those of the transmitter, the line's two ends and the antenna."""
    length = VELOCITY_FACTOR * 299_792_458 / frequency * (cells + 0.3) / 200
    line = Line(length_m=length, impedance_ohm=50.0, velocity_factor=VELOCITY_FACTOR)
    first, second, third, fourth = (Meter(name=f"meter {k}") for k in range(1, 5))
    return Scenario(
        title="benchmark",
        transmitter=Transmitter(frequency_hz=frequency, power_w=60.0),
        keying=keying or Keying(shape="step"),
        path=(first, Network(elements=elements), second, line, third, fourth),
        antenna=Antenna(impedance_ohm=complex(RESISTANCE, REACTANCE), circuit=SERIES),
    )


def tuned(**changes) -> Scenario:
    return station(element("shunt", "capacitor", 400e-12), element("series", "inductor", 1e-6), **changes)


def test_step(bench) -> None:
    scenario = tuned()
    stepper, unread, other = (build(scenario, 200) for _ in range(3))
    (section,) = stepper.plan.sections
    assert (section.cells, len(stepper.gauges)) == (CELLS, GAUGES)
    v, i = alike(CELLS)
    row = stepper.coefficients[0, :4]
    whole, without, quiet = stepper.arguments(STEPS, BARE), other.arguments(STEPS, BARE), unread.arguments(STEPS, UNREAD)
    no_ledger = march_without_ledger()
    times = bench.in_turns(
        lambda: loop.march(*whole),
        lambda: loop.march(*quiet),
        lambda: no_ledger(*without),
        lambda: update(STEPS, v, i, *row),
        rounds=ROUNDS,
    )
    np.testing.assert_allclose(other.v, stepper.v, rtol=0, atol=1e-9 * np.abs(stepper.v).max())  # it is the same march
    step, unread_step, bare_step, line = (took / STEPS * 1e9 for took in times)
    bench.row(f"bare update of {CELLS} cells", f"{line:.1f} ns")
    bench.row(f"whole step, {GAUGES} gauges read: bare updates", f"{step:.1f} ns", f"{step / line:.2f}", f"at most {AT_MOST}")
    bench.row("whole step, gauges not read: bare updates", f"{unread_step:.1f} ns", f"{unread_step / line:.2f}")
    bench.row("whole step: steps without a ledger", f"{bare_step:.1f} ns", f"{step / bare_step:.2f}", f"at most {LEDGER_AT_MOST}")


def test_networks(bench) -> None:
    """Eight elements with losses, on one cell."""
    dense = build(
        station(
            element("series", "inductor", 1e-6, 0.2),
            element("shunt", "capacitor", 400e-12, 0.1),
            element("series", "capacitor", 900e-12, 0.1),
            element("shunt", "inductor", 3e-6, 0.2),
            element("series", "inductor", 2e-6, 0.2),
            element("shunt", "capacitor", 300e-12, 0.1),
            element("series", "inductor", 1e-6, 0.2),
            element("shunt", "capacitor", 200e-12, 0.1),
            cells=1,
        ),
        200,
    )
    arguments = dense.arguments(STEPS, UNREAD)
    (took,) = bench.in_turns(lambda: loop.march(*arguments), rounds=ROUNDS)
    bench.row(f"step of networks of {sum(net.states for net in dense.discrete)} states, one cell", f"{took / STEPS * 1e9:.1f} ns")
