"""How fast is a step? Run it as a script: python tests/benchmarks/bench_step.py

The whole step (line, networks, energy ledger) of a station with an L tuner and a series RLC antenna on 200 cells, against the bare fused
line update on the same arrays, in turns, best of several: a ratio that does not depend on the machine, and nanoseconds that do. And a step
of networks alone, of about ten states. Nothing here is a test: other work on the machine would decide it.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from bouncesim.march.jit import compiled
from bouncesim.march.line import advance_cells_bare
from bouncesim.march.loop import UNREAD, march
from bouncesim.march.simulation import build
from bouncesim.scenario import Antenna, Element, Keying, Line, Network, Scenario, Transmitter

STEPS = 200_000
ROUNDS = 9
AT_MOST = 3.5  # what a whole step may cost, in bare line updates
FREQUENCY = 7.1e6
VELOCITY_FACTOR = 0.66
CELLS = 200


@compiled
def bare(steps, v, i, a_i, b_i, a_v, b_v):
    for _ in range(steps):
        advance_cells_bare(v, i, a_i, b_i, a_v, b_v)


def element(position: str, kind: str, value: float, loss: float = 0.0) -> Element:
    return Element(position=position, kind=kind, value=value, loss_ohm=loss)


def station(*elements: Element, cells: int = CELLS) -> Scenario:
    """A line of so many cells at 200 steps a period, elements before it, a series antenna of R and C behind it."""
    length = VELOCITY_FACTOR * 299_792_458 / FREQUENCY * (cells + 0.3) / 200
    return Scenario(
        title="benchmark",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=60.0),
        keying=Keying(shape="step"),
        path=(Network(elements=elements), Line(length_m=length, impedance_ohm=50.0, velocity_factor=VELOCITY_FACTOR)),
        antenna=Antenna(impedance_ohm=25 - 60j),
    )


def best_of(*works: Callable[[], object]) -> list[float]:
    """Shortest time of each, ns a step, taken in turns so that all meet the same disturbances."""
    best = [float("inf")] * len(works)
    for _ in range(ROUNDS):
        for k, work in enumerate(works):
            begin = time.perf_counter()
            work()
            best[k] = min(best[k], time.perf_counter() - begin)
    return [seconds / STEPS * 1e9 for seconds in best]


def main() -> None:
    stepper = build(station(element("shunt", "capacitor", 400e-12), element("series", "inductor", 1e-6)), 200)
    (section,) = stepper.plan.sections
    assert section.cells == CELLS
    arguments = stepper.arguments(STEPS, UNREAD)
    march(*stepper.arguments(1, UNREAD))
    v, i = np.full(CELLS + 1, 1e-3), np.zeros(CELLS)
    coefficients = stepper.coefficients[0, :4]
    bare(1, v, i, *coefficients)

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
    dense_arguments = dense.arguments(STEPS, UNREAD)

    line, whole, networks = best_of(lambda: bare(STEPS, v, i, *coefficients), lambda: march(*arguments), lambda: march(*dense_arguments))
    print(f"bare line update, {CELLS} cells:             {line:6.1f} ns a step")
    print(f"whole step with L tuner, antenna, ledger: {whole:6.1f} ns a step: {whole / line:.2f} times as long (at most {AT_MOST})")
    print(f"networks of {sum(net.states for net in dense.discrete)} states on one cell:         {networks:6.1f} ns a step")


if __name__ == "__main__":
    main()
