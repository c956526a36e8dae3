"""What `kernels.Kernel` hands a function to when it is called; loads numba, so nothing but a kernel imports it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numba
from numba.core import config
from numba.core.caching import FunctionCache, IndexDataCacheFile

CACHE_DIR = "CACHE_DIR"
DIGEST_BYTES = hashlib.sha256().digest_size


def compiler(function: Callable[..., Any], options: dict[str, Any], folder: Path | None) -> Any:
    """numba's own object for a kernel, which compiles it for each kind of arguments or takes it from the folder."""
    made = numba.njit(**options)(function)
    if folder is None or made is function:  # plain Python, with NUMBA_DISABLE_JIT
        return made
    before = getattr(config, CACHE_DIR)
    setattr(config, CACHE_DIR, str(folder))  # read when a cache is set up, so that other users of numba keep theirs
    try:
        with suppress(OSError, RuntimeError):  # the folder can no longer be written
            made._cache = _Cache(function)
    finally:
        setattr(config, CACHE_DIR, before)
    return made


class _File(IndexDataCacheFile):
    """With a digest behind the data: after a power cut a file may be as long as it should, with nothing in the middle, and machine code
    that is wrong there takes the whole process down."""

    def _dump(self, obj: Any) -> bytes:
        data: bytes = super()._dump(obj)
        return data + hashlib.sha256(data).digest()

    def _load_data(self, name: str) -> Any:
        whole = Path(self._data_path(name)).read_bytes()
        data, digest = whole[:-DIGEST_BYTES], whole[-DIGEST_BYTES:]
        if hashlib.sha256(data).digest() != digest:
            raise OSError(f"{name} is damaged")  # which numba takes as missing
        return super()._load_data(name)


class _Cache(FunctionCache):
    """Kernels on disk. Unpickling what is damaged may raise anything, so anything is caught."""

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        self._cache_file = _File(self._cache_path, self._impl.filename_base, self._impl.locator.get_source_stamp())

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """A compiled kernel, or None. A damaged index is begun anew, or nothing could ever be saved in it again."""
        try:
            return super().load_overload(sig, target_context)
        except Exception:
            with suppress(Exception):
                self.flush()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a compiled kernel, if it can be done."""
        with suppress(Exception):
            super().save_overload(sig, data)
