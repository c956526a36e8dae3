"""How much work a march is, told from its counts before its arrays are made.

A step costs as much as its networks' multiplications and its cells; making a network costs the cube of its size. The memory is that of the
cells, of the networks' matrices, of the snapshots and of the books, which get an entry at every snapshot and every few thousand steps.
"""

from __future__ import annotations

from bouncesim.budget import Work, count
from bouncesim.march.graph import Circuit
from bouncesim.march.station import Plan
from bouncesim.march.stepper import CHUNK

# Measured on an ordinary machine of 2024; only the told time rests on them.
STEP_S, CELL_S, PRODUCT_S = 90e-9, 1.5e-9, 0.5e-9  # a step; in it a cell, or a branch of a wideband one; a product of a network
ENTRY_S = 30e-6  # a call of the compiled loop, and an entry of the books
SOLVE_S = 1e-9  # to make a network: for the cube of its unknowns
BYTES_A_CELL = 30 * 8  # state, means, largest values, sums of a lock-in, and two windows of phasors
SNAPSHOT_COPIES = 2  # as they are taken, and as the run keeps them
TURN_STEPS = 40  # that a contact takes from open to closed: its network is made anew at each
NEAREST = "Shorten the line or the key, let events come sooner, or take a lower frequency"


def march_work(plan: Plan, steps: float, doing: str, entries: float = 0.0, snapshot_bytes: float = 0.0) -> Work:
    """Of `steps` steps of a planned station. `entries`: how often the loop is left for a snapshot; `snapshot_bytes`: of all of them."""
    cells = sum(section.cells for section in plan.sections)
    branches = sum(section.cells * (len(section.series_branches) + len(section.shunt_branches)) for section in plan.sections)
    sizes = [_sizes(circuit) for circuit in plan.circuits]
    rows, products = sum(size[1] for size in sizes), sum(size[0] * size[1] for size in sizes)
    made = (1 + len(plan.turns) * TURN_STEPS) * sum(unknowns**3 for *_, unknowns in sizes)
    entries += steps / CHUNK
    seconds = steps * (STEP_S + CELL_S * (cells + branches) + PRODUCT_S * products) + entries * ENTRY_S + SOLVE_S * made
    matrices = sum(8 * (3 * len(c.branches) * c.nodes + 10 * size[0] * size[1]) for c, size in zip(plan.circuits, sizes, strict=True))
    memory = cells * BYTES_A_CELL + 8.0 * branches + matrices
    memory += entries * (3 * 8 * (rows + len(plan.sections)) + 350) + SNAPSHOT_COPIES * snapshot_bytes
    parts = max((len(circuit.branches) for circuit in plan.circuits), default=0)
    network = f", with a network of {count(parts)} elements" if CELL_S * (cells + branches) < PRODUCT_S * products and parts > 100 else ""
    takes = f"{doing} takes {count(cells)} cells along the lines and {count(steps)} steps of time{network}"
    return Work(takes, NEAREST if not network else "Take fewer elements", seconds, memory)


def _sizes(circuit: Circuit) -> tuple[int, int, int]:
    """Inputs, rows and unknowns of one network, at most."""
    kinds = [branch.kind for branch in circuit.branches]
    storing, ports, resistors = kinds.count("C") + kinds.count("L"), kinds.count("J"), kinds.count("R")
    probes = kinds.count("E")
    return storing + ports + 2, storing + ports + resistors + 2 * probes + storing, storing + resistors
