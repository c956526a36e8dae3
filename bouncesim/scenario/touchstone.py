"""A measured one-port Touchstone file: reading it, and what it says at a frequency.

Source of the format: Touchstone File Format Specification, version 2.0 (EIA/IBIS Open Forum, 2009), which covers version 1.1 too. Of it,
one-ports: S, Z or Y parameters. In a file of version 1 the Z and Y are relative to the reference resistance (z = Z/R, y = Y R), in one
of version 2 they are in ohm and siemens. A file may come from a stranger: everything that is not understood is refused with its line.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import quote, show

LARGEST_BYTES = 5_000_000
MOST_POINTS = 100_000
LARGEST_OHM = 1e9  # as for an impedance in a scenario
_UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_PARAMETERS = ("s", "z", "y")
_FORMATS = ("ri", "ma", "db")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_KEYWORD = re.compile(r"\[([^\]]*)\]\s*(.*)")
_CONTROL = re.compile(r"[^\t\x20-\x7e\x80-\U0010ffff]")
_KEYWORDS = (
    "Version",
    "Number of Ports",
    "Number of Frequencies",
    "Reference",
    "Matrix Format",
    "Begin Information",
    "Network Data",
    "End",
)
_WINDOW = 4  # points of the local interpolation: a cubic


@dataclass(frozen=True)
class Measurement:
    """The impedance of a one-port at the frequencies of a file, rising; both arrays have the shape (N,), N at least 2."""

    frequency_hz: NDArray[np.float64]
    impedance_ohm: NDArray[np.complex128]
    reference_ohm: float = 50.0  # for what is drawn between the points; any will do


def read_touchstone(text: str, place: str = "touchstone file") -> Measurement:
    """The measurement in the text of a one-port file. `place` names the file in problems.

    ScenarioError with the line, what was found and what is allowed.
    """
    if len(text) > LARGEST_BYTES:
        raise ScenarioError(Problem(place, "is larger than 5 MB", f"Allowed: up to {MOST_POINTS} frequencies: is this the right file?"))
    return _Reader(place).read(text)


def at(measurement: Measurement, frequency_hz: float, place: str = "touchstone file") -> tuple[complex, complex]:
    """Impedance (ohm) and its slope dZ/dw (ohm s) at a frequency: a cubic through the reflection coefficients of the four nearest points.

    A reflection coefficient stays finite where an impedance has a pole. ScenarioError for a frequency outside the file, and where the
    resistance is negative, as the noise of a measurement can make it.
    """
    f, r = measurement.frequency_hz, measurement.reference_ohm
    if not f[0] <= frequency_hz <= f[-1]:
        reason = f"knows nothing of {show(frequency_hz, 'Hz')}"
        raise ScenarioError(Problem(place, reason, f"Allowed: its frequencies, {show(f[0], 'Hz')} to {show(f[-1], 'Hz')}"))
    after = int(np.searchsorted(f, frequency_hz))
    first = min(max(after - _WINDOW // 2, 0), max(len(f) - _WINDOW, 0))
    window = slice(first, first + _WINDOW)
    z = measurement.impedance_ohm[window]
    with np.errstate(all="ignore"):  # -r, which no antenna has, divides by zero: refused below
        rho, slope = _interpolate(f[window], (z - r) / (z + r), frequency_hz)
    value = r * (1 + rho) / (1 - rho) if rho != 1 else complex(math.inf)
    if not value.real >= 0 or abs(value) > LARGEST_OHM:
        reason = f"has {show(value.real, 'ohm')} of resistance at {show(frequency_hz, 'Hz')}: no passive antenna"
        raise ScenarioError(Problem(place, reason, "Check the calibration of the measurement, or give the impedance yourself"))
    return complex(value), complex(2 * r / (1 - rho) ** 2 * slope / (2 * math.pi))


def _interpolate(x: NDArray[np.float64], y: NDArray[np.complex128], where: float) -> tuple[complex, complex]:
    """Value and slope of the polynomial through all points (Neville's scheme, and its derivative)."""
    value, slope = y.copy(), np.zeros_like(y)
    for step in range(1, len(x)):
        low, high, width = where - x[:-step], where - x[step:], x[step:] - x[:-step]
        slope = (value[1:] - value[:-1] + low * slope[1:] - high * slope[:-1]) / width
        value = (low * value[1:] - high * value[:-1]) / width
    return complex(value[0]), complex(slope[0])


@dataclass
class _Reader:
    """Reads one file, line by line."""

    place: str
    line: int = 0
    version: int = 1
    unit: float = 0.0  # Hz; 0: no option line so far
    parameter: str = "s"
    form: str = "ma"
    reference: float = 50.0
    seen: dict[str, str] = field(default_factory=dict)  # keywords of version 2, with what they say
    in_data: bool = False
    rows: list[tuple[float, float, float]] = field(default_factory=list)

    def wrong(self, reason: str, remedy: str) -> ScenarioError:
        return ScenarioError(Problem(f"{self.place}, line {max(self.line, 1)}", reason, remedy))

    def read(self, text: str) -> Measurement:
        for content in self._lines(text):
            if content.startswith("["):
                self._keyword(content)
            elif content.startswith("#"):
                if not self.unit:  # the standard: a second one counts for nothing
                    self._options(content[1:].split())
            elif self.seen.get("reference") == "":  # its value may stand on the next line
                self._set_reference(content)
            else:
                self._row(content)
        return self._measurement()

    def _lines(self, text: str) -> Iterator[str]:
        """The lines without comments, information and blanks."""
        information = False
        for self.line, whole in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
            if found := _CONTROL.search(whole):
                raise self.wrong(f"the character with code {ord(found[0])}", "Allowed: plain text: is this the right file?")
            content = whole.partition("!")[0].strip()
            mark = content.lower()
            if self.seen.get("end") is not None and content:
                raise self.wrong(f"{quote(content)} after [End]", "Nothing but comments may follow it")
            if mark in ("[begin information]", "[end information]"):
                information = mark == "[begin information]"
            elif content and not information:
                yield content

    def _options(self, words: list[str]) -> None:
        self.unit, found = 1e9, set()
        rest = iter(words)
        for word in rest:
            low = word.lower()
            kind = "R" if low == "r" else next((k for k, known in _CHOICES.items() if low in known), "")
            if not kind:
                raise self.wrong(f"{quote(word)} in the option line", _options_allowed())
            if kind in found:
                raise self.wrong(f"{quote(word)} is a second {kind} in the option line", _options_allowed())
            found.add(kind)
            if kind == "R":
                self._set_reference(next(rest, ""))
            elif kind == "unit":
                self.unit = _UNITS[low]
            elif kind == "parameter":
                self.parameter = low
            else:
                self.form = low

    def _set_reference(self, word: str) -> None:
        value = self._numbers(word.split(), 1, "the reference resistance")[0]
        if not 0 < value <= LARGEST_OHM:
            raise self.wrong(f"a reference resistance of {quote(word)}", "Allowed: more than 0 ohm, such as R 50")
        self.reference = value
        if "reference" in self.seen:
            self.seen["reference"] = word

    def _keyword(self, content: str) -> None:
        match = _KEYWORD.fullmatch(content)
        name, value = (" ".join(match[1].split()).lower(), match[2].strip()) if match else ("", "")
        known = [each.lower() for each in _KEYWORDS]
        if name not in known:
            near = difflib.get_close_matches(name[:60], known, 1)
            hint = f"Did you mean [{_KEYWORDS[known.index(near[0])]}]?" if near else f"A one-port file has [{'], ['.join(_KEYWORDS)}]"
            raise self.wrong(f"{quote(content)} is not a keyword of a one-port file", hint)
        if name in self.seen:
            raise self.wrong(f"[{match[1] if match else ''}] comes twice", "A keyword comes once")
        if name != "version" and self.version == 1:
            raise self.wrong(f"{quote(content)} in a file of version 1", "A file with keywords starts with [Version] 2.0")
        self.seen[name] = value
        self._obey(name, value)

    def _obey(self, name: str, value: str) -> None:
        if name == "version":
            if value not in ("2.0", "2.1") or self.unit or self.rows:
                raise self.wrong(f"[Version] {value}", "Allowed: 2.0 or 2.1, before everything else; a file of version 1 has no keywords")
            self.version = 2
        elif name == "number of ports" and value != "1":
            raise self.wrong(f"[Number of Ports] {value}", "Allowed: 1: an antenna has one port")
        elif name == "reference" and value:
            self._set_reference(value)
        elif name == "matrix format" and value.lower() not in ("full", "lower", "upper"):
            raise self.wrong(f"[Matrix Format] {value}", "Allowed: Full, Lower, Upper")
        elif name == "network data":
            self.in_data = True

    def _row(self, content: str) -> None:
        if not self.unit:
            raise self.wrong(f"{quote(content)} before the option line", "The option line comes first, such as: # MHz S RI R 50")
        if self.version == 2 and not self.in_data:
            raise self.wrong(f"{quote(content)} before [Network Data]", "The numbers of a file of version 2 stand after it")
        f, a, b = self._numbers(content.split(), 3, "a line of data")
        frequency = f * self.unit
        if frequency < 0 or (self.rows and frequency <= self.rows[-1][0]):
            raise self.wrong(f"the frequency {show(frequency, 'Hz')} does not rise", "Frequencies are positive and rise from line to line")
        if len(self.rows) == MOST_POINTS:
            raise self.wrong("too many frequencies", f"Allowed: {MOST_POINTS}")
        if self.form == "ma" and a < 0:
            raise self.wrong(f"the magnitude {a:g}", "A magnitude is 0 or more: RI in the option line stands for real and imaginary parts")
        self.rows.append((frequency, a, b))
        if not abs(self._impedance(a, b)) <= LARGEST_OHM:
            raise self.wrong("an impedance without limit, an open end", f"Allowed: up to {show(LARGEST_OHM, 'ohm')}")

    def _numbers(self, words: list[str], count: int, what: str) -> list[float]:
        for word in words:
            if not _NUMBER.fullmatch(word) or not math.isfinite(float(word)):
                raise self.wrong(f"{quote(word)} where a number belongs, in {what}", "Allowed: numbers such as 7.1, -0.25, 1.2e-3")
        if len(words) != count:
            row = "A one-port file has a frequency and two numbers in a line, a two-port file nine in all: is this the right file?"
            raise self.wrong(f"{len(words)} numbers in {what}", row if count == 3 else "One number belongs here, such as R 50")
        return [float(word) for word in words]

    def _impedance(self, a: float, b: float) -> complex:
        if self.form == "ri":
            p = complex(a, b)
        else:
            size = a if self.form == "ma" else (10 ** (a / 20) if a < 6000 else math.inf)
            turn = math.radians(b)
            p = complex(size * math.cos(turn), size * math.sin(turn))
        scale = self.reference if self.version == 1 else 1.0
        if self.parameter == "z":
            return p * scale
        if self.parameter == "y":
            return scale / p if p else complex(math.inf)
        return self.reference * (1 + p) / (1 - p) if p != 1 else complex(math.inf)

    def _measurement(self) -> Measurement:
        if self.version == 2:
            for name in ("Number of Ports", "Number of Frequencies", "Network Data", "End"):
                if name.lower() not in self.seen:
                    raise self.wrong(f"the file ends without [{name}]", "A file of version 2 needs it: is this file whole?")
            count = self.seen["number of frequencies"]
            if count != str(len(self.rows)):
                raise self.wrong(f"[Number of Frequencies] {count}, but there are {len(self.rows)}", "Is this file whole?")
        if len(self.rows) < 2:
            number = "one frequency" if self.rows else "no data"
            raise self.wrong(f"the file has {number}", "It takes two at least; for one, give its impedance in the scenario instead")
        impedance = np.array([self._impedance(a, b) for _, a, b in self.rows])
        return Measurement(np.array([f for f, _, _ in self.rows]), impedance, self.reference)


_CHOICES = {"unit": _UNITS, "parameter": _PARAMETERS, "format": _FORMATS}


def _options_allowed() -> str:
    return "Allowed: Hz, kHz, MHz or GHz; S, Z or Y; RI, MA or DB; R and the reference resistance; such as: # MHz S RI R 50"
