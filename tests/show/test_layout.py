"""The drawing of the path: true to scale, every symbol in its own room, every word clear of the symbols; in every shape of frame."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import get_args

import pytest
from matplotlib.artist import Artist
from matplotlib.transforms import Bbox

from bouncesim.account.run import Run
from bouncesim.errors import OptionError
from bouncesim.scenario.model import Line, Meter, Network, Part, Scenario, Stub, Transformer
from bouncesim.show.blit import WIDE, Frame, Pad
from bouncesim.show.layout import FULL, TYPES, Layout, Shape, arrange, full_size, shape_of
from bouncesim.show.signs import GAUGE, Several, stub_end, stub_length, turns
from bouncesim.show.symbols import draw_symbol
from bouncesim.show.text import width
from bouncesim.show.theme import DARK
from bouncesim.show.track import OVERHANG, ROOMS, STUB_DEPTH, Slot, Track, lay_out
from tests.show.awkward import BALUN, LADDER, PI, STORIES, TEE, stub

HALF_LINE = 2.5  # px that a line's own width may add to its box
FAST = ("plain", "balun", "everything")  # stories that the fast tests lay out in every shape
SHAPES: tuple[Shape, ...] = get_args(Shape)
HEADING, CAPTION = {"wide": 106.0, "tall": 180.0, "square": 110.0}, {"wide": 86.0, "tall": 130.0, "square": 110.0}


def layout_of(shape: Shape) -> Layout:
    return arrange((0.0, 0.0, *map(float, FULL[shape])), shape, HEADING[shape], CAPTION[shape])


@pytest.fixture(
    params=[
        pytest.param((name, shape), id=f"{name} {shape}", marks=[] if shape == "wide" or name in FAST else pytest.mark.slow)
        for shape in SHAPES
        for name in STORIES
    ]
)
def case(request: pytest.FixtureRequest, stories: dict[str, Run]) -> tuple[Scenario, Layout, Track]:
    name, shape = request.param
    layout = layout_of(shape)
    return stories[name].scenario, layout, lay_out(stories[name].scenario, layout)


@pytest.mark.parametrize("shape", SHAPES)
def test_panels_lie_apart_inside_the_frame(shape: Shape) -> None:
    layout = layout_of(shape)
    panels = [layout.heading, layout.wave, layout.meters, layout.account, layout.caption]
    w, h = FULL[shape]
    for x, y, wide, high in panels:
        assert 0 <= x < x + wide <= w
        assert 0 <= y < y + high <= h
    for (x, y, wide, high), (x2, y2, wide2, high2) in combinations(panels, 2):
        assert min(x + wide, x2 + wide2) <= max(x, x2) or min(y + high, y2 + high2) <= max(y, y2)
    if shape == "tall":  # the player's own controls
        assert min(y for _, y, _, _ in panels) >= 110
        assert max(y + high for _, y, _, high in panels) <= h - 160


def test_sizes_and_their_shapes() -> None:
    shapes = {
        (1920, 1080): "wide",
        (1280, 720): "wide",
        (2560, 1080): "wide",
        (1080, 1920): "tall",
        (1080, 1350): "square",
        (601, 601): "square",
    }
    for size, shape in shapes.items():
        assert shape_of(size) == shape
        full, least = full_size(size), FULL[shape_of(size)]
        assert full[0] / full[1] == pytest.approx(size[0] / size[1])
        assert full[0] >= least[0] - 1e-9
        assert full[1] >= least[1] - 1e-9
    for size in ((64, 36), (10000, 5000), (4000, 1000)):
        with pytest.raises(OptionError, match=f"A film of {size[0]}x{size[1]} cannot be made"):
            shape_of(size)
    assert min(kind.small for kind in TYPES.values()) == 24
    assert TYPES["tall"].small == 28


def test_lines_keep_one_scale(case: tuple[Scenario, Layout, Track]) -> None:
    _, layout, track = case
    for span in track.spans:
        assert (span.x1 - span.x0) / (span.end_m - span.start_m) == pytest.approx(track.scale)
        assert span.px(span.line.length_m) == pytest.approx(span.x1)
        assert track.place((span.start_m + span.end_m) / 2) == pytest.approx((span.x0 + span.x1) / 2)
    assert sum(span.x1 - span.x0 for span in track.spans) >= ROOMS[layout.shape].lines - 1e-6


def test_parts_stand_where_the_path_has_them(case: tuple[Scenario, Layout, Track]) -> None:
    scenario, _, track = case
    for row, (before, after) in zip(track.rows[1:-1], pairwise(track.spans), strict=True):
        assert (after.x0 > before.x1) == bool(row)  # a gap where there are parts, and only there
        assert all(before.x1 <= slot.x - slot.w / 2 and slot.x + slot.w / 2 <= after.x0 for slot in row)
    assert track.rows[0][0].what == "source"
    assert track.rows[-1][-1].what == "load"
    drawn = [part for slot in track.slots for part in (slot.what.parts if isinstance(slot.what, Several) else [slot.what])]
    assert [part for part in drawn if not isinstance(part, str)] == [part for part in scenario.path if not isinstance(part, Line)]


def test_rooms_lie_side_by_side_in_the_panel(case: tuple[Scenario, Layout, Track]) -> None:
    _, layout, track = case
    for row in track.rows:
        for one, other in pairwise(row):
            assert one.x + one.w / 2 <= other.x - other.w / 2 + 1e-6
    for slot in track.slots:
        assert slot.x - slot.w / 2 >= layout.wave[0]
        assert slot.x + slot.w / 2 <= layout.wave[0] + layout.wave[2]


def test_symbols_and_words_keep_to_their_room(case: tuple[Scenario, Layout, Track]) -> None:
    _, layout, track = case
    small = layout.type.small
    boxes = [(slot, box) for slot in track.slots for box in boxes_of(slot, small)]
    for slot, box in boxes:
        assert box.xmin >= slot.x - slot.w / 2 - HALF_LINE, (slot, box)
        assert box.xmax <= slot.x + slot.w / 2 + HALF_LINE, (slot, box)
        assert slot.top - OVERHANG - HALF_LINE <= box.ymin <= box.ymax < slot.top + GAUGE + STUB_DEPTH + 32 * layout.type.unit, (slot, box)
    for (one, box), (other, second) in combinations(boxes, 2):
        if one is not other and one.top == other.top:
            assert min(box.xmax, second.xmax) - max(box.xmin, second.xmin) <= 2 * HALF_LINE, (one, other)


def test_a_row_above_keeps_clear_of_the_lines(case: tuple[Scenario, Layout, Track]) -> None:
    _, layout, track = case
    assert track.folded == (not layout.is_wide and len(track.rows[0]) > 1)
    if track.folded:
        lowest = max(box.ymax for slot in track.rows[0] for box in boxes_of(slot, layout.type.small))
        assert lowest < track.return_y < track.name_y - layout.type.small
    assert track.live_y < track.top < track.bottom < track.plot_top


def test_words_do_not_cross_their_own_symbol(run: Run) -> None:
    for part in (Meter(name="meter"), PI, LADDER, TEE, BALUN, stub("stub"), stub("long name of a stub", 25 + 10j)):
        slot = next(slot for slot in lay_out_with(part, run).slots if slot.what == part)
        words, *symbol = boxes_of(slot, 24)
        for box in symbol:
            wide = min(box.xmax, words.xmax) - max(box.xmin, words.xmin)
            high = min(box.ymax, words.ymax) - max(box.ymin, words.ymin)
            assert wide <= 0 or high <= 3, (part.name, box, words)


def boxes_of(slot: Slot, small: float) -> list[Bbox]:
    """Box of a slot's words, then of every stroke of its symbol."""
    frame = Frame(WIDE, DARK.background)
    pad = Pad(frame.axes)
    draw_symbol(pad, slot, DARK, small)
    frame.canvas.draw()  # type: ignore[no-untyped-call]
    back = frame.axes.transData.inverted()
    drawn: list[Artist] = [*frame.axes.lines, *frame.axes.patches, *frame.axes.texts]
    boxes = [artist.get_window_extent().transformed(back) for artist in drawn]
    found = [Bbox.from_extents(box.xmin, min(box.ymin, box.ymax), box.xmax, max(box.ymin, box.ymax)) for box in boxes]
    if not slot.label:
        return found
    x, ha = slot.label_at
    wide = max(width(words, small) for words in slot.label)
    left = x if ha == "left" else x - wide / 2
    last = slot.label_y + 28 * small / 24 * (len(slot.label) - 1)
    return [Bbox.from_extents(left, slot.label_y - 0.75 * small, left + wide, last + 0.2 * small), *found]


def lay_out_with(part: Part, run: Run) -> Track:
    """A plain station with one more part between two lines."""
    path = (
        Line(name="one", length_m=10.0, impedance_ohm=50.0, velocity_factor=0.66),
        part,
        Line(name="two", length_m=20.0, impedance_ohm=450.0, velocity_factor=0.95),
    )
    return lay_out(run.scenario.model_copy(update={"path": path}), layout_of("wide"))


def test_words_of_new_parts(run: Run) -> None:
    assert [turns(ratio) for ratio in (4.0, 0.25, 1.0, 2.25)] == ["1:4", "4:1", "1:1", "1:2.25"]
    assert stub_length(stub("stub", "open", Network(name="n", elements=PI.elements))) == "4.27 m + 1 part"
    assert stub_length(Stub(name="trap", path=(PI, BALUN), end="short")) == "2 parts"
    assert [stub_end(stub("stub", end)) for end in ("open", "short", 25 - 3j)] == ["open", "shorted", "25 − j3 Ω"]
    slot = next(
        slot for slot in lay_out_with(Transformer(name="balun", impedance_ratio=4), run).slots if slot.what not in ("source", "load")
    )
    assert slot.label == ("balun", "1:4")
