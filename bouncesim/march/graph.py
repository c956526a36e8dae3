"""A lumped network as a graph, and its normal tree.

The tree takes voltage sources first, then capacitors, resistors, inductors. What then closes a loop of capacitors (an excess
capacitor) or forms a cut-set of inductors (an inductor in the tree) is a constraint, found from the graph and never from a
numerical rank: a rank test takes one milliohm for nothing. A branch of no resistance is a voltage source of 0 V.
Sources: L. O. Chua and P.-M. Lin, Computer-Aided Analysis of Electronic Circuits, ch. 8 (normal tree), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TREE_ORDER = "ECRL"
KINDS = TREE_ORDER + "J"
GROUND = 0


@dataclass(frozen=True)
class Branch:
    """One two-terminal branch; voltage V(start) - V(end), current from start to end.

    kind: "E" voltage source (the EMF, or 0 V), "C" capacitor (F), "R" resistor (ohm), "L" inductor (H), "J" port (current into a line).
    owner: the part whose heat and stored energy this branch books.
    """

    kind: str
    start: int
    end: int
    value: float
    owner: str


@dataclass
class Circuit:
    """Branches between numbered nodes; node 0 is the return conductor."""

    branches: list[Branch] = field(default_factory=list)
    nodes: int = 1

    def node(self) -> int:
        """A new node."""
        self.nodes += 1
        return self.nodes - 1

    def add(self, kind: str, start: int, end: int, value: float, owner: str) -> int:
        """Add a branch and return its index."""
        self.branches.append(Branch(kind, start, end, value, owner))
        return len(self.branches) - 1

    def indices(self, kind: str, among: list[int]) -> list[int]:
        """Those of the branches `among` that are of this kind, in order."""
        return [k for k in among if self.branches[k].kind == kind]


def normal_tree(circuit: Circuit) -> tuple[list[int], list[int]]:
    """Split the branches into tree and links (indices), taking E, C, R, L in that order; ports are always links. Of the resistors the
    smallest come first: a large one in parallel with a small one is then a link, whose current is found to its own digits; in the tree it
    would be the difference of two that are nearly equal. Which of them is in the tree changes no state."""
    group = list(range(circuit.nodes))

    def root(node: int) -> int:
        while group[node] != node:
            group[node] = group[group[node]]
            node = group[node]
        return node

    tree: list[int] = []
    links: list[int] = []
    for kind in TREE_ORDER:
        order = circuit.indices(kind, list(range(len(circuit.branches))))
        for k in sorted(order, key=lambda k: circuit.branches[k].value) if kind == "R" else order:
            a, b = root(circuit.branches[k].start), root(circuit.branches[k].end)
            if a == b:
                links.append(k)
            else:
                group[a] = b
                tree.append(k)
    links += circuit.indices("J", list(range(len(circuit.branches))))
    return tree, links


def paths_to_ground(circuit: Circuit, tree: list[int]) -> Array:
    """Node voltages from tree voltages: shape (nodes, branches), entries -1, 0, 1. Every node must hang on the tree."""
    reach = np.full((circuit.nodes, len(circuit.branches)), np.nan)
    reach[GROUND] = 0.0
    waiting = list(tree)
    while waiting:
        left = []
        for k in waiting:
            branch = circuit.branches[k]
            known_start, known_end = not np.isnan(reach[branch.start, 0]), not np.isnan(reach[branch.end, 0])
            if known_start and not known_end:
                reach[branch.end] = reach[branch.start]
                reach[branch.end, k] -= 1
            elif known_end and not known_start:
                reach[branch.start] = reach[branch.end]
                reach[branch.start, k] += 1
            else:
                left.append(k)
        if len(left) == len(waiting):
            raise ValueError("a part of the network hangs on nothing")
        waiting = left
    return reach


def loops(circuit: Circuit, reach: Array, tree: list[int], links: list[int]) -> Array:
    """Fundamental loop matrix F, shape (tree, links): v_link = F^T v_tree and i_tree = -F i_link (Tellegen's pair); reach: see
    paths_to_ground."""
    if np.isnan(reach).any():
        raise ValueError("a node of the network hangs on nothing")
    columns = [reach[circuit.branches[k].start] - reach[circuit.branches[k].end] for k in links]
    return np.array(columns).reshape(len(links), len(circuit.branches)).T[tree]
