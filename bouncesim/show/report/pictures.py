"""The pictures of a report: every chart that says something of the station, and the frame that stands for its film."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence

import imageio.v3 as imageio

from bouncesim.account.run import Run
from bouncesim.account.startup import StartUp
from bouncesim.account.verdict import Verdict
from bouncesim.errors import BouncesimError
from bouncesim.show.charts.draw import draw_chart
from bouncesim.show.charts.kinds import KINDS, applies
from bouncesim.show.report.content import Picture
from bouncesim.show.stage import Stage
from bouncesim.show.text import own_style

Progress = Callable[[int, int], None]
SQUARE = (1080, 1080)  # the shape with the largest type for its width: a page may be as narrow as a phone
WIDE = (1920, 1080)
ANSWER = "answer"  # a chart of a question, and nobody asks one here


def kinds_of(run: Run, start_up: StartUp | None) -> list[str]:
    """Every chart that says something of the station."""
    told = [kind for kind in KINDS if kind != ANSWER and applies(kind, run.scenario.keying.shape, run.scenario.direction)]
    return [kind for kind in told if kind != "start-up" or start_up is not None]


def charts(run: Run, start_up: StartUp | None, themes: Sequence[str], progress: Progress | None = None) -> list[Picture]:
    """Every chart in each theme; the first theme is that of the file beside the Markdown."""
    kinds, found = kinds_of(run, start_up), []
    for k, kind in enumerate(kinds):
        sheets = {
            theme: draw_chart(kind, run, start_up=start_up if kind == "start-up" else None, size=SQUARE, theme=theme) for theme in themes
        }
        pixels, images = {}, {}
        for theme, sheet in sheets.items():
            png, svg = io.BytesIO(), io.BytesIO()
            sheet.png(png)
            sheet.svg(svg)
            pixels[theme] = png.getvalue()
            images[theme] = smaller(png.getvalue(), svg.getvalue())
        words = KINDS[kind][:1].upper() + KINDS[kind][1:]
        found.append(Picture(kind, f"{words}.", sheets[themes[0]].sentence, SQUARE, images, pixels[themes[0]]))
        if progress is not None:
            progress(k + 1, len(kinds))
    return found


def smaller(png: bytes, svg: bytes) -> tuple[str, bytes]:
    """The drawing, which stays sharp at any size, unless the pixels take less room."""
    return ("image/png", png) if len(png) < len(svg) else ("image/svg+xml", svg)


def poster(run: Run, verdict: Verdict | None, themes: Sequence[str]) -> Picture | str:
    """The frame that stands for the film, square, or wide where a square one has no room; or why there is none."""
    reason = ""
    for size in (SQUARE, WIDE):
        try:
            images = {theme: ("image/png", _frame(run, verdict, theme, size)) for theme in themes}
        except BouncesimError as error:
            reason = str(error)
            continue
        caption = "Half a second before the end of the beat that holds the middle of the story."
        return Picture("poster", "The frame that stands for the film.", caption, size, images, images[themes[0]][1])
    return reason


def _frame(run: Run, verdict: Verdict | None, theme: str, size: tuple[int, int]) -> bytes:
    with own_style():
        stage = Stage(run, verdict, theme=theme, size=size)
        stage.draw(stage.poster)
        made: bytes = imageio.imwrite("<bytes>", stage.frame.pixels[:, :, :3], extension=".png")
        return made
