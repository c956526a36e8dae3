"""Published figures, as the tests use them: `case("C01")` gives a case's inputs and checks values against its figures."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.evidence import record


@dataclass(frozen=True)
class Figure:
    """One published figure; `tolerance` is absolute, from the printed precision."""

    value: float
    tolerance: float
    unit: str = ""
    origin: str = ""


@dataclass(frozen=True)
class Case:
    """One case of cases.toml."""

    id: str
    name: str
    source: str
    origin: str
    inputs: Mapping[str, Any]
    expected: Mapping[str, Figure]

    def check(self, quantity: str, value: float) -> None:
        """Fail unless `value` is within the figure's tolerance; in the unit of the figure."""
        figure = self.expected[quantity]
        origin = figure.origin or self.origin
        given = (self.id, self.name, quantity, figure.value, figure.tolerance)
        record(*given, float(value), unit=figure.unit, source=self.source, origin=origin)
        told = f"{self.id} {quantity}: {value!r} is not {figure.value!r} +- {figure.tolerance:g} {figure.unit} ({self.source})"
        assert abs(value - figure.value) <= figure.tolerance, told

    def check_all(self, values: Mapping[str, float]) -> None:
        """Check every figure of the case, none left out."""
        assert set(values) == set(self.expected)
        for quantity, value in values.items():
            self.check(quantity, value)


def number(value: float | list[float]) -> complex:
    """A complex input, written [real, imaginary] in the file."""
    return complex(*value) if isinstance(value, list) else complex(value)


@functools.cache
def _cases() -> dict[str, Case]:
    with (Path(__file__).parent / "cases.toml").open("rb") as file:
        entries = tomllib.load(file)["case"]
    return {
        entry["id"]: Case(
            id=entry["id"],
            name=entry["name"],
            source=entry["source"],
            origin=entry["origin"],
            inputs=entry["inputs"],
            expected={quantity: Figure(**figure) for quantity, figure in entry["expected"].items()},
        )
        for entry in entries
    }


def case(name: str) -> Case:
    """The case called `name`, such as "C01"; KeyError if it is not in cases.toml."""
    return _cases()[name]
