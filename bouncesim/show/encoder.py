"""A pipe of our own to the encoder that imageio-ffmpeg carries, and files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import queue
import re
import shutil
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import IO, Self

import imageio_ffmpeg

from bouncesim.errors import OptionError, OutputError
from bouncesim.show.formats import BT709, Format

WAITING = 6  # frames between the drawing and the writing thread
PIPE = 1 << 20  # bytes between us and the encoder
FRAME_NAME = "frame-%05d.png"
_FRAME = re.compile(r"frame-\d{5,}\.png")


@contextlib.contextmanager
def whole_files(*targets: Path, folders: tuple[Path, ...] = ()) -> Iterator[tuple[Path, ...]]:
    """Yields a temporary name beside each target; on success they are flushed to disk and renamed, on any failure removed.

    Those of the targets that are among `folders` are folders; one that is there already is replaced only if it holds nothing but what a
    film before left. Raises OutputError where something cannot be written; folders made on the way are taken away again on failure.
    """
    made: list[Path] = []
    parts = tuple(target.with_name(target.name + ".part") for target in targets)
    try:
        try:
            for folder in dict.fromkeys(target.parent for target in targets):
                made += _make(folder)
            for part, target in zip(parts, targets, strict=True):
                _begin(part, target, target in folders)
            yield parts
            for part in parts:
                _flush(part)
            for part, target in zip(parts, targets, strict=True):
                if target in folders and target.is_dir():
                    shutil.rmtree(target)
                os.replace(part, target)
        except OSError as error:
            raise OutputError(f"Cannot write {error.filename or targets[0]}: {error.strerror or error}.") from error
    except BaseException:
        for part in parts:
            with contextlib.suppress(OSError):
                shutil.rmtree(part) if part.is_dir() and not part.is_symlink() else part.unlink()
        for folder in reversed(made):
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise


def check_target(target: Path, folder: bool) -> None:
    """OptionError where a film would take the place of something that is no film."""
    if not folder and target.is_dir():
        raise OptionError(f"{target} is a directory: give the film a name.")
    if folder and target.exists() and (not target.is_dir() or any(not _FRAME.fullmatch(path.name) for path in target.iterdir())):
        raise OptionError(f"{target} is there already and holds other things than the pictures of a film: choose another folder.")


def _begin(part: Path, target: Path, folder: bool) -> None:
    check_target(target, folder)
    if not folder:
        part.touch()
        return
    if part.is_dir():
        shutil.rmtree(part)
    part.mkdir()


def _flush(part: Path) -> None:
    for path in part.iterdir() if part.is_dir() else [part]:
        with path.open("rb+") as file:
            os.fsync(file.fileno())


def _make(folder: Path) -> list[Path]:
    missing = [place for place in (folder, *folder.parents) if not place.exists()][::-1]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def encoder_path() -> str:
    """The encoder that imageio-ffmpeg carries. Raises OutputError if it is missing."""
    found = ""
    with contextlib.suppress(RuntimeError):
        found = str(imageio_ffmpeg.get_ffmpeg_exe())
    if not found or shutil.which(found) is None:
        raise OutputError("The film encoder is missing. Install it anew with: pip install --force-reinstall imageio-ffmpeg")
    return found


def command(kind: Format, target: str, size: tuple[int, int], fps: int, draft: bool, palette: Path | None = None) -> list[str]:
    """The encoder's command line; `palette` is a picture of the colours of a gif."""
    colour = BT709 if kind.pixels == "yuv420p" else ()
    return [
        *(encoder_path(), "-hide_banner", "-loglevel", "error", "-y"),
        *("-f", "rawvideo", "-pix_fmt", kind.pixels, "-s", f"{size[0]}x{size[1]}", "-r", str(fps), *colour, "-i", "-"),
        *(("-i", str(palette)) if palette else ()),
        *("-an", *kind.arguments(draft), target),
    ]


def _widen(pipe: IO[bytes] | None) -> None:
    """Let a pipe hold more at a time than 64 KiB, where the system knows how: a frame has megabytes."""
    with contextlib.suppress(ImportError, AttributeError, OSError):
        import fcntl

        assert pipe is not None
        fcntl.fcntl(pipe.fileno(), fcntl.F_SETPIPE_SZ, PIPE)


class Encoder:
    """Takes frames as bytes and writes them from a thread of its own; leaving it well closes the film and checks it.

    `line` is the encoder's command line, run in the folder `cwd`; `path` is what it writes, for messages. Raises OutputError with the
    encoder's own words when it fails, as on a full disk.
    """

    def __init__(self, line: list[str], path: Path, cwd: Path | None = None) -> None:
        self.path = path
        self._process = subprocess.Popen(
            line,
            cwd=cwd,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            start_new_session=True,  # Ctrl-C is ours to handle
        )
        _widen(self._process.stdin)
        self._said: list[bytes] = []
        self._frames: queue.Queue[bytes | None] = queue.Queue(WAITING)
        self._broken = threading.Event()
        self._threads = [threading.Thread(target=work, daemon=True) for work in (self._write, self._listen)]
        for thread in self._threads:
            thread.start()

    def _write(self) -> None:
        pipe = self._process.stdin
        assert pipe is not None
        while (frame := self._frames.get()) is not None:
            if self._broken.is_set():
                continue
            try:
                pipe.write(frame)
            except (OSError, ValueError):
                self._broken.set()
        with contextlib.suppress(OSError):
            pipe.close()

    def _listen(self) -> None:
        assert self._process.stderr is not None
        for line in self._process.stderr:
            self._said.append(line)

    def take(self, frame: bytes) -> None:
        """One more frame; OutputError if the encoder has given up."""
        if self._broken.is_set():
            raise self._failure()
        self._frames.put(frame)

    def _failure(self) -> OutputError:
        self._process.wait()
        self._threads[1].join(timeout=5)
        words = [line.decode(errors="replace").strip() for line in self._said]
        reason = next((text for text in words if "No space left" in text), words[-1] if words else f"exit code {self._process.returncode}")
        folder = self.path.parent
        if "No space left" in reason:
            return OutputError(f"The disk is full: the film could not be written in {folder}. Make room and try again.")
        return OutputError(f"The film could not be written in {folder}: the encoder says: {reason}")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if kind is not None:
            self._process.kill()
            self._broken.set()
        self._frames.put(None)
        self._threads[0].join()
        code = self._process.wait()
        self._threads[1].join()
        assert self._process.stderr is not None
        self._process.stderr.close()
        if kind is None and (code != 0 or self._broken.is_set()):
            raise self._failure()
