"""A pipe of our own to the encoder that imageio-ffmpeg carries, and files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import queue
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import imageio_ffmpeg

from bouncesim.errors import OutputError

WAITING = 6  # frames between the drawing and the writing thread


@contextlib.contextmanager
def whole_files(*targets: Path) -> Iterator[tuple[Path, ...]]:
    """Yields a temporary name beside each target; on success they are flushed to disk and renamed, on any failure removed.

    Raises OutputError where a file cannot be written; folders made for the files are taken away again on failure.
    """
    made: list[Path] = []
    parts = tuple(target.with_name(target.name + ".part") for target in targets)
    try:
        try:
            for folder in dict.fromkeys(target.parent for target in targets):
                made += _make(folder)
            for part in parts:
                part.touch()
            yield parts
            for part in parts:
                with part.open("rb+") as file:
                    os.fsync(file.fileno())
            for part, target in zip(parts, targets, strict=True):
                os.replace(part, target)
        except OSError as error:
            raise OutputError(f"Cannot write {error.filename or targets[0]}: {error.strerror or error}.") from error
    except BaseException:
        for part in parts:
            with contextlib.suppress(OSError):
                part.unlink()
        for folder in reversed(made):
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise


def _make(folder: Path) -> list[Path]:
    missing = [place for place in (folder, *folder.parents) if not place.exists()][::-1]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def command(path: Path, size: tuple[int, int], fps: int, draft: bool) -> list[str]:
    """The encoder's command line: H.264, yuv420p tagged BT.709 tv range, seekable from the start, the same bytes every time."""
    colour = ["-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709"]
    effort = ["-preset", "ultrafast", "-crf", "20"] if draft else ["-preset", "veryfast", "-crf", "18"]
    return [
        *(imageio_ffmpeg.get_ffmpeg_exe(), "-hide_banner", "-loglevel", "error", "-y"),
        *("-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", f"{size[0]}x{size[1]}", "-r", str(fps), *colour, "-i", "-"),
        *("-an", "-c:v", "libx264", *effort, "-bf", "0", "-pix_fmt", "yuv420p", *colour),
        *("-threads", "2", "-map_metadata", "-1", "-flags", "+bitexact", "-fflags", "+bitexact", "-movflags", "+faststart"),
        *("-f", "mp4", str(path)),
    ]


class Encoder:
    """Takes frames as bytes (yuv420p) and writes them from a thread of its own; leaving it well closes the film and checks it.

    Raises OutputError with the encoder's own words when it fails, as on a full disk.
    """

    def __init__(self, path: Path, size: tuple[int, int], fps: int, draft: bool = False) -> None:
        self.path = path
        self._process = subprocess.Popen(
            command(path, size, fps, draft),
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            start_new_session=True,  # Ctrl-C is ours to handle
        )
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
