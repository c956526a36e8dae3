"""How long until there is an answer? Run it as a script: python tests/benchmarks/bench_start.py

Whole processes, from their start to their end, in turns, best of several, against `python -c "import numba"`: a ratio that hardly depends
on the machine, and seconds that do. `run` prints a lesson's account and starts its station under three keys; in Python it is simulated to
its steady state. Cold means an empty folder of kernels, as on the first day. Nothing here is a test: other work on the machine would
decide it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROUNDS, COLD_ROUNDS = 7, 2
ROOT = Path(__file__).parents[2]
LESSON = ROOT / "scenarios" / "one-echo-or-all.toml"
SETTLED = f"import bouncesim; print(bouncesim.simulate(bouncesim.load({str(LESSON)!r})).settling.settled_s)"
CLICK, NUMBA = ("-c", "import click"), ("-c", "import numba")


class Row(NamedTuple):
    """One line of the table; asked: the ratio that it may have, None where none is asked for."""

    what: str
    seconds: float
    ratio: float
    asked: float | None = None


def seconds(arguments: tuple[str, ...], kernels: Path) -> float:
    """From the start of an interpreter to its end. Raises CalledProcessError if it fails."""
    environment = os.environ | {"NUMBA_CACHE_DIR": str(kernels), "PYTHONPATH": str(ROOT), "NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    begin = time.perf_counter()
    subprocess.run([sys.executable, *arguments], env=environment, capture_output=True, check=True)
    return time.perf_counter() - begin


def warm(works: dict[str, tuple[str, ...]], kernels: Path) -> dict[str, float]:
    """The shortest time of each, s, with its kernels compiled beforehand."""
    for arguments in works.values():
        seconds(arguments, kernels)
    rounds = [{what: seconds(arguments, kernels) for what, arguments in works.items()} for _ in range(ROUNDS)]
    return {what: min(times[what] for times in rounds) for what in works}


def cold(arguments: tuple[str, ...]) -> float:
    """The shortest time of a first run ever, s."""
    times = []
    for _ in range(COLD_ROUNDS):
        with tempfile.TemporaryDirectory() as empty:
            times.append(seconds(arguments, Path(empty)))
    return min(times)


def measure() -> list[Row]:
    """All rows, the baselines among them."""
    with tempfile.TemporaryDirectory() as folder:
        run = ("-m", "bouncesim", "run", str(LESSON), "--output", str(Path(folder) / "run"))
        works = {
            "python -c 'import click'": CLICK,
            "bouncesim --help": ("-m", "bouncesim", "--help"),
            "python -c 'import numba'": NUMBA,
            "bouncesim match": ("-m", "bouncesim", "match", str(LESSON)),
            "a settled answer in Python": ("-c", SETTLED),
            "bouncesim run --no-start-up": (*run, "--no-start-up"),
            "bouncesim run": run,
        }
        times = warm(works, Path(folder) / "kernels")
        times["a settled answer in Python, cold"] = cold(works["a settled answer in Python"])
        times["bouncesim run, cold"] = cold(run)
    click, numba = times["python -c 'import click'"], times["python -c 'import numba'"]
    asked = {"bouncesim --help": 2.5}  # tests/cli/test_help.py
    return [
        Row(what, took, took / (click if "click" in what or "help" in what else numba), asked.get(what)) for what, took in times.items()
    ]


def test_start(bench) -> None:
    """The same in the table of all benchmarks."""
    for row in bench.benchmark.pedantic(measure, rounds=1):
        bench.row(row.what, f"{row.seconds:.2f} s", f"{row.ratio:.2f}", "" if row.asked is None else f"less than {row.asked}")


def main() -> None:
    print(f"{'':36}{'seconds':>8}{'ratio':>8}{'asked':>8}")
    for row in measure():
        print(f"{row.what:36}{row.seconds:8.2f}{row.ratio:8.2f}{'' if row.asked is None else f'< {row.asked}':>8}")


if __name__ == "__main__":
    main()
