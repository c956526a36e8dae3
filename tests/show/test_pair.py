"""Two stations in one film: on one clock and one scale, nothing cut, nothing over anything else, and the numbers that differ told."""

from __future__ import annotations

import dataclasses
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.text import Text

import bouncesim
from bouncesim.account.run import Run
from bouncesim.errors import OptionError, ScenarioError
from bouncesim.scenario.narration import Cue
from bouncesim.show.both import Both, stories
from bouncesim.show.differences import ITEMS, Cell
from bouncesim.show.live import Live
from bouncesim.show.pair import PairStage
from bouncesim.show.pair_film import description, film_pair
from bouncesim.show.words import ENGLISH
from tests.show.fake import TUNER, Station, verdict_of
from tests.show.test_stage import inside, overlaps, texts

SIZES = {"wide": (640, 360), "tall": (360, 640)}
LEAST = {"wide": 24, "tall": 28}
PAIRS = [("plain", "very high SWR"), ("two metres", "long and lossy"), ("many lines", "balun"), ("everything", "plain")]


@pytest.fixture(scope="module")
def pair() -> tuple[Run, Run]:
    return Station(title="With a tuner").run(), Station(title="Without one", before=(), source_reflection=0.0, wavelengths=1.2).run()


@pytest.mark.parametrize("shape", SIZES)
@pytest.mark.parametrize("names", PAIRS)
def test_text_fits_and_nothing_overlaps(shape: str, names: tuple[str, str], stories: dict[str, Run]) -> None:
    runs = tuple(
        dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": ()})) for run in (stories[name] for name in names)
    )
    stage = PairStage((runs[0], runs[1]), (verdict_of(runs[0]), verdict_of(runs[1], fail=True)), size=SIZES[shape])
    closing = stage.story.closing
    for k in (0, int(0.2 * closing), int(0.6 * closing), closing - 2, len(stage) - 1):
        shown = texts(stage, k)  # type: ignore[arg-type]
        if k >= closing:
            shown = [one for one in shown if one[2] is not None or not hidden(stage, one[1].y0, one[1].x0)]
        for text, box, region in shown:
            assert float(text.get_fontsize()) >= LEAST[shape] * 0.999, text.get_text()
            assert inside(box, (0.0, 0.0, stage.frame.size[0] / stage.frame.scale, stage.frame.size[1] / stage.frame.scale)), (
                text.get_text()
            )
            if region is not None:
                assert inside(box, region.rect), (k, text.get_text(), box, region.rect)
        assert overlaps([box for _, box, _ in shown], [text.get_text() for text, _, _ in shown]) == [], k


def hidden(stage: PairStage, y: float, x: float) -> bool:
    """Whether a place lies under one of the cards."""
    return any(a <= x <= a + w and b <= y <= b + h for a, b, w, h in (scene.layout.wave for scene in stage.scenes))


@pytest.mark.parametrize("size", [*SIZES.values(), (1280, 720)])
def test_regions_do_not_overlap(size: tuple[int, int], pair: tuple[Run, Run]) -> None:
    for one, other in combinations(PairStage(pair, size=size).frame.regions, 2):
        (a0, b0, a1, b1), (c0, d0, c1, d1) = one.pixels, other.pixels
        assert min(a1, c1) <= max(a0, c0) or min(b1, d1) <= max(b0, d0), (one.rect, other.rect)


@pytest.mark.parametrize("size", SIZES.values())
def test_a_frame_alone_is_the_frame_in_sequence(size: tuple[int, int], pair: tuple[Run, Run]) -> None:
    verdicts = (verdict_of(pair[0]), verdict_of(pair[1]))
    walked = PairStage(pair, verdicts, size=size)
    closing = walked.story.closing
    chosen = {7, 15, closing - 1, closing + 2}
    for k in [*range(16), *range(closing - 3, closing + 3)]:
        walked.draw(k)
        if k in chosen:
            alone = PairStage(pair, verdicts, size=size)
            alone.draw(k)
            assert np.array_equal(walked.frame.pixels, alone.frame.pixels), k


@pytest.mark.parametrize("size", SIZES.values())
def test_both_have_the_same_scales(size: tuple[int, int], pair: tuple[Run, Run]) -> None:
    stage = PairStage(pair, size=size)
    one, other = stage.scenes
    assert one.track.scale == pytest.approx(other.track.scale)
    assert one.track.x0 - one.layout.wave[0] == pytest.approx(other.track.x0 - other.layout.wave[0])
    assert other.track.length_m < one.track.length_m
    assert other.track.x1 - other.track.x0 < one.track.x1 - one.track.x0
    assert stage.waves[0].px_per_unit == stage.waves[1].px_per_unit
    assert stage.waves[0].full >= max(live.largest_wave() for live in stage.both.lives)


def test_one_clock(pair: tuple[Run, Run]) -> None:
    slower = Station(frequency=7.1e6).run()
    one, other = stories((pair[0], slower), 30, 4.0, ENGLISH)
    assert np.array_equal(one.time_s, other.time_s)
    assert one.shots[-1].end_s > max(pair[0].moments["settled"], slower.moments["settled"])
    told = {name: max(run.moments[name] for run in (pair[0], slower)) for name in ("antenna reached", "first echo", "settled")}
    assert {shot.end_s for shot in one.shots} >= set(told.values())
    phases = [np.diff(story.phase)[20] * story.shots[0].lasts_s for story in (one, other)]
    assert phases[0] == pytest.approx(2 * phases[1], rel=1e-6)  # each wave runs at its own frequency


def test_captions_tell_of_both(pair: tuple[Run, Run]) -> None:
    both = Both((Live(pair[0]), Live(pair[1])))
    end = both.lives[0].end
    assert both.value("A.antenna.power_w", end) == both.lives[0].value("antenna.power_w", end)
    assert both.value("B.transmitter.swr", end) == both.lives[1].value("transmitter.swr", end)
    assert set(both.names()) > {"time", "A.antenna.power_w", "B.antenna.power_w"}
    for name in ("antenna.power_w", "C.antenna.power_w", "A.nothing"):
        with pytest.raises(KeyError):
            both.value(name, end)


def test_a_narration_times_the_film_of_both(pair: tuple[Run, Run]) -> None:
    cues = tuple(Cue(start_s=5.0 * n, end_s=5.0 * n + 4.5) for n in range(4))
    stage = PairStage(pair, size=SIZES["wide"], narration=cues)
    assert stage.story.closing == round(19.5 * 30)
    with pytest.raises(ScenarioError, match="it has 3 cues, and the story 4 beats"):
        PairStage(pair, size=SIZES["wide"], narration=cues[:3])


LESSONS = Path(__file__).parents[2] / "scenarios"


@pytest.mark.parametrize(
    ("one", "other", "settles"),
    [
        ("key-goes-up", "no-tuner", True),
        ("pulse-finds-two-faults", "pulse-through-real-cable", False),
        ("no-tuner", "a-letter-on-a-long-line", False),
    ],
)
def test_where_a_carrier_goes_off_nothing_settles_after_that(one: str, other: str, settles: bool) -> None:
    """The last words stand over what runs out: by their end less than a thousandth of what was stored is left where the key went up."""
    runs = [bouncesim.simulate(bouncesim.load(LESSONS / f"{name}.toml")) for name in (one, other)]
    shots = stories((runs[0], runs[1]), 30, 4.0, ENGLISH)[0].shots
    captions = [shot.caption for shot in shots]
    assert captions[-1] == ENGLISH("both_run_out")
    assert not any(words.startswith("Settled") for words in captions)
    assert any("has settled" in words for words in captions) == settles
    for run in runs:
        if run.scenario.keying.shape in ("pulse", "morse") or run.scenario.events:
            stored = run.traces.stored_j
            assert shots[-1].end_s >= run.traces.time_s[-1]
            assert stored[-1] < 1e-3 * stored.max()
        if settles:
            (settled,) = [shot for shot in shots if "has settled" in shot.caption]
            assert settled.end_s >= run.moments["settled"]


def test_who_has_more(pair: tuple[Run, Run]) -> None:
    stage = PairStage(pair, size=SIZES["wide"])
    item = next(item for item in ITEMS if item.key == "pair_into")
    cell = Cell(stage.scenes, item, (0.0, 0.0, 500.0, 110.0))
    assert cell.note_of([19.5, 32.9]) == "B +13.4 W"
    assert cell.note_of([32.9, 19.5]) == "A +13.4 W"
    assert cell.note_of([36.0, 35.9]) == "= equal"
    assert cell.note_of([0.0, 1e-9]) == "= equal"
    assert cell.note_of([float("nan"), 2.0]) == ""


def test_differing_numbers_stand_out(pair: tuple[Run, Run]) -> None:
    """Their name is bold and says who has more; equal ones are named in plain type."""
    same = PairStage((pair[0], dataclasses.replace(pair[0])), size=SIZES["wide"])
    assert not any(text.get_text().startswith(("A +", "B +")) for text in live_texts(same, 200))
    assert sum(text.get_text() == "= equal" for text in live_texts(same, 200)) == len(ITEMS)
    different = [text.get_text() for text in live_texts(PairStage(pair, size=SIZES["wide"]), 700)]
    assert any(words.startswith("A +") for words in different)


def live_texts(stage: PairStage, k: int) -> list[Text]:
    return [text for text, _, _ in texts(stage, k)]  # type: ignore[arg-type]


def test_what_does_not_go_together(pair: tuple[Run, Run]) -> None:
    with pytest.raises(OptionError, match="wide or tall"):
        PairStage(pair, size=(400, 400))
    receives = dataclasses.replace(pair[1], scenario=pair[1].scenario.model_copy(update={"direction": "receive"}))
    with pytest.raises(OptionError, match="no scale in common"):
        PairStage((pair[0], receives))
    slow = dataclasses.replace(
        pair[1],
        scenario=pair[1].scenario.model_copy(update={"transmitter": pair[1].scenario.transmitter.model_copy(update={"frequency_hz": 1e5})}),
    )
    with pytest.raises(OptionError, match="more than 20 times apart"):
        PairStage((pair[0], slow))


def test_description_tells_both(pair: tuple[Run, Run]) -> None:
    stage = PairStage(pair, size=SIZES["wide"])
    told = description(stage, None, "bouncesim film a --beside b")
    assert told.startswith("With a tuner beside Without one\n")
    assert "    into the antenna: " in told
    assert "A, With a tuner: a transmitter of 60 W at 14.2 MHz, the tuner" in told
    assert told.rstrip().endswith("No figure here is a safe limit.")
    assert "bouncesim film a --beside b" in told


def test_the_film_is_written_whole(pair: tuple[Run, Run], tmp_path: Path) -> None:
    files = film_pair(pair, tmp_path / "both.gif", size=(320, 180), fps=1)
    assert all(file.stat().st_size > 100 for file in files)
    assert (
        files.captions.read_text(encoding="utf-8").split("\n\n")[2].startswith("00:00:00.000 --> 00:00:07.000\nBoth keys go down at once")
    )


def test_tuner_is_drawn_without_its_figures(pair: tuple[Run, Run]) -> None:
    assert TUNER.name == "tuner"
    stage = PairStage(pair, size=SIZES["wide"])
    assert [slot.label for slot in stage.scenes[0].track.rows[0]] == [("transmitter",), ("tuner",)]
