"""Compiled kernels on disk: they belong to the sources that they were compiled from, and nothing that goes wrong with them stops a run."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from bouncesim import kernels
from bouncesim.compiling import DIGEST_BYTES
from bouncesim.march import jit

HOUR_S = 3600
# A kernel that calls another one; what it makes of 2, and how often anything had to be compiled.
PROGRAM = """
import sys
from numba.core import event
from bouncesim.march.jit import compiled

@compiled
def squared(x):
    return x * x

@compiled
def summed(x):
    return squared(x) + 1.0

with event.install_recorder("numba:compile") as seen:
    result = summed(2.0)
print(result, len(seen.buffer) // 2)
"""


def package(folder: Path, text: str) -> str:
    """A package of one module with this text; returns the place that jit takes for its own."""
    folder.mkdir()
    (folder / "line.py").write_text(text)
    return str(folder / "jit.py")


@pytest.fixture(autouse=True)
def _kept_apart(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))


def test_kernels_of_other_sources_are_not_taken(tmp_path, monkeypatch):
    """A kernel that inlines another one from another file would go stale with it."""
    folders = []
    for name, text in (("before", "a = 1"), ("after", "a = 2"), ("again", "a = 1")):
        monkeypatch.setattr(jit, "__file__", package(tmp_path / name, text))
        folders.append(jit._cache_folder())
    before, after, again = folders
    assert before is not None
    assert before != after
    assert before == again


def test_nothing_is_kept_where_nothing_can_be_written(tmp_path, monkeypatch):
    (tmp_path / "cache").write_text("a file is no folder")
    assert jit._cache_folder() is None


def old(folder: Path, hours: float) -> Path:
    """Let a folder, made where there is none, be as old."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "kernel.nbc").write_text("compiled")
    time_s = folder.stat().st_mtime - hours * HOUR_S
    os.utime(folder, (time_s, time_s))
    return folder


def test_kernels_that_have_not_been_used_for_longest_make_room(tmp_path):
    cache = tmp_path / "cache"
    ours = [old(cache / f"kernels-{number:016x}", number) for number in range(1, kernels.KEPT + 3)]
    newest = kernels.kept_in("f" * 16, tmp_path)
    assert newest == cache / f"kernels-{'f' * 16}"
    assert [folder.is_dir() for folder in ours] == [True] * (kernels.KEPT - 1) + [False] * 3


def test_a_folder_in_use_stays_young(tmp_path):
    folder = old(tmp_path / "cache" / f"kernels-{'a' * 16}", 100)
    assert kernels.kept_in("a" * 16, tmp_path) == folder
    assert folder.stat().st_mtime > (folder / "kernel.nbc").stat().st_mtime - HOUR_S


def test_nothing_is_swept_that_is_not_ours(tmp_path):
    cache, elsewhere = tmp_path / "cache", old(tmp_path / "elsewhere", 0)
    others = [old(cache / name, 1e4) for name in ("kernels-", "kernels-0123", f"kernels-{'A' * 16}", f"my-kernels-{'0' * 16}", "src")]
    link = cache / f"kernels-{'1' * 16}"
    link.symlink_to(elsewhere)
    (cache / f"kernels-{'2' * 16}").write_text("a file")
    for number in range(3, 3 + kernels.KEPT):
        old(cache / f"kernels-{number:016x}", 1)
    kernels.kept_in("f" * 16, tmp_path)
    assert len(list(cache.glob("kernels-0*"))) == kernels.KEPT  # one was swept, and "kernels-0123" counts here
    assert all((folder / "kernel.nbc").exists() for folder in [*others, elsewhere])
    assert link.is_symlink()
    assert (cache / f"kernels-{'2' * 16}").is_file()


def test_what_cannot_be_swept_stays(tmp_path, monkeypatch):
    cache = tmp_path / "cache"
    for number in range(kernels.KEPT + 2):
        old(cache / f"kernels-{number:016x}", 1)

    def refuse(*_args, **_options):
        raise PermissionError(errno.EACCES, "held by another process")

    for name in ("unlink", "rmdir"):
        monkeypatch.setattr(os, name, refuse)
    assert kernels.kept_in("f" * 16, tmp_path) is not None
    assert len(list(cache.iterdir())) == kernels.KEPT + 3


def run(tmp_path: Path, program: str = PROGRAM) -> tuple[float, int]:
    """What the program's kernel returns, and how many kernels it had to compile; nothing else is said."""
    (tmp_path / "program.py").write_text(program)
    done = subprocess.run([sys.executable, tmp_path / "program.py"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    result, count = done.stdout.split()
    return float(result), int(count)


DAMAGES: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda data: b"",
    "cut off": lambda data: data[: len(data) // 2],
    "its end is missing": lambda data: data[: -DIGEST_BYTES - 1],
    "garbage": lambda data: bytes(reversed(data)),
    "nothing in its middle": lambda data: data[: len(data) // 4] + bytes(len(data) // 2) + data[len(data) // 4 + len(data) // 2 :],
}


@pytest.mark.slow
@pytest.mark.parametrize("suffix", ["nbi", "nbc"])
@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_file_costs_a_compilation_and_is_made_good(tmp_path, damage: str, suffix: str):
    assert run(tmp_path) == (5.0, 2)
    assert run(tmp_path) == (5.0, 0)
    files = list((tmp_path / "cache").rglob(f"*.{suffix}"))
    assert len(files) == 2
    for file in files:
        file.write_bytes(DAMAGES[damage](file.read_bytes()))
    assert run(tmp_path) == (5.0, 2)
    assert run(tmp_path) == (5.0, 0)


GONE_WRONG = {
    "a full disk": "def write(*a, **k): raise OSError(28, 'No space left on device')\nimport numba.core.caching as c; c.os.replace = write",
    "a folder that is gone": "import shutil, os; from bouncesim.march import jit; squared = jit._folder(); shutil.rmtree(squared)\n"
    "open(squared, 'w').close()",
    "one that may not be written": "import tempfile; from bouncesim.march import jit; jit._folder()\n"
    "def refuse(*a, **k): raise PermissionError(13, 'no')\ntempfile.TemporaryFile = refuse",
}


@pytest.mark.slow
@pytest.mark.parametrize("what", GONE_WRONG)
def test_what_cannot_be_saved_is_compiled_all_the_same(tmp_path, what: str):
    """Root may write anywhere, so the calls that fail are stood in for."""
    program = GONE_WRONG[what] + PROGRAM
    assert run(tmp_path, program) == (5.0, 2)
    assert not list((tmp_path / "cache").rglob("*.nbc"))


@pytest.mark.slow
def test_two_processes_at_once_do_not_meet(tmp_path):
    (tmp_path / "program.py").write_text(PROGRAM)
    both = [subprocess.Popen([sys.executable, tmp_path / "program.py"], stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(2)]
    for one in both:
        out, errors = one.communicate()
        assert (out.split()[0], errors) == (b"5.0", b"")
    assert run(tmp_path) == (5.0, 0)
