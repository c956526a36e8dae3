"""The one compiler setting of the time domain.

`nnan` is left out of fastmath on purpose: with it the compiler may assume that no value is ever NaN, and the finite guard goes blind.
A cached kernel that inlines one from another file goes stale when that file is edited, so the cache folder carries a hash of
this package's sources. Where neither the package nor the home folder can be written, nothing is cached.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.core import config

FASTMATH = {"reassoc", "contract", "arcp", "nsz"}
CACHE_DIR = "CACHE_DIR"

Function = TypeVar("Function", bound=Callable[..., Any])


def _cache_folder() -> Path | None:
    """A writable folder of our own for compiled kernels, or None."""
    sources = sorted(Path(__file__).parent.glob("*.py"))
    digest = hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()[:16]
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    roots = [Path(chosen)] if chosen else [Path(__file__).parent / "__pycache__", Path.home() / ".cache" / "bouncesim"]
    for root in roots:
        folder = root / f"kernels-{digest}"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except (OSError, RuntimeError):
            continue
    return None


_FOLDER = _cache_folder()


def compiled(function: Function) -> Function:
    """Compile a kernel; `.py_func` stays the plain Python function."""
    return _compile(function, {})


def inlined(function: Function) -> Function:
    """Compile a kernel that other kernels call every step: put in place, since a call hands over every field of every array."""
    return _compile(function, {"inline": "always"})


def _compile(function: Function, options: dict[str, Any]) -> Function:
    options |= {"fastmath": FASTMATH, "error_model": "numpy", "nogil": True}  # so that stations may run side by side in threads
    if _FOLDER is None:
        return cast(Function, numba.njit(**options)(function))
    before = getattr(config, CACHE_DIR)
    setattr(config, CACHE_DIR, str(_FOLDER))  # read when a function is decorated, so that other users of numba keep theirs
    try:
        return cast(Function, numba.njit(cache=True, **options)(function))
    finally:
        setattr(config, CACHE_DIR, before)
