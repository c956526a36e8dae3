"""Words and numbers of the printed tables."""

from __future__ import annotations

import math
import re
import sys
from pathlib import Path

import click

_MAY_SHOW = re.compile(r"_(?:least|most)(_w)?$")
SMALL = 1e-3  # what is smaller is written with an exponent: powers of a received signal
UNITS = {
    "_v_peak": "V peak",
    "_v_rms": "V rms",
    "_a_peak": "A peak",
    "_a_rms": "A rms",
    "_ohm": "ohm",
    "_db": "dB",
    "_w": "W",
    "_s": "s",
    "_m": "m",
}
LABELS = {
    "largest_v_peak": "largest voltage",
    "largest_v_at_m": "largest voltage, place",
    "largest_a_peak": "largest current",
    "largest_a_at_m": "largest current, place",
    "matched_loss_db": "loss, matched",
    "loss_db": "loss, as operated",
    "forward_in_w": "forward, transmitter end",
    "forward_out_w": "forward, antenna end",
    "reflected_in_w": "reflected, transmitter end",
    "reflected_out_w": "reflected, antenna end",
    "swr": "SWR",
    "swr_in": "SWR, transmitter end",
    "swr_out": "SWR, antenna end",
    "reflected_least_w": "reflected, least it may show",
    "reflected_most_w": "reflected, most it may show",
    "swr_least": "SWR, least it may show",
    "swr_most": "SWR, most it may show",
    "coil_a_peak": "largest coil current",
    "capacitor_v_peak": "largest capacitor voltage",
    "power_w": "power",
    "drive": "drive, share of the full power",
    "dump_load_w": "heat in the dump load",
    "radiated_w": "of it radiated",
    "heat_w": "heat",
    "impedance_ohm.real": "impedance, resistance",
    "impedance_ohm.imag": "impedance, reactance",
}


def split_quantity(quantity: str) -> tuple[str, str, str]:
    """Path of a reading -> part, label and unit: "antenna.power_w" -> "antenna", "power", "W"."""
    part, field = quantity.split(".", 1)
    name = field.removesuffix(".real").removesuffix(".imag")
    suffix = next((suffix for suffix in UNITS if name.endswith(suffix)), "")
    return part, LABELS.get(field, name.removesuffix(suffix).replace("_", " ")), UNITS.get(suffix, "")


def turned(label: str) -> str:
    """The same label for a station that receives, whose path begins at the antenna."""
    return label.replace("antenna end", "receiver end").replace("transmitter end", "antenna end")


def says_something(quantity: str, readings: dict[str, float]) -> bool:
    """False for the current of a coil that is not there, the range of a meter that is taken to be perfect, a drive that nothing controls,
    a dump load that is not there, and an antenna without loss."""
    value = readings[quantity]
    if quantity.endswith((".radiated_w", "antenna.heat_w", "receiver.heat_w")):
        return readings[quantity.rpartition(".")[0] + ".heat_w"] != 0
    if quantity.endswith(".drive"):
        return value != 1
    if quantity.endswith(".dump_load_w"):
        return value != 0
    if quantity.endswith((".coil_a_peak", ".capacitor_v_peak")):
        return value != 0
    return not quantity.endswith(("_least", "_least_w", "_most", "_most_w")) or value != readings[_MAY_SHOW.sub(r"\1", quantity)]


def number(value: float, digits: int = 6) -> str:
    """A value to so many figures; plain words where there is none."""
    if math.isnan(value):
        return "no value"
    if math.isinf(value):
        return "infinite" if value > 0 else "-infinite"
    return f"{value:.{digits}g}"


def within(value: float, error_bar: float) -> str:
    """A value with the decimals that its error bar leaves standing, nine at most; of a value too small for them, ten figures at most."""
    if not (math.isfinite(value) and 0 < error_bar < math.inf):
        return number(value, 10)
    decimals = max(0, -math.floor(math.log10(error_bar)))
    if error_bar < abs(value) < SMALL:
        return f"{value:.{min(9, decimals + math.floor(math.log10(abs(value))))}e}"
    text = f"{value:.{min(9, decimals)}f}"
    return text if text.strip("-0.") else text.lstrip("-")  # no "minus nothing"


def difference(simulated: float, exact: float) -> str:
    """Simulated less exact, to two figures; nothing to tell where both are infinite."""
    if simulated == exact:
        return "0"
    return f"{simulated - exact:+.1e}" if math.isfinite(simulated - exact) else "no value"


def clean(text: str) -> str:
    """Without control characters: a scenario comes from strangers, and a terminal obeys some of them."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def tell(words: str) -> None:
    """A line on stderr, where files are named too: a name may come from strangers, with control characters."""
    click.echo(clean(words), err=True)


def place(file: Path) -> str:
    """The name of a file on stdout: as it is for a program, which opens it, and harmless where a person sees it."""
    return clean(str(file)) if sys.stdout.isatty() else str(file)
