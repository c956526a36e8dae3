"""A new scenario from a few answers: the text of a commented file. What it says is judged by the reader like any other file."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from bouncesim.quantity import QuantityError, parse, show

_SWR = re.compile(r"(?i)swr *=? *([0-9].*)")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_DIPOLE = re.compile(r"(?i)dipole *(?:of|=)? *(.+)")
_FILE = re.compile(r"(?i).+\.s1p")
ASSUMED = "assumed: change it to yours"


@dataclass(frozen=True)
class Wishes:
    """A station as a person tells it, every field as it was typed."""

    title: str = "My station"
    frequency: str = "14.1 MHz"
    power: str = "35 W"
    antenna: str = "75 + 58j ohm"  # or "SWR 2.6", "dipole 10.2 m", "antenna.s1p"
    line: str = "rg58c"  # a type of the catalogue, or impedance, velocity factor and matched loss: "50 ohm, 0.82, 2.4 dB/100 m"
    length: str = "24 m"
    tuner: str = "L"  # or "pi", "T", "none"
    meter: bool = True


@dataclass(frozen=True)
class Known:
    """What the closed form says of the station, for its claims."""

    antenna_share: float  # least share of the transmitter's power that the antenna takes, over all that the antenna may be
    is_tuned: bool


def text_of(wishes: Wishes, told: Collection[str], known: Known | None = None) -> str:
    """The text of the file. `told`: the fields of `wishes` that were asked for; the others are marked as assumed. Without `known` the file
    claims nothing yet."""
    lines = [*_head(wishes, told), *_path(wishes, told), *_antenna(wishes, told), *_claims(known), *_story(wishes)]
    return "\n".join(lines) + "\n"


def _entry(key: str, value: str, remark: str = "") -> str:
    """One line of the file; remarks stand under one another."""
    line = f"{key} = {value}"
    return f"{line:<40}  # {remark}" if remark else line


def _quoted(text: str) -> str:
    """A text as TOML writes it: JSON's strings are among its own."""
    return json.dumps(text, ensure_ascii=False)


def _number(text: str) -> str:
    """A pure number as it stands; anything else in quotes, for the reader to tell of."""
    return text if _NUMBER.fullmatch(text) else _quoted(text)


def _remark(name: str, told: Collection[str], words: str) -> str:
    return words if name in told else f"{words}; {ASSUMED}"


def _head(wishes: Wishes, told: Collection[str]) -> Iterator[str]:
    yield "# A scenario of bouncesim. Quantities stand in quotes with their unit. Everything else that may stand in one is shown by"
    yield "# bouncesim new FILE, without options."
    yield ""
    yield f"title = {_quoted(wishes.title)}"
    yield ""
    yield "[transmitter]"
    yield _entry("frequency", _quoted(wishes.frequency), _remark("frequency", told, "of the carrier"))
    yield _entry("power", _quoted(wishes.power), _remark("power", told, "key-down, into its rated load of 50 ohm"))
    yield ""
    yield "[keying]"
    yield _entry("shape", '"raised-cosine"')
    yield _entry("rise", _quoted(_rise(wishes)), "a real key takes about 5 ms; shortened so that you can see the echoes")


def _rise(wishes: Wishes) -> str:
    """Two periods of the carrier; of a frequency that cannot be read, anything: the reader tells of it."""
    try:
        frequency = parse(wishes.frequency, "frequency")
    except QuantityError:
        return "0.2 us"
    return show(2 / frequency, "s") if frequency > 0 else "0.2 us"


def _path(wishes: Wishes, told: Collection[str]) -> Iterator[str]:
    if wishes.meter:
        yield from (
            "",
            "[[path]]",
            _entry("part", '"meter"', "a directional wattmeter at the transmitter"),
            _entry("name", '"station meter"'),
        )
    if wishes.tuner != "none":
        remark = _remark("tuner", told, "it sets itself so that the transmitter sees its rated load")
        yield from ("", "[[path]]", _entry("part", '"tuner"', remark), _entry("shape", _quoted(wishes.tuner)))
        yield _entry("coil_q", "200", "of air-wound coils: common practice, no source")
        yield _entry("capacitor_q", "1000", "of air capacitors, likewise")
    yield from ("", "[[path]]", _entry("part", '"line"'), _entry("name", '"feed line"'))
    yield _entry("length", _quoted(wishes.length), _remark("length", told, "never rounded"))
    figures = [figure.strip() for figure in wishes.line.split(",")]
    if len(figures) == 1:
        yield _entry("type", _quoted(figures[0]), _remark("line", told, '"bouncesim lines" lists the types, with their sources'))
        return
    yield _entry("impedance", _quoted(figures[0]))
    yield _entry("velocity_factor", _number(figures[1]), "speed of the wave against that of light")
    if len(figures) > 2:
        yield _entry("loss", _quoted(", ".join(figures[2:])), "when matched, at the carrier")


def _antenna(wishes: Wishes, told: Collection[str]) -> Iterator[str]:
    words = wishes.antenna.strip()
    yield from ("", "[antenna]")
    if swr := _SWR.fullmatch(words):
        yield _entry(
            "swr", _number(swr.group(1)), _remark("antenna", told, "on the feed line; its impedance is not known, so results are ranges")
        )
    elif dipole := _DIPOLE.fullmatch(words):
        yield _entry(
            "dipole", f'{{ length = {_quoted(dipole.group(1))}, wire = "2 mm" }}', _remark("antenna", told, "straight, in free space")
        )
    elif _FILE.fullmatch(words):
        yield _entry("touchstone", _quoted(words), _remark("antenna", told, "a measured file in the folder of this one"))
    else:
        yield _entry("impedance", _quoted(words), _remark("antenna", told, "at the carrier, where the line ends"))


def _claims(known: Known | None) -> Iterator[str]:
    if known is None:
        return
    share = int(99 * known.antenna_share) / 100  # a little less than it is
    if share > 0 or known.is_tuned:
        yield from ("", "# Claims are judged by every run. These hold for the station as it stands: change it, and see.")
    if share > 0:
        yield from ("[[claim]]", f'says = "At least {round(100 * share)} % of the power reaches the antenna"')
        yield from ('quantity = "antenna.power_share"', _entry("at_least", f"{share:g}", f"the closed form says {known.antenna_share:.4f}"))
    if known.is_tuned:
        yield from (
            "",
            "[[claim]]",
            'says = "The transmitter sees its rated load"',
            'quantity = "transmitter.swr"',
            "about = 1",
            "within = 0.01",
        )


def _story(wishes: Wishes) -> Iterator[str]:
    """Three beats, told with live numbers."""
    last = "the transmitter sees its rated load" if wishes.tuner != "none" else "nothing changes any more"
    beats = (
        ("antenna reached", "5 s", "Key down: ${feed line.forward_in_w} set out toward the antenna."),
        ("first echo", "5 s", "The antenna takes ${antenna.power_w} so far. The rest turns back."),
        ("settled", "6 s", f"Echo upon echo, each weaker than the last, until {last}."),
    )
    yield from ("", "# The story of the film: up to which moment, how long that lasts in the film, and what the caption says.")
    for until, lasts, caption in beats:
        yield from ("[[beat]]", f"until = {_quoted(until)}", f"lasts = {_quoted(lasts)}", f"caption = {_quoted(caption)}", "")
    yield "# Caution: RF can burn at a few watts. Tune up at low power, never touch a line or an antenna in use, and transmit only with"
    yield "# a licence."
