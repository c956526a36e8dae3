"""Names that a story may use: readings for claims and captions, and moments for beats."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

# readings of each kind of part; the fields of account.readings, which this package may not import (a test compares them)
READINGS: dict[str, tuple[str, ...]] = {
    "transmitter": ("power_w", "impedance_ohm.real", "impedance_ohm.imag", "swr", "voltage_v_rms", "current_a_rms", "drive", "dump_load_w"),
    "network": ("power_in_w", "power_out_w", "heat_w", "coil_a_peak", "capacitor_v_peak"),
    "meter": ("forward_w", "reflected_w", "swr", "reflected_least_w", "reflected_most_w", "swr_least", "swr_most"),
    "line": (
        "reference_ohm",
        "power_in_w",
        "power_out_w",
        "heat_w",
        "forward_in_w",
        "reflected_in_w",
        "forward_out_w",
        "reflected_out_w",
        "swr_in",
        "swr_out",
        "matched_loss_db",
        "loss_db",
        "largest_v_peak",
        "largest_v_at_m",
        "largest_a_peak",
        "largest_a_at_m",
    ),
    "antenna": ("power_w", "voltage_v_rms", "current_a_rms", "swr", "radiated_w", "heat_w"),
    "echoes": (  # of a station with one line
        "sent_again",
        "forward_first_w",
        "forward_together_w",
        "from_antenna.real",
        "from_antenna.imag",
        "looking_back.real",
        "looking_back.imag",
    ),
}
# told besides of each kind, as a share of the power that leaves the transmitter (account.readings, Readings.numbers)
SHARES: dict[str, tuple[str, ...]] = {"network": ("heat_share",), "line": ("heat_share",), "antenna": ("power_share",)}
# names that no part of the path may take, as they name something else already
RESERVED = ("transmitter", "antenna", "receiver", "echoes", "time")

# suffix of a reading -> kind of quantity (quantity.KINDS) and unit; none: a pure number
_SUFFIXES = {
    "_w": ("power", "W"),
    "_v_peak": ("voltage", "V"),
    "_v_rms": ("voltage", "V"),
    "_a_peak": ("current", "A"),
    "_a_rms": ("current", "A"),
    "_ohm": ("impedance", "ohm"),
    "_s": ("time", "s"),
    "_db": ("ratio", "dB"),
    "_m": ("length", "m"),
}

# instants of a run that a beat may wait for; "round trip 3" is the third of any number
MOMENTS = ("key down", "antenna reached", "first echo", "round trip 1", "settled")
_ROUND_TRIP = re.compile(r"round trip ([1-9][0-9]{0,3})")
_FIELD = re.compile(r"\$\{([^{}$]*)\}")


def _suffix(reading: str) -> tuple[str, str]:
    name = reading.removesuffix(".real").removesuffix(".imag")
    return next((found for suffix, found in _SUFFIXES.items() if name.endswith(suffix)), ("", ""))


def kind_of(reading: str) -> str:
    """Kind of quantity of a reading, as quantity.KINDS names it: "antenna.power_w" -> "power"; "" for a pure number such as an SWR."""
    return _suffix(reading)[0]


def unit_of(reading: str) -> str:
    """Unit of a reading, for quantity.show: "antenna.power_w" -> "W"; "" for a pure number."""
    return _suffix(reading)[1]


def fields_of(kind: str) -> tuple[str, ...]:
    """Everything that a story may name of a kind of part."""
    return READINGS[kind] + SHARES.get(kind, ())


def readings_of(parts: Iterable[tuple[str, str]]) -> list[str]:
    """Every reading of a station, from its parts as (name, kind of `READINGS`), transmitter and antenna added."""
    everything = [("transmitter", "transmitter"), *parts, ("antenna", "antenna")]
    return [f"{name}.{field}" for name, kind in everything for field in fields_of(kind)]


def moment_rank(moment: str) -> int | None:
    """Place of a moment in the order in which moments come to pass; None for "settled", which comes when it comes.

    Raises KeyError if `moment` is none of the named moments.
    """
    if match := _ROUND_TRIP.fullmatch(moment):
        return 1 + int(match.group(1))  # the first echo ends the first round trip
    return {"key down": 0, "antenna reached": 1, "first echo": 2, "settled": None}[moment]


def caption_fields(caption: str) -> list[str]:
    """What stands in the braces of every "${...}" in a caption."""
    return _FIELD.findall(caption)


def has_broken_field(caption: str) -> bool:
    """True if a "${" is never closed, or holds another one."""
    return "${" in _FIELD.sub("", caption)


def fill_caption(caption: str, value: Callable[[str], str]) -> str:
    """The caption with every "${name}" replaced by `value(name)`, each once: what `value` returns is not read again."""
    return _FIELD.sub(lambda match: value(match.group(1)), caption)
