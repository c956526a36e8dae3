"""Files that are written whole or not at all, whatever stops the program and whoever else writes into the same folder.

Everything goes into a folder of its own first, `.bouncesim-SOMETHING.part`, in the folder where it belongs, and is renamed when all of it
is complete and on disk. A program holds a lock on its part as long as it lives: the system lets go of it however the program ends. So the
next one to write there knows what was left behind, whatever became of clocks and process numbers, and sweeps it. A folder is locked through
itself: there are no lock files.
"""

from __future__ import annotations

import atexit
import os
import secrets
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from bouncesim.errors import OutputError

try:
    import fcntl
except ImportError:  # not on this system: no folder can be locked
    fcntl = None  # type: ignore[assignment]

PART = ".bouncesim-{}.part"
STALE_S = 7 * 86400.0  # where folders cannot be locked (some network disks), a part is swept when it is older than any job takes
TRIES = 20  # to begin in a folder that other runs make and take away meanwhile, or to remove a part in which something is still at work
PAUSE_S = 0.05  # before a part is removed once more


_mine: set[Path] = set()  # parts of this program, until they are removed


class _Enough(Exception):
    """A trial has found out what it wanted."""


@contextmanager
def whole_files(folder: str | Path, *names: str) -> Iterator[tuple[Path, ...]]:
    """Yields a temporary place for each of `names`; on success all are flushed to disk and renamed into `folder`, on any failure removed.

    A name may lead into a folder below, such as "pictures/one.png"; one that ends in "/" is a folder, which takes the place of the one
    that was there. What takes the place of files that belong together is renamed in one go: of two programs at once, all comes from one.
    Raises OutputError where something cannot be written; folders made on the way are taken away again on failure.
    """
    folder = Path(folder)
    missing = [place for place in (folder, *folder.parents) if not os.path.exists(place)]
    part = folder / PART.format(secrets.token_hex(6))
    _mine.add(part)
    lock = None
    try:
        try:
            lock = _begin(folder, part)
            yield tuple(_place(part, folder, name) for name in names)
            _flush(part)
            with _alone(folder):
                _rename(part, folder, names)
        finally:
            _remove(part)
            if lock is not None:
                os.close(lock)
    except BaseException as error:
        for place in missing:
            with suppress(OSError):  # another run has put something there
                place.rmdir()
        if isinstance(error, OSError):
            raise OutputError(f"cannot write into {folder}: {_reason(error, part)}. Choose another folder, or make room there.") from error
        raise


def write_files(folder: str | Path, files: dict[str, Callable[[BinaryIO], object]]) -> None:
    """Write files that belong together, named as for `whole_files`: all of them or none. Raises OutputError."""
    with whole_files(folder, *files) as parts:
        for part, write in zip(parts, files.values(), strict=True):
            with open(part, "wb") as file:
                write(file)


def try_folder(folder: str | Path, *names: str) -> None:
    """Find out before long work starts whether `names` can be written into `folder`, and leave no trace. Raises OutputError."""
    with suppress(_Enough), whole_files(folder, *(names or ("trial",))):
        raise _Enough


def _begin(folder: Path, part: Path, tries: int = TRIES) -> int | None:
    """Make `part`, and sweep what others left. Returns the descriptor that keeps it locked, None where it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            part.mkdir()
            lock = None
            with suppress(OSError):
                lock = _lock(part)
            _sweep(folder)
        return lock
    except FileNotFoundError:  # a run that failed has just taken its empty folder away
        if not tries:
            raise
        return _begin(folder, part, tries - 1)


def _remove(part: Path) -> None:
    """A part goes, even while something is still put there: an encoder that was just being started when an interrupt came ends soon."""
    for _ in range(TRIES):
        shutil.rmtree(part, ignore_errors=True)
        if not os.path.exists(part):  # which takes a name that no disk allows as missing
            break
        time.sleep(PAUSE_S)
    _mine.discard(part)


@atexit.register
def _remove_mine() -> None:
    """An interrupt may come while a part is removed, or just before: at the end nothing disturbs any more."""
    for part in list(_mine):
        _remove(part)


def _sweep(folder: Path) -> None:
    """Remove every part whose program lives no longer."""
    for part in folder.glob(PART.format("*")):
        lock = None
        try:
            lock = _lock(part)
        except BlockingIOError:
            continue
        except OSError:
            with suppress(OSError):
                if time.time() - part.stat().st_mtime < STALE_S:
                    continue
        shutil.rmtree(part, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _lock(folder: Path, wait: bool = False) -> int:
    """A descriptor that keeps a folder locked until it is closed. BlockingIOError if another has it, OSError where none can be locked."""
    if fcntl is None:
        raise OSError("folders cannot be locked on this system")
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """No other begins, sweeps or renames in this folder meanwhile, if it can be locked."""
    lock = None
    with suppress(OSError):
        lock = _lock(folder, wait=True)
    try:
        yield
    finally:
        if lock is not None:
            os.close(lock)


def _place(part: Path, folder: Path, name: str) -> Path:
    """An empty file or folder in `part`, once it is sure that it may go to its place."""
    target, place = folder / name, part / name
    if target.exists() and not (target.is_dir() if name.endswith("/") else target.is_file()):
        raise OSError(f"{target} is no {'folder' if name.endswith('/') else 'ordinary file'}")
    if target.parent.exists() and not target.parent.is_dir():
        raise NotADirectoryError(20, "Not a directory", str(target.parent))
    place.parent.mkdir(parents=True, exist_ok=True)
    place.mkdir() if name.endswith("/") else place.touch()
    return place


def _flush(part: Path) -> None:
    for path in part.rglob("*"):
        if path.is_file():
            with path.open("rb+") as file:
                os.fsync(file.fileno())


def _rename(part: Path, folder: Path, names: tuple[str, ...]) -> None:
    """Everything to its place; an interrupt waits until nothing is half old and half new."""
    try:
        _rename_rest(part, folder, names)
    except KeyboardInterrupt:
        _rename_rest(part, folder, names)
        raise


def _rename_rest(part: Path, folder: Path, names: tuple[str, ...]) -> None:
    for k, name in enumerate(names):
        place, target = part / name, folder / name
        if not place.exists():  # it is there already
            continue
        target.parent.mkdir(exist_ok=True)
        if place.is_dir() and target.is_dir():
            os.replace(target, part / f"before-{k}")  # in one step: a folder that is being emptied is half a film
        os.replace(place, target)


def _reason(error: OSError, part: Path) -> str:
    if isinstance(error, FileExistsError | NotADirectoryError):
        return f"{error.filename} is no folder"
    place = str(error.filename or "").replace(f"{part}{os.sep}", "").replace(f"{part.parent}{os.sep}", "")
    return (f"{error.strerror} ({place})" if place and error.filename != str(part) else error.strerror) or str(error)
