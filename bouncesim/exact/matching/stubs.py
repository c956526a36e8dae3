"""Matching by one stub: where on the line it goes, and how long it is."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import Literal

End = Literal["open", "short"]


@dataclass(frozen=True)
class StubSection:
    """One way to match with a stub in shunt, in wavelengths on each line."""

    end: End
    distance: float  # from the load, 0 to 0.5
    length: float  # of the stub, 0 to 0.5
    susceptance_s: float  # of the stub


def stub_sections(load_ohm: complex, line_ohm: float, stub_ohm: float | None = None, end: End | None = None) -> list[StubSection]:
    """Both places of a stub on a line without loss of real impedance that make the line in front of it see `line_ohm`.

    `stub_ohm`: the stub's own impedance, the line's unless given; `end`: "open", "short", or None for both. The nearest place first, the
    shorter stub first. Empty if the load takes no power (no place exists) or is the line's impedance (no stub is needed).

    Going back from the load, Gamma keeps its size rho and turns by 4 pi a wavelength. The conductance is the line's where
    |1 + Gamma|^2 = 1 - rho^2, that is cos(angle) = -rho; the susceptance there is -+2 rho/sqrt(1 - rho^2), and the stub takes it away.
    Source: the single stub of Pozar, Microwave Engineering, section 5.2, in this form derived here.
    """
    stub_ohm = line_ohm if stub_ohm is None else stub_ohm
    gamma = (load_ohm - line_ohm) / (load_ohm + line_ohm)
    rho = abs(gamma)
    if rho == 0 or rho >= 1:
        return []
    found = []
    for side in (1, -1):
        distance = (cmath.phase(gamma) - side * math.acos(-rho)) / (4 * math.pi) % 0.5
        susceptance = side * 2 * rho / math.sqrt(1 - rho**2) / line_ohm
        turn = math.atan(susceptance * stub_ohm) / (2 * math.pi)
        lengths: dict[End, float] = {"open": turn % 0.5, "short": (turn + 0.25) % 0.5}
        found += [StubSection(each, distance, length, susceptance) for each, length in lengths.items() if end in (None, each)]
    return sorted(found, key=lambda section: (section.distance, section.length))
