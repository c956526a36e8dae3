"""The transient of any station by another road: each line a long ladder of coils and capacitors, stepped by a rule of high order.

A line becomes n cells, each a coil l/n with its resistance between capacitors c/n with their conductance, half of one at either end: the
textbook's picture of a line (any text on transmission lines). Each coil is bridged by -1/12 of its cell's capacitance and conductance: with
a = ZY of a cell, (1/Z + 5Y/12)/(1/Z - Y/12) = 1 + a/2 + a^2/24 + ..., the cosh of sqrt(a) to a^2, so a wave keeps its speed to the fourth
order and only the ends still err as 1/n^2 (derived here; it is the mean of lumped and of spread capacitance). Two lengths of the ladder
extrapolate. (The branches of a wideband law are not bridged: 1/n^2.) With the lumped parts that is one large circuit C x' + G x = b e(t)
(exact.circuit), stepped by the three-stage Radau IIA rule, of order 5, which takes the algebraic rows of a singular C as they are
(E. Hairer and G. Wanner, Solving Ordinary Differential Equations II, section IV.5, from memory). Needs SciPy (sparse matrices).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from bouncesim.exact.circuit import AddLine, Circuit, lay_out
from bouncesim.exact.drive import volts
from bouncesim.exact.phasor import Real
from bouncesim.scenario import Line, Scenario

BRIDGE = -1 / 12  # see above
ROOT = math.sqrt(6)
# Radau IIA, three stages: its nodes, and its matrix, whose last row are the weights.
STAGES = np.array([(4 - ROOT) / 10, (4 + ROOT) / 10, 1.0])
RADAU = np.array(
    [
        [(88 - 7 * ROOT) / 360, (296 - 169 * ROOT) / 1800, (-2 + 3 * ROOT) / 225],
        [(296 + 169 * ROOT) / 1800, (88 + 7 * ROOT) / 360, (-2 - 3 * ROOT) / 225],
        [(16 - ROOT) / 36, (16 + ROOT) / 36, 1 / 9],
    ]
)


def cells(frequency_hz: float, cell_s: float) -> AddLine:
    """Puts lines as ladders whose cells delay by at most `cell_s`; branches of a wideband law with them."""

    def add_line(circuit: Circuit, line: Line, near: int, far: int) -> None:
        constants = line.constants(frequency_hz)
        count = math.ceil(line.length_m / constants.velocity / cell_s * (1 - 1e-9))
        share = line.length_m / count
        nodes = [near, *(circuit.unknown() for _ in range(count - 1)), far]
        for k, node in enumerate(nodes):
            part = share / 2 if k in (0, count) else share
            circuit.across(node, siemens=constants.conductance * part, farad=constants.capacitance * part)
            for siemens, farad in constants.shunt_branches:
                inner = circuit.unknown()
                circuit.across(node, inner, siemens=siemens * part)
                circuit.across(inner, farad=farad * part)
        for a, b in itertools.pairwise(nodes):
            circuit.across(a, b, siemens=BRIDGE * constants.conductance * share, farad=BRIDGE * constants.capacitance * share)
            current = circuit.branch(a, b, ohm=constants.resistance * share, henry=constants.inductance * share)
            for ohm, henry in constants.series_branches:
                circuit.in_line(current, ohm=ohm * share, henry=henry * share)

    return add_line


def solve(scenario: Scenario, cell_s: float, step_s: float, steps: int, tick: Callable[[int], None] | None = None) -> dict[str, Real]:
    """Voltages at the two ends of every line at step_s, 2 step_s, ...: name -> (steps, 2), V. tick(step) is called after each.

    cell_s: the longest delay of a cell. ValueError for a key without closed form.
    """
    circuit, ends = lay_out(scenario, cells(scenario.transmitter.frequency_hz, cell_s))
    size = circuit.unknowns
    storing, passing = (_sparse(entries, size) for entries in (circuit.storing, circuit.passing))
    solver = splu(sparse.csc_matrix(sparse.kron(storing, np.eye(3)) + step_s * sparse.kron(passing, RADAU)))
    watched = np.array([node for pair in ends.values() for node in pair])
    x, found = np.zeros(size), np.empty((steps, len(watched)))
    for n in range(steps):
        right = np.repeat(-(passing @ x)[:, None], 3, axis=1)
        right[circuit.emf] += volts(scenario, (n + STAGES) * step_s)
        rates = solver.solve(right.ravel()).reshape(size, 3)
        x = x + step_s * rates @ RADAU[-1]
        found[n] = x[watched]
        if tick:
            tick(n + 1)
    return {name: found[:, 2 * k : 2 * k + 2] for k, name in enumerate(ends)}


def _sparse(entries: list[tuple[int, int, float]], size: int) -> sparse.csr_matrix:
    rows, columns, values = zip(*entries, strict=True)
    return sparse.csr_matrix((values, (rows, columns)), shape=(size, size))
