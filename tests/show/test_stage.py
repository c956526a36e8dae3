"""The picture: nothing cut, nothing over anything else, and no frame that depends on the one before."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from bouncesim.account.run import Run
from bouncesim.errors import OptionError, ScenarioError
from bouncesim.show.blit import Frame, Region
from bouncesim.show.layout import Shape
from bouncesim.show.live import Live
from bouncesim.show.picture import Picture
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.story import CLOSING_S, tell
from bouncesim.show.theme import DARK, VEIL
from tests.show.awkward import STORIES
from tests.show.fake import verdict_of

ROUNDED = 2  # levels of 255: what blending with and without a ground behind it may differ by
SLACK = 3.0  # px of the empty edge of a line of text's box
SMALL_SIZE = (640, 360)
SIZES: dict[Shape, tuple[int, int]] = {"wide": SMALL_SIZE, "tall": (360, 640), "square": (360, 360)}
TOO_MUCH = {("many lines", "square")}  # a title of 124 characters is refused there


def texts(stage: Stage, k: int) -> list[tuple[Text, Bbox, Region | None]]:
    """Every text that frame k shows, with its box in px of a wide frame (y down) and the region that it lives in."""
    stage.draw(k)
    owner = {id(artist): region for region in stage.frame.regions for artist in region.artists}
    found = []
    for text in stage.frame.axes.texts:
        region = owner.get(id(text))
        if text.get_text().strip() and (region is None or region.when(k)):
            box = text.get_window_extent().transformed(stage.frame.axes.transData.inverted())
            found.append((text, Bbox.from_extents(box.xmin, box.ymin, box.xmax, box.ymax), region))
    return found


def frames_of(stage: Stage) -> list[int]:
    return sorted({0, *(int(share * stage.story.closing) for share in (0.15, 0.5, 0.97)), len(stage) - 1})


@pytest.mark.parametrize(
    ("name", "shape"),
    [
        pytest.param(name, shape, marks=[] if shape == "wide" or name in ("plain", "two tuners", "many lines") else pytest.mark.slow)
        for shape in SIZES
        for name in STORIES
    ],
)
def test_text_fits_and_nothing_overlaps(name: str, shape: Shape, stories: dict[str, Run]) -> None:
    run = stories[name]
    if (name, shape) in TOO_MUCH:
        with pytest.raises(ScenarioError, match=r"title: is too long for a square frame. A title of about 1.. characters fits"):
            Stage(run, size=SIZES[shape])
        return
    check_words(Stage(run, verdict_of(run, fail=True), size=SIZES[shape]))


@pytest.mark.parametrize(
    ("name", "size", "look"),
    [
        ("two metres", (640, 270), Look("light", quantity="current")),
        ("balun", (640, 360), Look(quantity="both")),
        ("plain", (300, 360), Look(quantity="both", hidden=frozenset({"largest"}))),
        pytest.param("everything", (360, 700), Look(hidden=frozenset({"forward", "reflected"})), marks=pytest.mark.slow),
    ],
)
def test_text_fits_whatever_is_shown(name: str, size: tuple[int, int], look: Look, stories: dict[str, Run]) -> None:
    check_words(Stage(stories[name], size=size, look=look))


def check_words(stage: Stage) -> None:
    """Every text is large enough, inside its panel and its region, and over no other."""
    wave, small = stage.layout.wave, stage.layout.type.small
    for k in frames_of(stage):
        covered = k >= stage.story.closing and stage.frame.regions[-1].rect[2] > wave[2]
        shown = texts(stage, k)
        if covered:  # what the card hides does not count
            card = {id(artist) for artist in stage.frame.regions[-1].artists}
            shown = [(t, box, r) for t, box, r in shown if id(t) in card or not (wave[1] < box.ymin < wave[1] + wave[3])]
        for text, box, region in shown:
            assert float(text.get_fontsize()) >= small, text.get_text()
            assert inside(box, panel_of(box, stage)), (k, text.get_text(), box)
            if region is not None:
                x, y, w, h = region.rect
                assert inside(box, (x, y, w, h)), (k, text.get_text(), box, region.rect)
        assert overlaps([box for _, box, _ in shown], [text.get_text() for text, _, _ in shown]) == [], k


def panel_of(box: Bbox, stage: Stage) -> tuple[float, float, float, float]:
    """The panel in which a text stands; the frame's margins for one outside all panels."""
    x, y = (box.xmin + box.xmax) / 2, (box.ymin + box.ymax) / 2
    layout = stage.layout
    for panel in (layout.wave, layout.meters, layout.account, layout.caption):
        if panel[0] <= x <= panel[0] + panel[2] and panel[1] <= y <= panel[1] + panel[3]:
            return panel
    edge = 12.0
    return (edge, edge, layout.area[2] - 2 * edge, layout.area[3] - 2 * edge)


def inside(box: Bbox, rect: tuple[float, float, float, float]) -> bool:
    x, y, w, h = rect
    return box.xmin >= x - SLACK and box.xmax <= x + w + SLACK and box.ymin >= y - SLACK - 4 and box.ymax <= y + h + SLACK + 4


def overlaps(boxes: list[Bbox], words: list[str]) -> list[tuple[str, str]]:
    """Every pair of words whose boxes lie over one another by more than the slack."""
    x0, y0, x1, y1 = np.array([box.extents for box in boxes]).T
    wide = np.minimum.outer(x1, x1) - np.maximum.outer(x0, x0)
    high = np.minimum.outer(y1, y1) - np.maximum.outer(y0, y0)
    return [(words[i], words[j]) for i, j in zip(*np.nonzero((wide > SLACK) & (high > SLACK + 3)), strict=True) if i < j]


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720), (800, 450), SMALL_SIZE, (722, 1283), (601, 907)])
def test_regions_do_not_overlap(size: tuple[int, int], stories: dict[str, Run]) -> None:
    stage = Stage(stories["many lines"], size=size)
    for one, other in combinations(stage.frame.regions, 2):
        (a0, b0, a1, b1), (c0, d0, c1, d1) = one.pixels, other.pixels
        assert min(a1, c1) <= max(a0, c0) or min(b1, d1) <= max(b0, d0), (one.rect, other.rect)


@pytest.mark.parametrize(("size", "name"), [((1920, 1080), "plain"), ((800, 450), "many lines"), ((361, 641), "long and lossy")])
def test_a_frame_alone_is_the_frame_in_sequence(size: tuple[int, int], name: str, stories: dict[str, Run]) -> None:
    run = stories[name]
    verdict = verdict_of(run)
    walked = Stage(run, verdict, size=size)
    chosen = {3, 22, walked.story.closing - 1, walked.story.closing + 2, len(walked) - 1}
    seen: list[int] = []
    for k in [*range(0, 25), *range(walked.story.closing - 3, walked.story.closing + 3), len(walked) - 1, 22]:
        walked.draw(k)
        if k in chosen and k not in seen[:-1]:
            alone = Stage(run, verdict, size=size)
            alone.draw(k)
            assert np.array_equal(walked.frame.pixels, alone.frame.pixels), k
            seen.append(k)


def test_changed_rectangles_are_all_that_changed(run: Run) -> None:
    stage = Stage(run, verdict_of(run), size=SMALL_SIZE)
    stage.draw(0)
    for k in range(1, 30):
        before = stage.frame.pixels.copy()
        rects = stage.draw(k)
        touched = np.zeros(before.shape[:2], dtype=bool)
        for x0, y0, x1, y1 in rects:
            assert x0 % 2 == y0 % 2 == x1 % 2 == y1 % 2 == 0
            touched[y0:y1, x0:x1] = True
        assert not (stage.frame.pixels != before).any(axis=2)[~touched].any()


def test_numbers_change_ten_times_a_second(run: Run) -> None:
    story = Stage(run, size=SMALL_SIZE, fps=30).story
    assert [story.clock_frame(k) for k in (0, 1, 2, 3, 4, 5, 6)] == [0, 0, 0, 3, 3, 3, 6]


def test_wave_is_where_the_run_says(run: Run) -> None:
    """The brightest pixel of a column is the total wave: its middle stands at the voltage of that place."""
    stage = Stage(run)
    k = 100
    stage.draw(k)
    trace = run.traces.lines[0]
    forward, reflected = stage.live.wave(trace, float(stage.story.wave_time_s[k]))
    volts = forward + reflected
    waves = stage.waves
    curve = waves.total.get_ydata()
    assert np.asarray(curve)[10:-10] == pytest.approx(waves.middle - waves.px_per_unit * np.asarray(volts)[10:-10])
    i = int(np.argmax(np.abs(volts)))
    x = float(stage.track.spans[0].px(trace.x_m[i]))
    colour = tuple(int(DARK.total[j : j + 2], 16) for j in (1, 3, 5))
    column = stage.frame.pixels[int(waves.middle) - 130 : int(waves.middle) + 130, int(min(x, 1680)), :3]
    bright = np.flatnonzero((np.abs(column.astype(int) - colour) < 12).all(axis=1))
    at = waves.middle - waves.px_per_unit * float(volts[i])
    assert np.abs(bright + int(waves.middle) - 130 - at).min() <= 7  # within half the curve's width


@pytest.mark.parametrize("quantity", ["voltage", "current"])
def test_parts_of_the_wave_add_up_to_what_is_measured(quantity: str, run: Run) -> None:
    live, trace = Live(run), run.traces.lines[0]
    rows = trace.voltage_v if quantity == "voltage" else trace.current_a
    for i in (40, 111):
        whole = sum(live.wave(trace, float(live.times[i]), quantity))
        assert whole == pytest.approx(rows[i], abs=1e-6 * float(np.abs(rows).max()))
        assert (live.largest(trace, float(live.times[i]), quantity) >= np.abs(rows[: i + 1]).max(axis=0) * (1 - 1e-6)).all()
    assert live.largest_wave(quantity) >= float(np.abs(rows).max())


def test_curves_can_be_left_out(run: Run) -> None:
    k = 100
    usual = Stage(run, size=SMALL_SIZE)
    usual.draw(k)
    for curve in ("total", "forward", "reflected", "largest"):
        stage = Stage(run, size=SMALL_SIZE, look=Look(hidden=frozenset({curve})))
        stage.draw(k)
        words = [text.get_text() for text in stage.frame.axes.texts]
        name = {"largest": "largest so far"}.get(curve, curve)
        assert name not in words
        assert (stage.frame.pixels != usual.frame.pixels).any()
    for look in ({"hidden": frozenset({"tota"})}, {"theme": "pink"}, {"quantity": "power"}):
        with pytest.raises(OptionError, match="There is no"):
            Look(**look)  # type: ignore[arg-type]
    with pytest.raises(OptionError, match="nothing to see"):
        Look(hidden=frozenset({"total", "forward", "reflected", "largest"}))


def test_two_pictures_in_one_frame(stories: dict[str, Run]) -> None:
    """Each keeps to its half; without a heading and a caption of its own."""
    size, full = (960, 540), (1920.0, 1080.0)
    frame = Frame(size, DARK.background, full)
    for x, name in ((0.0, "plain"), (960.0, "two tuners")):
        live = Live(stories[name])
        story = tell(stories[name], 30, CLOSING_S)
        first = len(frame.regions)
        Picture(frame, (x, 140.0, 960.0, 830.0), "square", live, story, Look(), heading=False, caption=False)
        for region in frame.regions[first:]:
            left, top, w, h = region.rect
            assert x <= left
            assert left + w <= x + 960
            assert top >= 140
            assert top + h <= 970
    frame.draw(0)
    frame.draw(50)
    for text in frame.axes.texts:
        box = text.get_window_extent().transformed(frame.axes.transData.inverted())
        assert not box.xmin < 960 < box.xmax, text.get_text()


def test_a_clear_ground_lets_through(run: Run) -> None:
    stage = Stage(run, size=SMALL_SIZE, look=Look(clear=True))
    solid = Stage(run, size=SMALL_SIZE)
    for k in (0, 30):
        stage.draw(k)
        solid.draw(k)
    alpha = stage.frame.pixels[:, :, 3]
    assert (alpha[:3] == 0).all()
    assert (alpha > 0).mean() > 0.5  # the panels
    veil = int(VEIL, 16)
    assert (alpha == veil).mean() > 0.3  # their ground lets some of the footage through
    drawn = alpha == 255
    assert drawn.mean() > 0.05
    assert np.abs(stage.frame.pixels[drawn].astype(int) - solid.frame.pixels[drawn]).max() <= ROUNDED


@pytest.mark.parametrize("size", [(4000, 1000), (64, 36)])
def test_sizes_that_are_refused(size: tuple[int, int], run: Run) -> None:
    with pytest.raises(OptionError, match="cannot be made"):
        Stage(run, size=size)
