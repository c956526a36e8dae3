"""Functions that numba compiles on their first call, and the folders in which compiled ones are kept.

numba itself takes a third of a second to load, so a kernel asks for it when it is first called, and what only needs a station's closed form
never does. Whatever goes wrong with what is kept on disk (a file cut off by a power cut, a full disk, a folder that is gone or may not
be written) costs a compilation, and never a run.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import RLock
from typing import Any

KEPT = 8  # folders of compiled kernels in one place: some versions side by side, and not one for every edit ever made
_NAME = re.compile(r"kernels-[0-9a-f]{16}")
_LOCK = RLock()  # while a kernel is set up, numba's settings are not its own


class Kernel:
    """A function that is compiled when it is first called, from Python or from another kernel; `.py_func` stays the plain one.

    `options` are numba.njit's; `folder` tells where to keep what was compiled, None for nowhere, and is asked when it is needed.
    """

    def __init__(self, function: Callable[..., Any], options: dict[str, Any], folder: Callable[[], Path | None]) -> None:
        self.py_func, self._options, self._folder = function, options, folder
        self._made: Any = None

    def __call__(self, *arguments: Any) -> Any:
        return (self._made or self._make())(*arguments)

    def __getattr__(self, name: str) -> Any:
        """Whatever else numba asks of a kernel that another one calls."""
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(self._made or self._make(), name)

    def _make(self) -> Any:
        from bouncesim.compiling import compiler

        with _LOCK:
            self._made = self._made or compiler(self.py_func, self._options, self._folder())
            return self._made


def kept_in(digest: str, beside: Path) -> Path | None:
    """A writable folder `kernels-DIGEST` for kernels, or None: where NUMBA_CACHE_DIR says, or in `beside`, or in the user's cache.

    A new one takes the place of those that have not been used for longest. One that another process still uses may be among them: that
    process compiles once more.
    """
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    for root in [Path(chosen)] if chosen else [beside, Path("~/.cache/bouncesim")]:
        try:
            folder = root.expanduser() / f"kernels-{digest}"
            is_new = not folder.is_dir()
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                os.utime(folder)  # when it was used last
        except (OSError, RuntimeError):  # the latter for a user without a home
            continue
        if is_new:
            _sweep(folder)
        return folder
    return None


def _sweep(newest: Path) -> None:
    """Remove the folders beside `newest` that are ours by their name, but for those used last. What cannot be removed stays."""
    with suppress(OSError):
        ours = [one for one in newest.parent.iterdir() if _NAME.fullmatch(one.name) and one.is_dir() and not one.is_symlink()]
        used = {one: _used(one) for one in ours if one != newest}
        for one in sorted(used, key=used.__getitem__, reverse=True)[KEPT - 1 :]:
            shutil.rmtree(one, ignore_errors=True)


def _used(folder: Path) -> float:
    try:
        return folder.stat().st_mtime
    except OSError:  # another process sweeps too
        return 0.0
