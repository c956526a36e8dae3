"""What every table of a scenario shares."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, model_validator

from bouncesim.quantity import QuantityError, show
from bouncesim.scenario.measured import Measured

Conflict = tuple[str, str, str]  # the field's key ("" for the whole table), the reason, the remedy
Impedance = Annotated[float, Measured("impedance", least=0.1, most=1e6)]  # of a line or an instrument
Coil = Annotated[float, Measured("inductance", above=0, most=100)]
Capacitor = Annotated[float, Measured("capacitance", above=0, most=1.0)]


class Frozen(BaseModel):
    """A table of the scenario: frozen, and no key beyond those of the class."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """What is wrong between fields. `given`: the fields that say something, by name: those that were given in a file, or those that
        differ from their default in Python. One that could not be read stands in as nan, as every comparison with nan is false."""
        yield from ()

    @model_validator(mode="after")
    def _agrees(self) -> Frozen:
        fields = type(self).model_fields.items()
        found = list(self.conflicts({name: value for name, field in fields if (value := getattr(self, name)) != field.default}))
        if found:
            raise QuantityError("; ".join(f"{key}: {reason}" if key else reason for key, reason, _ in found), found[0][2])
        return self


def misplaced(
    given: Mapping[str, Any], choice: str, chosen: object, owners: Mapping[str, tuple[str, tuple[str, ...]]]
) -> Iterator[Conflict]:
    """Fields that only go with certain words of a choice. `owners`: field -> its key, and those words."""
    for name, (key, words) in owners.items():
        if name in given and isinstance(chosen, str) and chosen not in words:
            allowed = f"{choice} = " + " or ".join(f'"{word}"' for word in words)
            yield key, f'belongs to {allowed}, and here it is "{chosen}"', f"Leave it out, or write {allowed}"


def not_passive(impedance: complex, key: str, what: str) -> Iterator[Conflict]:
    """What makes an impedance unfit for an end."""
    if impedance.real < 0:
        reason = f"a resistance of {show(impedance.real, 'ohm')} would make the {what} a source of power"
        yield key, reason, "Allowed: a resistance of 0 ohm or more"
    if abs(impedance) > 1e9:
        yield key, f"{show(abs(impedance), 'ohm')} is too large", "Allowed: up to 1 Gohm"
