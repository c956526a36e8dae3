"""Title, the station in figures, and the clock."""

from __future__ import annotations

from bouncesim.account.run import Run
from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario.model import Line, Scenario
from bouncesim.show.layout import Shape, Type
from bouncesim.show.numbers import impedance, plain, prefix_for, rated, ratio, slowed
from bouncesim.show.scene import Ground, Scene
from bouncesim.show.text import Plan, set_in, shorten, width
from bouncesim.show.words import ENGLISH, Words

CLOCK_ROOM = {"wide": 588.0, "square": 452.0, "tall": 0.0}  # px beside the title
STEP = 1.2  # from line to line, of the size of type


def title_plan(shape: Shape, size: Type) -> Plan:
    """How a title may be set, px."""
    t, s = size.title, size.small
    if shape == "wide":
        return ((1, t), (1, 42), (1, 38), (2, 32), (2, 30), (2, 28), (2, 26), (2, s))
    if shape == "square":
        return ((1, t), (1, 34), (2, 30), (2, 27), (2, s), (3, s))
    return ((1, t), (1, 0.9 * t), (2, t), (2, 0.9 * t), (2, 0.8 * t), (2, 0.7 * t), (3, 0.7 * t), (3, 0.6 * t), (3, s))


def _beside_clock(shape: Shape, room: float) -> float:
    """px that the clock leaves of a heading's width."""
    return room - (CLOCK_ROOM[shape] + 20 if CLOCK_ROOM[shape] else 0.0)


def set_title(title: str, shape: Shape, size: Type, room: float) -> tuple[list[str], float]:
    """A title in lines and px of its type; `room` is the width of the heading. Raises ScenarioError if it cannot be set."""
    plan, room = title_plan(shape, size), _beside_clock(shape, room)
    found = set_in(title, room, plan, bold=True)
    if found is None:
        most = int(len(title) * 0.9 * room * plan[-1][0] / width(title, size.small, True))
        raise ScenarioError(Problem("title", f"is too long for a {shape} frame", f"A title of about {max(most, 1)} characters fits"))
    return found


class Heading:
    """The words at the top of a frame, set for the width that they have."""

    def __init__(self, run: Run, words: Words, shape: Shape, size: Type, room: float) -> None:
        """Raises ScenarioError for a title that cannot be set in the frame."""
        self.shape, self.size, self.words = shape, size, words
        self.across = room
        self.room = _beside_clock(shape, room)
        self.title, self.title_size = set_title(run.scenario.title, shape, size, room)
        self.under = self._subtitle(run)

    def _subtitle(self, run: Run) -> tuple[list[str], float]:
        header, small = self.size.header, self.size.small
        parts = subtitle(run.scenario, run.readings.antenna.swr, self.words)
        self.beside_clock = self.shape == "wide" or (self.shape == "square" and len(self.title) == 1)
        if self.shape == "square" and self.beside_clock:
            for load in (parts[-1], brief_load(run.scenario, self.words)):
                line = "  ·  ".join([parts[0], load])
                if width(line, small) <= self.room:
                    return [line], small
            self.beside_clock = False
        room = self.room if self.shape == "wide" else self.across
        for chosen in (parts, [parts[0], parts[-1]]):
            line = "  ·  ".join(chosen)
            for size in (header, (header + small) / 2, small):
                if width(line, size) <= room:
                    return [line], size
            if self.shape == "tall":
                return [shorten("  ·  ".join(parts[:-1]), room, small), shorten(parts[-1], room, small)], small
        return [shorten("  ·  ".join([parts[0], parts[-1]]), room, small)], small

    @property
    def height(self) -> float:
        """px of the words one under the other, as all but a wide frame have them; beside a square one's title stands the clock."""
        title = len(self.title) * STEP * self.title_size
        under = len(self.under[0]) * 1.35 * self.under[1]
        if self.shape == "square":
            clock = 1.2 * self.size.clock + 1.25 * self.size.small
            return max(title + under, clock) if self.beside_clock else max(title, clock) + under
        return title + under + 1.25 * self.size.clock + 16

    def draw(self, scene: Scene) -> None:
        """Title and subtitle as background, the clock live."""
        x, y, w, _ = scene.layout.heading
        pad, palette, beside = scene.pad(), scene.palette, CLOCK_ROOM[self.shape]
        if self.shape == "wide":
            base = y + 52.0 if len(self.title) == 1 else y + 24.0
            under, clock = y + (96 if len(self.title) == 1 else 100), (x + w - beside, y + 52.0, beside - 22)
        elif self.shape == "square":
            base = y + 0.85 * self.title_size
            under = y + self.height - 0.3 * self.under[1]
            clock = (x + w - beside, y + 0.85 * self.size.clock, beside + 2)
        else:
            base = y + 0.85 * self.title_size
            under = base + (len(self.title) - 1) * STEP * self.title_size + 0.35 * self.title_size + 1.15 * self.under[1]
            clock = (x - 2, y + self.height - 0.35 * self.size.clock, 0.42 * w)
        for i, line in enumerate(self.title):
            pad.text(x, base + i * STEP * self.title_size, line, self.title_size, palette.text, bold=True)
        for i, line in enumerate(self.under[0]):
            pad.text(x, under + i * 1.35 * self.under[1], line, self.under[1], palette.secondary)
        Clock(scene, clock)


class Clock:
    """Time since key-down and how much slower than life it passes: one under the other in a wide frame, else side by side."""

    def __init__(self, scene: Scene, box: tuple[float, float, float]) -> None:
        self.scene = scene
        x, y, w = box
        shape, palette, size = scene.layout.shape, scene.palette, scene.type
        scene.number((x, y, w), self.time, size.clock, palette.text, bold=True, ha="left" if shape == "tall" else "right")
        beside = (
            (x + w, y, scene.layout.heading[2] - w + 2) if shape == "tall" else (x, y + (42 if shape == "wide" else 0.95 * size.clock), w)
        )
        scene.number(beside, self.pace, size.header if shape == "wide" else size.small, palette.secondary, ha="right")

    def time(self, k: int) -> str:
        return time_words(self.scene, k)

    def pace(self, k: int) -> str:
        return pace_words(self.scene, k)


def time_words(scene: Ground, k: int) -> str:
    """The time since key-down that frame k shows."""
    return scene.words("clock", time=clock(scene.now(k)))


def pace_words(scene: Ground, k: int) -> str:
    """How much slower than life it passes."""
    story, words = scene.story, scene.words
    k = story.clock_frame(k)
    pace = slowed(float(story.pace[k]), words)
    return words("time_lapse", pace=pace) if story.lapse[k] else pace


def clock(t: float) -> str:
    """A time with its unit, to the tenth under 1 microsecond and to the hundredth above."""
    factor, letter = prefix_for(max(t, 1e-9))
    return f"{t / factor:.{1 if factor < 2e-9 else 2}f} {letter}s"


def brief_load(scenario: Scenario, words: Words = ENGLISH) -> str:
    """What the load is, without its SWR, which the lines tell too."""
    return f"{words(scenario.load_name)} {impedance(scenario.load_ohm)}"


def subtitle(scenario: Scenario, swr: float, words: Words = ENGLISH) -> list[str]:
    """The station in figures: power and frequency, what the source is, what the load is and its SWR, where that stays the same."""
    transmitter = scenario.transmitter
    ends = {"name": words(scenario.load_name), "impedance": impedance(scenario.load_ohm)}
    tuned = scenario.direction == "receive" and not isinstance(scenario.path[-1], Line)  # then no line has the SWR of the receiver
    load = brief_load(scenario, words) if tuned or scenario.keying.shape == "pulse" else words("load", **ends, swr=ratio(swr))
    if any(event.happens.startswith("antenna") for event in scenario.events):
        load = words("at_first", **ends)
    frequency = rated(transmitter.frequency_hz, "Hz")
    if scenario.direction == "receive":
        return [frequency, f"{words(scenario.source_name)} {impedance(scenario.source_ohm)}", load]
    source = words("source", impedance=f"{plain(transmitter.source_impedance_ohm)} Ω")
    return [words("at_frequency", power=rated(transmitter.power_w, "W"), frequency=frequency), source, load]
