"""From a run to a film: frames drawn, converted and piped to the encoder, with poster, captions and a description beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import imageio.v3 as imageio

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.errors import OutputError
from bouncesim.show.blit import WIDE
from bouncesim.show.captions import description, webvtt
from bouncesim.show.encoder import Encoder, whole_files
from bouncesim.show.stage import Stage
from bouncesim.show.text import own_style
from bouncesim.show.theme import PALETTES
from bouncesim.show.yuv import Planes

Progress = Callable[[int, int], None]
DRAFT = (1280, 720)


class FilmFiles(NamedTuple):
    """What a film leaves in its folder."""

    film: Path  # mp4
    poster: Path  # png
    captions: Path  # WebVTT
    description: Path  # plain text


def film(
    run: Run,
    path: str | Path,
    verdict: Verdict | None = None,
    *,
    theme: str = "dark",
    size: tuple[int, int] | None = None,
    fps: int = 30,
    draft: bool = False,
    progress: Progress | None = None,
) -> FilmFiles:
    """Film a run into `path` (.mp4), with NAME.vtt, NAME.poster.png and NAME.description.txt beside it.

    `size` is (width, height) in px, 16:9 (default 1920x1080, a draft 1280x720); `progress(done, total)` is called after every frame.
    The same run gives the same bytes. Raises OutputError if the files cannot be written (nothing is left behind, nor after Ctrl-C) or
    theme or size are unknown; ScenarioError if the beats name moments or quantities that the run does not have.
    """
    target, size = Path(path), size or (DRAFT if draft else WIDE)
    if target.suffix.lower() != ".mp4":
        raise OutputError(f"A film is written as .mp4; {target.name} ends otherwise.")
    if theme not in PALETTES:
        raise OutputError(f"There is no theme {theme!r}; use one of {', '.join(PALETTES)}.")
    if fps < 1:
        raise OutputError(f"A film of {fps} frames a second cannot be made; 30 is usual.")
    files = FilmFiles(target, *(target.with_suffix(ending) for ending in (".poster.png", ".vtt", ".description.txt")))
    with own_style(), whole_files(*files) as parts:
        stage = Stage(run, verdict, theme=theme, size=size, fps=fps)
        clip, poster, captions, words = parts
        captions.write_text(webvtt(stage.story, stage.live), encoding="utf-8")
        words.write_text(description(run, stage.story, stage.live, verdict), encoding="utf-8")
        _encode(stage, clip, size, fps, draft, progress)
        stage.draw(stage.poster)
        imageio.imwrite(poster, stage.frame.pixels[:, :, :3], extension=".png")
    return files


def _encode(stage: Stage, path: Path, size: tuple[int, int], fps: int, draft: bool, progress: Progress | None) -> None:
    planes = Planes(size)
    with Encoder(path, size, fps, draft) as encoder:
        for k in range(len(stage)):
            changed = stage.draw(k)
            planes.take(stage.frame.pixels, changed)
            encoder.take(planes.data.tobytes())
            if progress is not None:
                progress(k + 1, len(stage))
