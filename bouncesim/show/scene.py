"""What every part of one station's picture needs to know, and how a viewer wants it to look."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

from bouncesim.errors import OptionError
from bouncesim.show.blit import Frame, Pad, Region
from bouncesim.show.fronts import Fronts
from bouncesim.show.layout import Layout, Rect, Type
from bouncesim.show.live import Live
from bouncesim.show.story import Story
from bouncesim.show.theme import PALETTES, Palette
from bouncesim.show.track import Track
from bouncesim.show.words import ENGLISH, Words

Quantity = Literal["voltage", "current", "both"]
T = TypeVar("T")
CURVES = ("total", "forward", "reflected", "largest")
QUANTITIES = ("voltage", "current", "both")


@dataclass(frozen=True)
class Look:
    """What is drawn and how: theme, curves that are left out, voltage or current along the lines, words, a ground that lets through.

    Raises OptionError for what does not exist.
    """

    theme: str = "dark"
    hidden: frozenset[str] = frozenset()  # of CURVES
    quantity: str = "voltage"
    words: Words = field(default=ENGLISH)
    clear: bool = False

    def __post_init__(self) -> None:
        for found, known, what in (
            ({self.theme}, PALETTES, "theme"),
            (set(self.hidden), CURVES, "curve"),
            ({self.quantity}, QUANTITIES, "quantity"),
        ):
            if wrong := sorted(found - set(known)):
                raise OptionError(f"There is no {what} {wrong[0]!r}; use one of {', '.join(known)}.")
        if set(CURVES) <= self.hidden:
            raise OptionError("With every curve left out there is nothing to see.")

    @property
    def palette(self) -> Palette:
        return PALETTES[self.theme]

    @property
    def quantities(self) -> tuple[str, ...]:
        return ("voltage", "current") if self.quantity == "both" else (self.quantity,)

    def shows(self, curve: str) -> bool:
        """Whether a curve is drawn."""
        return curve not in self.hidden


@dataclass(frozen=True)
class Ground:
    """What every part of a picture needs: where it is drawn, on what story's clock, and how a viewer wants it to look."""

    frame: Frame
    layout: Layout
    story: Story
    look: Look

    @property
    def palette(self) -> Palette:
        return self.look.palette

    @property
    def words(self) -> Words:
        return self.look.words

    @property
    def type(self) -> Type:
        return self.layout.type

    def now(self, k: int) -> float:
        """The station's time (s) that the numbers of frame k tell."""
        return float(self.story.time_s[self.story.clock_frame(k)])

    def pad(self) -> Pad:
        """What never changes is drawn with this."""
        return Pad(self.frame.axes, stroke=self.layout.stroke)

    def region(self, rect: Rect, key: Callable[[int], Hashable], update: Callable[[int], None]) -> Pad:
        """A region of the frame that is drawn anew when its key changes; what is in it is drawn with the pad that is given back."""
        return self.frame.add(Region(rect, key, update), self.layout.stroke)

    def ticking(self, found: Callable[[int], T]) -> Callable[[int], T]:
        """The same of a frame, asked anew only when the clock changes."""
        told: dict[int, T] = {}  # of the last tick

        def tick(k: int) -> T:
            k = self.story.clock_frame(k)
            if k not in told:
                told.clear()
                told[k] = found(k)
            return told[k]

        return tick

    def number(self, box: tuple[float, float, float], words: Callable[[int], str], size: float, color: str, **style: Any) -> Region:
        """One line of live text that changes when the clock does; `box` is its left edge, its baseline and its width."""
        return self.frame.words(box, self.ticking(words), size, color, **style)


@dataclass(frozen=True)
class Scene(Ground):
    """One station in its rectangle of a frame."""

    track: Track
    live: Live
    fronts: Fronts
    full: Mapping[str, float] = field(default_factory=dict)  # ends of scales that pictures share: "voltage" (V), "current" (A), "power" (W)
