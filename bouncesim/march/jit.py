"""The one compiler setting of the time domain.

`nnan` is left out of fastmath on purpose: with it the compiler may assume that no value is ever NaN, and the finite guard goes blind.
A cached kernel that inlines one from another file goes stale when that file is edited, so the cache folder carries a hash of
this package's sources. Where neither the package nor the home folder can be written, nothing is cached.
"""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from bouncesim.kernels import Kernel, kept_in

FASTMATH = {"reassoc", "contract", "arcp", "nsz"}
OPTIONS = {
    "fastmath": FASTMATH,
    "error_model": "numpy",
    "nogil": True,  # so that stations may run side by side in threads
    "_nrt": False,  # no kernel allocates, and arrays belong to the caller: counting references to each slice took a sixth of a step
    "no_cfunc_wrapper": True,  # for callers from C, of which there are none: less to compile
}

Function = TypeVar("Function", bound=Callable[..., Any])


def _cache_folder() -> Path | None:
    """A writable folder of our own for compiled kernels, or None."""
    sources = sorted(Path(__file__).parent.glob("*.py"))
    digest = hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()[:16]
    return kept_in(digest, Path(__file__).parent / "__pycache__")


_folder = functools.cache(_cache_folder)


def compiled(function: Function) -> Function:
    """Compile a kernel when it is first called; `.py_func` stays the plain Python function."""
    return cast(Function, Kernel(function, OPTIONS, _folder))


def inlined(function: Function) -> Function:
    """Compile a kernel that other kernels call: put in place, since a call hands over every field of every array. And where one that was
    just compiled calls another, that may not be quite the code (nor the last digit) that it calls when both come from disk."""
    return cast(Function, Kernel(function, OPTIONS | {"inline": "always"}, _folder))
