"""The house: what may import what, what lies at the top, and what `import bouncesim` costs."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import bouncesim

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "bouncesim").rglob("*.py"))
TOP = {
    "bouncesim",
    "scenarios",
    "tests",
    "outputs",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    ".ci",
    ".gitignore",
}
MODULE_LINES = 330  # "about 300": what one can hold in mind
FUNCTION_LINES = 60  # a kernel may have as many; anything longer wants to be two


def run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


def test_imports_point_one_way() -> None:
    done = run(sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()")
    assert done.returncode == 0, done.stdout


@pytest.mark.skipif(not (ROOT / ".git").exists(), reason="only a clone knows what belongs to it")
def test_nothing_else_lies_at_the_top() -> None:
    tracked = run("git", "-c", "safe.directory=*", "ls-files").stdout.splitlines()
    assert {name.split("/")[0] for name in tracked} <= TOP
    assert {name for name in TOP if not (ROOT / name).exists()} == set()


def test_importing_bouncesim_loads_nothing_heavy() -> None:
    done = run(sys.executable, "-c", "import bouncesim, sys; print(*sys.modules)")
    assert not {"numpy", "numba", "matplotlib", "pydantic", "click"} & {name.split(".")[0] for name in done.stdout.split()}


def test_the_public_names_are_there_and_no_others() -> None:
    assert set(bouncesim.__all__) == {"__version__", "allow_work", "check", "film", "load", "load_run", "simulate", "solve_exact"}
    assert set(bouncesim.__all__) <= set(dir(bouncesim))
    for name in bouncesim.__all__:
        assert getattr(bouncesim, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'simulat'"):
        bouncesim.simulat  # noqa: B018 (looking it up is the test)


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_can_be_held_in_mind(module: Path) -> None:
    source = module.read_text(encoding="utf-8")
    assert len(source.splitlines()) <= MODULE_LINES
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            first = node.body[min(1, len(node.body) - 1) if ast.get_docstring(node) else 0]
            last = node.body[-1].end_lineno or 0
            assert last - first.lineno < FUNCTION_LINES, f"{node.name} is long"


RUNS_WHAT_IT_READS = {"eval", "exec", "compile", "__import__", "os.system", "os.popen", "np.load"}
UNPACKS_WHAT_IT_READS = {"pickle", "marshal", "shelve", "yaml", "dill", "joblib"}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_that_is_read_is_run(module: Path) -> None:
    """A scenario, a run and a measurement may come from strangers: they are data, never code."""
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else [alias.name for alias in node.names]
            assert not UNPACKS_WHAT_IT_READS & {name.partition(".")[0] for name in names}
        if isinstance(node, ast.Call):
            told = {word.arg: ast.unparse(word.value) for word in node.keywords if word.arg}
            assert told.get("shell", "False") == "False"
            assert ast.unparse(node.func) not in RUNS_WHAT_IT_READS or told.get("allow_pickle") == "False"


def test_ci_reads_its_commands_from_the_readme() -> None:
    script = ROOT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    marks = re.findall(r"from_readme ([a-z-]+)\)", script.read_text(encoding="utf-8"))
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert marks == ["set-up", "tests", "main-job"]
    for mark in marks:
        assert re.search(rf"^<!-- {mark} -->\n```sh\n[^`]+\n```$", readme, flags=re.MULTILINE), mark
