"""International Morse: marks and spaces of a text.

ITU-R M.1677-1: a dash is three dots long; one dot between the marks of a letter, three between letters, seven between words. The standard
word of 50 dots (that of words per minute) is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

DOTS_A_MINUTE = 50  # at one word a minute
WORD_SPACE = 7  # dots

_SIGNS = "abcdefghijklmnopqrstuvwxyz0123456789.,:?'-/()\"=+@"
_MARKS = (
    ".- -... -.-. -.. . ..-. --. .... .. .--- -.- .-.. -- -. --- .--. --.- .-. ... - ..- ...- .-- -..- -.-- --.. "
    "----- .---- ..--- ...-- ....- ..... -.... --... ---.. ----. "
    ".-.-.- --..-- ---... ..--.. .----. -....- -..-. -.--. -.--.- .-..-. -...- .-.-. .--.-."
)
_CODE = dict(zip(_SIGNS, _MARKS.split(), strict=True))


def unknown_letters(text: str) -> list[str]:
    """Those signs of a text that Morse does not have, each once, in order."""
    return list(dict.fromkeys(sign for sign in text.lower() if sign not in _CODE and not sign.isspace()))


def marks(text: str) -> Iterator[tuple[int, int]]:
    """When the key is down: (start, length) of every mark, in dots from the first one."""
    at = 0
    for word in text.lower().split():
        for letter in word:
            for sign in _CODE[letter]:
                length = 1 if sign == "." else 3
                yield at, length
                at += length + 1
            at += 2
        at += 4


def length_in_dots(text: str) -> int:
    """How long a text takes, with the space behind its last word, so that it can be repeated."""
    return max((start + length for start, length in marks(text)), default=0) + WORD_SPACE
