"""The panels of words: clock and caption."""

from __future__ import annotations

from collections.abc import Hashable

from bouncesim.show.blit import Frame, Region
from bouncesim.show.captions import SAFETY, fill
from bouncesim.show.layout import CAPTION, CLOCK
from bouncesim.show.live import Live
from bouncesim.show.numbers import prefix_for, slowed
from bouncesim.show.story import Story
from bouncesim.show.text import fit
from bouncesim.show.theme import CAPTION as CAPTION_SIZE
from bouncesim.show.theme import HEADER, INSET, TITLE, Palette


def inner(rect: tuple[float, float, float, float], edge: float = 6.0) -> tuple[float, float, float, float]:
    """A region that leaves its panel's border alone."""
    x, y, w, h = rect
    return x + edge, y + edge, w - 2 * edge, h - 2 * edge


class Clock:
    """Time since key-down and how much slower than life it passes."""

    def __init__(self, frame: Frame, story: Story, palette: Palette) -> None:
        self.story = story
        x, y, w, _ = CLOCK
        frame.words((x, y + 52, w - 22), self.time, TITLE, palette.text, bold=True, ha="right")
        frame.words((x, y + 94, w - 22), self.pace, HEADER, palette.secondary, ha="right")

    def time(self, k: int) -> str:
        return f"t = {clock(float(self.story.time_s[self.story.clock_frame(k)]))}"

    def pace(self, k: int) -> str:
        k = self.story.clock_frame(k)
        words = slowed(float(self.story.pace[k]))
        return f"time-lapse, {words}" if self.story.lapse[k] else words


def clock(t: float) -> str:
    """A time with its unit, to the tenth under 1 microsecond and to the hundredth above."""
    factor, letter = prefix_for(max(t, 1e-9))
    return f"{t / factor:.{1 if factor < 2e-9 else 2}f} {letter}s"


class Caption:
    """The beat's caption in its bar, with live numbers; the caution while the film closes."""

    def __init__(self, frame: Frame, live: Live, story: Story, palette: Palette) -> None:
        self.live, self.story = live, story
        pad = frame.add(Region(inner(CAPTION), self._key, self._update))
        middle = CAPTION[0] + CAPTION[2] / 2
        self.lines = [pad.text(middle, 0, "", CAPTION_SIZE, palette.text, ha="center") for _ in (0, 1)]

    def words(self, k: int) -> str:
        """The caption of frame k."""
        if k >= self.story.closing:
            return SAFETY
        t = float(self.story.time_s[self.story.clock_frame(k)])
        return fill(self.story.shots[int(self.story.shot[k])].caption, self.live, t)

    def _key(self, k: int) -> Hashable:
        return self.words(k)

    def _update(self, k: int) -> None:
        lines, size = fit(self.words(k), CAPTION[2] - 2 * INSET, (CAPTION_SIZE, 35, 32), (30, 28, 26, 24))
        middle = CAPTION[1] + CAPTION[3] / 2 + 0.36 * size
        spread = 0.0 if len(lines) == 1 else 0.6 * size
        for text, words, offset in zip(self.lines, [*lines, ""], (-spread, spread), strict=False):
            text.set_text(words)
            text.set_fontsize(size)
            text.set_y(middle + offset)
