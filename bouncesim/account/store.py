"""Save and load runs and verdicts: plain JSON, and beside it the arrays as npz without pickles."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from pydantic import ValidationError

from bouncesim.account import made
from bouncesim.account.plain import Arrays, from_plain, strict, to_plain
from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.account.whole import write_files
from bouncesim.errors import BouncesimError
from bouncesim.scenario import Scenario

_DAMAGE = (OSError, KeyError, TypeError, ValueError, AttributeError, IndexError, zipfile.BadZipFile, EOFError)


def save_run(run: Run, folder: str | Path, verdict: Verdict | None = None) -> Path:
    """Write `run.json` and `run.npz` into `folder` (made where needed), in one go with the `verdict.json` of its check if there is one, and
    return the folder. Raises OutputError."""
    arrays: Arrays = {}
    plain = to_plain(run, arrays)
    plain["made"] = made.stamp(run.scenario, whole=False)
    plain["digest"] = _digest(arrays)  # in both files: shows on loading whether they belong together
    arrays["digest"] = np.frombuffer(bytes.fromhex(plain["digest"]), dtype=np.uint8)
    files = {"run.npz": lambda file: np.savez(file, **arrays), "run.json": _json_writer(plain)}  # type: ignore[arg-type]
    write_files(folder, files | ({"verdict.json": _verdict_writer(verdict, run.scenario)} if verdict else {}))
    return Path(folder)


def load_run(folder: str | Path) -> Run:
    """The run that `save_run` wrote into `folder`, equal in every field. Raises BouncesimError where there is none, or a damaged one."""
    try:
        plain = json.loads((Path(folder) / "run.json").read_text(encoding="utf-8"))
        with np.load(Path(folder) / "run.npz", allow_pickle=False) as archive:
            arrays = {key: archive[key] for key in archive.files}
        if arrays.pop("digest").tobytes().hex() != plain.pop("digest"):
            raise ValueError("run.npz and run.json come from different runs")
        plain.pop("made", None)  # of an older version: it was not told yet
        run: Run = from_plain(Run, plain, arrays)
    except _DAMAGE as error:
        raise BouncesimError(f"no run can be read from {folder}: {_reason(error)}. Simulate and save it again.") from error
    return run


def save_verdict(verdict: Verdict, folder: str | Path, *scenario: Scenario) -> Path:
    """Write `verdict.json`, on the run of a scenario, into `folder` (made where needed) and return it. Raises OutputError."""
    write_files(folder, {"verdict.json": _verdict_writer(verdict, *scenario)})
    return Path(folder)


def load_verdict(folder: str | Path) -> Verdict:
    """The verdict that `save_verdict` wrote into `folder`. Raises BouncesimError where there is none, or a damaged one."""
    with _verdict_in(folder) as plain:
        for told in ("outcome", "made"):  # of what stands beside it
            plain.pop(told, None)
        verdict: Verdict = from_plain(Verdict, plain)
    return verdict


def checked_scenario(folder: str | Path) -> Scenario | None:
    """The scenario that the verdict in `folder` is about; None where it does not tell. Raises BouncesimError as `load_verdict` does."""
    with _verdict_in(folder) as plain:
        of = plain.get("made", {}).get("of")
        scenario = Scenario.from_json(json.dumps(of[0]["scenario"])) if of else None
    return scenario


@contextmanager
def _verdict_in(folder: str | Path) -> Iterator[dict[str, Any]]:
    """What stands in `verdict.json`, for someone who makes something of it: whatever is wrong with it is told alike."""
    try:
        yield json.loads((Path(folder) / "verdict.json").read_text(encoding="utf-8"))
    except _DAMAGE as error:
        raise BouncesimError(f"no verdict can be read from {folder}: {_reason(error)}. Check the scenario again.") from error


def _verdict_writer(verdict: Verdict, *scenario: Scenario) -> Callable[[BinaryIO], object]:
    return _json_writer(to_plain(verdict) | {"outcome": verdict.outcome, "made": made.stamp(*scenario)})


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
