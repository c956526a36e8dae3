"""Every chart, at every shape of sheet: nothing cut, nothing over anything else, nothing too small to read."""

from __future__ import annotations

import io
from functools import cache

import imageio.v3 as imageio
import numpy as np
import pytest
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from bouncesim.errors import OptionError
from bouncesim.show.charts.answer import Answer, Judged
from bouncesim.show.charts.draw import draw_chart
from bouncesim.show.charts.kinds import KINDS, THEMES
from bouncesim.show.charts.sheet import BOTTOM, SHORTER, TOP, Sheet
from bouncesim.show.theme import PALETTES, SMALL
from tests.show.charts.stations import PULSES, TEXTS, pulse_run, run_of, start_like

SIZES = {"wide": (1920, 1080), "tall": (1080, 1920), "square": (1080, 1080)}
QUICK = [("five", "wide"), ("two", "tall"), ("short", "square")]
OF_CARRIERS = [kind for kind in KINDS if kind != "echo"]
SLACK = 4.0  # px of the empty edge of a line of text's box
LEADING = 7.0  # px by which the boxes of two lines of text may reach into one another: ascenders and descenders hardly ever meet
ON_PHONE = 28.0  # px: least type of a sheet that is not wide


def answer_for(name: str) -> Answer:
    """An answer with everything on it."""
    run = run_of(name)
    claims = (
        Judged("Most of the power reaches the antenna", "holds", "holds with 34 % to spare"),
        Judged("The line stays cool, however long it is, and whatever stands at its end", "fails", "fails by 12 %"),
        Judged("The tuner hides it", "too close to call", "too close to call: 1e-05 from the bound, error bar 2e-05"),
    )
    question = "What about my forty metres of thin coax at 28 MHz, and is it worth buying a better cable for <$20> & a day's work?"
    power, command = run.readings.antenna.power_w, "bouncesim chart scenarios/mine.toml answer --question '...' --check"
    words = "power into the antenna"
    return Answer(question, "antenna.power_w", power, words, 1e-7, power, "holds", 0.5 * power, 1.2 * power, claims, command)


@cache
def chart(kind: str, name: str, size: tuple[int, int], theme: str = "dark") -> Sheet:
    start = start_like(run_of(name)) if kind == "start-up" else None
    return draw_chart(kind, run_of(name), answer=answer_for(name) if kind == "answer" else None, start_up=start, size=size, theme=theme)


def texts(sheet: Sheet) -> list[tuple[Text, Bbox]]:
    """Every text with its box in px of the sheet, y down."""
    found, back = [], sheet.axes.transData.inverted()
    renderer = sheet.canvas.get_renderer()  # type: ignore[no-untyped-call]
    for text in sheet.axes.texts:
        if text.get_text().strip():
            box = text.get_window_extent(renderer).transformed(back)
            found.append((text, Bbox.from_extents(box.xmin, box.ymin, box.xmax, box.ymax)))
    return found


def room_of(sheet: Sheet, box: Bbox) -> tuple[float, float, float, float]:
    """The panel in which a text stands, or the sheet but for what a player may cover."""
    x, y = (box.xmin + box.xmax) / 2, (box.ymin + box.ymax) / 2
    for px, py, w, h in sheet.panels:
        if px <= x <= px + w and py <= y <= py + h:
            return px, py, w, h
    top, bottom = (TOP, BOTTOM) if sheet.is_tall else (0.0, 0.0)
    return 16.0, top, sheet.w - 32.0, sheet.h - top - bottom


def check_words(sheet: Sheet) -> None:
    found = texts(sheet)
    least = SMALL if sheet.is_wide else ON_PHONE
    for text, box in found:
        assert float(text.get_fontsize()) >= least - 1e-6, text.get_text()
        x, y, w, h = room_of(sheet, box)
        assert x - SLACK <= box.xmin <= box.xmax <= x + w + SLACK, (text.get_text(), box, (x, y, w, h))
        assert y - SLACK <= box.ymin <= box.ymax <= y + h + SLACK, (text.get_text(), box, (x, y, w, h))
    x0, y0, x1, y1 = np.array([box.extents for _, box in found]).T
    wide = np.minimum.outer(x1, x1) - np.maximum.outer(x0, x0)
    high = np.minimum.outer(y1, y1) - np.maximum.outer(y0, y0)
    over = [(i, j) for i, j in zip(*np.nonzero((wide > SLACK) & (high > LEADING)), strict=True) if i < j]
    assert [(found[i][0].get_text(), found[j][0].get_text()) for i, j in over] == []


@pytest.mark.parametrize(("name", "shape"), QUICK)
@pytest.mark.parametrize("kind", OF_CARRIERS)
def test_words_are_whole_apart_and_large_enough(kind: str, name: str, shape: str) -> None:
    check_words(chart(kind, name, SIZES[shape]))


@pytest.mark.slow
@pytest.mark.parametrize("shape", SIZES)
@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("kind", OF_CARRIERS)
def test_words_of_every_station_at_every_shape(kind: str, name: str, shape: str) -> None:
    if (name, shape) not in QUICK:
        check_words(chart(kind, name, SIZES[shape]))


@pytest.mark.parametrize(("name", "shape"), [("one fault", "wide"), ("three faults", "tall"), ("no fault", "square")])
def test_words_of_a_chart_of_echoes(name: str, shape: str) -> None:
    check_words(draw_chart("echo", pulse_run(name), size=SIZES[shape]))


@pytest.mark.slow
@pytest.mark.parametrize("shape", SIZES)
@pytest.mark.parametrize("name", PULSES)
def test_words_of_every_chart_of_echoes(name: str, shape: str) -> None:
    check_words(draw_chart("echo", pulse_run(name), size=SIZES[shape], theme="light"))


@pytest.mark.parametrize("theme", THEMES)
def test_colours_are_those_of_the_theme(theme: str) -> None:
    """The theme's own contrast is tested with the theme; a chart brings no other colour of text."""
    palette = PALETTES[theme]
    allowed = {palette.text, palette.secondary, palette.antenna, palette.total, palette.forward, palette.reflected}
    for kind in ("meters", "flow", "answer"):
        sheet = chart(kind, "five", SIZES["wide"], theme)
        assert {text.get_color() for text, _ in texts(sheet)} <= allowed, kind
        assert sheet.figure.get_facecolor() != (1.0, 1.0, 1.0, 1.0)


@pytest.mark.parametrize("size", [(400, 711), (401, 400), (1366, 768)])
def test_a_picture_has_the_size_that_was_asked_for(size: tuple[int, int]) -> None:
    file = io.BytesIO()
    sheet = chart("stress", "short", size)
    sheet.png(file)
    assert imageio.imread(file.getvalue()).shape == (size[1], size[0], 3)
    assert min(sheet.w, sheet.h) == pytest.approx(SHORTER)


@pytest.mark.parametrize("size", [(319, 500), (8000, 4500), (2000, 500)])
def test_an_impossible_size_is_refused(size: tuple[int, int]) -> None:
    with pytest.raises(OptionError, match=rf"A chart of {size[0]}x{size[1]} cannot be drawn"):
        chart("stress", "short", size)


def test_what_there_is_not_is_refused() -> None:
    assert set(THEMES) == set(PALETTES)
    for kind, theme, words in (
        ("pie", "dark", "no chart 'pie'"),
        ("stress", "pink", "no theme 'pink'"),
        ("answer", "dark", "needs an answer"),
        ("start-up", "dark", "needs a start-up"),
        ("echo", "dark", "its key sends no pulse"),
    ):
        with pytest.raises(OptionError, match=words):
            draw_chart(kind, run_of("short"), theme=theme)
