"""The frames of a film of one station."""

from __future__ import annotations

import numpy as np

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.scenario.model import Scenario
from bouncesim.show import heading
from bouncesim.show.blit import WIDE, Frame
from bouncesim.show.layout import full_size, shape_of
from bouncesim.show.live import Live
from bouncesim.show.picture import Picture
from bouncesim.show.reel import Reel
from bouncesim.show.scene import Look
from bouncesim.show.story import CARD_S, CLOSING_S, Story, tell


class Stage(Reel):
    """A film's picture. `draw(k)` brings `frame` to frame k of the story, whatever was drawn before."""

    def __init__(
        self,
        run: Run,
        verdict: Verdict | None = None,
        *,
        look: Look | None = None,
        theme: str = "dark",
        size: tuple[int, int] = WIDE,
        fps: int = 30,
    ) -> None:
        """Without a `look`, the usual one in a theme. Raises OptionError for a size that cannot be drawn and ScenarioError for beats that
        this run cannot tell."""
        look = look or Look(theme)
        shape, full = shape_of(size), full_size(size)
        self.run, self.look, self.palette = run, look, look.palette
        self.live = Live(run)
        self.story: Story = tell(run, fps, CLOSING_S if verdict is None else CARD_S, look.words)
        self.frame = Frame(size, look.palette.background, full, look.clear)
        self.picture = Picture(self.frame, (0.0, 0.0, *full), shape, self.live, self.story, look, verdict)
        self.track = self.picture.scene.track
        self.layout = self.picture.scene.layout
        self.waves = self.picture.waves[0]

    @property
    def poster(self) -> int:
        """The frame that stands for the film: half a second before the end of the beat that holds the middle of the story."""
        middle = self.story.shot[self.story.closing // 2]
        end = int(np.flatnonzero(self.story.shot[: self.story.closing] == middle)[-1])
        return max(end - self.story.fps // 2, 0)


def subtitle(scenario: Scenario, swr: float) -> str:
    """The station in figures, on one line."""
    return "  ·  ".join(heading.subtitle(scenario, swr))
