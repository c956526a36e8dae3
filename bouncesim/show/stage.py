"""One frame of the film, put together: title, station and waves, meters, account, caption, and at the end the verdict."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.errors import OutputError
from bouncesim.scenario.model import Scenario
from bouncesim.show.blit import WIDE, Frame, Pad, Region
from bouncesim.show.captions import check_captions
from bouncesim.show.card import Card
from bouncesim.show.energy import Energy
from bouncesim.show.fronts import Fronts
from bouncesim.show.layout import ACCOUNT, CAPTION, CLOCK, EDGE, METERS, PLOT_TOP, TITLE_X, WAVE, lay_out
from bouncesim.show.live import Live
from bouncesim.show.meters import Meters
from bouncesim.show.numbers import impedance, plain, rated, ratio, reading
from bouncesim.show.panels import Caption, Clock
from bouncesim.show.station import Arrows, draw_station
from bouncesim.show.story import CARD_S, CLOSING_S, Story, tell
from bouncesim.show.text import fit
from bouncesim.show.theme import CORNER, HEADER, PALETTES, SMALL, TITLE, Palette
from bouncesim.show.waves import Waves


class Stage:
    """A film's picture. `draw(k)` brings `frame` to frame k of the story, whatever was drawn before."""

    def __init__(
        self, run: Run, verdict: Verdict | None = None, *, theme: str = "dark", size: tuple[int, int] = WIDE, fps: int = 30
    ) -> None:
        """Raises OutputError for a size that is not wide (16:9, even) and ScenarioError for beats that this run cannot tell."""
        check_size(size)
        palette = PALETTES[theme]
        self.run, self.palette = run, palette
        self.live = Live(run)
        self.story: Story = tell(run, fps, CLOSING_S if verdict is None else CARD_S)
        check_captions(self.story.shots, self.live)
        self.frame = Frame(size, palette.background)
        self.track = lay_out(run.scenario)
        pad = Pad(self.frame.axes)
        for rect in (WAVE, METERS, ACCOUNT):
            pad.panel(*rect, palette.panel, palette.grid, CORNER)
        pad.panel(*CAPTION, palette.panel, palette.axis, CORNER)
        _heading(pad, run.scenario, run.readings.antenna.swr, palette)
        draw_station(pad, self.track, palette)
        Clock(self.frame, self.story, palette)
        fronts = Fronts(self.track, self.live)
        self.waves = Waves(self.frame, self.track, fronts, self.live, self.story, palette)
        Arrows(self.frame, self.track, fronts, self.live, self.story, palette)
        self._into_antenna()
        Meters(self.frame, self.live, self.story, palette)
        Energy(self.frame, self.live, self.story, palette)
        Caption(self.frame, self.live, self.story, palette)
        if verdict is not None:
            self._cover(Card(self.frame, run, verdict, self.story, palette))

    def _into_antenna(self) -> None:
        """Live power under the antenna."""
        x = self.track.slots[-1].x
        half = EDGE - 6 - x
        floor = 1e-4 * self.live.full_power_w

        def power(k: int) -> str:
            return reading(self.live.antenna_power(float(self.story.time_s[self.story.clock_frame(k)])), "W", floor)

        Pad(self.frame.axes).text(x, PLOT_TOP + 84, "takes", SMALL, self.palette.secondary, ha="center")
        self.frame.words((x - half, PLOT_TOP + 124, 2 * half), power, 32, self.palette.antenna, bold=True, ha="center")

    def _cover(self, card: Card) -> None:
        """While the card is shown, nothing under it is."""
        for region in self.frame.regions[:-1]:
            if region.rect[1] > WAVE[1] and region.rect[1] + region.rect[3] < WAVE[1] + WAVE[3]:
                _hide_under(region, card)

        own = self.frame.regions[-1]
        own.when = card.shown

    def __len__(self) -> int:
        return len(self.story)

    def draw(self, k: int) -> list[tuple[int, int, int, int]]:
        """Draw frame k; returns the rectangles (x0, y0, x1, y1; px) that changed."""
        return self.frame.draw(k)

    @property
    def poster(self) -> int:
        """The frame that stands for the film: half a second before the end of the beat that holds the middle of the story."""
        middle = self.story.shot[self.story.closing // 2]
        end = int(np.flatnonzero(self.story.shot[: self.story.closing] == middle)[-1])
        return max(end - self.story.fps // 2, 0)


def _hide_under(region: Region, card: Card) -> None:
    key = region.key

    def hidden_key(k: int) -> Hashable:
        return "covered" if card.shown(k) else key(k)

    region.key = hidden_key
    region.when = lambda k: not card.shown(k)


def check_size(size: tuple[int, int]) -> None:
    """OutputError unless the size is even and 16:9 to within a pixel."""
    w, h = size
    if w % 2 or h % 2 or w < 320 or abs(w * WIDE[1] / WIDE[0] - h) > 2:
        raise OutputError(
            f"A film of {w}x{h} cannot be made: use an even width of at least 320 in the shape 16:9, such as 1920x1080 or 1280x720."
        )


def subtitle(scenario: Scenario, swr: float) -> str:
    """The station in figures."""
    transmitter = scenario.transmitter
    source = f"source {plain(transmitter.source_impedance_ohm)} Ω"
    antenna = f"antenna {impedance(scenario.antenna.at_carrier_ohm)}, SWR {ratio(swr)}"
    return f"{rated(transmitter.power_w, 'W')} at {rated(transmitter.frequency_hz, 'Hz')}  ·  {source}  ·  {antenna}"


def _heading(pad: Pad, scenario: Scenario, swr: float, palette: Palette) -> None:
    room = CLOCK[0] - TITLE_X - 20
    lines, size = fit(scenario.title, room, (TITLE, 42, 38), (32, 30), bold=True)
    for i, words in enumerate(lines):
        y = (74 if len(lines) == 1 else 46) + i * 1.2 * size
        pad.text(TITLE_X, y, words, size, palette.text, bold=True)
    under, size = fit(subtitle(scenario, swr), room, (HEADER, 26, SMALL))
    pad.text(TITLE_X, 118 if len(lines) == 1 else 122, under[0], size, palette.secondary)
