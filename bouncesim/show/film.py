"""From a run to a film: frames drawn, converted and piped to the encoder, with poster, captions and a description beside it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from pathlib import Path
from typing import NamedTuple, TypedDict, Unpack

import numpy as np

from bouncesim import budget
from bouncesim.account import made
from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.account.whole import try_folder, whole_files
from bouncesim.errors import OptionError, OutputError
from bouncesim.show.captions import webvtt
from bouncesim.show.description import description
from bouncesim.show.effort import film_work
from bouncesim.show.encoder import FRAME_NAME, Encoder, command, encoder_path
from bouncesim.show.formats import GIF_SIZES, Format, check_even, check_pace, format_of
from bouncesim.show.layout import DRAFT, FULL, Shape, shape_of
from bouncesim.show.reel import Reel
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.stamped import png
from bouncesim.show.text import own_style
from bouncesim.show.words import ENGLISH, Words
from bouncesim.show.yuv import Planes

Progress = Callable[[int, int], None]
SAMPLES = 12  # frames that a gif's colours are chosen from
PALETTE = Path(".palette.png")  # the encoder is run where it writes and given plain names: some signs in a path would mean something to it
_FRAME = re.compile(r"frame-\d{5,}\.png")


class FilmFiles(NamedTuple):
    """What a film leaves in its folder."""

    film: Path  # or a folder of pictures
    poster: Path  # png
    captions: Path  # WebVTT
    description: Path  # plain text


class Told(NamedTuple):
    """A film ready to be made: its frames, its captions as WebVTT, its description, and where it comes from (account.made)."""

    reel: Reel
    captions: str
    description: str
    made: str


class Order(NamedTuple):
    """What was asked for, checked."""

    kind: Format
    size: tuple[int, int]
    fps: int
    draft: bool
    look: Look


class Options(TypedDict, total=False):
    """How a film may differ from the usual one."""

    kind: str | None  # mp4, webm, gif, mov or png; without it the ending of the path says so
    shape: Shape  # "wide", "tall" or "square"
    size: tuple[int, int] | None  # width and height in px; without it the shape has its usual one
    fps: int | None  # 30, in a gif 25
    draft: bool  # small and quick
    theme: str  # "dark" or "light"
    hide: Collection[str]  # curves to leave out: "total", "forward", "reflected", "largest"
    quantity: str  # along the lines: "voltage", "current" or "both"
    words: Words  # of another language
    transparent: bool  # to lay over other footage; mov and png


def order(path: str | Path, **options: Unpack[Options]) -> Order:
    """Everything about a film that can be told before there is a run. Raises OptionError for what cannot be made, TooMuchWork for
    a frame too large, and OutputError if there is no encoder."""
    clear, draft = options.get("transparent", False), options.get("draft", False)
    found = format_of(Path(path), options.get("kind"), clear)
    usual = GIF_SIZES if found.name == "gif" else DRAFT if draft else FULL
    shape = options.get("shape", "wide")
    if shape not in usual:
        raise OptionError(f"There is no shape {shape!r}; use one of {', '.join(usual)}.")
    size, fps = options.get("size") or usual[shape], options.get("fps")
    pace = found.fps if fps is None else fps
    shape_of(size)
    check_even(found, size)
    check_pace(found, pace)
    budget.check(film_work(1, found.name, size))
    _check_target(Path(path), found.frames)
    encoder_path()
    look = Look(
        *(options.get("theme", "dark"), frozenset(options.get("hide", ())), options.get("quantity", "voltage")),
        *(options.get("words", ENGLISH), clear),
    )
    return Order(found, size, pace, draft, look)


def try_film(path: str | Path, asked: Order) -> None:
    """Find out before long work starts whether the files of a film can be written, and leave no trace. Raises OutputError."""
    try_folder(Path(path).parent, *_names(_files(Path(path), asked.kind), asked.kind))


def film(
    run: Run,
    path: str | Path,
    verdict: Verdict | None = None,
    *,
    made_by: str = "",
    progress: Progress | None = None,
    **options: Unpack[Options],
) -> FilmFiles:
    """Film a run into `path`, with NAME.vtt, NAME.poster.png and NAME.description.txt beside it; `options` are those of `Options`.

    The ending of the path says what is made: .mp4, .webm, .gif, .mov (for editors, may be transparent), none for a folder of pictures.
    `made_by` is the command that makes the film again; `progress(done, total)` is called after every frame. The same run gives the same
    bytes, but for the time that they tell (account.made). Raises OptionError for what cannot be made, TooMuchWork for too many frames,
    ScenarioError for a story that the run or the frame cannot hold, OutputError if the files cannot be written: nothing is left behind
    then, nor after Ctrl-C.
    """

    def told(asked: Order) -> Told:
        stage, of = Stage(run, verdict, look=asked.look, size=asked.size, fps=asked.fps), made.words(run.scenario)
        return Told(stage, webvtt(stage.story, stage.live, asked.look.words, of), description(stage, verdict, made_by), of)

    return write_film(path, told, progress, **options)


def write_film(path: str | Path, tell: Callable[[Order], Told], progress: Progress | None = None, **options: Unpack[Options]) -> FilmFiles:
    """Make the film that `tell` has for what was asked for, and what stands beside it. Raises as `film` does."""
    asked, target = order(path, **options), Path(path)
    files = _files(target, asked.kind)
    with own_style(), whole_files(target.parent, *_names(files, asked.kind)) as parts:
        told = tell(asked)
        budget.check(film_work(len(told.reel), asked.kind.name, asked.size))
        clip, poster, captions, described = parts
        captions.write_text(told.captions, encoding="utf-8")
        described.write_text(told.description, encoding="utf-8")
        _encode(told, clip, target, asked, progress)
        told.reel.draw(told.reel.poster)
        pixels = told.reel.frame.pixels
        poster.write_bytes(png(pixels if asked.look.clear else pixels[:, :, :3], told.made))
        _check_target(target, asked.kind.frames)  # much may have happened in its place meanwhile
    return files


def _files(target: Path, kind: Format) -> FilmFiles:
    base = target if kind.frames else target.with_suffix("")
    return FilmFiles(target, *(base.with_name(base.name + ending) for ending in (".poster.png", ".vtt", ".description.txt")))


def _names(files: FilmFiles, kind: Format) -> list[str]:
    return [f"{files.film.name}/" if kind.frames else files.film.name, *(file.name for file in files[1:])]


def _check_target(target: Path, folder: bool) -> None:
    """OptionError where a film would take the place of something that is no film."""
    if not folder and target.is_dir():
        raise OptionError(f"{target} is a directory: give the film a name.")
    if folder and target.exists() and (not target.is_dir() or any(not _FRAME.fullmatch(path.name) for path in target.iterdir())):
        raise OptionError(f"{target} is there already and holds other things than the pictures of a film: choose another folder.")


def _encode(told: Told, clip: Path, target: Path, asked: Order, progress: Progress | None) -> None:
    """The film itself, into `clip`; `target` is where it will be."""
    stage = told.reel
    planes = Planes(asked.size) if asked.kind.pixels == "yuv420p" else None
    palette = PALETTE if asked.kind.name == "gif" else None
    if palette:
        _choose_colours(stage, clip.parent, target)
    name, cwd = (FRAME_NAME, clip) if asked.kind.frames else (f"file:{clip.name}", clip.parent)
    with Encoder(command(asked.kind, name, asked.size, asked.fps, asked.draft, palette, told.made), target, cwd) as encoder:
        for k in range(len(stage)):
            changed = stage.draw(k)
            if planes:
                planes.take(stage.frame.pixels, changed if k else [(0, 0, *asked.size)])
            encoder.take(planes.data.tobytes() if planes else stage.frame.pixels.tobytes())
            if progress is not None:
                progress(k + 1, len(stage))
    left = list(clip.iterdir()) if asked.kind.frames else [clip]
    if len(left) != (len(stage) if asked.kind.frames else 1) or not all(asked.kind.begins(file) for file in left):
        raise OutputError(
            f"The film could not be written in {target.parent}: what the encoder left is no film of the kind {asked.kind.name}."
        )


def _choose_colours(stage: Reel, folder: Path, target: Path) -> None:
    """A palette from frames taken evenly from the whole story."""
    frames = []
    for k in np.unique(np.linspace(0, len(stage) - 1, SAMPLES).astype(int)):
        stage.draw(int(k))
        frames.append(stage.frame.pixels.tobytes())
    w, h = stage.frame.size
    line = [
        *(encoder_path(), "-hide_banner", "-loglevel", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgba", "-s", f"{w}x{h}", "-i", "-"),
        *("-lavfi", "palettegen=stats_mode=full:reserve_transparent=0", "-frames:v", "1", "-f", "image2", "-c:v", "png", str(PALETTE)),
    ]
    with Encoder(line, target, folder) as encoder:
        for frame in frames:
            encoder.take(frame)
