"""Quantities with units: "7.1 MHz" -> 7.1e6, strictly; and back again for print.

The grammar, and nothing beyond it (no evaluation, no guessing: a scenario may come from strangers):

    quantity = number [ ("+" | "-") imaginary ] unit [ "/" [ number ] length-unit ]
    number   = digits with at most one decimal POINT, optional sign and exponent      "31", "0.66", "-60", "4e-6"
    imaginary = number "j" or "j" number, only where an impedance may be complex      "25 - 60j ohm", "25 - j60 ohm"
    unit     = optional SI prefix and one unit of the table below; case matters       "MHz", "pF", "ft", "dB"

Numbers are scaled in decimal, so that "4 us" is the float 4e-6 to the last bit.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from decimal import Decimal

LONGEST = 60  # characters; a quantity is never longer, and a longer text is not even scanned
_PREFIXES = {"p": -12, "n": -9, "u": -6, "\u00b5": -6, "m": -3, "c": -2, "": 0, "k": 3, "M": 6, "G": 9}
# minus sign, spaces that do not break, Greek mu, ohm sign: read as the marks that they look like
_ALIKE = str.maketrans({"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u03bc": "\u00b5", "\u2126": "\u03a9"})
_UNSIGNED = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_NUMBER = re.compile(rf"[+-]?{_UNSIGNED}(?![0-9.])")
_IMAGINARY = re.compile(rf" *([+-]?) *(?:({_UNSIGNED}) *j|j *({_UNSIGNED}))(?![0-9.A-Za-z])")
_NOT_FINITE = re.compile(r"[+-]? *(nan|inf|infinity)(?![a-z])", re.IGNORECASE)
_PER_LENGTH = re.compile(rf" *({_UNSIGNED})? *([A-Za-z]+)")


class QuantityError(ValueError):
    """A text that is not the quantity asked for: what is wrong with it, and what to write instead."""

    def __init__(self, reason: str, remedy: str = "") -> None:
        self.reason, self.remedy = reason, remedy
        super().__init__(f"{reason}. {remedy}" if remedy else reason)


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: its SI unit, the spellings that are read (with their size in SI), and an example."""

    name: str
    unit: str
    example: str
    spellings: dict[str, Decimal]
    per_length: bool = False

    @property
    def a(self) -> str:
        """The name with its article: "an inductance"."""
        return f"an {self.name}" if self.name[0] in "aeiou" else f"a {self.name}"

    @property
    def allowed(self) -> str:
        """The spellings in print, without the doubles for other keyboards."""
        units = [unit for unit in self.spellings if not any(mark in unit for mark in "µΩ")]
        tail = " per length, for example" if self.per_length else "; for example"
        return f'Allowed: {", ".join(units)}{tail} "{self.example}"'


def _spell(units: str, prefixes: str, size: str = "1") -> dict[str, Decimal]:
    """Every prefix before every unit; "-" stands for no prefix."""
    marks = ["" if mark == "-" else mark for mark in prefixes]
    return {mark + unit: Decimal(size).scaleb(_PREFIXES[mark]) for unit in units.split() for mark in marks}


_OHM, _LENGTH = _spell("ohm Ω", "m-kM"), _spell("m", "mc-k") | {"ft": Decimal("0.3048")}
_DB = {"dB": Decimal(1), "Np": Decimal("8.685889638065036553")}  # 1 Np = 20/ln 10 dB
KINDS = {
    kind.name: kind
    for kind in (
        Kind("frequency", "Hz", "7.1 MHz", _spell("Hz", "-kMG")),
        Kind("power", "W", "40 W", _spell("W", "pnuµm-kM")),
        Kind("voltage", "V", "120 V", _spell("V", "m-k")),
        Kind("current", "A", "1.5 A", _spell("A", "m-k")),
        Kind("impedance", "ohm", "50 ohm", _OHM),
        Kind("length", "m", "31 m", _LENGTH),
        Kind("time", "s", "4 us", _spell("s", "nuµm-")),
        Kind("inductance", "H", "1.2 uH", _spell("H", "nuµm-")),
        Kind("capacitance", "F", "470 pF", _spell("F", "pnuµm-")),
        Kind("ratio", "dB", "3 dB", _DB),
        Kind("loss", "dB/m", "2.2 dB/100 m", _DB, per_length=True),
        Kind("resistance of a line", "ohm/m", "0.2 ohm/m", _OHM, per_length=True),
        Kind("inductance of a line", "H/m", "250 nH/m", _spell("H", "nuµm-"), per_length=True),
        Kind("conductance of a line", "S/m", "0.5 uS/m", _spell("S", "pnuµm-"), per_length=True),
        Kind("capacitance of a line", "F/m", "100 pF/m", _spell("F", "pnuµm-"), per_length=True),
    )
}


def parse(text: object, kind: str) -> float:
    """The real quantity `text`, of a kind of `KINDS`, in SI (loss in dB and dB/m). Raises QuantityError."""
    real, imaginary = _parse(text, KINDS[kind])
    if imaginary is not None:
        example = f'Write a real one, for example "{KINDS[kind].example}"'
        raise QuantityError(f"{quote(text)} is complex where a real {kind} belongs", example)
    return real


def parse_complex(text: object, kind: str) -> complex:
    """The quantity `text`, real or complex, in SI: "25 - 60j ohm", "25 - j60 ohm", "50 ohm". Raises QuantityError."""
    real, imaginary = _parse(text, KINDS[kind])
    return complex(real, imaginary or 0.0)


def quote(found: object) -> str:
    """What the user wrote, in quotation marks, shortened, with nothing in it that could steer a terminal."""
    if not isinstance(found, str):
        return _named_type(found)
    short = found if len(found) <= 40 else found[:37] + "..."
    return '"' + "".join(mark if mark.isprintable() else "?" for mark in short) + '"'


def _named_type(found: object) -> str:
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, (int, float)):
        return f"{found:.6g}" if abs(found) < 1e300 else "a number without bounds"
    names = ((dict, "a table"), (list, "a list"), (type(None), "nothing"))
    return next((name for kind, name in names if isinstance(found, kind)), "a date or time")


def _parse(found: object, kind: Kind) -> tuple[float, float | None]:
    """Real and imaginary part in SI; None: no imaginary part was written. Raises QuantityError."""
    example = f'for example "{kind.example}"'
    if isinstance(found, (int, float)) and not isinstance(found, bool):
        raise QuantityError(f"{quote(found)} is a bare number where {kind.a} with its unit belongs", f"Write it in quotes, {example}")
    if not isinstance(found, str):
        raise QuantityError(f"{quote(found)} stands where {kind.a} belongs", f"Write it in quotes, {example}")
    if len(found) > LONGEST:
        raise QuantityError(f"{quote(found)} is far too long for {kind.a} ({len(found)} characters)", f"Write it short, {example}")
    text = found.translate(_ALIKE).strip(" ")
    real, imaginary, rest = _split_numbers(text, found, kind)
    factor = _factor(rest.strip(" "), found, kind)
    parts = float(real * factor), None if imaginary is None else float(imaginary * factor)
    if not all(math.isfinite(part or 0.0) for part in parts):
        raise QuantityError(f"{quote(found)} is too large a number", f"Write {kind.a} of this world, {example}")
    return parts


def _split_numbers(text: str, found: str, kind: Kind) -> tuple[Decimal, Decimal | None, str]:
    """Real part, imaginary part (None: not written) and the rest of the text. Raises QuantityError."""
    if _NOT_FINITE.match(text):
        raise QuantityError(f"{quote(found)} is not a finite number", f'Write a finite {kind.name}, for example "{kind.example}"')
    if "," in text:
        raise QuantityError(f"{quote(found)} has a comma in it", _comma_remedy(text))
    real = _NUMBER.match(text)
    after = text[real.end() :] if real else ""
    if alone := _IMAGINARY.match(text):
        return Decimal(0), _signed(alone), text[alone.end() :]
    if real is None:
        raise QuantityError(f"{quote(found)} is not a number with a unit", f"{kind.allowed}")
    imaginary = _IMAGINARY.match(after)
    if imaginary and imaginary.group(1):
        return Decimal(real.group()), _signed(imaginary), after[imaginary.end() :]
    return Decimal(real.group()), None, after


def _signed(match: re.Match[str]) -> Decimal:
    return Decimal(match.group(1) + (match.group(2) or match.group(3)))


def _comma_remedy(text: str) -> str:
    if re.search(r",[0-9]{3}(?![0-9])", text):
        either = f"{quote(text.replace(',', ''))} or {quote(text.replace(',', '.'))}"
        return f"Write {either}, whichever you mean: a decimal point, and nothing between thousands"
    return f"Write a decimal point: {quote(text.replace(',', '.'))}"


def _factor(unit: str, found: str, kind: Kind) -> Decimal:
    """What one of `unit` is in SI. Raises QuantityError."""
    if not unit:
        raise QuantityError(f"{quote(found)} has no unit", kind.allowed)
    head, slash, tail = unit.partition("/")
    size = kind.spellings.get(head.strip(" "))
    if size is None:
        raise _unit_error(head.strip(" "), unit, found, kind)
    if bool(slash) != kind.per_length:
        raise QuantityError(f"{quote(found)} is {'not ' if kind.per_length else ''}given per length", kind.allowed)
    if not kind.per_length:
        return size
    per = _PER_LENGTH.fullmatch(tail)
    metres = _LENGTH.get(per.group(2)) if per else None
    count = Decimal(per.group(1) or 1) if per else Decimal(0)
    if metres is None or count <= 0:
        raise QuantityError(f"{quote(tail.strip())} in {quote(found)} is not a length", f'Write, for example, "{kind.example}"')
    return size / (count * metres)


def _unit_error(head: str, unit: str, found: str, kind: Kind) -> QuantityError:
    for other in KINDS.values():
        if head in other.spellings:
            return QuantityError(f"{quote(unit)} in {quote(found)} is not a unit of {kind.name}", kind.allowed)
    same = [spelling for spelling in kind.spellings if spelling.lower() == head.lower()]
    if same:
        reason = f"{quote(head)} in {quote(found)} is not a unit here: capitals matter"
        return QuantityError(reason, f"Write {' or '.join(same)} instead of {head}")
    if kind.name == "impedance" and re.search("[0-9] *i|i *[0-9]", unit):
        return QuantityError(f"{quote(unit)} in {quote(found)} is not a unit", 'Write j for the imaginary part, as in "25 - 60j ohm"')
    near = difflib.get_close_matches(head[:12], kind.spellings, n=1, cutoff=0.5)
    hint = f"Did you mean {near[0]}? " if near else ""
    return QuantityError(f"{quote(unit)} in {quote(found)} is not a unit", hint + kind.allowed)


_SHOWN_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
# smallest and largest prefix that people use with each unit
_SHOWN_RANGE = dict.fromkeys(("W", "V", "A", "s", "H", "F", "S", "J"), (-12, 9))
_SHOWN_RANGE |= {"Hz": (0, 9), "ohm": (0, 9), "Ω": (0, 9), "m": (-3, 3)}


def show(value: float | complex, unit: str = "", digits: int = 3) -> str:
    """`value` (SI) in print to `digits` significant figures with an engineering prefix: show(7.1e6, "Hz") -> "7.1 MHz".

    Units that take no prefix (dB, per cent, pure numbers) get none; a complex value is written "25 - 60j ohm".
    """
    largest = max(abs(value.real), abs(value.imag))
    if math.isnan(value.real) or math.isnan(value.imag):
        return "undefined"
    if math.isinf(largest):
        return "infinite" if isinstance(value, complex) or value > 0 else "minus infinite"
    low, high = _SHOWN_RANGE.get(unit.split("/")[0], (0, 0))
    power = max(low, min(high, _engineering_power(largest, digits)))
    label = f" {_SHOWN_PREFIXES[power]}{unit}" if unit else ""
    if isinstance(value, complex):
        sign = "-" if value.imag < 0 else "+"
        return f"{_plain(value.real, power, digits)} {sign} {_plain(abs(value.imag), power, digits)}j{label}"
    return _plain(value, power, digits) + label


def _engineering_power(size: float, digits: int) -> int:
    """The multiple of three whose prefix keeps `size`, once rounded, between 1 and 1000."""
    if size == 0:
        return 0
    exponent = int(f"{size:.{digits - 1}e}".split("e")[1])
    return 3 * (exponent // 3)


def _plain(value: float, power: int, digits: int) -> str:
    """The number without exponent where it stays readable, and without trailing zeros."""
    scaled = float(f"{value / 10.0**power:.{digits - 1}e}")
    if scaled == 0:
        return "0"
    if not 1e-4 <= abs(scaled) < 1e7:
        return f"{scaled:.{digits}g}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(scaled))))
    text = f"{scaled:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
