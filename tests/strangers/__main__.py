"""A long run: python -m tests.strangers --inputs 200000 --seed 1"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program itself has it (bouncesim.__main__): before numpy loads

from tests.strangers.drive import DEEP, Seen, drive, told
from tests.strangers.kinds import input_of


def main() -> int:
    """Drive so many inputs, tell what came of them, and fail if there is a defect."""
    parser = argparse.ArgumentParser(prog="python -m tests.strangers", description="Scenarios as a stranger may write them, many of them.")
    parser.add_argument("--inputs", type=int, default=200_000, help="how many")
    parser.add_argument("--seed", type=int, default=1, help="the same seed gives the same inputs")
    parser.add_argument("--first", type=int, default=0, help="number of the first one")
    parser.add_argument("--deep", type=float, default=DEEP, help="share of the valid ones that is simulated or drawn")
    parser.add_argument("--show", action="store_true", help="print the first input instead of driving it")
    asked = parser.parse_args()
    if asked.show:
        made = input_of(asked.seed, asked.first)
        print(
            made.kind, *(f"\n--- {name}\n{content.decode('utf-8', 'replace')}" for name, content in {"": made.text, **made.files}.items())
        )
        return 0

    def report(number: int, seen: Seen) -> None:
        if (number + 1) % 5000 == 0:
            print(
                f"{number + 1:,} done, {len(seen.defects)} defects, slowest {seen.slowest}, {seen.peak_mb:.0f} MB",
                file=sys.stderr,
                flush=True,
            )

    with tempfile.TemporaryDirectory() as folder:
        seen = drive(asked.seed, range(asked.first, asked.first + asked.inputs), Path(folder), asked.deep, report)
    print(told(seen))
    return 1 if seen.defects else 0


sys.exit(main())
