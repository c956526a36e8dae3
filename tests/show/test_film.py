"""Films read back, and what is left when one cannot be made."""

from __future__ import annotations

import dataclasses
import os
import stat
from pathlib import Path

import imageio.v3 as imageio
import numpy as np
import pytest

from bouncesim.account.run import Run
from bouncesim.errors import OutputError, ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.show.captions import SAFETY
from bouncesim.show.film import FilmFiles, film
from bouncesim.show.stage import Stage
from tests.show.fake import verdict_of

SIZE = (640, 360)
FPS = 15
CODED = 10.0  # levels of 255: mean difference that x264 at crf 18 and halved colour may leave; flat places far less
FLAT = 3


@pytest.fixture(scope="module")
def made(run: Run, tmp_path_factory: pytest.TempPathFactory) -> FilmFiles:
    folder = tmp_path_factory.mktemp("film") / "a new folder"
    return film(run, folder / "story.mp4", verdict_of(run), size=SIZE, fps=FPS)


def test_film_reads_back(made: FilmFiles, run: Run) -> None:
    stage = Stage(run, verdict_of(run), size=SIZE, fps=FPS)
    meta = imageio.immeta(made.film, plugin="FFMPEG")
    assert meta["fps"] == FPS
    assert tuple(meta["size"]) == SIZE
    assert meta["codec"] == "h264"
    assert meta["pix_fmt"].startswith("yuv420p(tv, bt709")
    frames = list(imageio.imiter(made.film, plugin="FFMPEG"))
    assert len(frames) == len(stage)
    for k in (0, 20, len(stage) - 1):
        stage.draw(k)
        drawn = stage.frame.pixels[:, :, :3].astype(int)
        off = np.abs(frames[k].astype(int) - drawn)
        assert off.mean() < CODED
        assert off[4:8, 4:200].max() <= FLAT  # the background
    x, y = int(230 * SIZE[0] / 1920 + 2), int((744 + 58 + 17) * SIZE[1] / 1080)
    stage.draw(stage.poster)
    blue = stage.frame.pixels[y, x + 30, :3].astype(int)
    assert np.abs(frames[stage.poster][y, x + 30].astype(int) - blue).max() <= 12  # the forward bar keeps its colour


def test_poster_captions_and_description(made: FilmFiles, run: Run) -> None:
    stage = Stage(run, verdict_of(run), size=SIZE, fps=FPS)
    stage.draw(stage.poster)
    assert np.array_equal(imageio.imread(made.poster), stage.frame.pixels[:, :, :3])
    captions = made.captions.read_text(encoding="utf-8")
    assert captions.startswith("WEBVTT\n\n00:00:00.000 --> 00:00:01.200\nKey down: a wave sets out along the line.\n\n00:00:01.200 --> ")
    assert "W now go into the antenna." in captions
    assert captions.rstrip().endswith(SAFETY)
    words = made.description.read_text(encoding="utf-8")
    assert "60 W at 14.2 MHz, the tuner, the feed line" in words
    assert words.rstrip().endswith(SAFETY)
    assert not list(made.film.parent.glob("*.part"))


def test_same_run_same_bytes(made: FilmFiles, run: Run, tmp_path: Path) -> None:
    again = film(run, tmp_path / "again.mp4", verdict_of(run), size=SIZE, fps=FPS)
    for one, other in zip(made, again, strict=True):
        assert one.read_bytes() == other.read_bytes(), other.name


def test_progress_and_draft(run: Run, tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    short = dataclasses.replace(
        run, scenario=run.scenario.model_copy(update={"beats": (Beat(until="first echo", lasts_s=0.5, caption=""),)})
    )
    film(
        short, tmp_path / "short.mp4", size=SIZE, fps=4, theme="light", draft=True, progress=lambda done, total: seen.append((done, total))
    )
    assert seen == [(k, 18) for k in range(1, 19)]
    assert "--> 00:00:00.500" not in (tmp_path / "short.vtt").read_text()  # an empty caption is no cue


def test_a_folder_that_cannot_be_made(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError, match="Cannot write"):
        film(run, tmp_path / "file" / "deeper" / "x.mp4", size=SIZE, fps=FPS)
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user whom folder permissions bind")
def test_a_folder_that_cannot_be_written(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(OutputError, match="Cannot write"):
            film(run, folder / "x.mp4", size=SIZE, fps=FPS)
        assert not list(folder.iterdir())
    finally:
        folder.chmod(stat.S_IRWXU)


def test_interrupted_leaves_nothing(run: Run, tmp_path: Path) -> None:
    def stop(done: int, total: int) -> None:
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        film(run, tmp_path / "new" / "x.mp4", size=SIZE, fps=FPS, progress=stop)
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for the encoder is a shell script")
@pytest.mark.parametrize(
    ("says", "told"),
    [("av_interleaved_write_frame(): No space left on device", "disk is full"), ("Unknown option", "encoder says: Unknown")],
)
def test_a_failing_encoder(says: str, told: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    script = tmp_path / "encoder"
    script.write_text(f"#!/bin/sh\nhead -c 1000000 > /dev/null\necho '{says}' >&2\nexit 1\n")
    script.chmod(0o755)
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(script))
    monkeypatch.setattr("imageio_ffmpeg.get_ffmpeg_exe", lambda: str(script))
    with pytest.raises(OutputError, match=told):
        film(run, tmp_path / "out" / "x.mp4", size=SIZE, fps=FPS)
    assert [path.name for path in tmp_path.iterdir()] == ["encoder"]


def test_a_film_that_was_there_survives_a_failure(run: Run, tmp_path: Path) -> None:
    target = tmp_path / "x.mp4"
    target.write_bytes(b"the old one")

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        film(run, target, size=SIZE, fps=FPS, progress=stop)
    assert target.read_bytes() == b"the old one"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize(("path", "options"), [("x.avi", {}), ("x.mp4", {"theme": "pink"}), ("x.mp4", {"fps": 0})])
def test_what_cannot_be_asked(path: str, options: dict[str, object], run: Run, tmp_path: Path) -> None:
    with pytest.raises(OutputError):
        film(run, tmp_path / path, **options)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())


def test_an_unknown_quantity_in_a_caption(run: Run, tmp_path: Path) -> None:
    beats = (Beat(until="first echo", lasts_s=1, caption="${antena.power_w} arrive"),)
    wrong = dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": beats}))
    with pytest.raises(ScenarioError) as caught:
        film(wrong, tmp_path / "x.mp4", size=SIZE)
    problem = caught.value.problems[0]
    assert problem.field == "beat[1].caption"
    assert problem.reason == "${antena.power_w} is no quantity of this run"
    assert problem.remedy.startswith("Did you mean ${antenna.power_w}")
    assert not list(tmp_path.iterdir())
