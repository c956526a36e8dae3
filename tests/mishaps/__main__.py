"""nice python -m tests.mishaps --trials 200 --seed 1: stop commands at random moments and look at what is left.

Exit code 1 if anything is wrong. Takes about four seconds a trial on a machine that has nothing else to do. Needs a system with /proc.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.mishaps.trials import COMMANDS, Trial, trials


def tell(trial: Trial) -> None:
    """A line a trial."""
    words = [f"{trial.command:9}{trial.stop.name:8} {trial.at:11} code {trial.code:4}  ended after {trial.ended_s:5.2f} s"]
    words += (
        ["a part left and swept"] * trial.part_left
        + ["mixed"] * trial.mixed
        + ["Python itself started or ended"] * trial.deaf
        + trial.wrong
    )
    print("  ".join(words), flush=True)


def main() -> int:
    """As the head of this file says."""
    asked = argparse.ArgumentParser(prog="python -m tests.mishaps", description=__doc__)
    asked.add_argument("--trials", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--command", choices=tuple(COMMANDS), action="append")
    told = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        made = trials(told.trials, told.seed, Path(folder), tuple(told.command or COMMANDS), tell)
    wrong = [trial for trial in made if trial.wrong]
    counts = Counter((trial.command, trial.stop.name) for trial in made)
    print(f"{len(made)} trials, {len(wrong)} wrong: " + ", ".join(f"{name} {stop} {n}" for (name, stop), n in sorted(counts.items())))
    print(
        f"while writing: {sum(trial.at == 'writing' for trial in made)}; ended by themselves: {sum(trial.code in (0, 1) for trial in made)}"
    )
    print(f"parts left and swept: {sum(trial.part_left for trial in made)}; mixed by SIGKILL: {sum(trial.mixed for trial in made)}")
    for name in ("SIGINT", "SIGTERM"):
        print(f"{name}: ended after {max((t.ended_s for t in made if t.stop.name == name), default=0):.2f} s at most")
    print(f"a child outlived its parent by {max((trial.orphan_s for trial in made), default=0):.2f} s at most")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
