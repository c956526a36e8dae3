"""The same scenario gives the same readings to the last digit, whatever the threads, the folder, the order of sets, and the state of the
cache; and on another kind of processor to the last digit that is printed. Each run is a process of its own."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import CLAIM

EPOCH = "1767323040"  # results tell the time
TUNED = """
title = "Everything at once"
[transmitter]
frequency = "7.05 MHz"
power = "40 W"
[keying]
shape = "raised-cosine"
rise = "0.4 us"
[[path]]
part = "tuner"
coil_q = 150
[[path]]
part = "meter"
[[path]]
part = "line"
name = "coax"
type = "rg58c"
length = "11 m"
[[path]]
part = "line"
name = "tail"
length = "3 m"
impedance = "75 ohm"
velocity_factor = 0.8
loss = "3 dB/100 m"
loss_law = "wideband"
[antenna]
impedance = "25 - 60j ohm"
"""
SURVEY = """
[survey]
bands = ["40 m", "20 m"]
line = "coax"
type = ["rg58c", "rg213"]
swr = [1.5, 3.0]
phases = 3
tuner = ["none", "L", "T"]
"""
THREADS = ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
OTHERWISE = {
    "two threads": {**dict.fromkeys(THREADS, "2"), "PYTHONHASHSEED": "1"},
    "four threads": {**dict.fromkeys(THREADS, "4"), "PYTHONHASHSEED": "random"},
}

ROUNDING = re.compile(rb"[-+]?\d(\.\d+)?e-1[3-9]")


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("same") / "tuned.toml"
    file.write_text(TUNED + CLAIM.format(1) + SURVEY, encoding="utf-8")
    return file


def said(folder: Path, *arguments: object, code: int = 0, **variables: str) -> bytes:
    """What one command line says on stdout, run in `folder`."""
    folder.mkdir(exist_ok=True)
    usual = {**dict.fromkeys(THREADS, "1"), "PYTHONHASHSEED": "0", "SOURCE_DATE_EPOCH": EPOCH, "COLUMNS": "140"}
    line = [sys.executable, "-m", "bouncesim", *map(str, arguments)]
    done = subprocess.run(line, cwd=folder, env={**os.environ, **usual, **variables}, capture_output=True, check=False)
    assert done.returncode == code, done.stderr.decode()
    return done.stdout


@pytest.fixture(scope="module")
def usual(scenario: Path) -> Callable[..., bytes]:
    """The same in the usual circumstances, each command once."""
    known: dict[tuple[object, ...], bytes] = {}

    def once(*arguments: object) -> bytes:
        if arguments not in known:
            known[arguments] = said(scenario.parent, *arguments)
        return known[arguments]

    return once


@pytest.mark.parametrize("name", ["run", pytest.param("check", marks=pytest.mark.slow), pytest.param("claims", marks=pytest.mark.slow)])
@pytest.mark.parametrize("how", ["two threads", pytest.param("four threads", marks=pytest.mark.slow)])
def test_threads_folders_and_hashes_change_no_digit(
    name: str, how: str, scenario: Path, usual: Callable[..., bytes], tmp_path: Path
) -> None:
    found = said(tmp_path / "elsewhere", name, scenario, "--json", **OTHERWISE[how])
    assert found == usual(name, scenario, "--json")
    assert b'"sha256"' in found


@pytest.mark.slow
def test_what_is_saved_is_the_same(scenario: Path, usual: Callable[..., bytes], tmp_path: Path) -> None:
    usual("run", scenario, "--json")
    said(tmp_path, "run", scenario, "--json", **OTHERWISE["four threads"])
    for file in ("run.json", "run.npz"):
        assert (tmp_path / "outputs/tuned" / file).read_bytes() == (scenario.parent / "outputs/tuned" / file).read_bytes()


@pytest.mark.parametrize("in_time", [(), pytest.param(("--in-time",), marks=pytest.mark.slow)], ids=["closed form", "in time"])
def test_so_do_the_threads_of_a_survey(in_time: tuple[str, ...], scenario: Path, tmp_path: Path) -> None:
    tables = []
    for threads in (1, 2, 4):
        how = {**dict.fromkeys(THREADS, str(threads)), "PYTHONHASHSEED": str(threads)}
        said(tmp_path / str(threads), "survey", scenario, "--threads", threads, *in_time, **how)
        tables.append({file.name: file.read_bytes() for file in (tmp_path / str(threads) / "outputs/tuned/survey").iterdir()})
    assert sorted(tables[0]) == ["survey.csv", "survey.json", "survey.npz"]
    assert tables[0] == tables[1] == tables[2]


@pytest.mark.slow
def test_a_cold_cache_changes_nothing(scenario: Path, usual: Callable[..., bytes], tmp_path: Path) -> None:
    """A run that compiles its kernels, and one that finds them compiled."""
    for _ in ("cold", "warm"):
        assert said(tmp_path, "run", scenario, "--json", NUMBA_CACHE_DIR=str(tmp_path / "cache")) == usual("run", scenario, "--json")
    assert any((tmp_path / "cache").rglob("*.nbi")), "it was cold"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["run", "check"])
def test_another_processor_changes_no_printed_digit(name: str, scenario: Path, usual: Callable[..., bytes], tmp_path: Path) -> None:
    """Kernels compiled for any processor of this family, without what this one has besides. What is rounding itself, such as how far the
    books are from closing, may be another."""
    found = said(tmp_path, name, scenario, NUMBA_CPU_NAME="generic", NUMBA_CPU_FEATURES="", NUMBA_CACHE_DIR=str(tmp_path / "cache"))
    assert ROUNDING.sub(b"", found) == ROUNDING.sub(b"", usual(name, scenario))
