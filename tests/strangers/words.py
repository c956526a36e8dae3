"""What a stranger may write in the place of a word or a number."""

from __future__ import annotations

import random

from tests.show.report.samples import HOSTILE

NUMBERS = (
    *("0", "-0.0", "1", "-1", "0.5", "1e-320", "5e-324", "1e-300", "1e-30", "1e-9", "1e9", "1e30", "1e300", "1e308", "-1e308", "1e999"),
    *("nan", "inf", "-inf", "+inf", "9" * 40, "9" * 400, "9" * 5000, "0x7fffffffffffffff", "0b1", "1_000", "01", "1.", ".5", "1e", "true"),
    *("1979-05-27T07:32:00Z", "07:32:00", "[]", "{}", "[[[]]]", '""', "1,5"),
)
UNITS = (
    *("Hz", "kHz", "MHz", "GHz", "W", "kW", "mW", "pW", "V", "A", "ohm", "kohm", "Mohm", "m", "mm", "km", "ft", "s", "ms", "us", "ns"),
    *("H", "uH", "pH", "F", "pF", "nF", "dB", "Np", "dB/100 m", "dB/m", "ohm/m", "uH/m", "pF/m", "S/m", "furlong", "", "%"),
)
FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "=cmd|' /C calc'!A0", "\t=1+1")
MARKS = (
    *("\x00", "\x07", "\x08", "\x1b[2J", "\x1b]0;owned\x07", "\x7f", "\x85", "\x9b31m", "\xad", "\u034f", "\u061c", "\u115f", "\u180e"),
    *("\u200b", "\u200d", "\u200e", "\u2028", "\u2029", "\u202a", "\u202e", "\u2060", "\u2066", "\u2069", "\u3164", "\ufe0f", "\ufeff"),
    *("\ufff9", "\uffff", "\U000e0041", "\U0010ffff", "\n", "\r", "\r\n", "\t", "\v", "\f", "\u00a0", "e" + "\u0301" * 90, "\ud7ff"),
)
WORDS = (
    *HOSTILE,
    *FORMULAS,
    *("", " ", "-", "-y", "--help", "-i /etc/passwd", "title=x;y=\\#\n", "metadata:s:v", "%s%n%d", "{0.__class__}", "${", "${}", "${x}"),
    *("$\\frac{$", "$x^2$", "\\alpha $\\sum_{", "a_b^c", "${antenna.power_w}", "${antenna.power_w", "$${time}$$", "${time.real.real}"),
    *("../x", "/dev/zero", "/etc/passwd", "C:\\x", "a\\b", "nul", "CON", ".", "..", "a/../../b", "~", "pipe", "out", "big", "x" * 30),
    *("x" * 121, "x" * 5000, "ab " * 80, "漢字", "שלום", "مرحبا", "👩‍👩‍👧", "🎉", "ﷺ" * 20, "Z̷a̸l̵g̶o̴", "ⅷ", "½", "١٢٣ MHz", "７ MHz"),
    *("key down", "settled", "first echo", "round trip 1", "round trip 9999", "round trip 0", "antenna", "transmitter", "echoes", "time"),
)


def odd_word(chance: random.Random) -> str:
    """A word that nobody expects; now and then with a mark that cannot be seen, or one of any letters."""
    if chance.random() < 0.3:
        return "".join(
            chr(chance.choice((chance.randrange(128), chance.randrange(0xD800), chance.randrange(0xE000, 0x110000)))) for _ in range(9)
        )
    word = chance.choice(WORDS)
    if chance.random() < 0.3:
        place = chance.randrange(len(word) + 1)
        word = word[:place] + chance.choice(MARKS) + word[place:]
    return word


def odd_number(chance: random.Random) -> str:
    """A number of any size, or what is none."""
    if chance.random() < 0.5:
        return chance.choice(NUMBERS)
    return f"{chance.choice(('', '', '-'))}{chance.uniform(1, 10):.{chance.randrange(6)}f}e{chance.randrange(-30, 31)}"


def odd_quantity(chance: random.Random) -> str:
    """A number with a unit, which may not be its own."""
    number, other = odd_number(chance), odd_number(chance)
    imaginary = chance.choice(("", "", "", f" + {other}j", f" - j{other}"))
    return f"{number}{imaginary}{chance.choice(('', ' ', '  '))}{chance.choice(UNITS)}"
