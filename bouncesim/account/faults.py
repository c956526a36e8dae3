"""What an echo is most likely the echo of.

The impedance that a wave finds at a place is Zin = Z (1 + rho)/(1 - rho). Where another line, or the same, goes on behind with Z2:

    in series R + sL + 1/sC:   Zin = Z2 + R + sL + 1/sC          across R, L or C:   1/Zin = 1/Z2 + 1/R + 1/sL + sC

and at the end of the path Zin is the end itself. Put into the one-pole reflections of account.shapes (with tau, rho0, rho8) this gives
L = 2 tau Z/(1 - rho0) and C = 2 tau/(Z (1 + rho0)) where the edge finds an open or a short, C = tau (1 - rho8)/(2 Z) and
L = Z tau (1 + rho8)/2 where the direct current does (derived here). An echo cannot tell a resistor in series from a line of higher
impedance behind it, nor one across from a lower one; of the lines, only what the scenario says of them is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from bouncesim.account.shapes import PLAIN, Shape

TOTAL = 0.05  # an echo this near to the whole wave is that of an open or a short
AS_DRAWN = 0.02  # a reflection this near to that of a change between two lines is no more than that
NO_RESISTOR = 0.08  # beside a coil or a capacitor: a pole leaves its other end less well known
CLEAR = 0.2  # of an echo may be left over at most (rms) for its shape to be told


@dataclass(frozen=True)
class Fault:
    """What it is, the value that goes with it (ohm, H, F) or None, and a word of caution."""

    kind: str
    value: float | None = None
    unit: str = ""
    note: str = ""


def fault_of(shape: Shape, near_ohm: float, far_ohm: float | None) -> Fault:
    """Name an echo from a place between lines of `near_ohm` and `far_ohm` (the same within a line; None at the end of the path)."""
    if shape.left_over > CLEAR:
        return Fault("not clear", note="its shape is that of no single fault: two of them close together, perhaps")
    if shape.family == PLAIN:
        return _plain(shape.slow, near_ohm, far_ohm)
    known = None if far_ohm is None else (far_ohm - near_ohm) / (far_ohm + near_ohm)
    in_series, is_coil = shape.family.endswith("in series"), shape.family.startswith("coil")
    edge = shape.family in ("coil in series", "capacitor across")  # the fast reflection is total, the slow one free
    free = shape.slow if edge else shape.fast
    value = _value(shape, near_ohm)
    unit = "H" if is_coil else "F"
    name = "coil" if is_coil else "capacitor"
    if known is None:
        total = (free < NO_RESISTOR - 1) if in_series else (free > 1 - NO_RESISTOR)
        if total:
            return Fault(f"{name} at the end", value, unit)
        ohm = near_ohm * (1 + free) / max(1 - free, 1e-3)
        return Fault(
            f"resistance with a {name} {'in series' if in_series else 'across it'}", value, unit, f"the resistance is {ohm:.0f} ohm"
        )
    beside = abs(free - known) > NO_RESISTOR
    return Fault(shape.family + (" line" if not in_series else "") + (", with a resistance" if beside else ""), value, unit)


def _value(shape: Shape, ohm: float) -> float:
    """Henry or farad of a shape's coil or capacitor on a line of this impedance."""
    tau = shape.tau_s
    if shape.family == "coil in series":
        return 2 * tau * ohm / max(1 - shape.slow, 1e-3)
    if shape.family == "capacitor across":
        return 2 * tau / (ohm * max(1 + shape.slow, 1e-3))
    if shape.family == "capacitor in series":
        return tau * (1 - shape.fast) / (2 * ohm)
    return ohm * tau * (1 + shape.fast) / 2


def _plain(rho: float, near_ohm: float, far_ohm: float | None) -> Fault:
    """An echo that is a plain copy of the pulse."""
    if rho > 1 - TOTAL:
        return Fault("open end" if far_ohm is None else "open: the line is broken")
    if rho < TOTAL - 1:
        return Fault("short" if far_ohm is None else "short across the line")
    seen = near_ohm * (1 + rho) / (1 - rho)
    if far_ohm is None:
        return Fault("resistance at the end", seen, "ohm")
    known = (far_ohm - near_ohm) / (far_ohm + near_ohm)
    if abs(rho - known) < AS_DRAWN:
        return Fault("change of impedance", far_ohm, "ohm", "as the lines have it")
    if rho > known:
        return Fault("resistance in series", seen - far_ohm, "ohm", f"a bad connector, or a line of {seen:.0f} ohm behind")
    return Fault("resistance across", 1 / (1 / seen - 1 / far_ohm), "ohm", f"a wet joint, or a line of {seen:.0f} ohm behind")
