"""Command lines as a stranger may type them: every command with options drawn at random, good values mixed with whatever else there is."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

from tests.strangers.words import odd_number, odd_quantity, odd_word

Drawn = Callable[[random.Random], list[str]]
SPOILT = 0.1  # share of the values that are anything at all
TYPES = ("rg58c", "rg213", "open-wire-2mm", "rg58", "RG213", "")
BANDS = ("160 m", "40 m", "20 m", "70 cm", "11 m")
FRESH = "typed"  # folder in which commands may write files of any name


def _one(*good: str) -> Drawn:
    """One of these words, or something else altogether."""

    def draw(chance: random.Random) -> list[str]:
        if chance.random() >= SPOILT:
            return [chance.choice(good)]
        return [chance.choice((odd_word, odd_number, odd_quantity))(chance).replace("\0", "")]  # which no system lets through

    return draw


def _measure(unit: str, least: float = -3, most: float = 3) -> Drawn:
    """A quantity of a unit, its size a power of ten between these, or something else."""

    def draw(chance: random.Random) -> list[str]:
        if chance.random() < SPOILT:
            return [odd_quantity(chance) if chance.random() < 0.5 else f"{odd_number(chance)} {unit}".strip()]
        return [f"{10 ** chance.uniform(least, most):.4g} {unit}".strip()]

    return draw


def _impedance(chance: random.Random) -> list[str]:
    if chance.random() < SPOILT:
        return [odd_quantity(chance)]
    return [f"{10 ** chance.uniform(-1, 4):.3g} {chance.choice('+-')} {10 ** chance.uniform(-1, 4):.3g}j ohm"]


def _powers(chance: random.Random) -> list[str]:
    """A forward and a reflected reading."""
    forward = 10 ** chance.uniform(-2, 4)
    if chance.random() < SPOILT:
        return [*_measure("W")(chance), *_measure("W")(chance)]
    return [f"{forward:.3g} W", f"{forward * chance.uniform(0, 1.1):.3g} W"]


def _flag(chance: random.Random) -> list[str]:
    return []


def _file(chance: random.Random) -> list[str]:
    """A new file of any name, in a folder of its own."""
    name = odd_word(chance).replace("/", "_").replace("\0", "")[:40] if chance.random() < 0.5 else "fresh.toml"
    return [f"{FRESH}/{name or 'x'}"]


WATTS, PERCENT, MANY = _measure("W"), _measure("", -1, 2), _measure("", 0, 3)
ASKED: dict[str, Drawn] = {
    **{"--band": _one(*BANDS), "--at": _measure("MHz", -2, 3), "--region": _one("1", "2", "3", "0"), "--json": _flag},
    **{"--output": lambda chance: ["out"], "--format": _one("png", "svg"), "--theme": _one("dark", "light")},
}
RATINGS: dict[str, Drawn] = {
    **{"--line-voltage": _measure("V", 0, 4), "--capacitor-voltage": _measure("V", 0, 4)},
    **{"--line-current": _measure("A", -1, 2), "--coil-current": _measure("A", -1, 2)},
}
METERS: dict[str, Drawn] = {"--full-scale": WATTS, "--class": PERCENT, "--directivity": _measure("dB", 0, 2)}
FRACTION = 0.3  # of its options, one command line has about so many
ALMOST = 0.97  # how often an option is there that a command cannot do without

# the options of each command, by name; those that need the file of a scenario first
WITH_SCENARIO: dict[str, dict[str, Drawn]] = {
    "open-wire": {**ASKED, **RATINGS, "--coax": _one(*TYPES), "--wire": _one(*TYPES)},
    "bands": {**ASKED, **RATINGS},
    "match": {
        **{"--at": _measure("MHz", -1, 3), "--tuner": _one("tuner", "mast tuner"), "--all": _flag, "--json": _flag},
        **{"--coil-q": MANY, "--capacitor-q": MANY, "--largest-coil": _measure("uH", -2, 3), "--largest-capacitor": _measure("pF", 0, 4)},
        **{"--smallest-capacitor": _measure("pF", 0, 3), "--take": _one("1", "2", "0", "999"), "--write": _file},
    },
    "demonstrate": {
        **{"--effect": _one("above", "flat", "place"), "--region": _one("1", "2", "3"), "--band": _one("40 m", "20 m", "", "1 m")},
        **{"--at": _measure("MHz", -1, 3), "--power": WATTS, "--markdown": _flag, "--json": _flag, **METERS},
    },
}
EXPLAIN: dict[str, Drawn] = {
    **{"--at-transmitter": _powers, "--on-line": _powers, "--at-antenna": _powers, "--power": WATTS, "--power-within": PERCENT},
    **{"--matched-loss": _measure("dB", -2, 2), "--matched-loss-within": PERCENT, "--no-tuner": _flag, **METERS},
    **{"--markdown": _flag, "--json": _flag},
}
ALONE: dict[str, dict[str, Drawn]] = {
    "explain": EXPLAIN,
    "which-cable": {**ASKED, "--length": _measure("m", -1, 4), "--swr": MANY, "--antenna": _impedance, "--power": WATTS},
    "swr-limit": {**ASKED, "--length": _measure("m", -1, 4), "--added": _measure("dB", -3, 2), "--total": _measure("dB", -3, 2)},
    "lines": {"--at": _measure("MHz", -2, 3), "--length": _measure("m", -1, 4), "--json": _flag},
    "new": {
        **{
            "--title": _one("A title", 'A "title"'),
            "--frequency": _measure("MHz", -1, 3),
            "--power": WATTS,
            "--length": _measure("m", -1, 3),
        },
        **{"--line": _one(*TYPES, "50 ohm, 0.82, 2.4 dB/100 m", "450 ohm, 0.9, 0 dB/m", ",,", "50 ohm")},
        **{"--antenna": _one("75 + 58j ohm", "SWR 2.6", "dipole 20.2 m", "loaded-vertical.s1p", "SWR", "pipe", "SWR nan")},
        "--tuner": _one("L", "pi", "T", "none"),
    },
    "schema": {},
}
NAMED: dict[str, Drawn] = {  # what always stands behind a command
    "which-cable": _one(*TYPES[:3]),
    "swr-limit": _one(*TYPES[:3]),
    "lines": _one(*TYPES[:3]),
    "new": _file,
    "schema": lambda chance: ["--output", *_file(chance)],  # without it, it prints the same whatever is typed
}
NEEDED = {"which-cable": ("--length",), "swr-limit": ("--length",), "explain": ("--on-line",)}


def with_options(name: str, chance: random.Random) -> list[str]:
    """The options of a command that works on a scenario."""
    return list(_options(WITH_SCENARIO[name], (), chance))


def explained(chance: random.Random) -> list[str]:
    """Readings to be explained beside a scenario."""
    return list(_options({**EXPLAIN, "--at": _measure("MHz", -1, 3)}, ("--on-line",), chance))


def alone(chance: random.Random) -> list[str]:
    """A command line that needs no scenario."""
    name = chance.choice(list(ALONE))
    count = {"which-cable": chance.choice((0, 1, 2, 3, 9)), "lines": chance.choice((0, 1, 2))}.get(name, 1)
    words = [word for _ in range(count) for word in NAMED[name](chance)] if name in NAMED else []
    if chance.random() < 0.03:
        words.append(odd_word(chance).replace("\0", ""))
    return [name, *words, *_options(ALONE[name], NEEDED.get(name, ()), chance)]


def _options(known: dict[str, Drawn], needed: tuple[str, ...], chance: random.Random) -> Iterator[str]:
    for option, draw in known.items():
        if chance.random() < (ALMOST if option in needed else FRACTION):
            yield from (option, *draw(chance))
