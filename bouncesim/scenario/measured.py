"""The fields of a scenario: one type both for text ("7.1 MHz", from a file) and for SI numbers (from Python and JSON)."""

from __future__ import annotations

import cmath
from dataclasses import dataclass
from typing import Any

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from bouncesim import quantity
from bouncesim.quantity import QuantityError, quote, show

TEXT = {"text": True}  # the validation context that says: a person typed these values, so they carry their units


@dataclass(frozen=True)
class Measured:
    """Annotates a float (or complex) field: its kind of quantity (one of quantity.KINDS; "" for a pure number) and its range in SI.

    Reading text, a quantity comes in quotes with its unit and a pure number without quotes; otherwise SI numbers are taken as they are.
    """

    kind: str = ""
    above: float | None = None
    least: float | None = None
    most: float | None = None
    example: str = ""  # of a pure number

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        number = core_schema.complex_schema() if source is complex else core_schema.float_schema(strict=True)
        ranged = core_schema.no_info_after_validator_function(self._check, number)

        def read(value: Any, info: ValidationInfo) -> Any:
            if not (info.context and info.context.get("text")):
                return value
            return self.read(value, source is complex)

        return core_schema.with_info_before_validator_function(read, ranged)

    def read(self, found: object, is_complex: bool = False) -> float | complex:
        """What a person typed, in SI, range not yet checked. Raises QuantityError."""
        if self.kind:
            return (quantity.parse_complex if is_complex else quantity.parse)(found, self.kind)
        if isinstance(found, bool) or not isinstance(found, (int, float)):
            example = f", for example {self.example}" if self.example else ""
            raise QuantityError(f"{quote(found)} stands where a plain number belongs", f"Write it without quotes and unit{example}")
        return float(found)

    def _check(self, value: Any) -> Any:
        if not cmath.isfinite(value):
            raise QuantityError(f"{value} is not a finite number", "Write a finite one")
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
        return show(value, quantity.KINDS[self.kind].unit if self.kind else "", digits)
