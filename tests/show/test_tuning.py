"""A film of turning a tuner: arrows that add up, nothing cut, nothing over anything else."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from bouncesim.account.turning import Turning
from bouncesim.errors import OptionError
from bouncesim.perform.turning import turn
from bouncesim.show.scene import Look
from bouncesim.show.tuning import TuningStage
from bouncesim.show.tuning_film import description, film_turning
from bouncesim.show.turned import Turned, apart
from tests.exact.test_tuner_waves import station
from tests.show.test_stage import inside, overlaps, texts

SIZES = {"wide": (640, 360), "tall": (360, 640)}
LEAST = {"wide": 24, "tall": 28}


@pytest.fixture(scope="module")
def turning() -> Turning:
    return turn(station(), "coil")


@pytest.mark.parametrize("power", ["5 W", "1500 W"])
@pytest.mark.parametrize("shape", SIZES)
def test_text_fits_and_nothing_overlaps(shape: str, power: str) -> None:
    watts = float(power.split()[0])
    one = station("pi")
    one = one.model_copy(update={"transmitter": one.transmitter.model_copy(update={"power_w": watts})})
    stage = TuningStage(turn(one, "capacitor 2"), size=SIZES[shape], look=Look("light"))
    for k in (0, 200, stage.poster, 900, len(stage) - 1):
        shown = texts(stage, k)  # type: ignore[arg-type]
        for text, box, region in shown:
            assert float(text.get_fontsize()) >= LEAST[shape] * 0.999, text.get_text()
            w, h = (side / stage.frame.scale for side in stage.frame.size)
            assert inside(box, (0.0, 0.0, w, h)), text.get_text()
            if region is not None:
                assert inside(box, region.rect), (k, text.get_text(), box, region.rect)
        assert overlaps([box for _, box, _ in shown], [text.get_text() for text, _, _ in shown]) == [], k


@pytest.mark.parametrize("size", [*SIZES.values(), (1280, 720)])
def test_regions_do_not_overlap(size: tuple[int, int], turning: Turning) -> None:
    for one, other in combinations(TuningStage(turning, size=size).frame.regions, 2):
        (a0, b0, a1, b1), (c0, d0, c1, d1) = one.pixels, other.pixels
        assert min(a1, c1) <= max(a0, c0) or min(b1, d1) <= max(b0, d0), (one.rect, other.rect)


@pytest.mark.parametrize("size", SIZES.values())
def test_a_frame_alone_is_the_frame_in_sequence(size: tuple[int, int], turning: Turning) -> None:
    walked = TuningStage(turning, size=size)
    for k in [*range(130, 140), *range(620, 640, 4)]:
        walked.draw(k)
        if k in (139, 636):
            alone = TuningStage(turning, size=size)
            alone.draw(k)
            assert np.array_equal(walked.frame.pixels, alone.frame.pixels), k


def test_the_way_goes_from_low_past_the_setting_and_back(turning: Turning) -> None:
    turned, stage = Turned(turning), TuningStage(turning, size=SIZES["wide"])
    assert [turned.setting(s) for s in (0.0, 1.0, 2.0, 3.0)] == pytest.approx([turning.set_at * f for f in (0.25, 1.0, 4.0, 1.0)])
    assert (np.diff(stage.story.time_s) >= 0).all()
    assert stage.value_words(stage.poster) == "coil " + stage.value_words(stage.poster).removeprefix("coil ")
    assert turned.setting(float(stage.story.time_s[stage.poster])) == pytest.approx(turning.set_at)


def test_arrows_add_up_to_the_powers(turning: Turning) -> None:
    turned = Turned(turning)
    for s in (0.0, 0.4, 1.0, 1.7):
        one, other = turned.on_line(s)
        assert one.imag == pytest.approx(0, abs=1e-9)
        assert one.real > 0
        assert abs(one + other) ** 2 == pytest.approx(turned.value("forward_w", s), rel=1e-3)
        one, other = turned.at_transmitter(s)
        assert abs(one + other) ** 2 == pytest.approx(turned.value("back_w", s), rel=1e-3, abs=1e-9)
    assert apart(*turned.on_line(1.0)) == pytest.approx(0, abs=1e-6)
    assert apart(*turned.at_transmitter(1.0)) == pytest.approx(180, abs=1e-6)


def test_arrows_are_drawn_to_scale(turning: Turning) -> None:
    stage = TuningStage(turning, size=SIZES["wide"])
    k = stage.poster
    stage.draw(k)
    line = stage.phasors[0]
    one, other = stage.turned.on_line(1.0)
    tip = line.sum.get_xy()[3]
    assert tip == pytest.approx([line.cx + line.px * (one + other).real, line.cy], abs=0.5)
    assert np.asarray(line.line.get_xdata())[0] == pytest.approx(
        line.cx + line.px * one.real, abs=0.5
    )  # the echo's arrow starts at its tip


def test_a_square_frame_is_refused(turning: Turning) -> None:
    with pytest.raises(OptionError, match="wide or tall"):
        TuningStage(turning, size=(400, 400))


def test_the_film_and_its_description(turning: Turning, tmp_path: Path) -> None:
    files = film_turning(turning, tmp_path / "turned.gif", size=(320, 180), fps=1, made_by="bouncesim film a --turn coil")
    told = files.description.read_text(encoding="utf-8")
    assert "against\n75 ohm, and back to the transmitter, against 50 ohm" in told
    assert "0 degrees apart, those toward the transmitter 180." in told
    assert "bouncesim film a --turn coil" in told
    assert "roots of power" not in description(TuningStage(turning, size=SIZES["wide"]))
    assert files.captions.read_text(encoding="utf-8").count("-->") == 8
