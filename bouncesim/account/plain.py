"""Dataclasses to plain values, as JSON has them, and back without loss."""

from __future__ import annotations

import dataclasses
import json
import math
import types
import typing
from collections.abc import Callable
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from bouncesim.scenario import Scenario

Arrays = dict[str, NDArray[Any]]
ARRAY = typing.get_origin(NDArray[Any])  # numpy.ndarray, or from numpy 2.5 on the alias NDArray itself


def to_plain(value: Any, arrays: Arrays | None = None, place: str = "") -> Any:
    """Dataclasses become objects, tuples lists, complex numbers {"real", "imag"}.

    An array is put into `arrays` under its place ("traces.time_s") and leaves {"array": place} behind.
    """
    if isinstance(value, Scenario):
        return json.loads(value.to_json())
    if dataclasses.is_dataclass(value):
        return {f.name: to_plain(getattr(value, f.name), arrays, f"{place}.{f.name}".strip(".")) for f in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(key): to_plain(item, arrays, f"{place}.{key}".strip(".")) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [to_plain(item, arrays, f"{place}.{n}".strip(".")) for n, item in enumerate(value)]
    if isinstance(value, np.ndarray):
        if arrays is None:
            raise TypeError(f"{place} is an array")
        arrays[place] = value
        return {"array": place}
    if value is None or isinstance(value, str | bool | np.bool_):
        return bool(value) if isinstance(value, np.bool_) else value
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, complex):
        return {"real": to_plain(value.real), "imag": to_plain(value.imag)}
    if isinstance(value, float | np.floating):
        return float(value)
    raise TypeError(f"{place}: {type(value).__name__} has no plain form")


def strict(plain: Any, stand_in: Callable[[float], Any]) -> Any:
    """The same plain value with `stand_in` for infinity and NaN, which JSON does not know; `str` loses nothing: `from_plain` reads it."""
    if isinstance(plain, dict):
        return {key: strict(item, stand_in) for key, item in plain.items()}
    if isinstance(plain, list):
        return [strict(item, stand_in) for item in plain]
    return stand_in(plain) if isinstance(plain, float) and not math.isfinite(plain) else plain


def from_plain(kind: Any, plain: Any, arrays: Arrays | None = None) -> Any:
    """The inverse of `to_plain`: builds a value of type `kind` (a dataclass, or what its fields are declared as).

    Raises KeyError, TypeError or ValueError where the plain value does not fit.
    """
    if kind is Scenario:
        return Scenario.from_json(json.dumps(plain))
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return None if plain is None else from_plain(next(a for a in arguments if a is not types.NoneType), plain, arrays)
    if origin is Literal and plain in arguments:
        return plain
    if origin is ARRAY:
        return (arrays or {})[plain["array"]]
    if origin is tuple:
        if arguments[1:] != (Ellipsis,):
            raise TypeError(f"{kind} is not a tuple of any length")
        return tuple(from_plain(arguments[0], item, arrays) for item in plain)
    if origin is dict:
        return {key: from_plain(arguments[1], item, arrays) for key, item in plain.items()}
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind)
        if set(plain) != {f.name for f in dataclasses.fields(kind)}:
            raise KeyError(f"{kind.__name__} has other fields")
        return kind(**{name: from_plain(hints[name], item, arrays) for name, item in plain.items()})
    if kind is complex:
        return complex(float(plain["real"]), float(plain["imag"]))
    if kind is float:
        return float(plain)
    if kind in (int, str, bool) and isinstance(plain, kind):
        return plain
    raise TypeError(f"{plain!r} is not of type {kind}")
