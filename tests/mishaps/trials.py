"""Commands stopped at any moment: one trial starts a command over the files of an earlier one, sends a signal, and looks at what is left.

Half of the moments lie anywhere in the command's usual duration, half where it writes: after there is something in a part.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from bouncesim.account.store import load_run
from bouncesim.account.whole import try_folder
from bouncesim.errors import BouncesimError
from tests.mishaps import FILM, bouncesim, environment, files, parts, scenario

COMMANDS: dict[str, tuple[str, ...]] = {
    "run": ("run", "cheap.toml", "--no-start-up"),
    "film": ("film", "cheap.toml", *FILM),
    "gif": ("film", "cheap.toml", *FILM, "--output", "outputs/cheap.gif"),
    "pictures": ("film", "cheap.toml", *FILM, "--format", "png"),
    "survey": ("survey", "cheap.toml", "--in-time", "--threads", "2"),
    "report": ("report", "cheap.toml", "--theme", "light"),
    "chart": ("chart", "cheap.toml", "flow", "meters", "bounces"),
    "match": ("match", "cheap.toml", "--write", "outputs/matched.tom", "--force"),
    "new": ("new", "outputs/mine.tom"),
}
OFTEN = {"run": 10, "film": 10, "gif": 4, "pictures": 6, "survey": 12, "report": 3, "chart": 3, "match": 2, "new": 1}
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGKILL)
CHANGES = ("survey.json",)  # tells when it was finished
JOURNAL = "survey.journal"
LONGEST_S = 120.0
ENDING_S = 2.0  # so long it may take to end by itself, if the signal found it on its way out
ORPHAN_S = 10.0  # so long a child may live on without its parent


@dataclass
class Usual:
    """A command left alone: what it leaves over the files of an earlier scenario, how long it takes, and how long of that it writes."""

    before: dict[str, bytes]
    after: dict[str, bytes]
    lasts_s: float
    writes_s: float


@dataclass
class Trial:
    """One trial and what was wrong with it."""

    command: str
    stop: signal.Signals
    at: str  # "any moment" or "writing"
    code: int = 0
    ended_s: float = 0.0  # from the signal on
    orphan_s: float = 0.0
    part_left: bool = False
    mixed: bool = False  # killed between two renames
    deaf: bool = False  # while Python itself started or ended: no line of ours is run then, and a signal ends it as it ends any program
    wrong: list[str] = field(default_factory=list)


def usual(command: str, folder: Path) -> Usual:
    """Run a command, once over nothing with another power and once as it will be, and measure it."""
    scenario(folder, power=60)
    (folder / "outputs").mkdir()
    if command != "new":
        bouncesim(*COMMANDS[command], folder=folder)
    before = files(folder)
    scenario(folder)
    start, writing = time.monotonic(), 0.0
    program = _start(command, folder, "usual")
    while program.poll() is None:
        writing += 0.005 * is_writing(folder)
        time.sleep(0.005)
    _, told = program.communicate()
    lasts = time.monotonic() - start
    if program.returncode not in (0, 1):
        raise AssertionError(f"{command} fails when it is left alone: {told.decode(errors='replace')}")
    return Usual(before, files(folder), lasts, max(writing, 0.02))


def trial(command: str, known: Usual, folder: Path, chance: random.Random) -> Trial:
    """One trial in an empty folder."""
    writing = chance.random() < 0.5
    made = Trial(command, chance.choice(SIGNALS), "writing" if writing else "any moment")
    scenario(folder)
    for name, content in known.before.items() if chance.random() < 0.7 else ():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    (folder / "outputs").mkdir(exist_ok=True)
    mark = f"trial-{os.getpid()}-{chance.random()}"
    program = _start(command, folder, mark)
    if writing:
        wait(lambda: is_writing(folder) or program.poll() is not None)
    wait(lambda: program.poll() is not None, chance.uniform(0, known.writes_s if writing else known.lasts_s))
    made.deaf = not _listens(program.pid)
    sent, running = time.monotonic(), program.poll() is None
    program.send_signal(made.stop)
    if made.stop == signal.SIGINT and chance.random() < 0.5:
        time.sleep(chance.uniform(0, 0.1))
        program.send_signal(signal.SIGINT)
    _, told = program.communicate(timeout=LONGEST_S)
    made.code, made.ended_s = program.returncode, time.monotonic() - sent
    _look_at_the_end(made, told.decode("utf-8", "replace"), running)
    _look_for_orphans(made, mark)
    _look_at_files(made, known, folder)
    if command == "survey":
        _go_on(made, known, folder)
    return made


def _look_at_the_end(made: Trial, told: str, running: bool) -> None:
    stopped = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGKILL: -signal.SIGKILL}[made.stop]
    allowed = {stopped} if running and not made.deaf and made.ended_s > ENDING_S else {0, 1, stopped}
    if made.deaf:
        allowed |= {-made.stop}
    if made.code not in allowed:
        made.wrong.append(f"exit code {made.code}")
    if "Traceback" in told and not (made.deaf and "bouncesim/cli/main" not in told):
        made.wrong.append(f"a traceback: {told[-600:]}")
    if made.code in (130, 143) and "Stopped. Nothing half-written is left behind." not in told and "Saved in" not in told:
        made.wrong.append(f"no clear line: {told[-300:]}")


def _look_for_orphans(made: Trial, mark: str) -> None:
    ended = time.monotonic()
    while _living(mark):
        made.orphan_s = time.monotonic() - ended
        if made.orphan_s > ORPHAN_S:
            made.wrong.append("a child lives on")
            return
        time.sleep(0.01)
    if made.stop != signal.SIGKILL and not made.deaf and made.orphan_s > 0.2:
        made.wrong.append(f"a child lived on for {made.orphan_s:.1f} s")


def _look_at_files(made: Trial, known: Usual, folder: Path) -> None:
    """Whole, one run's or the other's, and belonging together; parts are swept at the next turn."""
    for left in parts(folder):
        made.part_left = True
        try_folder(left.parent)
    if parts(folder):
        made.wrong.append("a part is not swept")
    if made.part_left and made.stop != signal.SIGKILL:
        made.wrong.append("a part was left by a program that was not killed")
    found = files(folder)
    old, new = set(), set()
    for name, content in found.items():
        if Path(name).name in (*CHANGES, JOURNAL):
            continue
        if content == known.after.get(name):
            new.add(name)
        elif content == known.before.get(name):
            old.add(name)
        else:
            made.wrong.append(f"{name} is half a file")
    changed = {name for name in known.after if known.after[name] != known.before.get(name)}
    groups = (
        {"run.json", "run.npz", "verdict.json"},
        {"survey.csv", "survey.npz"},
        {"cheap.mp4", "cheap.poster.png", "cheap.vtt", "cheap.description.txt"},
        {"cheap.report.html", "cheap.report.md", "cheap.report.json"},
        {f"{name}.png" for name in COMMANDS["chart"][2:]},
    )
    for group in groups:
        of_group = {name for name in changed if Path(name).name in group}
        if of_group & new and of_group - new:
            made.mixed = True
            if made.stop != signal.SIGKILL:
                made.wrong.append(f"{sorted(of_group & new)} without {sorted(of_group - new)}")
    if made.mixed and (folder / "outputs/cheap/run.json").exists():
        _tells_that_it_is_mixed(made, folder)


def _tells_that_it_is_mixed(made: Trial, folder: Path) -> None:
    try:
        load_run(folder / "outputs" / "cheap")
    except BouncesimError:
        return
    names = [folder / "outputs" / "cheap" / name for name in ("run.json", "run.npz")]
    if not all(name.exists() for name in names):
        made.wrong.append("half a run was loaded")


def _go_on(made: Trial, known: Usual, folder: Path) -> None:
    done = bouncesim(*COMMANDS["survey"], folder=folder)
    if done.returncode != 0:
        made.wrong.append(f"it does not go on: {done.stderr[-300:]}")
    found = files(folder)
    for name in ("outputs/cheap/survey/survey.csv", "outputs/cheap/survey/survey.npz"):
        if found.get(name) != known.after[name]:
            made.wrong.append(f"{name} is another after it went on")
    if any(Path(name).name == JOURNAL for name in found):
        made.wrong.append("the journal is left")


def _start(command: str, folder: Path, mark: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "bouncesim", *COMMANDS[command]],
        cwd=folder,
        env=environment(BOUNCESIM_TRIAL=mark),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # ignored, and left so, where the trials run in the background
    )


def wait(done: Callable[[], bool], seconds: float = LONGEST_S) -> None:
    """Until something is so, or for so long."""
    end = time.monotonic() + seconds
    while time.monotonic() < end and not done():
        time.sleep(0.001)


def is_writing(folder: Path) -> bool:
    """Whether there is something in a part, or a survey has a journal."""
    for outputs in (folder / "outputs", folder / "outputs" / "cheap", folder / "outputs" / "cheap" / "survey"):
        try:
            names = os.listdir(outputs)
            for name in names:
                if name == JOURNAL or (
                    name.endswith(".part") and any(file.is_file() and file.stat().st_size for file in (outputs / name).rglob("*"))
                ):
                    return True
        except OSError:  # it has just come or gone
            continue
    return False


def _listens(process: int) -> bool:
    """Whether a program has a handler for SIGTERM, as the system tells it."""
    try:
        (caught,) = (line for line in Path(f"/proc/{process}/status").read_text().splitlines() if line.startswith("SigCgt"))
    except (OSError, ValueError):
        return False
    return bool(int(caught.split()[1], 16) >> (signal.SIGTERM - 1) & 1)


def _living(mark: str) -> list[int]:
    """Processes that have a trial's mark in their environment."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if mark.encode() in (process / "environ").read_bytes():
                found.append(int(process.name))
        except OSError:
            continue
    return found


def trials(
    count: int, seed: int, folder: Path, names: tuple[str, ...] = tuple(COMMANDS), tell: Callable[[Trial], None] | None = None
) -> list[Trial]:
    """So many trials of these commands, the same for the same seed but for the moments that the machine decides."""
    chance, known, made = random.Random(seed), dict[str, Usual](), []
    weights = [OFTEN[name] for name in names]
    for k in range(count):
        (command,) = chance.choices(names, weights)
        if command not in known:
            (folder / f"usual-{command}").mkdir()
            known[command] = usual(command, folder / f"usual-{command}")
        place = folder / f"trial-{k}"
        place.mkdir()
        made.append(trial(command, known[command], place, chance))
        if not made[-1].wrong:
            shutil.rmtree(place)
        if tell:
            tell(made[-1])
    return made
