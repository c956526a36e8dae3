"""A one-port made of resistors, coils and capacitors: what stands at an end of a station, for both engines alike."""

from __future__ import annotations

from typing import Annotated, Literal

from bouncesim.scenario.base import Frozen
from bouncesim.scenario.measured import Measured


class Lumped(Frozen):
    """One ideal element. `radiates`: what a resistor takes is radiation, not heat (of no meaning for the other kinds)."""

    kind: Literal["resistor", "inductor", "capacitor"]
    value: Annotated[float, Measured(above=0, most=1e30)]  # ohm, H or F; a parallel form makes huge ohms of small ones
    radiates: bool = True


class Joined(Frozen):
    """One-ports in series or in parallel; none in series is a short circuit, none in parallel an open end."""

    how: Literal["series", "parallel"]
    members: tuple[OnePort, ...] = ()


OnePort = Lumped | Joined
Joined.model_rebuild()
