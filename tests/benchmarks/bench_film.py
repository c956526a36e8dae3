"""How fast a film is made: against matplotlib's ordinary animation writer, and against the encoder alone, all in one run.

A station with a tuner and two line sections, 1920x1080 at 30 frames a second. All three encode with the same encoder and settings. The
ordinary writer draws the same picture, the whole of it and with ordinary text, for every frame; it is timed over fewer frames, and frames a
second are compared. The encoder alone gets the very frames of the film from a file. The works take turns, and the best of each counts.
"""

from __future__ import annotations

import subprocess
import time
from pathlib import Path

import imageio_ffmpeg
import matplotlib
from matplotlib.animation import FFMpegWriter, FuncAnimation
from matplotlib.text import Text

from bouncesim.account.run import Run
from bouncesim.scenario.model import Beat
from bouncesim.show.encoder import command
from bouncesim.show.film import film
from bouncesim.show.formats import FORMATS
from bouncesim.show.glyphs import QuickText
from bouncesim.show.stage import Stage
from bouncesim.show.story import CLOSING_S
from bouncesim.show.yuv import Planes
from tests.show.fake import Station

FPS = 30
SECONDS, ORDINARY_FRAMES, ROUNDS = 12.0, 60, 2
SIZE = (1920, 1080)
SECTIONS = (("coax", 0.4, 50.0), ("open wire", 0.6, 450.0))


def story(seconds: float) -> Run:
    """A run told in so many seconds."""
    share = (seconds - CLOSING_S) / 3
    beats = (
        Beat(until="antenna reached", lasts_s=share, caption="Key down: a wave sets out along the line."),
        Beat(until="first echo", lasts_s=share, caption="Part of the wave turns back."),
        Beat(until="round trip 3", lasts_s=share, caption="Now ${antenna.power_w} go into the antenna."),
    )
    return Station(beats=beats, sections=SECTIONS).run()


def ours(run: Run, folder: Path) -> float:
    """Frames a second of the whole job, from the run to the finished files."""
    frames = len(Stage(run, fps=FPS))
    start = time.perf_counter()
    film(run, folder / "ours.mp4", fps=FPS)
    return frames / (time.perf_counter() - start)


def raw(run: Run, folder: Path) -> tuple[Path, int]:
    """The film's frames as the encoder gets them."""
    stage, planes = Stage(run, fps=FPS), Planes(SIZE)
    with (folder / "frames.yuv").open("wb") as file:
        for k in range(len(stage)):
            changed = stage.draw(k)
            planes.take(stage.frame.pixels, changed)
            file.write(planes.data.tobytes())
    return folder / "frames.yuv", len(stage)


def encoder_alone(frames: Path, count: int, folder: Path) -> float:
    """Frames a second of the encoder with nothing else to do."""
    line = command(FORMATS["mp4"], str(folder / "alone.mp4"), SIZE, FPS, False)
    start = time.perf_counter()
    with frames.open("rb") as file:
        subprocess.run(line, stdin=file, check=True)
    return count / (time.perf_counter() - start)


def ordinary(run: Run, folder: Path, frames: int) -> float:
    """Frames a second of FuncAnimation with FFMpegWriter, frames taken evenly from the whole story."""
    stage = Stage(run, fps=FPS)
    for region in stage.frame.regions:
        for artist in region.artists:
            artist.set_animated(False)

    def update(i: int) -> None:
        k = i * len(stage) // frames
        for region in stage.frame.regions:
            region.update(k)

    matplotlib.rcParams["animation.ffmpeg_path"] = imageio_ffmpeg.get_ffmpeg_exe()
    animation = FuncAnimation(stage.frame.figure, update, frames=frames, blit=False)  # type: ignore[arg-type]
    writer = FFMpegWriter(
        fps=FPS, codec="libx264", extra_args=["-preset", "veryfast", "-crf", "18", "-pix_fmt", "yuv420p", "-threads", "2"]
    )
    quick, QuickText.draw = QuickText.draw, Text.draw  # type: ignore[method-assign]
    try:
        start = time.perf_counter()
        animation.save(str(folder / "ordinary.mp4"), writer=writer, dpi=stage.frame.figure.dpi)
        return frames / (time.perf_counter() - start)
    finally:
        QuickText.draw = quick  # type: ignore[method-assign]


def test_film(bench, tmp_path: Path) -> None:
    run = story(SECONDS)
    film(story(CLOSING_S + 0.3), tmp_path / "warm.mp4", size=(320, 180), fps=3)  # compile the kernel, fill the font cache
    pictures, count = raw(run, tmp_path)
    rates: dict[str, list[float]] = {"film": [], "ordinary": [], "encoder": []}
    bench.in_turns(
        lambda: rates["film"].append(ours(run, tmp_path)),
        lambda: rates["ordinary"].append(ordinary(run, tmp_path, ORDINARY_FRAMES)),
        lambda: rates["encoder"].append(encoder_alone(pictures, count, tmp_path)),
        rounds=ROUNDS,
    )
    mine, usual, alone = (max(each) for each in rates.values())
    bench.row(f"film of {count} frames: as fast as the ordinary writer", f"{mine:.1f} frames/s", f"{mine / usual:.1f} times")
    bench.row("film: share of the encoder alone", f"{alone:.1f} frames/s", f"{100 * mine / alone:.0f} %")
