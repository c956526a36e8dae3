"""A second way to a transient: lines without loss as pure delays, the same lumped networks between them. Nothing of the solver is used.

At a line's end the sum of what arrives (b) and what leaves (f) is the voltage, and (f - b)/Z0 the current into the line, so the end looks
like the conductance 1/Z0 with a current 2 b/Z0 beside it, and b left the other end one delay ago (the method of characteristics; H. W.
Dommel, IEEE Trans. PAS-88, 1969, from memory). With delays of whole steps that is exact. The circuit between (exact.circuit) takes the
midpoint rule: (2 C/dt + G) xbar = 2 C/dt x_n + sources, x_n+1 = 2 xbar - x_n. At Courant number 1 the solver must give the same to
rounding.
"""

from __future__ import annotations

import numpy as np

from bouncesim.exact.circuit import Circuit, lay_out
from bouncesim.scenario import Line, Part, Scenario
from bouncesim.scenario.model import Stub


def without_loss(scenario: Scenario, points: int) -> Scenario:
    """The lines keep sqrt(L/C) and speed, lose their loss, and become the nearest whole number of cells long at `points` steps a period."""
    frequency = scenario.transmitter.frequency_hz

    def changed(part: Part) -> Part:
        if isinstance(part, Stub):
            return part.model_copy(update={"path": tuple(map(changed, part.path))})
        if not isinstance(part, Line):
            return part
        constants = part.constants(frequency)
        cell = constants.velocity / (frequency * points)
        return Line(
            name=part.name,
            length_m=max(round(part.length_m / cell), 1) * cell,
            inductance_h_per_m=constants.inductance,
            capacitance_f_per_m=constants.capacitance,
        )

    return scenario.model_copy(update={"path": tuple(map(changed, scenario.path))})


def solve(scenario: Scenario, points: int, emf: np.ndarray) -> dict[str, np.ndarray]:
    """V and I at both ends of every line at t_n+1/2: name -> (steps, 4), V near, I near, V far, I far; I toward the antenna.

    emf: (steps,), its mean over each step. Every delay is a whole number of steps.
    """
    frequency = scenario.transmitter.frequency_hz
    dt = 1 / (frequency * points)
    ends: list[tuple[int, float, int]] = []  # node, Z0, delay in steps; near and far end of a line in turn

    def add_line(circuit: Circuit, line: Line, near: int, far: int) -> None:
        constants = line.constants(frequency)
        steps = line.length_m / constants.velocity / dt
        assert abs(steps - round(steps)) < 1e-6
        for node in (near, far):
            circuit.across(node, siemens=1 / constants.impedance_ohm)
            ends.append((node, constants.impedance_ohm, round(steps)))

    circuit, names = lay_out(scenario, add_line)
    storing, passing = circuit.matrices()
    step = np.linalg.inv(2 / dt * storing + passing)
    x = np.zeros(circuit.unknowns)
    leaving = [np.zeros(len(emf) + delay) for _, _, delay in ends]  # what leaves end k arrives at its partner `delay` steps later
    found = np.empty((len(emf), len(ends), 2))
    for n, volts in enumerate(emf):
        right = 2 / dt * storing @ x
        right[circuit.emf] += volts
        arriving = [leaving[k ^ 1][n] for k in range(len(ends))]
        for (node, z0, _), b in zip(ends, arriving, strict=True):
            right[node] += 2 * b / z0
        mean = step @ right
        for k, ((node, z0, delay), b) in enumerate(zip(ends, arriving, strict=True)):
            f = mean[node] - b
            leaving[k][n + delay] = f
            found[n, k] = mean[node], (f - b) / z0 * (1 if k % 2 == 0 else -1)
        x = 2 * mean - x
    return {name: found[:, 2 * k : 2 * k + 2].reshape(-1, 4) for k, name in enumerate(names)}
