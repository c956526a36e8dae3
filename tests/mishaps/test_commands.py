"""Commands among the faults of their surroundings, as programs of their own."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.mishaps import FILM, bouncesim, environment, files, parts, scenario
from tests.mishaps.trials import COMMANDS, trials, wait

pytestmark = pytest.mark.slow
linux = pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="needs /proc")
WORDS = {"LC_ALL": "C", "LANG": None, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "ascii"}
NARROW = {"TERM": "dumb", "NO_COLOR": "1", "COLUMNS": "40"}
PRINTING = {
    "run": ("run", "cheap.toml"),
    "json": ("run", "cheap.toml", "--json"),
    "film": ("film", "cheap.toml", *FILM),
    "chart": ("chart", "cheap.toml", "flow", "--format", "svg"),
    "check": ("check", "cheap.toml"),
    "claims": ("claims", "cheap.toml"),
    "rules": ("rules",),
    "match": ("match", "cheap.toml"),
    "demonstrate": ("demonstrate", "cheap.toml", "--markdown"),
    "explain": ("explain", "--power", "40 W", "--on-line", "62 W", "23 W", "--full-scale", "100 W"),
    "lines": ("lines",),
    "survey": ("survey", "cheap.toml"),
    "which-cable": ("which-cable", "rg58c", "--length", "40 m"),
    "swr-limit": ("swr-limit", "rg58c", "--length", "30 m"),
    "new": ("new", "mine.toml"),
    "report": ("report", "cheap.toml", "--theme", "light"),
    "schema": ("schema",),
    "help": ("--help",),
}


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with the cheap station in it."""
    scenario(tmp_path)
    return tmp_path


def no_traceback(done: subprocess.CompletedProcess[str], *codes: int) -> None:
    assert "Traceback" not in done.stderr, done.stderr
    assert done.returncode in codes, done.stderr


@linux
def test_stopped_at_any_moment(tmp_path: Path) -> None:
    """A few of the trials of `python -m tests.mishaps`."""
    made = trials(8, 7, tmp_path, ("run", "film", "survey"))
    assert [(trial.command, trial.stop.name, trial.wrong) for trial in made if trial.wrong] == []


def has_opened(folder: Path) -> bool:
    """Whether an encoder has opened its file: of so short a film it has got most by the time that anything can be seen in there."""
    try:
        return any(path.is_file() for path in folder.rglob(".bouncesim-*.part/*"))
    except OSError:  # a trial has just come and gone
        return False


@linux
@pytest.mark.parametrize(("stop", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_a_second_signal_disturbs_nothing(home: Path, stop: signal.Signals, code: int) -> None:
    program = subprocess.Popen(
        [sys.executable, "-m", "bouncesim", "film", "cheap.toml", "--no-check"],
        cwd=home,
        env=environment(),
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(stop, signal.SIG_DFL),  # whatever the tests run under may ignore it, and so would a command
    )
    wait(lambda: has_opened(home))
    program.send_signal(stop)
    for _ in range(5):
        time.sleep(0.01)
        program.send_signal(stop)
    _, told = program.communicate(timeout=60)
    assert told.endswith("\nStopped. Nothing half-written is left behind.\n")
    assert "Traceback" not in told
    assert program.returncode == code
    assert parts(home) == []


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 64 kB, full but for a few kB; skipped where none may be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    if (
        sys.platform != "linux"
        or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", place], capture_output=True).returncode
    ):
        pytest.skip("no disk may be mounted here")
    try:
        (place / "filler").write_bytes(bytes(48_000))
        yield place
    finally:
        subprocess.run(["umount", place], check=True)


@pytest.mark.parametrize("command", ["run", "film", "gif", "pictures", "survey", "report", "chart"])
def test_a_disk_without_room(small_disk: Path, tmp_path: Path, command: str) -> None:
    """Exit code 4, no half file, and what was there is still there."""
    scenario(tmp_path)
    arguments = [word for word in COMMANDS[command] if word != "--output" and not word.startswith("outputs/")]
    output = {"film": "cheap.mp4", "gif": "cheap.gif", "pictures": "cheap-frames"}.get(command, "")
    done = bouncesim(*arguments, "--output", small_disk / output, folder=tmp_path)
    no_traceback(done, 4)
    assert "room" in done.stderr
    left = {name for name in files(small_disk) if name != "survey.journal"}
    assert left == {"filler"}
    assert parts(small_disk) == []
    assert not (tmp_path / "outputs").exists()


@linux
@pytest.mark.parametrize("command", ["run", "film", "survey", "report", "chart"])
def test_neither_home_nor_this_folder_can_be_written(home: Path, command: str) -> None:
    """A folder that is the kernel's own is read-only even for root. Told before the work, and with another folder all is well."""
    arguments = [str(home / word) if word == "cheap.toml" else word for word in COMMANDS[command]]
    nowhere = {"HOME": "/dev/null", "XDG_CACHE_HOME": None, "XDG_CONFIG_HOME": None, "MPLCONFIGDIR": None}
    refused = bouncesim(*arguments, folder=Path("/proc/self"), **nowhere)
    no_traceback(refused, 4)
    assert "cannot write into outputs/cheap" in refused.stderr
    assert "MPLCONFIGDIR" not in refused.stderr
    where = home / "elsewhere" / ("x.mp4" if command == "film" else "")
    done = bouncesim(*arguments, "--output", where, folder=Path("/proc/self"), **nowhere)
    no_traceback(done, 0)
    assert "atplotlib" not in done.stderr
    assert files(home / "elsewhere")


def test_a_clock_that_jumps(home: Path) -> None:
    """Years forward and back, at every look at it."""
    jumping = (
        "import random, sys, time; now = time.time; time.time = lambda: now() + random.choice((-1e9, 0.0, 1e9)); "
        "from bouncesim.cli.main import main; sys.exit(main(sys.argv[1:]))"
    )
    for arguments in (COMMANDS["run"], COMMANDS["film"], COMMANDS["survey"]):
        done = subprocess.run(
            [sys.executable, "-c", jumping, *arguments], cwd=home, env=environment(), capture_output=True, text=True, check=False
        )
        no_traceback(done, 0)
    assert parts(home) == []


@pytest.mark.parametrize("name", PRINTING)
def test_a_locale_without_letters_and_a_narrow_terminal(home: Path, name: str) -> None:
    """What is printed is ASCII, and every file UTF-8."""
    done = bouncesim(*PRINTING[name], folder=home, **WORDS, **NARROW)
    no_traceback(done, 0, 1)
    assert done.stdout.isascii() or name == "schema"  # JSON is UTF-8 wherever it is written
    assert done.stderr.isascii()
    assert "\x1b" not in done.stdout + done.stderr
    for file, content in files(home).items():
        if Path(file).suffix in (".json", ".txt", ".vtt", ".md", ".html", ".svg", ".csv"):
            assert "\ufffd" not in content.decode("utf-8")


@pytest.mark.parametrize("locale", [{}, WORDS], ids=["utf-8", "ascii"])
@pytest.mark.parametrize("name", ["Ω #1 100%d 'a' \"b\" $c;&\n-n", b"caf\xe9".decode("utf-8", "surrogateescape"), "-i"])
def test_any_name_of_a_scenario(tmp_path: Path, name: str, locale: dict[str, str | None]) -> None:
    """Letters, signs of shells and of the encoder, a line break, bytes that are no text, a leading dash."""
    scenario(tmp_path, name)
    file = f"./{name}.toml" if name.startswith("-") else f"{name}.toml"
    for command in (("run", "--no-start-up"), ("film", *FILM), ("chart", "flow"), ("survey",), ("report", "--theme", "light")):
        done = bouncesim(command[0], file, *command[1:], folder=tmp_path, **locale)
        no_traceback(done, 0)
    made = tmp_path / "outputs" / name
    assert {f"{name}{end}" for end in (".mp4", ".vtt", ".poster.png", ".report.html")} <= set(os.listdir(made))
    for text in (f"{name}.description.txt", f"{name}.report.html", f"{name}.report.md", f"{name}.report.json", "run.json"):
        (made / text).read_text(encoding="utf-8")


@pytest.mark.parametrize(("arguments", "code"), [(("run", "--no-start-up"), 141), (("survey",), 141)])
def test_nobody_reads_to_the_end(home: Path, arguments: tuple[str, ...], code: int) -> None:
    program = subprocess.Popen(
        [sys.executable, "-m", "bouncesim", arguments[0], "cheap.toml", *arguments[1:]],
        cwd=home,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert program.stdout is not None
    program.stdout.close()
    _, told = program.communicate()
    assert (program.returncode, b"Traceback" in told) == (code, False)
    assert files(home), "the results are there all the same"


def test_a_device_is_not_replaced(home: Path) -> None:
    os.mkfifo(home / "pipe.json")
    done = bouncesim("schema", "--output", "pipe.json", folder=home)
    no_traceback(done, 4)
    assert "pipe.json is no ordinary file" in done.stderr
    assert (home / "pipe.json").is_fifo()


PAIRS = [("run", "run"), ("film", "film"), ("pictures", "pictures"), ("run", "film"), ("report", "chart"), ("survey", "survey")]


@pytest.mark.parametrize(("one", "other"), PAIRS, ids=["+".join(pair) for pair in PAIRS])
def test_two_at_once_into_one_folder(tmp_path: Path, one: str, other: str) -> None:
    """Both end well, or the second survey is told of the first; whatever is left is what each leaves alone."""
    alone, both, chance = tmp_path / "alone", tmp_path / "both", random.Random(3)
    for folder in (alone, both):
        folder.mkdir()
        scenario(folder)
    for command in {one, other}:
        no_traceback(bouncesim(*COMMANDS[command], folder=alone), 0)
    programs = []
    for command in (one, other):
        line = [sys.executable, "-m", "bouncesim", *COMMANDS[command]]
        programs.append(subprocess.Popen(line, cwd=both, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
        time.sleep(chance.uniform(0, 0.1))
    told = [program.communicate()[1] for program in programs]
    codes = sorted(program.returncode for program in programs)
    assert "Traceback" not in "".join(told)
    if one == "survey" and codes != [0, 0]:
        assert codes == [0, 4]
        assert any("another survey is writing into outputs/cheap/survey. Let it finish" in text for text in told)
    else:
        assert codes == [0, 0], told
    expected = files(alone)
    found = files(both)
    assert set(found) == set(expected)
    assert [name for name in expected if found[name] != expected[name] and not name.endswith("survey.json")] == []
    assert parts(both) == []
