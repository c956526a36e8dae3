"""How much faster a film is made than by matplotlib's ordinary animation writer, both in one run.

    python -m tests.benchmarks.bench_film [seconds of film] [frames for the ordinary writer]

Both draw the same picture, 1920x1080 at 30 frames a second, from the same stage, and encode it with the same encoder and settings. The
ordinary writer draws the whole figure for every frame; it is timed over fewer frames, and frames a second are compared.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import imageio_ffmpeg
import matplotlib
from matplotlib.animation import FFMpegWriter, FuncAnimation

from bouncesim.account.run import Run
from bouncesim.scenario.model import Beat
from bouncesim.show.film import film
from bouncesim.show.stage import Stage
from bouncesim.show.story import CLOSING_S
from tests.show.fake import Station

FPS = 30


def story(seconds: float) -> Run:
    """A run told in so many seconds."""
    share = (seconds - CLOSING_S) / 3
    beats = (
        Beat(until="antenna reached", lasts_s=share, caption="Key down: a wave sets out along the line."),
        Beat(until="first echo", lasts_s=share, caption="Part of the wave turns back."),
        Beat(until="round trip 3", lasts_s=share, caption="Now ${antenna.power_w} go into the antenna."),
    )
    return Station(beats=beats).run()


def ours(run: Run, folder: Path) -> float:
    """Frames a second of the whole job, from the run to the finished files."""
    start = time.perf_counter()
    film(run, folder / "ours.mp4", fps=FPS)
    return len(Stage(run, fps=FPS)) / (time.perf_counter() - start)


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
    start = time.perf_counter()
    animation.save(str(folder / "ordinary.mp4"), writer=writer, dpi=stage.frame.figure.dpi)
    return frames / (time.perf_counter() - start)


def main(seconds: float = 10.0, frames: int = 60) -> None:
    run = story(seconds)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        film(story(CLOSING_S + 0.3), folder / "warm.mp4", size=(320, 180), fps=3)  # compile the kernel, fill the font cache
        mine = ours(run, folder)
        usual = ordinary(run, folder, frames)
    print(f"film {mine:.1f} frames/s, ordinary writer {usual:.1f} frames/s: {mine / usual:.1f} times as fast")


if __name__ == "__main__":
    main(*(kind(text) for kind, text in zip((float, int), sys.argv[1:], strict=False)))
