"""One station's picture in a rectangle of a frame: title, station and waves, meters, account, caption, and at the end the verdict.

A frame may hold several, each in its own rectangle and all on one clock.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.errors import Problem, ScenarioError
from bouncesim.show.blit import Frame, Region
from bouncesim.show.captions import check_captions
from bouncesim.show.card import Card
from bouncesim.show.ending import IntoLoad
from bouncesim.show.energy import Energy
from bouncesim.show.fronts import Fronts
from bouncesim.show.heading import Heading
from bouncesim.show.layout import TYPES, Rect, Shape, arrange
from bouncesim.show.legend import Legend
from bouncesim.show.letters import check_letters
from bouncesim.show.live import Live
from bouncesim.show.meters import Meters
from bouncesim.show.panels import Caption, Captions
from bouncesim.show.scene import Look, Scene
from bouncesim.show.station import Arrows, AtSource, draw_station
from bouncesim.show.story import Story
from bouncesim.show.theme import CORNER, VEIL
from bouncesim.show.track import lay_out
from bouncesim.show.waves import Waves, below

PLOT_EDGE = {"wide": 22.0, "tall": 20.0, "square": 16.0}  # px left under the last words of the wave panel
LEAST_PLOT = 80.0  # px of height under which a plot says nothing
PLOTS_APART = 22.0  # px between a plot of the voltage and one of the current


class Picture:
    """Everything that one run shows, added to a frame as background and regions."""

    def __init__(
        self,
        frame: Frame,
        area: Rect,
        shape: Shape,
        live: Live,
        story: Story,
        look: Look,
        verdict: Verdict | None = None,
        *,
        heading: bool = True,
        caption: bool = True,
    ) -> None:
        """Raises ScenarioError for a title or captions that do not fit, or captions that ask for what the run does not have."""
        run: Run = live.run
        check_captions(story.shots, live)
        check_letters(run.scenario, tuple(shot.caption for shot in story.shots), look.words)
        first = len(frame.regions)
        size = TYPES[shape]
        draft = arrange(area, shape, 0.0, 0.0)
        captions = Captions(story, live, look.words, shape, size, draft.caption[2]) if caption else None
        head = Heading(run, look.words, shape, size, draft.heading[2]) if heading else None
        layout = arrange(area, shape, head.height if head else 0.0, captions.height if captions else 0.0)
        track = lay_out(run.scenario, layout, look.words)
        self.scene = Scene(frame, layout, story, look, track, live, Fronts(track, live))
        self._panels(captions is not None)
        if head:
            head.draw(self.scene)
        draw_station(self.scene)
        self.waves = plots(self.scene)
        Arrows(self.scene)
        AtSource(self.scene)
        IntoLoad(self.scene)
        Meters(self.scene)
        Energy(self.scene)
        if captions:
            Caption(self.scene, captions)
        if verdict is not None:
            cover(self.scene, Card(self.scene, run, verdict), first)

    def _panels(self, caption: bool) -> None:
        pad, palette, layout = self.scene.pad(), self.scene.palette, self.scene.layout
        face = palette.panel + (VEIL if self.scene.look.clear else "")
        for rect in (layout.wave, layout.meters, layout.account):
            pad.panel(*rect, face, palette.grid, CORNER)
        _, y, _, h = layout.heading
        if self.scene.look.clear and h:  # else the title stands on the ground itself
            pad.panel(layout.wave[0], y - 10, layout.wave[2], h + (12 if layout.is_wide else 16), face, palette.grid, CORNER)
        if caption:
            pad.panel(*layout.caption, face, palette.axis, CORNER)


def plots(scene: Scene, under: float | None = None) -> list[Waves]:
    """One plot, or two one over the other; the figures along the lines stand under the lower one, and the legend where it has room.

    `under`: px left below the figures instead of a legend. Raises ScenarioError where the waves have no room.
    """
    legend = Legend(scene)
    words = below(scene)
    bottom = (
        scene.layout.wave[1] + scene.layout.wave[3] - PLOT_EDGE[scene.layout.shape] - words - (legend.height if under is None else under)
    )
    quantities = scene.look.quantities
    high = (bottom - scene.track.plot_top - PLOTS_APART * (len(quantities) - 1)) / len(quantities)
    if high < LEAST_PLOT / len(quantities) * scene.type.unit:
        reason = f"title, captions and parts leave no room for the waves in a {scene.layout.shape} frame"
        raise ScenarioError(Problem("title", reason, "Shorten the title and the longest caption, or choose another shape"))
    found = []
    for i, quantity in enumerate(quantities):
        top = scene.track.plot_top + i * (high + PLOTS_APART)
        found.append(Waves(scene, quantity, top, top + high))
    found[-1].distances(scene.pad())
    if under is None:
        legend.draw(bottom + words)
    return found


def cover(scene: Scene, card: Card, first: int) -> None:
    """While the card, the last region of the frame, is shown, nothing under it is; `first` is the number of the picture's first region."""
    regions = scene.frame.regions
    x, y, w, h = scene.layout.wave
    for region in regions[first:-1]:
        if y < region.rect[1] and region.rect[1] + region.rect[3] < y + h and x - 4 <= region.rect[0] < x + w:
            _hide_under(region, card.shown)
    regions[-1].when = card.shown


def _hide_under(region: Region, covered: Callable[[int], bool]) -> None:
    key = region.key

    def hidden_key(k: int) -> Hashable:
        return "covered" if covered(k) else key(k)

    region.key = hidden_key
    region.when = lambda k: not covered(k)
