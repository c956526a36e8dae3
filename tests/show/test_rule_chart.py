"""The picture of a rule: what it says is what the map holds, and it can be told without its colours."""

from __future__ import annotations

import dataclasses
import io
from itertools import pairwise

import imageio.v3 as imageio
import numpy as np
import pytest

from bouncesim.account.rulemap import MapAxis, Point, RuleMap, Spot
from bouncesim.show.charts.rules import axis_ticks, band_colors, figure, rule_chart, sentence
from bouncesim.show.theme import PALETTES
from tests.show.vision import contrast

SIDE = 21
APART = 1.25  # contrast of one band with the next: seen side by side with a line between, and each carries its figures


def invented(off: np.ndarray) -> RuleMap:
    """An invented rule."""
    axis = MapAxis("SWR", "", True, np.geomspace(1.1, 20, SIDE))
    points = [Point(2.0, 30.0, complex(1 + far), 1 + 0j, float(far)) for far in (off.max(), off.min())]
    other = MapAxis("source impedance", "ohm", False, np.linspace(0, 60, SIDE))
    return RuleMap("a-rule", "A rule", "x²", "power", "W", "nobody", ("nothing",), "all", axis, other, off, *points)


SLOPE = np.tile(np.linspace(-0.5, 2.5, SIDE), (SIDE, 1))


def test_the_sentence_tells_the_share_and_both_ends() -> None:
    holds, worst = "It holds within 1 % nowhere in this range.", "Elsewhere it gives up to 3.5 times the truth, or up to 50 % too little."
    assert sentence(invented(SLOPE)) == f"{holds} {worst}"
    assert sentence(invented(0 * SLOPE)) == "Right everywhere in this range, to rounding."
    assert sentence(invented(0 * SLOPE + 0.005)) == "It holds within 1 % in 100 % of this range."
    assert "up to 20 % too much." in sentence(invented(0 * SLOPE + 0.2))


@pytest.mark.parametrize(
    ("off", "words"), [(0.0, "0"), (0.009, "0"), (0.04, "+4 %"), (-0.42, "−42 %"), (1.0, "+100 %"), (3.4, "4.4×"), (1e5, ">99×")]
)
def test_a_figure_in_the_map(off: float, words: str) -> None:
    assert figure(off) == words


def test_ticks_of_a_logarithmic_axis() -> None:
    axis = MapAxis("ohm", "ohm", True, np.geomspace(5, 500, 3))
    assert [words for _, words in axis_ticks(axis)] == ["5", "10", "20", "50", "100", "200", "500"]


@pytest.mark.parametrize("theme", PALETTES)
def test_bands_are_told_apart_by_lightness(theme: str) -> None:
    for a, b in pairwise(band_colors(PALETTES[theme])):
        assert contrast(a, b) > APART


@pytest.mark.parametrize("theme", PALETTES)
def test_a_picture(theme: str) -> None:
    spotted = dataclasses.replace(invented(SLOPE), spots=(Spot(3.0, 30.0, "power", 1.0, 1.0, 1e-6),))
    pictures = []
    for one in (invented(SLOPE), spotted, invented(0 * SLOPE)):
        file = io.BytesIO()
        rule_chart(one, theme=theme).png(file)
        pictures.append(imageio.imread(file.getvalue()))
    assert {picture.shape for picture in pictures} == {(1080, 1080, 3)}
    assert (pictures[0] != pictures[1]).any()
    assert (pictures[0] != pictures[2]).any()
