"""The number fields of a scenario: what kind of quantity each holds, and its range."""

from __future__ import annotations

import cmath
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from bouncesim import quantity
from bouncesim.quantity import QuantityError, quote, show

# SI, of what a person types: less is nothing that a station has, and its products vanish in arithmetic
TINIEST = {"time": 1e-12, "length": 1e-6, "inductance": 1e-15, "capacitance": 1e-18}
TINIEST_OF_ALL = 1e-20


@dataclass(frozen=True)
class Measured:
    """Annotates a float (or complex) field: its kind (one of quantity.KINDS; "" for a pure number) and its range in SI.

    A model takes SI numbers only. `read` is for what a person typed: a quantity in quotes with its unit, a pure number without quotes.
    """

    kind: str = ""
    above: float | None = None
    least: float | None = None
    most: float | None = None
    example: str = ""  # if not that of its kind
    is_complex: bool = False

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        number = core_schema.complex_schema() if self.is_complex else core_schema.float_schema(strict=True)
        return core_schema.no_info_after_validator_function(self.check, number)

    @property
    def sample(self) -> str:
        """An example as it is written in a file."""
        if not self.kind:
            return self.example or "1"
        return f'"{self.example or quantity.KINDS[self.kind].example}"'

    def read(self, found: object) -> Any:
        """What a person typed as a float (or complex) in SI and in range. Raises QuantityError."""
        if self.kind:
            parse = quantity.parse_complex if self.is_complex else quantity.parse
            return self._typed(parse(found, self.kind))
        if isinstance(found, bool) or not isinstance(found, (int, float)):
            remedy = f"Write it without quotes and unit, for example {self.sample}"
            raise QuantityError(f"{quote(found)} stands where a plain number belongs", remedy)
        # an integer of hundreds of digits has no float
        return self._typed(cmath.inf if abs(found) > 1e300 else float(found))

    def _typed(self, value: Any) -> Any:
        """`check` for what a person typed; of computed values, many are small."""
        least = TINIEST.get(self.kind, TINIEST_OF_ALL)
        if any(0 < abs(part) < least for part in (value.real, value.imag)):
            raise QuantityError(f"{self._show(value, 6)} is next to nothing", f"Allowed: {self._show(least)} and more")
        return self.check(value)

    def check(self, value: Any) -> Any:
        """The value again, if it is finite and in range. Raises QuantityError."""
        if not cmath.isfinite(value):
            raise QuantityError(f"{value} is not a finite number", f"Allowed: {self._range() or 'any finite number'}")
        small = (self.above is not None and not value > self.above) or (self.least is not None and not value >= self.least)
        if small or (self.most is not None and not value <= self.most):
            raise QuantityError(f"{self._show(value, 6)} is too {'small' if small else 'large'}", f"Allowed: {self._range()}")
        return value

    def _range(self) -> str:
        low = f"more than {self._show(self.above)}" if self.above is not None else ""
        low = f"{self._show(self.least)} or more" if self.least is not None else low
        high = f"at most {self._show(self.most)}" if self.most is not None else ""
        return ", ".join(filter(None, (low, high)))

    def _show(self, value: float, digits: int = 3) -> str:
        return show(value, self._unit, digits)

    @property
    def _unit(self) -> str:
        return quantity.KINDS[self.kind].unit if self.kind else ""
