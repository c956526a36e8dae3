"""Drives the command line with one input after another, in one process, and notes whatever a stranger could hold against it."""

from __future__ import annotations

import contextlib
import io
import os
import random
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from unittest import mock

from pydantic import ValidationError

import bouncesim.cli.main
from bouncesim import budget, perform
from bouncesim.cli.main import main
from bouncesim.cli.station import may_be_of
from bouncesim.errors import BouncesimError
from bouncesim.scenario import Scenario, read_scenario
from bouncesim.show.fitting import check_texts
from bouncesim.show.reel import Reel
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.words import ENGLISH
from tests.show.fake import verdict_of
from tests.strangers import typed
from tests.strangers.kinds import S1P, Input, input_of, measured

FILE = "station.toml"
ANSWERED = 2.0  # s that reading, estimating and refusing may take
DEEP_ANSWERED = 20.0  # s that a simulation of those allowed here may take
HUNG = 60.0  # s after which a simulation is given up: none of those allowed here takes a tenth of it
MINUTES = 0.1  # that a command may take by its own estimate, instead of the usual 30
DEEP = 0.01  # share of the valid inputs that is simulated, matched or drawn
TYPED = 0.04  # share of the inputs beside which a command line that needs no scenario is tried
LOOK = Look("dark", frozenset(), "voltage", ENGLISH, False)
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("run",),
    ("run", "--no-start-up", "--json"),
    ("check",),
    ("claims",),
    ("match",),
    ("demonstrate",),
    ("bands",),
    ("chart", "flow", "standing-wave", "--format", "svg"),
    ("report",),
    ("survey",),
    ("survey", "--in-time", "--threads", "2"),
    ("explain",),
    *((name,) for name in typed.WITH_SCENARIO),
)
WRITE = ("run", "chart", "report", "survey", "bands", "open-wire")  # commands that are told where to
SURVEYS = (  # for scenarios without one
    b'\n[survey]\npower = ["1 W", "40 W"]\n',
    b'\n[survey]\nband = ["40 m", "20 m"]\nswr = [1, 3, 1000]\n',
    b'\n[survey]\nfrequency = ["7.1 MHz", "100 Hz"]\nlength = ["1 mm", "31 m"]\nswr = [2]\n',
)
FILMS = ("film", "film of two", "film of a tuner")


class Hung(BaseException):
    """Raised by the clock."""


class Defect(AssertionError):
    """Something that no input may bring about."""


@dataclass
class Seen:
    """What came of many inputs."""

    kinds: Counter[str] = field(default_factory=Counter)
    valid: Counter[str] = field(default_factory=Counter)  # of each kind those that are scenarios
    ends: Counter[str] = field(default_factory=Counter)
    defects: dict[str, tuple[int, str]] = field(default_factory=dict)  # where -> first input, and its traceback
    repeated: Counter[str] = field(default_factory=Counter)
    slowest: tuple[float, int, str] = (0.0, -1, "")
    slow: list[tuple[float, int, str]] = field(default_factory=list)
    peak_mb: float = 0.0
    grown: list[tuple[float, int]] = field(default_factory=list)  # memory, and the input with which it grew


def drive(seed: int, numbers: range, folder: Path, deep: float = DEEP, report: Callable[[int, Seen], None] | None = None) -> Seen:
    """Every input of a range; `folder` is where they are written, one over the other."""
    seen, home = Seen(), Path.cwd()
    os.chdir(folder)
    lay_traps(folder)
    Path(S1P).write_bytes(measured()[1])
    try:
        for number in numbers:
            made = input_of(seed, number)
            seen.kinds[made.kind] += 1
            one(seen, made, number, random.Random(f"{seed} {number} stages"), deep)
            if report is not None:
                report(number, seen)
    finally:
        os.chdir(home)
    return seen


def one(seen: Seen, made: Input, number: int, chance: random.Random, deep: float) -> None:
    """Write one input and put it through the command line, and further if it is a scenario."""
    Path(FILE).write_bytes(made.text)
    for name, content in made.files.items():
        Path(name).write_bytes(content)
    read: list[Scenario] = []
    for name, stage, limit in chain(stages_alone(chance), stages(read, chance, deep)):
        begun = time.process_time()
        try:
            end = judged(stage)
        except (Exception, Hung) as error:
            place = f"{name}: {_where(error)}"
            seen.repeated[place] += 1
            if place not in seen.defects:
                seen.defects[place] = (number, traceback.format_exc())
                print(f"input {number}, {made.kind}: {place}", file=sys.stderr, flush=True)
            end = "a defect"
        took = time.process_time() - begun
        seen.slowest = max(seen.slowest, (took, number, name))
        if took > limit:
            seen.slow.append((took, number, name))
            print(f"input {number}, {made.kind}: {took:.1f} s for {name}", file=sys.stderr, flush=True)
        seen.ends[f"{name}: {end}"] += 1
    seen.valid[made.kind] += bool(read)
    if S1P in made.files:
        Path(S1P).write_bytes(measured()[1])
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if peak > seen.peak_mb + 50:
        seen.grown.append((peak, number))
        print(f"input {number}, {made.kind}: {peak:.0f} MB", file=sys.stderr, flush=True)
    seen.peak_mb = max(seen.peak_mb, peak)


def stages(read: list[Scenario], chance: random.Random, deep: float) -> Iterator[tuple[str, Callable[[], str], float]]:
    """What is done with an input, the cheap things always, one of the others now and then; with the seconds that each may take. `read`
    is filled with the scenario, if there is one."""
    yield "read", lambda: command("survey", FILE, "--most-work", "0.03", "--output", "out", read=read), ANSWERED
    if not read:
        return
    (scenario,) = read
    yield "solve", lambda: ours(lambda: perform.solve_exact(scenario)), ANSWERED
    yield "texts", lambda: ours(lambda: check_texts(scenario, (1920, 1080), LOOK)), ANSWERED
    yield "estimate", lambda: ours(lambda: _estimated(scenario)), ANSWERED
    if chance.random() < 5 * deep:
        yield "what it may be", lambda: ours(lambda: may_be_of(scenario)), ANSWERED
    if chance.random() < deep:
        pick = chance.randrange(len(COMMANDS) + len(FILMS))
        if pick < len(COMMANDS):
            name, *options = COMMANDS[pick]
            drawn = pick >= len(COMMANDS) - 1 - len(typed.WITH_SCENARIO)
            if drawn:
                options = typed.explained(chance) if name == "explain" else typed.with_options(name, chance)
            if name in WRITE and "--output" not in options:
                options += ["--output", "out"]
            if name == "survey" and scenario.survey is None:
                with open(FILE, "ab") as file:
                    file.write(chance.choice(SURVEYS))
            yield name, lambda: command(name, FILE, *options, drawn=drawn), DEEP_ANSWERED
        else:
            film = FILMS[pick - len(COMMANDS)]
            yield film, lambda: ours(lambda: _filmed(scenario, film)), DEEP_ANSWERED


def stages_alone(chance: random.Random) -> Iterator[tuple[str, Callable[[], str], float]]:
    """A command line that needs no scenario, now and then."""
    if chance.random() < TYPED:
        name, *options = typed.alone(chance)
        yield name, lambda: command(name, *options, drawn=True), ANSWERED


def command(*arguments: str, read: list[Scenario] | None = None, drawn: bool = False) -> str:
    """Exit code of a command line, whose words are looked at; into `read` goes the scenario that it loads. `drawn`: its options are drawn
    at random, and may be none."""
    out, err, loaded = io.StringIO(), io.StringIO(), [] if read is None else read

    def load(path: Path) -> Scenario:
        loaded.append(read_scenario(path))
        return loaded[-1]

    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(perform, "load", load),
        mock.patch.object(bouncesim.cli.main, "beyond_any_station", untold),
    ):
        code = main(arguments)
    budget.allow_work(1)
    words = out.getvalue() + err.getvalue()
    if code not in range(4):
        raise Defect(f"exit code {code}: {err.getvalue()[-300:]}")
    look_at(words)
    if "Usage:" in words and not drawn:
        raise Defect(f"not a command line: {err.getvalue()[-300:]}")
    if code >= 2 and not err.getvalue().strip():
        raise Defect(f"exit code {code} without a word")
    return str(code)


def untold(error: ValidationError) -> BouncesimError:
    """In the place of the command line's words for what no input may lead to: the error itself."""
    raise error


def look_at(words: str) -> None:
    """Raises Defect for what is told and cannot be seen."""
    if unseen := sorted({mark for mark in words if not mark.isprintable() and mark != "\n"}):
        raise Defect(f"tells {unseen!r}")


def ours(work: Callable[[], object]) -> str:
    """A piece of work in which the project's own errors are no defects."""
    try:
        work()
    except BouncesimError as error:
        return type(error).__name__
    return "good"


def judged(stage: Callable[[], str]) -> str:
    """The end of a stage, with every warning an error, and a limit to its time."""

    def ring(*_: object) -> None:
        raise Hung(f"after {HUNG:g} s")

    before = signal.signal(signal.SIGVTALRM, ring)
    signal.setitimer(signal.ITIMER_VIRTUAL, HUNG)
    try:
        with warnings.catch_warnings(), mock.patch.object(budget, "MOST_MINUTES", MINUTES):
            warnings.simplefilter("error")
            return stage()
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def lay_traps(folder: Path) -> None:
    """What a name in a scenario could lead to: a pipe that nobody writes to, a link that leads out, a device."""
    for name, make in (
        ("pipe", lambda path: os.mkfifo(path)),
        ("out-of-here", lambda path: path.symlink_to("/etc/passwd")),
        ("zero", lambda path: path.symlink_to("/dev/zero")),
    ):
        with contextlib.suppress(FileExistsError, AttributeError):
            make(folder / name)


def _estimated(scenario: Scenario) -> None:
    budget.check(perform.work(perform.resolve(scenario)))


def _filmed(scenario: Scenario, film: str) -> None:
    """Everything of a film but the encoder: its words are made, its poster and its last frame, the card, are drawn."""
    from bouncesim.perform.turning import turn
    from bouncesim.show import pair_film, tuning_film
    from bouncesim.show.captions import webvtt
    from bouncesim.show.description import description
    from bouncesim.show.pair import PairStage
    from bouncesim.show.tuning import TuningStage

    size = (640, 360)
    stage: Reel
    if film == "film of a tuner":
        stage = TuningStage(turn(scenario, "coil"), look=LOOK, size=size)
        words = webvtt(stage.story, stage.turned), tuning_film.description(stage)
    elif film == "film of two":
        run = perform.simulate(scenario)
        verdicts = verdict_of(run), verdict_of(run, fail=True)
        stage = PairStage((run, run), verdicts, look=LOOK, size=size)
        words = webvtt(stage.story, stage.both), pair_film.description(stage, verdicts)
    else:
        run = perform.simulate(scenario)
        verdict = verdict_of(run, fail=True)
        stage = Stage(run, verdict, look=LOOK, size=size)
        words = webvtt(stage.story, stage.live), description(stage, verdict)
    for k in (stage.poster, len(stage) - 1):
        stage.draw(k)
    look_at("".join(words))


def _where(error: BaseException) -> str:
    """The kind of an error and the last place of ours that it came through: errors of one place are told once."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "/bouncesim/" in frame.filename] or frames
    last = ours[-1]
    return f"{type(error).__name__} in {Path(last.filename).name}:{last.lineno} {str(error)[:60]!r}"


def told(seen: Seen) -> str:
    """The outcome in words."""
    lines = [f"{sum(seen.kinds.values()):,} inputs; peak memory {seen.peak_mb:.0f} MB"]
    lines += [f"  {count:8,}  {kind}, {seen.valid[kind]:,} of them scenarios" for kind, count in seen.kinds.most_common()]
    lines += [f"  {count:8,}  {end}" for end, count in sorted(seen.ends.items())]
    took, number, name = seen.slowest
    lines += [f"slowest: {took:.2f} s, input {number}, {name}"]
    lines += [f"slow: {took:.2f} s, input {number}, {name}" for took, number, name in sorted(seen.slow, reverse=True)[:40]]
    lines += [f"memory grew to {peak:.0f} MB with input {number}" for peak, number in seen.grown]
    for place, (number, trace) in seen.defects.items():
        lines += [f"DEFECT, {seen.repeated[place]} times, first input {number}: {place}", trace]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit("python -m tests.strangers")
