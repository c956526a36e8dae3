"""Two stations in one film, on one clock and on the same scales: left and right in a wide frame, one above the other in a tall one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.errors import OptionError, Problem, ScenarioError
from bouncesim.scenario.narration import Cue
from bouncesim.show import heading
from bouncesim.show.blit import WIDE, Frame
from bouncesim.show.both import NAMES, Both, check_alike, stories
from bouncesim.show.card import Card
from bouncesim.show.differences import ITEMS, Differences, most_different
from bouncesim.show.ending import IntoLoad
from bouncesim.show.fronts import Fronts
from bouncesim.show.heading import pace_words, time_words
from bouncesim.show.layout import PLAYER_BOTTOM, PLAYER_TOP, TYPES, Layout, Rect, Shape, full_size, shape_of
from bouncesim.show.legend import Legend, notes
from bouncesim.show.live import Live
from bouncesim.show.panels import Caption, Captions
from bouncesim.show.picture import cover, plots
from bouncesim.show.reel import Reel
from bouncesim.show.scene import Ground, Look, Scene
from bouncesim.show.station import Arrows, AtSource, draw_station
from bouncesim.show.story import CARD_S, CLOSING_S
from bouncesim.show.text import set_in, shorten, width
from bouncesim.show.theme import CORNER
from bouncesim.show.track import lay_out_alike
from bouncesim.show.waves import Waves

NOWHERE: Rect = (0.0, 0.0, 0.0, 0.0)
GAP = 14.0
BADGE = 44.0  # px of a letter before a title


class PairStage(Reel):
    """The frames of a film of two stations. `draw(k)` brings `frame` to frame k of the story, whatever was drawn before."""

    def __init__(
        self,
        runs: tuple[Run, Run],
        verdicts: tuple[Verdict, Verdict] | None = None,
        *,
        look: Look | None = None,
        size: tuple[int, int] = WIDE,
        fps: int = 30,
        narration: tuple[Cue, ...] = (),
    ) -> None:
        """Raises OptionError for a frame or stations that do not go together, ScenarioError for words that do not fit."""
        look = look or Look()
        check_alike((runs[0].scenario, runs[1].scenario))
        shape, full = shape_of(size), full_size(size)
        if shape == "square":
            raise OptionError("A film of two stations is wide or tall; a square frame has no room for both.")
        self.runs, self.look, self.both = runs, look, Both((Live(runs[0]), Live(runs[1])))
        told = stories(runs, fps, CLOSING_S if verdicts is None else CARD_S, look.words, narration)
        self.story = told[0]
        self.frame = Frame(size, look.palette.background, full, look.clear)
        panel: Shape = "tall" if shape == "tall" else "square"
        captions = Captions(self.story, self.both, look.words, shape, TYPES[shape], full[0] - (96 if shape == "wide" else 72))
        titles = [Title(run, panel, (full[0] / 2 - 282) if shape == "wide" else full[0] - 96) for run in runs]
        boxes = _boxes(shape, full, max(title.height for title in titles), captions.height)
        layouts = tuple(Layout(panel, wave, NOWHERE, wave, NOWHERE, NOWHERE, boxes.caption) for wave in boxes.waves)
        tracks = lay_out_alike([run.scenario for run in runs], layouts, look.words)
        self.scenes = tuple(
            Scene(self.frame, layout, story, look, track, live, Fronts(track, live), self.both.full())
            for layout, track, live, story in zip(layouts, tracks, self.both.lives, told, strict=True)
        )
        self._draw_background(boxes, titles, shape)
        told_once = list(dict.fromkeys(note for live in self.both.lives for note in reversed(notes(live, look.words))))
        told_once.sort(key=lambda note: note != look.words("key_shortened"))  # the one that must be told comes first
        x, y, w, _ = boxes.legend
        Legend(self.scenes[0]).strip(x, y + 28 * TYPES[panel].unit, w, told_once, below=shape == "tall")
        self.waves: list[Waves] = []
        firsts = [self._station(scene) for scene in self.scenes]
        one, other = self.scenes
        items, columns = (ITEMS, 3) if shape == "wide" else (most_different(self.both.lives, 4), 2)
        Differences((one, other), boxes.table, items, columns)
        wide = Layout(shape, NOWHERE, NOWHERE, NOWHERE, NOWHERE, NOWHERE, boxes.caption)
        Caption(Ground(self.frame, wide, self.story, look), captions)
        for scene, run, verdict, first in zip(self.scenes, runs, verdicts or (), firsts, strict=False):
            cover(scene, Card(scene, run, verdict), first)

    def _draw_background(self, boxes: Boxes, titles: list[Title], shape: Shape) -> None:
        pad, palette = self.scenes[0].pad(), self.look.palette
        for rect in (*boxes.waves, boxes.table):
            pad.panel(*rect, palette.panel, palette.grid, CORNER)
        pad.panel(*boxes.caption, palette.panel, palette.axis, CORNER)
        for title, at, which, station in zip(titles, boxes.titles, NAMES, self.scenes, strict=True):
            title.draw(station, at, which)
        frame = Layout(shape, NOWHERE, boxes.clock, NOWHERE, NOWHERE, NOWHERE, NOWHERE)
        scene = Ground(self.frame, frame, self.story, self.look)
        x, y, w, _ = boxes.clock
        if shape == "wide":
            scene.number((x, y + 46, w), partial(time_words, scene), scene.type.clock, palette.text, bold=True, ha="center")
            scene.number((x, y + 86, w), partial(pace_words, scene), scene.type.small, palette.secondary, ha="center")
        else:
            scene.number((x, y + 48, 0.45 * w), partial(time_words, scene), scene.type.clock, palette.text, bold=True)
            scene.number((x + 0.45 * w, y + 48, 0.55 * w), partial(pace_words, scene), scene.type.small, palette.secondary, ha="right")

    def _station(self, scene: Scene) -> int:
        """One station with its waves; returns the number of its first region."""
        first = len(self.frame.regions)
        draw_station(scene)
        self.waves += plots(scene, 0.0)
        Arrows(scene)
        AtSource(scene)
        IntoLoad(scene)
        return first

    @property
    def poster(self) -> int:
        """The frame that stands for the film: half a second before it closes."""
        return max(self.story.closing - self.story.fps // 2, 0)


@dataclass(frozen=True)
class Boxes:
    """Where everything stands, px."""

    clock: Rect
    titles: tuple[Rect, Rect]
    waves: tuple[Rect, Rect]
    legend: Rect
    table: Rect
    caption: Rect


def _boxes(shape: Shape, full: tuple[float, float], title: float, caption: float) -> Boxes:
    w, h = full
    if shape == "wide":
        left, room = 48.0, w - 96.0
        half = (room - GAP) / 2
        bar = (left, h - 20 - caption, room, caption)
        table = (left, bar[1] - GAP - 238, room, 238.0)
        legend = (left + 12, table[1] - 46, room - 24, 40.0)
        top = 20 + max(title, 96.0) + 6
        waves = [(x, top, half, legend[1] - 4 - top) for x in (left, left + half + GAP)]
        names = [(left + 8, 20.0, w / 2 - 282, title), (w / 2 + 234, 20.0, w / 2 - 282, title)]
        return Boxes((w / 2 - 226, 20.0, 452.0, 96.0), (names[0], names[1]), (waves[0], waves[1]), legend, table, bar)
    left, room = 36.0, w - 72.0
    bar = (left, h - PLAYER_BOTTOM - caption, room, caption)
    table = (left, bar[1] - GAP - 276, room, 276.0)
    legend = (left + 12, table[1] - 88, room - 24, 80.0)
    top = PLAYER_TOP + 70
    each = (legend[1] - 4 - top - 2 * title - GAP) / 2
    names, waves = [], []
    for i in (0, 1):
        y = top + i * (title + each + GAP)
        names.append((left + 12, y, room - 24, title))
        waves.append((left, y + title + 4, room, each - 4))
    return Boxes((left + 12, PLAYER_TOP, room - 24, 70.0), (names[0], names[1]), (waves[0], waves[1]), legend, table, bar)


class Title:
    """A letter, the title of a station and its figures, set for the width that they have."""

    def __init__(self, run: Run, shape: Shape, room: float) -> None:
        """Raises ScenarioError for a title that cannot be set."""
        size = TYPES[shape]
        self.room = room
        plan = (
            (1, 36.0 * size.unit),
            (1, 32.0 * size.unit),
            (1, 29.0 * size.unit),
            (2, 29.0 * size.unit),
            (2, size.small),
            (3, size.small),
        )
        found = set_in(run.scenario.title, room - BADGE, plan, bold=True)
        if found is None:
            most = int(len(run.scenario.title) * 2.7 * room / width(run.scenario.title, size.small, True))
            raise ScenarioError(Problem("title", "is too long for half a frame", f"A title of about {most} characters fits"))
        self.lines, self.px = found
        self.small = size.small
        parts = heading.subtitle(run.scenario, run.readings.antenna.swr)
        self.under = shorten("  ·  ".join([parts[0], parts[-1]]), room - BADGE, size.small)
        self.height = (len(self.lines)) * 1.2 * self.px + 1.4 * size.small

    def draw(self, scene: Scene, at: Rect, which: str) -> None:
        """As background, its letter in a box."""
        pad, palette = scene.pad(), scene.palette
        x, y, _, _ = at
        pad.panel(x, y + 4, BADGE - 12, 1.15 * self.px, palette.panel, palette.text, 8, 2.5)
        pad.text(x + (BADGE - 12) / 2, y + 4 + 0.88 * self.px, which, self.small, palette.text, bold=True, ha="center")
        for i, line in enumerate(self.lines):
            pad.text(x + BADGE, y + (0.92 + 1.2 * i) * self.px, line, self.px, palette.text, bold=True)
        pad.text(x + BADGE, y + (0.2 + 1.2 * len(self.lines)) * self.px + 0.85 * self.small, self.under, self.small, palette.secondary)
