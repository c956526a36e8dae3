"""A slow key in full: 5 ms of raised cosine at 30 MHz on 200 cells, 30 million steps with ledger and meters.

Against the slow twin of the tests, which takes NumPy slices over the cells and a loop in Python over the steps, from a short stretch of
it; both in seconds of the processor, as seconds of the clock say little on a busy machine. And memory: the most that a process of its own
has held after a quarter of the key, and after the whole of it.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from bouncesim.march.loop import BARE
from bouncesim.march.simulation import build
from bouncesim.scenario import Keying
from tests.benchmarks.bench_step import CELLS, tuned
from tests.march.twin import Twin

FREQUENCY, RISE_S, POINTS = 30e6, 5e-3, 200
STEPS = round(RISE_S * FREQUENCY * POINTS)
STRETCH = 300  # steps of the twin
ALIKE = 1e-9
GROWS_AT_MOST = 1.1  # from a quarter of the key to the whole: books are kept every 4096 steps


def scenario():
    return tuned(frequency=FREQUENCY, keying=Keying(shape="raised-cosine", rise_s=RISE_S))


def most_memory() -> int:
    """The most that this process has held, kB. (getrusage would count what its parent held when it was started.) Linux only."""
    (line,) = (line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1])


def alone(share: float) -> None:
    """What the process of its own does: so much of the key; prints seconds, and the most memory after a first step and at the end."""
    stepper = build(scenario(), POINTS)
    stepper.advance(1)
    before, begin = most_memory(), time.process_time()
    stepper.advance(round(share * STEPS))
    print(time.process_time() - begin, before, most_memory())


def in_a_process(share: float) -> list[float]:
    done = subprocess.run([sys.executable, "-m", __name__, str(share)], check=True, capture_output=True, text=True)
    return [float(word) for word in done.stdout.split()]


def test_key(bench) -> None:
    stepper = build(scenario(), POINTS)
    (section,) = stepper.plan.sections
    assert section.cells == CELLS
    emf = stepper.drive.samples(0, STRETCH, half=True)
    twin = Twin(scenario(), [section], stepper.dt)
    begin = time.process_time()
    for volts in emf:
        twin.step(float(volts))
    slow_seconds = (time.process_time() - begin) / STRETCH * STEPS
    stepper.advance(STRETCH, BARE)
    assert np.abs(twin.v[0] - stepper.v).max() < ALIKE * np.abs(stepper.v).max()
    quarter = in_a_process(0.25)
    whole = bench.benchmark.pedantic(in_a_process, args=(1.0,), rounds=1)
    seconds = whole[0]
    bench.row(
        f"5 ms key at 30 MHz, {STEPS / 1e6:.0f} million steps: as fast as by slices",
        f"{seconds:.1f} s",
        f"{slow_seconds / seconds:.0f} times",
    )
    bench.row(f"the same by slices, from {STRETCH} steps", f"{slow_seconds / 3600:.2f} h")
    bench.row("most memory after one step", f"{whole[1] / 1024:.1f} MB")
    grown, asked = f"{whole[2] / quarter[2]:.3f}", f"at most {GROWS_AT_MOST}"
    bench.row("most memory after the whole key, to that after a quarter", f"{whole[2] / 1024:.1f} MB", grown, asked)


if __name__ == "__main__":
    alone(float(sys.argv[1]))
