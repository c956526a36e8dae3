"""Options that hold a quantity with its unit, read as strictly as a scenario's."""

from __future__ import annotations

from typing import Any

import click


class Quantity(click.ParamType):  # type: ignore[type-arg]  # generic from click 8.4 on only
    """A quantity of one of the kinds of bouncesim.quantity, in SI; `above`, `least`, `most` as in scenario.measured."""

    name = "quantity"

    def __init__(self, kind: str, above: float | None = None, least: float | None = None, most: float | None = None) -> None:
        self.kind, self.above, self.least, self.most = kind, above, least, most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number in SI; a usage error that says what is allowed."""
        if isinstance(value, float):
            return value
        from bouncesim.quantity import QuantityError
        from bouncesim.scenario.measured import Measured

        try:
            return float(Measured(self.kind, self.above, self.least, self.most).read(value))
        except QuantityError as error:
            self.fail(str(error), param, ctx)


FREQUENCY = Quantity("frequency", least=100.0, most=1e11)
POWER = Quantity("power", above=0.0, most=1e9)
READING = Quantity("power", least=0.0, most=1e9)
DECIBELS = Quantity("ratio", least=0.0, most=200.0)
COIL = Quantity("inductance", above=0.0, most=100.0)
CAPACITOR = Quantity("capacitance", above=0.0, most=1.0)
QUALITY = click.FloatRange(1.0, 1e6)
