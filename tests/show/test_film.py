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
from bouncesim.errors import OptionError, OutputError, ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.show.captions import SAFETY
from bouncesim.show.encoder import Encoder, command
from bouncesim.show.film import FilmFiles, film
from bouncesim.show.formats import FORMATS
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.yuv import Planes
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
    scale = SIZE[0] / 1920
    x, y = int(stage.layout.meters[0] * scale + 70), int((stage.layout.meters[1] + 58 + 17) * scale)
    stage.draw(stage.poster)
    blue = stage.frame.pixels[y, x + 30, :3].astype(int)
    assert np.abs(frames[stage.poster][y, x + 30].astype(int) - blue).max() <= 12  # the forward bar keeps its colour


def test_poster_captions_and_description(made: FilmFiles, run: Run) -> None:
    stage = Stage(run, verdict_of(run), size=SIZE, fps=FPS)
    stage.draw(stage.poster)
    assert np.array_equal(imageio.imread(made.poster), stage.frame.pixels[:, :, :3])
    captions = made.captions.read_text(encoding="utf-8")
    header, note, *cues = captions.split("\n\n")
    assert (header, note.split()[0]) == ("WEBVTT", "NOTE")
    assert cues[0] == "00:00:00.000 --> 00:00:01.200\nKey down: a wave sets out along the line."
    assert cues[1].startswith("00:00:01.200 --> ")
    assert "W now go into the antenna." in captions
    assert captions.rstrip().endswith(SAFETY)
    words = made.description.read_text(encoding="utf-8")
    assert "60 W at 14.2 MHz, the tuner, the feed line" in words
    assert words.rstrip().endswith(SAFETY)
    assert not list(made.film.parent.glob(".*.part"))


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
    with pytest.raises(OutputError, match="cannot write into"):
        film(run, tmp_path / "file" / "deeper" / "x.mp4", size=SIZE, fps=FPS)
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user whom folder permissions bind")
def test_a_folder_that_cannot_be_written(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(OutputError, match="cannot write into"):
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


@pytest.mark.parametrize(
    ("path", "options", "told"),
    [
        ("x.avi", {}, "cannot be written as 'avi'; the kinds are mp4, webm, gif, png, mov"),
        ("x.mp4", {"kind": "gif"}, "needs a name that ends in .gif"),
        ("x.png", {}, "goes into a folder"),
        ("x.mp4", {"theme": "pink"}, "There is no theme 'pink'"),
        ("x.mp4", {"fps": 0}, "A film of 0 frames a second"),
        ("x.gif", {"fps": 30}, "choose 10, 20, 25 or 50"),
        ("x.mp4", {"size": (641, 360)}, "needs even numbers of pixels, not 641x360: take 642x360"),
        ("x.mp4", {"size": (64, 36)}, "A film of 64x36 cannot be made"),
        ("x.mp4", {"transparent": True}, "cannot be transparent; choose png or mov"),
        ("x.mp4", {"hide": {"echo"}}, "There is no curve 'echo'"),
    ],
)
def test_what_cannot_be_asked(path: str, options: dict[str, object], told: str, run: Run, tmp_path: Path) -> None:
    with pytest.raises(OptionError, match=told):
        film(run, tmp_path / path, **options)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())


def test_no_encoder(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> str:
        raise RuntimeError("no ffmpeg exe could be found")

    for missing in (none, lambda: str(tmp_path / "gone")):
        with monkeypatch.context() as patch:
            patch.setattr("imageio_ffmpeg.get_ffmpeg_exe", missing)
            with pytest.raises(OutputError, match=r"The film encoder is missing. Install it anew with: pip"):
                film(run, tmp_path / "x.mp4", size=SIZE)
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(tmp_path / "gone"))
    with pytest.raises(OutputError, match=r"is missing. IMAGEIO_FFMPEG_EXE is set to .*gone: set it to a program"):
        film(run, tmp_path / "x.mp4", size=SIZE)
    assert not list(tmp_path.iterdir())


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for the encoder is a shell script")
@pytest.mark.parametrize(
    ("script", "told"),
    [
        ("no program", "cannot be started: Exec format error"),
        ("#!/bin/sh\nhead -c 100000 >/dev/null\nkill -9 $$\n", "it was killed by signal 9"),
        ('#!/bin/sh\ncat >/dev/null\nfor last; do :; done\necho rubbish >"${last#file:}"\n', "what the encoder left is no film"),
    ],
)
def test_an_encoder_that_is_none(script: str, told: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It cannot be started, is killed in the middle, or writes rubbish and finds that good."""
    encoder = tmp_path / "encoder"
    encoder.write_text(script)
    encoder.chmod(0o755)
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(encoder))
    for name in ("x.mp4", "frames"):
        with pytest.raises(OutputError, match=told):
            film(run, tmp_path / "out" / name, size=SIZE, fps=FPS)
    assert [path.name for path in tmp_path.iterdir()] == ["encoder"]


ODD = "a b'c\"d`e$f #5 100%d %03d é\u2126 -n\nl;&*?[x]:y"


@pytest.mark.skipif(os.name == "nt", reason="that system allows no such names")
@pytest.mark.parametrize("kind", ["mp4", "gif", "png", *(pytest.param(kind, marks=pytest.mark.slow) for kind in ("webm", "mov"))])
@pytest.mark.parametrize("name", [ODD, "-i", "%05d", "x" * 235])
def test_any_name_of_file_and_folder(name: str, kind: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Signs that mean something to a shell, to a terminal or to the encoder, which takes % for a number and : for a protocol."""
    monkeypatch.chdir(tmp_path)
    files = film(brief(run, 0.1), Path(name) / (name + ("" if kind == "png" else f".{kind}")), size=(320, 180), fps=2)
    assert sorted(path.name for path in (tmp_path / name).iterdir()) == sorted(file.name for file in files)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    plain = film(brief(run, 0.1), Path("plain" + ("" if kind == "png" else f".{kind}")), size=(320, 180), fps=2)
    for one, other in zip(files, plain, strict=True):
        pairs = zip(sorted(one.iterdir()), sorted(other.iterdir()), strict=True) if one.is_dir() else [(one, other)]
        assert all(a.read_bytes() == b.read_bytes() for a, b in pairs)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("kind", ["mp4", *(pytest.param(kind, marks=pytest.mark.slow) for kind in ("webm", "gif", "mov"))])
def test_a_full_disk(kind: str, tmp_path: Path) -> None:
    """The encoder writes to a device that has no room; what becomes of a command then is in tests/mishaps."""
    size, format_ = (320, 180), FORMATS[kind]
    palette = tmp_path / "palette.png" if kind == "gif" else None
    if palette:
        imageio.imwrite(palette, np.arange(768, dtype=np.uint8).reshape(16, 16, 3))
    bytes_a_frame = size[0] * size[1] * (4 if format_.pixels == "rgba" else 3) // (1 if format_.pixels == "rgba" else 2)
    rng = np.random.default_rng(1)

    def encode() -> None:
        with Encoder(command(format_, "/dev/full", size, 10, True, palette), tmp_path / f"x.{kind}") as encoder:
            for _ in range(20):
                encoder.take(rng.bytes(bytes_a_frame))

    with pytest.raises(OutputError, match=r"The disk is full: the film could not be written in .* Make room and try again"):
        encode()


def brief(run: Run, seconds: float = 0.5) -> Run:
    beats = (Beat(until="first echo", lasts_s=seconds, caption="Out and back"),)
    return dataclasses.replace(run, scenario=run.scenario.model_copy(update={"beats": beats}))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "size", "codec", "pixels"),
    [
        ("x.webm", (360, 640), "av1", "yuv420p"),
        ("x.mov", (361, 361), "prores", "yuva444p"),
    ],
)
def test_other_kinds_read_back(name: str, size: tuple[int, int], codec: str, pixels: str, run: Run, tmp_path: Path) -> None:
    files = film(brief(run), tmp_path / name, size=size, fps=10)
    meta = imageio.immeta(files.film, plugin="FFMPEG")
    assert meta["fps"] == 10
    assert tuple(meta["size"]) == size
    assert meta["codec"] == codec
    assert meta["pix_fmt"].startswith(pixels)
    assert "tv, bt709" in meta["pix_fmt"]
    frames = list(imageio.imiter(files.film, plugin="FFMPEG"))
    stage = Stage(brief(run), size=size, fps=10)
    assert len(frames) == len(stage) == 45
    stage.draw(30)
    assert np.abs(frames[30].astype(int) - stage.frame.pixels[:, :, :3]).mean() < CODED
    again = film(brief(run), tmp_path / "again" / name, size=size, fps=10)
    assert again.film.read_bytes() == files.film.read_bytes()


def test_a_gif_reads_back(run: Run, tmp_path: Path) -> None:
    size = (321, 241)
    files = film(brief(run), tmp_path / "x.gif", size=size, fps=10)
    frames = imageio.imread(files.film, plugin="pillow", index=...)
    stage = Stage(brief(run), size=size, fps=10)
    assert frames.shape == (len(stage), size[1], size[0], 3)
    assert imageio.immeta(files.film, plugin="pillow")["duration"] == 100  # ms a frame
    stage.draw(30)
    assert np.abs(frames[30].astype(int) - stage.frame.pixels[:, :, :3]).mean() < CODED
    assert film(brief(run), tmp_path / "again.gif", size=size, fps=10).film.read_bytes() == files.film.read_bytes()
    assert {path.suffix for path in tmp_path.iterdir()} == {".gif", ".png", ".vtt", ".txt"}


def test_a_folder_of_pictures_lets_through(run: Run, tmp_path: Path) -> None:
    files = film(brief(run), tmp_path / "frames", size=(321, 200), fps=4, transparent=True)
    names = sorted(path.name for path in files.film.iterdir())
    assert names == [f"frame-{k:05d}.png" for k in range(18)]
    look = Look(clear=True)
    stage = Stage(brief(run), size=(321, 200), fps=4, look=look)
    for k, name in enumerate(names):
        stage.draw(k)
        assert np.array_equal(imageio.imread(files.film / name), stage.frame.pixels), k
    assert files.poster.name == "frames.poster.png"
    film(brief(run), tmp_path / "frames", size=(321, 200), fps=2)  # a film before it is replaced
    assert len(list(files.film.iterdir())) == 9
    (files.film / "holiday.png").write_bytes(b"mine")
    with pytest.raises(OptionError, match="holds other things"):
        film(brief(run), tmp_path / "frames", size=(321, 200), fps=2)
    assert (files.film / "holiday.png").read_bytes() == b"mine"
    assert not list(tmp_path.glob(".*.part"))


def test_a_film_of_one_frame(run: Run, tmp_path: Path) -> None:
    """One frame of story and four of closing: as short as a film at one frame a second can be."""
    files = film(brief(run, 0.01), tmp_path / "x.mp4", size=(320, 180), fps=1)
    assert len(list(imageio.imiter(files.film, plugin="FFMPEG"))) == 5
    stage = Stage(brief(run, 0.01), size=(320, 180), fps=1)
    frame = tmp_path / "one.mp4"
    with Encoder(command(FORMATS["mp4"], str(frame), (320, 180), 30, True), frame) as encoder:
        stage.draw(0)
        planes = Planes((320, 180))
        planes.take(stage.frame.pixels, [(0, 0, 320, 180)])
        encoder.take(planes.data.tobytes())
    assert len(list(imageio.imiter(frame, plugin="FFMPEG"))) == 1


def test_the_description_says_how_it_was_made(run: Run, tmp_path: Path) -> None:
    files = film(brief(run), tmp_path / "x.mp4", size=(320, 180), fps=2, made_by="bouncesim film mine --fps 2")
    words = files.description.read_text(encoding="utf-8")
    assert "Make it again with:  bouncesim film mine --fps 2" in words
    assert "320x180, 2 frames a second, 9 frames" in words
    assert "Figures of the feed line: as given in the scenario." in words


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
