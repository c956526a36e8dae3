"""A pipe of our own to the encoder that imageio-ffmpeg carries."""

from __future__ import annotations

import contextlib
import os
import queue
import shutil
import subprocess
import threading
from pathlib import Path
from types import TracebackType
from typing import IO, Self

import imageio_ffmpeg

from bouncesim.errors import OutputError
from bouncesim.show.formats import BT709, Format

WAITING = 6  # frames between the drawing and the writing thread
PIPE = 1 << 20  # bytes between us and the encoder
FRAME_NAME = "frame-%05d.png"
FULL = ("No space left", "File too large", "Disk quota exceeded")  # as the system words it
CHOSEN = "IMAGEIO_FFMPEG_EXE"


def encoder_path() -> str:
    """The encoder that imageio-ffmpeg carries, or that the variable IMAGEIO_FFMPEG_EXE names. Raises OutputError if it is missing."""
    found = ""
    with contextlib.suppress(RuntimeError):
        found = str(imageio_ffmpeg.get_ffmpeg_exe())
    if not found or shutil.which(found) is None:
        raise OutputError(f"The film encoder is missing. {_remedy()}")
    return found


def _remedy() -> str:
    chosen, other = os.environ.get(CHOSEN), "Charts and reports are made without it."
    if chosen:
        return f"{CHOSEN} is set to {chosen}: set it to a program that works, or to nothing. {other}"
    return f"Install it anew with: pip install --force-reinstall imageio-ffmpeg. {other}"


def command(
    kind: Format, target: str, size: tuple[int, int], fps: int, draft: bool, palette: Path | None = None, comment: str = ""
) -> list[str]:
    """The encoder's command line; `palette` is a picture of the colours of a gif, `comment` stands in what has room for it."""
    colour = BT709 if kind.pixels == "yuv420p" else ()
    return [
        *(encoder_path(), "-hide_banner", "-loglevel", "error", "-y"),
        *("-f", "rawvideo", "-pix_fmt", kind.pixels, "-s", f"{size[0]}x{size[1]}", "-r", str(fps), *colour, "-i", "-"),
        *(("-i", str(palette)) if palette else ()),
        *("-an", *kind.arguments(draft), *(("-metadata", f"comment={comment}") if comment else ()), target),
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
        try:
            self._process = subprocess.Popen(
                line,
                cwd=cwd,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,  # Ctrl-C is ours to handle; if we are killed, the end of its pipe ends it
            )
        except OSError as error:
            raise OutputError(f"The film encoder {line[0]} cannot be started: {error.strerror}. {_remedy()}") from error
        self._said: list[bytes] = []
        self._frames: queue.Queue[bytes | None] = queue.Queue(WAITING)
        self._broken = threading.Event()
        self._threads = [threading.Thread(target=work, daemon=True) for work in (self._write, self._listen)]
        try:
            _widen(self._process.stdin)
            for thread in self._threads:
                thread.start()
        except BaseException:  # an interrupt: nobody has this object yet who could end what was begun
            self._process.kill()
            self._process.wait()
            raise

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
        code = self._process.wait()
        self._threads[1].join(timeout=5)
        words = [line.decode(errors="replace").strip() for line in self._said]
        last = words[-1] if words else f"it was killed by signal {-code}" if code < 0 else f"exit code {code}"
        folder = self.path.parent
        if any(full in text for text in words for full in FULL):
            return OutputError(f"The disk is full: the film could not be written in {folder}. Make room and try again.")
        return OutputError(f"The film could not be written in {folder}: the encoder says: {last}")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        good = False
        try:
            if kind is None:
                self._frames.put(None)
                self._threads[0].join()
                good = self._process.wait() == 0 and not self._broken.is_set()
        finally:  # an interrupt may come while the film is finished, too
            self._end()
        if kind is None and not good:
            raise self._failure()

    def _end(self) -> None:
        """Neither process nor threads go on."""
        self._broken.set()
        self._process.kill()
        self._frames.put(None)
        self._threads[0].join()
        self._process.wait()
        self._threads[1].join()
        assert self._process.stderr is not None
        self._process.stderr.close()
