"""Save and load runs and verdicts: plain JSON, and beside it the arrays as npz without pickles.

Every file is written under a temporary name in its own folder and renamed when complete, so that an interrupted save leaves
either the whole old file or the whole new one.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from pydantic import ValidationError

from bouncesim.account.plain import Arrays, from_plain, strict, to_plain
from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.errors import BouncesimError, OutputError

_DAMAGE = (OSError, KeyError, TypeError, ValueError, AttributeError, IndexError, zipfile.BadZipFile, EOFError)


def save_run(run: Run, folder: str | Path) -> Path:
    """Write `run.json` and `run.npz` into `folder` (made where needed) and return it. Raises OutputError."""
    arrays: Arrays = {}
    plain = to_plain(run, arrays)
    plain["digest"] = _digest(arrays)  # in both files: shows on loading whether they belong together
    arrays["digest"] = np.frombuffer(bytes.fromhex(plain["digest"]), dtype=np.uint8)
    write_files(folder, {"run.npz": lambda file: np.savez(file, **arrays), "run.json": _json_writer(plain)})  # type: ignore[arg-type]
    return Path(folder)


def load_run(folder: str | Path) -> Run:
    """The run that `save_run` wrote into `folder`, equal in every field. Raises BouncesimError where there is none, or a damaged one."""
    try:
        plain = json.loads((Path(folder) / "run.json").read_text(encoding="utf-8"))
        with np.load(Path(folder) / "run.npz", allow_pickle=False) as archive:
            arrays = {key: archive[key] for key in archive.files}
        if arrays.pop("digest").tobytes().hex() != plain.pop("digest"):
            raise ValueError("run.npz and run.json come from different runs")
        run: Run = from_plain(Run, plain, arrays)
    except _DAMAGE as error:
        raise BouncesimError(f"no run can be read from {folder}: {_reason(error)}. Simulate and save it again.") from error
    return run


def save_verdict(verdict: Verdict, folder: str | Path) -> Path:
    """Write `verdict.json` into `folder` (made where needed) and return it. Raises OutputError."""
    write_files(folder, {"verdict.json": _json_writer(to_plain(verdict))})
    return Path(folder)


def load_verdict(folder: str | Path) -> Verdict:
    """The verdict that `save_verdict` wrote into `folder`. Raises BouncesimError where there is none, or a damaged one."""
    try:
        verdict: Verdict = from_plain(Verdict, json.loads((Path(folder) / "verdict.json").read_text(encoding="utf-8")))
    except _DAMAGE as error:
        raise BouncesimError(f"no verdict can be read from {folder}: {_reason(error)}. Check the scenario again.") from error
    return verdict


def write_files(folder: str | Path, files: dict[str, Callable[[BinaryIO], object]]) -> None:
    """Write files that belong together: first all of them whole, under temporary names; only then are they renamed. Raises OutputError."""
    folder = Path(folder)
    temporary = {name: folder / f".{name}.{os.getpid()}.part" for name in files}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, write in files.items():
            with open(temporary[name], "wb") as file:
                write(file)
                file.flush()
                os.fsync(file.fileno())
        for name, place in temporary.items():
            os.replace(place, folder / name)
    except OSError as error:
        raise OutputError(f"cannot write into {folder}: {_reason(error)}. Choose another folder, or make room there.") from error
    finally:
        for place in temporary.values():
            with suppress(OSError):
                place.unlink()


def try_folder(folder: str | Path) -> None:
    """Find out before long work starts whether `folder` can be written into, and leave no trace. Raises OutputError."""
    missing = [place for place in (Path(folder), *Path(folder).parents) if not place.exists()]
    trial = f"trial-{os.getpid()}"
    write_files(folder, {trial: lambda file: None})
    (Path(folder) / trial).unlink()
    for place in missing:
        place.rmdir()


def _json_writer(plain: Any) -> Callable[[BinaryIO], object]:
    text = json.dumps(strict(plain, str), indent=1, allow_nan=False, ensure_ascii=False) + "\n"
    return lambda file: file.write(text.encode("utf-8"))


def _digest(arrays: Arrays) -> str:
    digest = hashlib.sha256()
    for name, array in arrays.items():
        digest.update(f"{name} {array.dtype} {array.shape}".encode())
        digest.update(np.ascontiguousarray(array).data)
    return digest.hexdigest()


def _reason(error: BaseException) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.strerror} ({error.filename})" if error.filename else error.strerror
    if isinstance(error, ValidationError):
        return "its scenario is at fault: " + "; ".join(problem["msg"] for problem in error.errors())
    return str(error) or type(error).__name__
