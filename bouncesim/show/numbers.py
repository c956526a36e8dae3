"""Numbers as people read them: three figures, an SI prefix, a plain word for nothing and for no limit."""

from __future__ import annotations

import math

from bouncesim.scenario import vocabulary
from bouncesim.show.words import ENGLISH, Words

PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"), (1e-15, "f"), (1e-18, "a"))
LONG_OHM = 1e4  # from here on impedances take a prefix
WITHOUT_PREFIX = ("dB", "")
THIN_SPACE = "\u2009"


def unit_of(quantity: str) -> str:
    """Sign of a reading's unit: `antenna.power_w` -> "W", `transmitter.impedance_ohm.real` -> "Ω", a pure number -> ""."""
    unit = vocabulary.unit_of(quantity)
    return "Ω" if unit == "ohm" else unit


def prefix_for(size: float) -> tuple[float, str]:
    """The SI prefix (factor, letter) under which `size` reads from 1 to 999; none for zero."""
    size = abs(size)
    if size == 0 or not math.isfinite(size):
        return 1.0, ""
    for factor, letter in PREFIXES:
        if size >= 0.9995 * factor:
            return factor, letter
    return PREFIXES[-1]


def figures(value: float, size: float | None = None, digits: int = 3) -> str:
    """`value` with as many decimals as give `size` (default: itself) that many figures: 57.9, 1.24, 812."""
    size = abs(value if size is None else size)
    whole = 1 if size == 0 else math.floor(math.log10(float(f"{size:.{digits - 1}e}"))) + 1
    decimals = min(max(digits - max(whole, 1), 0), 6)
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if not text.strip("-0.") else text.replace("-", "−")


def reading(value: float, unit: str, floor: float = 0.0) -> str:
    """A value with its unit: "57.9 W", "1.24 kΩ", "∞"; below `floor` in size it is "0 W"."""
    if math.isnan(value):
        return "—"
    if math.isinf(value):
        return ("−" if value < 0 else "") + "∞" + (f" {unit}" if unit else "")
    if abs(value) < floor or value == 0:
        return f"0 {unit}".strip()
    factor, letter = (1.0, "") if unit in WITHOUT_PREFIX else prefix_for(value)
    return f"{figures(value / factor)} {letter}{unit}".strip()


def ratio(swr: float) -> str:
    """An SWR: two decimals up to 10, one up to 100, then whole; "∞" from 1000 up."""
    if math.isnan(swr):
        return "—"
    if swr >= 999.5:
        return "∞"
    return f"{swr:.2f}" if swr < 9.995 else f"{swr:.1f}" if swr < 99.95 else f"{swr:.0f}"


def impedance(value: complex) -> str:
    """An impedance: "370 Ω", "25 + j40 Ω", "1 MΩ"."""
    largest = max(abs(value.real), abs(value.imag))
    factor, letter = prefix_for(largest) if LONG_OHM <= largest < math.inf else (1.0, "")
    real, imag = plain(value.real / factor), plain(abs(value.imag) / factor)
    if imag == "0" or abs(value.imag) < 1e-4 * largest:
        return f"{real} {letter}Ω"
    return f"{real} {'+' if value.imag > 0 else '−'} j{imag} {letter}Ω"


def plain(value: float, digits: int = 4) -> str:
    """At most `digits` figures, without trailing zeros, never in powers of ten: 31, 0.66, 12400."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "∞"
    decimals = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    text = f"{value:.{decimals}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text).replace("-", "−") or "0"


def rated(value: float, unit: str) -> str:
    """A given value with its unit, as a person would write it: "60 W", "14.2 MHz"."""
    factor, letter = prefix_for(value)
    return f"{plain(value / factor, 5)} {letter}{unit}"


def slowed(rate: float, words: Words = ENGLISH) -> str:
    """How much slower than life a film runs in which `rate` seconds pass a second: "slowed 67 million times"."""
    if rate <= 0:
        return words("paused")
    times = 1 / rate
    if times < 1.5:
        return words("real_time") if times > 0.67 else words("sped_up", times=two_figures(rate, words))
    return words("slowed", times=two_figures(times, words))


def two_figures(number: float, words: Words = ENGLISH) -> str:
    """A count in words, to two figures: "4.5", "4,500", "67 million", "1.2 billion"."""
    scales = ((1e12, "trillion"), (1e9, "billion"), (1e6, "million"), (1.0, ""))
    factor, word = next((scale for scale in scales if number >= 0.995 * scale[0]), scales[-1])
    head = number / factor
    place = 10.0 ** (math.floor(math.log10(head)) - 1)
    head = round(head / place) * place
    return (f"{head:.1f}" if head < 9.95 else f"{head:,.0f}") + (f" {words(word)}" if word else "")


def with_error(value: float, bar: float, unit: str) -> tuple[str, str]:
    """A value and its error bar under one prefix, the value to the bar's first figure (12 figures at most); "∞" has no bar."""
    if math.isinf(value):
        return f"∞ {unit}".strip(), ""
    factor, letter = (1.0, "") if unit in WITHOUT_PREFIX else prefix_for(value)
    value, bar = value / factor, bar / factor
    room = 11 - max(math.floor(math.log10(abs(value))), 0) if value else 11
    decimals = min(max(-math.floor(math.log10(bar)), 1), max(room, 1)) if bar > 0 else 6
    return f"{group(value, decimals)} {letter}{unit}".strip(), f"± {power_of_ten(bar)} {letter}{unit}".strip()


def group(value: float, decimals: int) -> str:
    """Fixed decimals in thin-spaced groups of three: 57.912 345 678."""
    text = f"{value:.{decimals}f}".replace("-", "−")
    whole, _, part = text.partition(".")
    return whole + "." + THIN_SPACE.join(part[i : i + 3] for i in range(0, len(part), 3))


def power_of_ten(value: float) -> str:
    """One figure: "0.004" down to a thousandth, then "4·10⁻⁹"."""
    if value == 0:
        return "0"
    exponent = math.floor(math.log10(value))
    head = math.ceil(value / 10.0**exponent - 1e-9)
    if head == 10:
        head, exponent = 1, exponent + 1
    if exponent >= -3:
        return f"{head * 10.0**exponent:.{max(-exponent, 0)}f}"
    return f"{head}·10⁻" + "".join("⁰¹²³⁴⁵⁶⁷⁸⁹"[int(digit)] for digit in str(-exponent))
