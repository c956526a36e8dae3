"""Keys, and Morse against Recommendation ITU-R M.1677-1 (2009; the code and its spacing, from memory)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bouncesim.scenario import Keying
from bouncesim.scenario.morse import length_in_dots, marks, unknown_letters

CODE = {
    "a": ".-", "b": "-...", "c": "-.-.", "d": "-..", "e": ".", "f": "..-.", "g": "--.", "h": "....", "i": "..", "j": ".---", "k": "-.-",
    "l": ".-..", "m": "--", "n": "-.", "o": "---", "p": ".--.", "q": "--.-", "r": ".-.", "s": "...", "t": "-", "u": "..-", "v": "...-",
    "w": ".--", "x": "-..-", "y": "-.--", "z": "--..",
    "1": ".----", "2": "..---", "3": "...--", "4": "....-", "5": ".....", "6": "-....", "7": "--...", "8": "---..", "9": "----.",
    "0": "-----",
    ".": ".-.-.-", ",": "--..--", ":": "---...", "?": "..--..", "'": ".----.", "-": "-....-", "/": "-..-.", "(": "-.--.", ")": "-.--.-",
    '"': ".-..-.", "=": "-...-", "+": ".-.-.", "@": ".--.-.",
}  # fmt: skip
WORDS = st.lists(st.text(st.sampled_from(sorted(CODE)), min_size=1, max_size=6), min_size=1, max_size=4)


def heard(text: str) -> str:
    """The text again, as someone hears it who knows the spacing: one dot within a letter, three between letters, seven between words."""
    letters, words, letter, end = {sign: key for key, sign in CODE.items()}, [""], "", None
    for start, length in marks(text):
        if end is not None and start - end > 1:
            words[-1] += letters[letter]
            letter = ""
            assert start - end in (3, 7)
            if start - end == 7:
                words.append("")
        letter += {1: ".", 3: "-"}[length]
        end = start + length
    return " ".join([*words[:-1], words[-1] + letters[letter]])


def test_the_standard_word() -> None:
    """PARIS with the space behind it is 50 dots (common practice, no source); the key is down for 22 of them."""
    assert length_in_dots("paris") == 50
    assert sum(length for _, length in marks("PARIS")) == 22


def test_times_by_hand() -> None:
    assert list(marks("et a")) == [(0, 1), (4, 3), (14, 1), (16, 3)]
    assert length_in_dots("et a") == 26
    assert list(marks(" E  ")) == [(0, 1)]
    assert length_in_dots("e") == 8


@given(WORDS)
def test_every_text_can_be_read_back(words: list[str]) -> None:
    assert heard(" ".join(words)) == " ".join(words)
    assert unknown_letters(" ".join(words).upper()) == []
    whole = length_in_dots(" ".join(words))
    assert whole == sum(length_in_dots(word) for word in words)  # each with the space behind it


def test_what_has_no_morse() -> None:
    assert unknown_letters("Grün #1 #2 %\t") == ["ü", "#", "%"]


def test_length_of_a_dot() -> None:
    """1.2 s over the words a minute: 60 ms at 20, 100 ms at 12."""
    fields = {"shape": "morse", "rise_s": 5e-3, "text": "test"}
    assert Keying(**fields, words_per_minute=12.0).dot_length_s == pytest.approx(0.1, rel=1e-15)
    assert Keying(**fields, words_per_minute=20.0).dot_length_s == pytest.approx(0.06, rel=1e-15)
    assert Keying(**fields, dot_s=0.05).dot_length_s == 0.05


def test_keys_that_are_good() -> None:
    assert Keying(shape="pulse", width_s=2e-8).rise_s == 0.0
    Keying(shape="morse", rise_s=30e-3, text="test", dot_s=0.06)
    Keying(shape="step")
