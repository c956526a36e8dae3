"""The drawing of the path: true to scale, every symbol in its own room, every word clear of the symbols."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from matplotlib.artist import Artist
from matplotlib.transforms import Bbox

from bouncesim.account.run import Run
from bouncesim.scenario.model import Line, Meter, Network, Part, Stub, Transformer
from bouncesim.show.blit import WIDE, Frame, Pad
from bouncesim.show.layout import EDGE, LEAST_LINES, PART_LABEL, PLOT_BOTTOM, RAIL_TOP, SECOND, WAVE, Slot, Track, lay_out
from bouncesim.show.signs import Several, stub_end, stub_length, turns
from bouncesim.show.symbols import draw_symbol
from bouncesim.show.text import width
from bouncesim.show.theme import DARK, SMALL
from tests.show.awkward import BALUN, LADDER, PI, STORIES, TEE, stub

HALF_LINE = 2.5  # px that a line's own width may add to its box


@pytest.fixture(params=STORIES)
def track(request: pytest.FixtureRequest, stories: dict[str, Run]) -> Track:
    return lay_out(stories[request.param].scenario)


def test_lines_keep_one_scale(track: Track) -> None:
    for span in track.spans:
        assert (span.x1 - span.x0) / (span.end_m - span.start_m) == pytest.approx(track.scale)
        assert span.px(span.line.length_m) == pytest.approx(span.x1)
        assert track.place((span.start_m + span.end_m) / 2) == pytest.approx((span.x0 + span.x1) / 2)
    assert sum(span.x1 - span.x0 for span in track.spans) >= LEAST_LINES


def test_parts_stand_where_the_path_has_them(track: Track, stories: dict[str, Run]) -> None:
    for row, (before, after) in zip(track.rows[1:-1], pairwise(track.spans), strict=True):
        assert (after.x0 > before.x1) == bool(row)  # a gap where there are parts, and only there
        assert all(before.x1 <= slot.x - slot.w / 2 and slot.x + slot.w / 2 <= after.x0 for slot in row)
    assert track.rows[0][0].what == "transmitter"
    assert track.rows[-1][-1].what == "antenna"
    drawn = [part for slot in track.slots for part in (slot.what.parts if isinstance(slot.what, Several) else [slot.what])]
    path = next(run.scenario.path for run in stories.values() if lay_out(run.scenario) == track)
    assert [part for part in drawn if not isinstance(part, str)] == [part for part in path if not isinstance(part, Line)]


def test_rooms_lie_side_by_side_in_the_panel(track: Track) -> None:
    for one, other in pairwise(track.slots):
        assert one.x + one.w / 2 <= other.x - other.w / 2 + 1e-6
    assert track.slots[0].x - track.slots[0].w / 2 >= WAVE[0]
    assert track.slots[-1].x + track.slots[-1].w / 2 <= EDGE


def test_symbols_and_words_keep_to_their_room(track: Track) -> None:
    boxes = [(slot, box) for slot in track.slots for box in boxes_of(slot)]
    for slot, box in boxes:
        assert box.xmin >= slot.x - slot.w / 2 - HALF_LINE, (slot, box)
        assert box.xmax <= slot.x + slot.w / 2 + HALF_LINE, (slot, box)
        assert RAIL_TOP - 30 <= box.ymin <= box.ymax < PLOT_BOTTOM - 100, (slot, box)
    for (one, box), (other, second) in combinations(boxes, 2):
        if one is not other:
            assert min(box.xmax, second.xmax) - max(box.xmin, second.xmin) <= 2 * HALF_LINE, (one, other)


def test_words_do_not_cross_their_own_symbol(run: Run) -> None:
    for part in (Meter(name="meter"), PI, LADDER, TEE, BALUN, stub("stub"), stub("long name of a stub", 25 + 10j)):
        slot = next(slot for slot in lay_out_with(part, run).slots if slot.what == part)
        words, *symbol = boxes_of(slot)
        for box in symbol:
            wide = min(box.xmax, words.xmax) - max(box.xmin, words.xmin)
            high = min(box.ymax, words.ymax) - max(box.ymin, words.ymin)
            assert wide <= 0 or high <= 3, (part.name, box, words)


def boxes_of(slot: Slot) -> list[Bbox]:
    """Box of a slot's words, then of every stroke of its symbol."""
    frame = Frame(WIDE, DARK.background)
    pad = Pad(frame.axes)
    draw_symbol(pad, slot, DARK)
    frame.canvas.draw()  # type: ignore[no-untyped-call]
    back = frame.axes.transData.inverted()
    drawn: list[Artist] = [*frame.axes.lines, *frame.axes.patches, *frame.axes.texts]
    boxes = [artist.get_window_extent().transformed(back) for artist in drawn]
    found = [Bbox.from_extents(box.xmin, min(box.ymin, box.ymax), box.xmax, max(box.ymin, box.ymax)) for box in boxes]
    if not slot.label:
        return found
    x, ha = slot.label_at
    wide = max(width(words, SMALL) for words in slot.label)
    left = x if ha == "left" else x - wide / 2
    last = PART_LABEL + SECOND * (len(slot.label) - 1)
    return [Bbox.from_extents(left, PART_LABEL - 18, left + wide, last + 5), *found]


def lay_out_with(part: Part, run: Run) -> Track:
    """A plain station with one more part between two lines."""
    path = (
        Line(name="one", length_m=10.0, impedance_ohm=50.0, velocity_factor=0.66),
        part,
        Line(name="two", length_m=20.0, impedance_ohm=450.0, velocity_factor=0.95),
    )
    return lay_out(run.scenario.model_copy(update={"path": path}))


def test_words_of_new_parts(run: Run) -> None:
    assert [turns(ratio) for ratio in (4.0, 0.25, 1.0, 2.25)] == ["1:4", "4:1", "1:1", "1:2.25"]
    assert stub_length(stub("stub", "open", Network(name="n", elements=PI.elements))) == "4.27 m + 1 part"
    assert stub_length(Stub(name="trap", path=(PI, BALUN), end="short")) == "2 parts"
    assert [stub_end(stub("stub", end)) for end in ("open", "short", 25 - 3j)] == ["open", "shorted", "25 − j3 Ω"]
    slot = next(
        slot
        for slot in lay_out_with(Transformer(name="balun", impedance_ratio=4), run).slots
        if slot.what not in ("transmitter", "antenna")
    )
    assert slot.label == ("balun", "1:4")
