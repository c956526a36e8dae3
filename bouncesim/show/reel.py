"""What every film is made of: a frame that can be brought to each moment of a story."""

from __future__ import annotations

from abc import ABC, abstractmethod

from bouncesim.show.blit import Frame
from bouncesim.show.story import Story


class Reel(ABC):
    """Frames to be filmed: `draw(k)` brings the frame to frame k of the story."""

    frame: Frame
    story: Story

    def __len__(self) -> int:
        return len(self.story)

    def draw(self, k: int) -> list[tuple[int, int, int, int]]:
        """Draw frame k; returns the rectangles (x0, y0, x1, y1; px) that changed."""
        return self.frame.draw(k)

    @property
    @abstractmethod
    def poster(self) -> int:
        """The frame that stands for the film."""
