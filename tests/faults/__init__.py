"""Planted faults: the list (faults.toml), and a copy of the package to plant them in."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
NEEDED = ("bouncesim", "tests", "scenarios", "pyproject.toml")
PASSED, FAILED = 0, 1  # pytest's exit codes; others mean that nothing was tested
LONGEST_S = 120.0


@dataclass(frozen=True)
class Fault:
    """`find`, once in bouncesim/`file`, becomes `put`; the tests `caught_by` (below tests/) must notice."""

    kind: str
    what: str
    file: str
    find: str
    put: str
    caught_by: tuple[str, ...]


def faults() -> list[Fault]:
    """All of faults.toml."""
    entries = tomllib.loads((Path(__file__).parent / "faults.toml").read_text("utf-8"))["fault"]
    return [Fault(**entry | {"caught_by": tuple(entry["caught_by"])}) for entry in entries]


class Copy:
    """The package, its tests and its lessons in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in NEEDED:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(ROOT / name, folder / name)

    def run(self, tests: list[str], write_bytecode: bool = False) -> subprocess.CompletedProcess[str]:
        """pytest on some tests of the copy, its kernels as plain Python."""
        env = os.environ | {"PYTHONPATH": str(self.folder), "NUMBA_DISABLE_JIT": "1", "PYTEST_ADDOPTS": ""}
        env |= {} if write_bytecode else {"PYTHONDONTWRITEBYTECODE": "1"}
        command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:cacheprovider", *(f"tests/{test}" for test in tests)]
        return subprocess.run(command, cwd=self.folder, env=env, capture_output=True, text=True, check=False, timeout=LONGEST_S)

    def with_fault(self, fault: Fault) -> list[tuple[str, int, str]]:
        """(test, pytest's exit code, what it printed) of every test that should notice the fault."""
        path = self.folder / "bouncesim" / fault.file
        sound, stat = path.read_text("utf-8"), path.stat()
        try:
            path.write_text(sound.replace(fault.find, fault.put), "utf-8")
            os.utime(path, (stat.st_atime, stat.st_mtime + 60))  # no compiled file of the sound one will do
            runs = [(test, self.run([test])) for test in fault.caught_by]
        finally:
            path.write_text(sound, "utf-8")
            os.utime(path, (stat.st_atime, stat.st_mtime))
        return [(test, done.returncode, done.stdout + done.stderr) for test, done in runs]
