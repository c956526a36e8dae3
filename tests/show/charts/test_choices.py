"""Pictures of answers: their words are whole and apart, and bars are as long as the figures are large."""

from __future__ import annotations

import io
import math

import imageio.v3 as imageio
import pytest
from matplotlib.colors import to_hex

from bouncesim.account.choices import CableLoss, OnBand, SwrLimit
from bouncesim.scenario.bands import SHORT_WAVES, places
from bouncesim.show.charts.cables import cable_chart, decibels
from bouncesim.show.charts.limits import limit_chart
from bouncesim.show.charts.shares import share_chart
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.theme import PALETTES
from tests.show.charts.test_sheets import check_words

TITLE = "A title of quite a few words, so that it has to be wrapped"
SENTENCE = "From 80 m to 10 m it is one thing, and from there on quite another."
NOTE = "Caution: a high SWR means high voltage on line and tuner; RF burns."
AT = [(band, places(band, 1, 1)[0]) for band in SHORT_WAVES]
SIZES = [(1080, 1080), (1920, 1080), (1080, 1920)]


def on_band(k: int, line: str, outcome: str = "solved") -> OnBand:
    """Invented: of 60 W, so many are radiated."""
    radiated = 60 * (0.001, 0.02, 0.4, 0.9, 0.75, 0.5, 0.33, 0.25, 0.6, 0.8)[k]
    swr = (1285.5, 120.3, 30.0, 1.0, 2.5, 5.0, 8.0, 12.5, 4.0, 3.0)[k]
    left = 60 - radiated
    heats = {"line_heat_w": 0.7 * left, "tuner_heat_w": 0.2 * left, "antenna_heat_w": 0.1 * left, "other_heat_w": 0.0}
    borne = {"line_v_peak": 300.0, "line_a_peak": 3.0, "coil_a_peak": 2.0, "capacitor_v_peak": 200.0}
    swrs = {"swr_antenna": swr, "swr_shack": swr / 2, "seen_swr": 1.0}
    return OnBand(*AT[k], line, outcome, **swrs, setting="", transmitter_w=60.0, radiated_w=radiated, **heats, **borne)


def limits() -> list[SwrLimit]:
    values = (math.inf, 40.0, 12.0, 8.0, 5.5, 4.0, 3.0, 2.0, 1.2, math.nan)
    return [SwrLimit(*AT[k], 1.0, value, value, (1.0, 2.0)) for k, value in enumerate(values)]


def losses(types: int) -> list[CableLoss]:
    return [CableLoss(f"type-number-{t}", *AT[k], 0.1, 0.2, 0.02 * (t + 1) * (k + 1), t != 1) for t in range(types) for k in range(10)]


def boxes(sheet: Sheet, color: str) -> list[float]:
    """Widths of the bars of a colour, those of a legend's swatches left out."""
    found = [patch for patch in sheet.axes.patches if hasattr(patch, "get_width") and to_hex(patch.get_facecolor()) == color.lower()]
    return [float(patch.get_width()) for patch in found if abs(patch.get_width() - patch.get_height()) > 1e-9]


@pytest.mark.parametrize(
    ("size", "theme"),
    [
        ((1080, 1080), "dark"),
        *(pytest.param(size, theme, marks=pytest.mark.slow) for size in SIZES for theme in PALETTES),
    ],
)
def test_words_are_whole_apart_and_large_enough(size: tuple[int, int], theme: str) -> None:
    rows = [on_band(k, "rg58c") for k in range(10)]
    both = [on_band(k, line, "no match" if k == 3 else "solved") for k in range(6) for line in ("corrugated-half-inch", "open-wire-2mm")]
    words = (TITLE, "28 m of line, 60 W, with a tuner", SENTENCE, NOTE)
    for sheet in (
        share_chart(rows, *words, size=size, theme=theme),
        share_chart(both, *words, size=size, theme=theme),
        limit_chart(limits(), *words, size=size, theme=theme),
        cable_chart(losses(12), *words, size=size, theme=theme),
    ):
        check_words(sheet)


def test_bars_are_shares_of_the_power() -> None:
    rows = [on_band(k, "rg58c") for k in range(10)]
    sheet = share_chart(rows, TITLE, "", SENTENCE)
    radiated = boxes(sheet, sheet.palette.antenna)
    whole = max(radiated) / 0.9
    shown = [row.radiated_share for row in rows if row.radiated_share * whole >= 0.5]
    assert radiated == pytest.approx([share * whole for share in shown], rel=1e-9)
    assert sum(radiated) + sum(boxes(sheet, sheet.palette.heat)) == pytest.approx(10 * whole, abs=10)  # what is under half a px is left out


def test_bars_of_limits_are_on_a_scale_of_ratios() -> None:
    sheet = limit_chart(limits(), TITLE, "", SENTENCE)
    wide = boxes(sheet, sheet.palette.antenna)
    assert len(wide) == 9  # of the tenth not even a matched antenna will do
    assert wide[1] / wide[7] == pytest.approx(math.log(40) / math.log(2), rel=1e-9)
    assert wide[0] == max(wide)


def test_bars_of_cables_are_what_arrives() -> None:
    sheet = cable_chart(losses(2), TITLE, "", SENTENCE)
    track, bar = boxes(sheet, sheet.palette.grid), boxes(sheet, sheet.palette.antenna)
    shown = [0, 2, 4, 7, 9]  # of ten bands: five columns
    expected = [10 ** (-0.002 * (t + 1) * (k + 1)) for t in range(2) for k in shown]
    assert [b / t for b, t in zip(bar, track, strict=True)] == pytest.approx(expected, rel=1e-9)
    assert (decibels(0.25), decibels(0.996), decibels(12.34)) == ("0.25", "1.0", "12.3")


def test_files_are_pictures_and_the_same_each_time() -> None:
    files = []
    for _ in range(2):
        png, svg = io.BytesIO(), io.BytesIO()
        sheet = limit_chart(limits(), TITLE, "", SENTENCE)
        sheet.png(png)
        sheet.svg(svg)
        files.append((png.getvalue(), svg.getvalue()))
    assert files[0] == files[1]
    assert imageio.imread(files[0][0]).shape == (1080, 1080, 3)
