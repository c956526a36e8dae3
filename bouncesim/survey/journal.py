"""What a survey has found so far, appended to a file piece by piece, so that nothing is lost when it is interrupted.

The first line is JSON: what the survey is (a digest of scenario, program version and way of working), and the columns. Then records follow,
each with a checksum. A record that was cut off, by a full disk or a pulled plug, ends what is taken over; what comes after it is found
anew.
"""

from __future__ import annotations

import json
import os
import struct
import zlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from bouncesim.errors import OutputError

try:
    import fcntl
except ImportError:  # not on this system: two surveys into one folder are then not told apart
    fcntl = None  # type: ignore[assignment]

Rows = NDArray[np.float64]

NAME = "survey.journal"
_HEAD = struct.Struct("<4sQQQI")  # kind, first station, rows, columns, checksum
_MARKS = {"exact": b"bsEX", "key": b"bsKY"}


class Journal:
    """The journal in a folder; a context manager. `records` gives what was found before; OutputError if it cannot be kept."""

    def __init__(self, folder: Path, header: dict[str, Any]) -> None:
        """Goes on with a journal of this very survey, or begins a new one."""
        self.path = folder / NAME
        self.line = json.dumps(header, sort_keys=True).encode() + b"\n"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            while not self._open():
                pass
        except OSError as error:
            raise _trouble(folder, error) from error
        self.good = self._end_of_good()
        self.goes_on = self.good > 0
        try:
            self.file.truncate(self.good)
            if not self.good:
                self.file.write(self.line)
                self._sync()
        except OSError as error:
            self.file.close()
            raise _trouble(folder, error) from error

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        with suppress(OSError):  # what a full disk did not take is told already
            self.file.close()

    def records(self) -> Iterator[tuple[str, int, Rows]]:
        """(kind, first station, rows) of every record that was kept."""
        self.file.seek(len(self.line))
        while self.file.tell() < self.good:
            yield self._record()

    def add(self, kind: str, first: int, rows: Rows) -> None:
        """Keep the rows of stations from `first` on; safe on disk when it returns."""
        data = np.ascontiguousarray(rows, dtype="<f8").tobytes()
        try:
            self.file.seek(0, os.SEEK_END)
            self.file.write(_HEAD.pack(_MARKS[kind], first, *rows.shape, zlib.crc32(data)) + data)
            self._sync()
        except OSError as error:
            raise _trouble(self.path.parent, error) from error

    def remove(self) -> None:
        """The survey is complete and written."""
        self.path.unlink(missing_ok=True)

    def _sync(self) -> None:
        self.file.flush()
        os.fsync(self.file.fileno())

    def _open(self) -> bool:
        """Open and lock it. False if it was taken away meanwhile: the survey that had it has just ended."""
        self.file: BinaryIO = open(self.path, "a+b")  # noqa: SIM115 (closed by __exit__)
        try:
            if fcntl is not None:
                fcntl.flock(self.file, fcntl.LOCK_EX | fcntl.LOCK_NB)  # let go by the system when the process ends, however it does
        except BlockingIOError:
            self.file.close()
            raise OutputError(f"another survey is writing into {self.path.parent}. Let it finish, or choose another folder.") from None
        except OSError:  # nothing can be locked on this disk: two surveys are then not told apart
            pass
        if self.path.exists() and os.path.samestat(os.fstat(self.file.fileno()), self.path.stat()):
            return True
        self.file.close()
        return False

    def _end_of_good(self) -> int:
        """Where the last whole record of this very survey ends; 0 if there is none of it."""
        self.file.seek(0)
        if self.file.read(len(self.line)) != self.line:
            return 0
        good = self.file.tell()
        try:
            while True:
                self._record()
                good = self.file.tell()
        except ValueError:
            return good

    def _record(self) -> tuple[str, int, Rows]:
        """The record at this place of the file. ValueError where there is no whole one."""
        head = self.file.read(_HEAD.size)
        if len(head) < _HEAD.size:
            raise ValueError("the end")
        mark, first, rows, columns, checksum = _HEAD.unpack(head)
        kind = next((kind for kind, own in _MARKS.items() if own == mark), None)
        if kind is None or rows * columns > 1e9:
            raise ValueError("not a record")
        data = self.file.read(8 * rows * columns)
        if len(data) < 8 * rows * columns or zlib.crc32(data) != checksum:
            raise ValueError("a record that was cut off")
        return kind, first, np.frombuffer(data, dtype="<f8").reshape(rows, columns)


def _trouble(folder: Path, error: OSError) -> OutputError:
    return OutputError(f"cannot write into {folder}: {error.strerror}. Choose another folder, or make room there; what was found is kept.")
