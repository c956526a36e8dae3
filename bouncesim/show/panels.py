"""The caption in its bar."""

from __future__ import annotations

from collections.abc import Hashable

from bouncesim.errors import Problem, ScenarioError
from bouncesim.show.captions import Speaker, fill
from bouncesim.show.layout import Rect, Shape, Type
from bouncesim.show.scene import Ground
from bouncesim.show.story import Story
from bouncesim.show.text import Plan, set_in, shorten, width, wrap
from bouncesim.show.theme import INSET
from bouncesim.show.words import Words

SAMPLES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)  # shares of a stretch at which its numbers are looked at before
STEP = 1.22  # from line to line, of the size of type
LEAST = {"wide": 86.0, "tall": 92.0, "square": 70.0}  # px of the bar
TIED = "\u00a0"  # no line ends between a number and its unit
Setting = tuple[int, float]  # lines, px of type


def caption_plan(shape: Shape, size: Type) -> Plan:
    """How a caption may be set, px."""
    c, s = size.caption, size.small
    if shape == "wide":
        return ((1, c), (1, 35), (1, 32), (2, 30), (2, 28), (2, 26), (2, s), (3, s))
    return ((1, c), (2, c), (2, 0.9 * c), (2, 0.82 * c), (3, 0.82 * c), (3, 0.74 * c), (4, s), (5, s), (6, s), (7, s))


def set_captions(texts: list[list[str]], shape: Shape, size: Type, room: float) -> list[Setting]:
    """How each beat's caption is set in a bar `room` px wide, told the forms that it may take. Raises ScenarioError naming every one that
    cannot be set."""
    plan, room, settings, problems = caption_plan(shape, size), room - 2 * INSET, [], []
    for i, forms in enumerate(texts, 1):
        setting = _setting(forms, room, plan)
        if setting is None:
            longest = max(forms, key=lambda text: width(text, size.small))
            fits = int(0.9 * len(longest) * plan[-1][0] * room / width(" ".join(longest.split()), size.small))
            reason = f"the caption is too long for a {shape} frame"
            problems.append(Problem(f"beat[{i}].caption", reason, f"About {fits} characters fit, numbers filled in"))
        settings.append(setting or plan[-1])
    if problems:
        raise ScenarioError(problems)
    return settings


class Captions:
    """The captions of a story, each set once for all of its stretch, so that it does not jump when a number grows."""

    def __init__(self, story: Story, live: Speaker, words: Words, shape: Shape, size: Type, room: float) -> None:
        """`room` is the width of the bar. Raises ScenarioError naming every caption that cannot be set in it."""
        self.story, self.live, self.words = story, live, words
        self.room = room - 2 * INSET
        plan = caption_plan(shape, size)
        texts = []
        for shot in story.shots:
            times = [shot.start_s + share * (shot.end_s - shot.start_s) for share in SAMPLES]
            texts.append([fill(shot.caption, live, t, TIED) for t in times])
        self.settings = set_captions(texts, shape, size, room)
        self.closing = _setting([words("caution")], self.room, plan) or plan[-1]
        self.height = max(LEAST[shape], *(lines * STEP * px + 24 for lines, px in [*self.settings, self.closing]))
        self.most = max(lines for lines, _ in [*self.settings, self.closing])

    def text(self, k: int) -> str:
        """The caption of frame k; the caution while the film closes."""
        if k >= self.story.closing:
            return self.words("caution")
        t = float(self.story.time_s[self.story.clock_frame(k)])
        return fill(self.story.shots[int(self.story.shot[k])].caption, self.live, t, TIED)

    def lines(self, k: int) -> tuple[list[str], float]:
        """The caption of frame k in lines, and px of its type."""
        most, size = self.closing if k >= self.story.closing else self.settings[int(self.story.shot[k])]
        text = self.text(k)
        found = set_in(text, self.room, ((most, size),))
        if found:
            return found
        lines = wrap(text, self.room, size)  # wider than at any time that was looked at
        return [*lines[: most - 1], shorten(" ".join(lines[most - 1 :]), self.room, size)], size


def _setting(texts: list[str], room: float, plan: Plan) -> Setting | None:
    """The first of a plan that holds every one of the texts."""
    for most, size in plan:
        if all(set_in(text, room, ((most, size),)) for text in texts):
            return most, size
    return None


class Caption:
    """The bar with the caption of the moment."""

    def __init__(self, scene: Ground, captions: Captions) -> None:
        self.captions = captions
        self.state: Hashable = None  # what the words hang on, and the words
        self.told = ""
        self.rect = scene.layout.caption
        x, w = self.rect[0], self.rect[2]
        pad = scene.region(inner(self.rect), self._key, self._update)
        self.texts = [pad.live(x + w / 2, 0, scene.type.caption, scene.palette.text, ha="center") for _ in range(captions.most)]

    def _key(self, k: int) -> Hashable:
        story = self.captions.story
        state = (story.clock_frame(k), int(story.shot[k]), k >= story.closing)
        if state != self.state:
            self.state, self.told = state, self.captions.text(k)
        return self.told, state[2]

    def _update(self, k: int) -> None:
        lines, size = self.captions.lines(k)
        first = self.rect[1] + self.rect[3] / 2 + 0.36 * size - (len(lines) - 1) / 2 * STEP * size
        for i, text in enumerate(self.texts):
            text.set_text(lines[i] if i < len(lines) else "")
            text.set_fontsize(size)
            text.set_y(first + i * STEP * size)


def inner(rect: Rect, edge: float = 6.0) -> Rect:
    """A region that leaves its panel's border alone."""
    x, y, w, h = rect
    return x + edge, y + edge, w - 2 * edge, h - 2 * edge
