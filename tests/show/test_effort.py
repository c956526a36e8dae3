"""What a film takes is told from its frames and their size, and refused before anything is drawn."""

import os
from pathlib import Path

import pytest

from bouncesim import budget
from bouncesim.errors import TooMuchWork
from bouncesim.scenario import Beat
from bouncesim.show.effort import COSTS, chart_work, film_work, frames_ahead
from bouncesim.show.film import film, order
from bouncesim.show.formats import FORMATS
from bouncesim.show.stage import Stage
from bouncesim.show.story import Shot, frames_of
from tests.show.fake import Station

FACTOR = 3


@pytest.fixture(autouse=True)
def usual():
    yield
    budget.allow_work(1)


def told(*beats: Beat):
    return Station(beats=beats).run()


def beat(until: str | float, **more: float) -> Beat:
    return Beat(until=until, caption="c", **more)


@pytest.mark.parametrize(
    "beats",
    [
        (),
        (beat("first echo", lasts_s=9, pause_s=2), beat("settled", lasts_s=12)),
        (beat("antenna reached", slowed=2e7), beat("round trip 3", slowed=3e7, pause_s=1)),
        (beat(2e-7, slowed=4e7), beat("settled", slowed=5e6)),
    ],
    ids=["usual", "lasts", "slowed", "settled"],
)
def test_the_frames_ahead_are_near_those_that_come(beats: tuple[Beat, ...]) -> None:
    run = told(*beats)
    assert frames_ahead(run.scenario, 30) / FACTOR < len(Stage(run, fps=30)) < FACTOR * frames_ahead(run.scenario, 30)


@pytest.mark.parametrize("kind", ["mp4", "gif", "png"])
def test_the_disk_that_is_told_is_near_what_a_film_takes(tmp_path: Path, kind: str) -> None:
    run, frames = told(beat("first echo", lasts_s=1)), []
    target = tmp_path / ("film" if kind == "png" else f"film.{kind}")
    made = film(run, target, size=(960, 540), fps=25, progress=lambda done, total: frames.append(done))
    files = list(made.film.iterdir()) if kind == "png" else [made.film]
    disk = film_work(len(frames), kind, (960, 540)).disk
    assert disk / FACTOR < sum(os.path.getsize(file) for file in files) < FACTOR * disk


def test_every_kind_of_film_has_its_cost() -> None:
    assert set(COSTS) == set(FORMATS)


def test_a_frame_too_large_is_refused_before_anything_is_drawn(tmp_path: Path) -> None:
    with pytest.raises(TooMuchWork, match=r"4320x4320 .* GB of memory") as caught:
        order(tmp_path / "film.mp4", size=(4320, 4320))
    budget.allow_work(float(str(caught.value).rpartition("allow_work(")[2].split(")")[0]))
    assert order(tmp_path / "film.mp4", size=(4320, 4320)).size == (4320, 4320)


def test_a_film_of_a_day_is_refused_before_its_frames_are_counted_out() -> None:
    with pytest.raises(TooMuchWork, match="The film takes 2e7 frames"):
        frames_of([Shot(0.0, 1e-6, 86_400.0, "c")], 240, 4.0, 1e-7)


def test_python_is_refused_alike_once_the_frames_are_known(tmp_path: Path) -> None:
    run = told(beat("first echo", lasts_s=600), beat("settled", lasts_s=600, pause_s=60))
    with pytest.raises(TooMuchWork, match=r"frames of 1920x1080"):
        film(run, tmp_path / "film.mp4", fps=240)
    assert not list(tmp_path.iterdir())


def test_charts_by_their_pixels() -> None:
    assert chart_work(1, (7680, 7680)).memory > 1e9 > chart_work(9, (1920, 1080)).memory
