"""The key: how the carrier's envelope rises."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from bouncesim.quantity import show
from bouncesim.scenario.base import Conflict, Frozen, misplaced
from bouncesim.scenario.measured import Measured
from bouncesim.scenario.morse import DOTS_A_MINUTE, length_in_dots, marks, unknown_letters

SHORTENED_S = 1e-3  # a key that rises faster is said to be shortened: a real one takes about 5 ms (common practice, no source)
USUAL_WORDS_PER_MINUTE = 20.0


class Keying(Frozen):
    """How the carrier's envelope rises from nothing; `rise_s` is the whole rise, 0 for a step.

    morse: `text` in dots and dashes whose edges are raised cosines; the readings are those of the key held down. pulse: no carrier, one
    raised-cosine pulse of the EMF, `width_s` from foot to foot, to look for faults with.
    """

    shape: Literal["step", "linear", "raised-cosine", "morse", "pulse"] = "raised-cosine"
    rise_s: Annotated[float, Measured("time", least=0, most=1.0)] = Field(default=0.0, validation_alias="rise")
    text: str = Field(default="", max_length=200)
    words_per_minute: Annotated[float, Measured(above=0, most=1e9, example="20")] | None = None
    dot_s: Annotated[float, Measured("time", above=0, most=1.0, example="60 ms")] | None = Field(default=None, validation_alias="dot")
    width_s: Annotated[float, Measured("time", above=0, most=1.0, example="20 ns")] | None = Field(default=None, validation_alias="width")

    @property
    def carrier_until_s(self) -> float:
        """When the carrier first goes off of itself, s: of a text after its first mark; a pulse has none; of any other key never."""
        if self.shape == "pulse":
            return 0.0
        return next(marks(self.text))[1] * self.dot_length_s if self.shape == "morse" else math.inf

    @property
    def dot_length_s(self) -> float:
        """Length of a dot; 50 dots make the standard word."""
        if self.dot_s is not None:
            return self.dot_s
        return 60 / (DOTS_A_MINUTE * (self.words_per_minute or USUAL_WORDS_PER_MINUTE))

    @property
    def duty(self) -> float:
        """Mean of the envelope squared over a text, the space behind its last word included: the share of the key-down power that is its
        average power. An edge in raised cosine has 3/8 of its length in it, so a mark of length L with edges of length r has L - r/4.
        1 for other keys, which stay down; a pulse has no carrier."""
        if self.shape != "morse":
            return 1.0
        lengths = [length * self.dot_length_s - self.rise_s / 4 for _, length in marks(self.text)]
        return sum(lengths) / (length_in_dots(self.text) * self.dot_length_s)

    @property
    def is_shortened(self) -> bool:
        """True where the edges are quicker than those of any real key, so that one can see what happens. A pulse is no key."""
        return self.shape != "pulse" and self.rise_s < SHORTENED_S

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """A step has no rise; the other shapes need one; text and width belong to one shape each."""
        shape, rise = given.get("shape", "raised-cosine"), given.get("rise_s")
        if shape in ("step", "pulse") and rise:
            other = "" if shape == "pulse" else ', or choose shape = "raised-cosine"'
            yield "rise", f"a {shape} has no rise, but {show(rise, 's')} is given", f'Leave "rise" out{other}'
        if shape in ("linear", "raised-cosine", "morse") and not rise:
            reason = "is missing" if rise is None else f"a {shape} rise of 0 s is a step"
            whole = "Give the time of the whole rise, for example"
            yield "rise", reason, f'{whole} "5 ms"' if shape == "morse" else f'{whole} "4 us", or write shape = "step"'
        if shape == "pulse" and not given.get("width_s"):
            yield "width", "is missing", 'Give the width of the pulse from foot to foot, for example "20 ns"'
        yield from misplaced(given, "shape", shape, _OWNERS)
        if shape == "morse":
            yield from cls._morse(given, rise)

    @classmethod
    def _morse(cls, given: Mapping[str, Any], rise: float | None) -> Iterator[Conflict]:
        text, speed, dot = given.get("text", ""), given.get("words_per_minute"), given.get("dot_s")
        unknown = unknown_letters(text) if isinstance(text, str) else []
        if isinstance(text, str) and not text.strip():
            yield "text", "is missing", 'Give what is sent, for example text = "test"'
        elif unknown:
            yield "text", f"has no Morse for {', '.join(unknown)}", "Allowed: letters, figures and the marks . , : ? ' - / ( ) \" = + @"
        if bool(speed) == bool(dot):
            reason = "is missing" if not speed else "the speed is given in two ways"
            yield "words_per_minute", reason, 'Give one of words_per_minute = 20 and dot = "60 ms"'
            return
        length = dot if dot else 60 / (DOTS_A_MINUTE * (speed or math.nan))
        if rise and rise > length / 2:
            yield "rise", f"{show(rise, 's')} is more than half of a dot, {show(length, 's')}", "Shorten it, or key more slowly"


_OWNERS = {  # of the fields that only one shape has
    "text": ("text", ("morse",)),
    "words_per_minute": ("words_per_minute", ("morse",)),
    "dot_s": ("dot", ("morse",)),
    "width_s": ("width", ("pulse",)),
}
