"""Files written whole: what a dead program left is swept and a living one's is not, and of two at once all comes from one."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from bouncesim.account import whole
from bouncesim.account.whole import STALE_S, try_folder, whole_files, write_files
from bouncesim.errors import OutputError
from bouncesim.survey.journal import NAME, Journal
from tests.mishaps import environment, parts

HOLD = """
import sys, time
from bouncesim.account.whole import whole_files
with whole_files(sys.argv[1], "film") as (part,):
    part.write_text("half")
    print(part, flush=True)
    time.sleep(60)
"""
YEAR_S = 365 * 86400
locked = pytest.mark.skipif(whole.fcntl is None, reason="folders cannot be locked on this system")


def part_of_a_killed_program(folder: Path) -> Path:
    program = subprocess.Popen([sys.executable, "-c", HOLD, str(folder)], env=environment(), stdout=subprocess.PIPE, text=True)
    assert program.stdout is not None
    part = Path(program.stdout.readline().strip()).parent
    program.kill()
    program.communicate()
    return part


@locked
def test_what_a_killed_program_left_is_swept_by_the_next(tmp_path: Path) -> None:
    part = part_of_a_killed_program(tmp_path / "new")
    assert parts(tmp_path) == [part]
    try_folder(tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []


@locked
@pytest.mark.parametrize("shift", [-40 * YEAR_S, 0, 40 * YEAR_S])
def test_what_a_living_program_writes_is_left_alone_whatever_the_clock_says(tmp_path: Path, shift: float) -> None:
    with whole_files(tmp_path, "film") as (part,):
        part.write_text("half")
        os.utime(part.parent, (time.time() + shift,) * 2)
        write_files(tmp_path, {"other": lambda file: file.write(b"whole")})
        assert part.read_text() == "half"
    assert (tmp_path / "film").read_text() == "half"
    assert sorted(os.listdir(tmp_path)) == ["film", "other"]


def test_where_folders_cannot_be_locked_only_old_parts_are_swept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(whole, "fcntl", None)
    for name, age in (("young", 60.0), ("old", STALE_S + 60)):
        part = tmp_path / f".bouncesim-{name}.part"
        part.mkdir()
        os.utime(part, (time.time() - age,) * 2)
    write_files(tmp_path, {"a": lambda file: file.write(b"x")})
    assert sorted(os.listdir(tmp_path)) == [".bouncesim-young.part", "a"]


@locked
def test_of_many_writers_at_once_all_comes_from_one(tmp_path: Path) -> None:
    """Beside trials that make and take away the same folder."""

    def write(k: int) -> None:
        content = f"{k}".encode() * 1000
        write_files(tmp_path / "deep" / "down", dict.fromkeys("abc", lambda file: file.write(content)))

    def check() -> None:
        for _ in range(40):
            try_folder(tmp_path / "deep" / "down", "a")

    for _ in range(5):
        with ThreadPoolExecutor(6) as pool:
            jobs = [pool.submit(check), pool.submit(check), *(pool.submit(write, k) for k in range(16))]
            for job in jobs:
                job.result()
        assert len({(tmp_path / "deep" / "down" / name).read_bytes() for name in "abc"}) == 1
        assert sorted(os.listdir(tmp_path / "deep" / "down")) == ["a", "b", "c"]


def test_an_interrupt_between_two_names_waits_for_the_second(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_files(tmp_path, dict.fromkeys("ab", lambda file: file.write(b"old")))
    replace, calls = os.replace, []

    def interrupted(one: Path, other: Path) -> None:
        replace(one, other)
        calls.append(one)
        if len(calls) == 1:
            raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_files(tmp_path, dict.fromkeys("ab", lambda file: file.write(b"new")))
    assert [(tmp_path / name).read_bytes() for name in "ab"] == [b"new", b"new"]
    assert sorted(os.listdir(tmp_path)) == ["a", "b"]


def test_a_folder_takes_the_place_of_another_in_one_step(tmp_path: Path) -> None:
    for content in ("one", "two"):
        with whole_files(tmp_path, "frames/", "pictures/a") as (frames, picture):
            (frames / content).write_text(content)
            picture.write_text(content)
    assert os.listdir(tmp_path / "frames") == ["two"]
    assert (tmp_path / "pictures" / "a").read_text() == "two"
    with suppress(KeyError), whole_files(tmp_path, "frames/") as (frames,):
        (frames / "three").write_text("three")
        raise KeyError
    assert os.listdir(tmp_path / "frames") == ["two"]
    assert sorted(os.listdir(tmp_path)) == ["frames", "pictures"]


@pytest.mark.parametrize("write", [lambda place: try_folder(place, "a"), lambda place: write_files(place, {"a": lambda file: None})])
def test_where_nothing_can_be_written_it_is_told_and_nothing_changes(tmp_path: Path, write) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "link").symlink_to("nowhere/at/all")
    os.mkfifo(tmp_path / "a")
    (tmp_path / "held").mkdir()
    (tmp_path / "held" / "a").mkdir()
    before = sorted(tmp_path.rglob("*"))
    for place, told in (
        (tmp_path / "file", "file is no folder. Choose another folder"),
        (tmp_path / "file" / "below", "file/below is no folder|file is no folder|Not a directory"),
        (tmp_path / "link", "link is no folder"),
        (tmp_path, "a is no ordinary file"),
        (tmp_path / "held", "a is no ordinary file"),
        (Path("/dev/null"), "/dev/null is no folder"),
        (Path("/proc/bouncesim"), "cannot write into /proc/bouncesim: No such file"),
        (tmp_path / ("x" * 256), "File name too long"),
    ):
        with pytest.raises(OutputError, match=told):
            write(place)
    assert stat.S_ISFIFO((tmp_path / "a").stat().st_mode)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_name_too_long_is_told_before_the_work(tmp_path: Path) -> None:
    try_folder(tmp_path, "x" * 255)
    with pytest.raises(OutputError, match=r"File name too long \(x+\)"):
        try_folder(tmp_path, "x" * 256)


@locked
def test_a_journal_that_its_survey_has_just_taken_away_is_begun_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between opening and locking it: what went into it would be lost with the next interruption."""
    import fcntl

    lock, taken = fcntl.flock, []

    def late(*arguments: object) -> None:
        if not taken:
            taken.append((tmp_path / NAME).unlink())
        lock(*arguments)

    monkeypatch.setattr(fcntl, "flock", late)
    with Journal(tmp_path, {}) as journal:
        assert os.path.samestat(os.fstat(journal.file.fileno()), (tmp_path / NAME).stat())


def test_an_interrupt_that_python_loses_is_raised_anew() -> None:
    """In a destructor, where no error can go anywhere."""
    program = """
import os, signal, time
from bouncesim.cli.stopping import listen, stopped
class Last:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(0.001)
listen()
try:
    last = Last()
    del last
    for _ in range(1000):
        time.sleep(0.01)
except KeyboardInterrupt:
    raise SystemExit(stopped())
"""
    done = subprocess.run([sys.executable, "-c", program], env=environment(), capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (143, "\nStopped. Nothing half-written is left behind.\n")


def test_a_folder_that_no_disk_allows_leaves_nothing_to_do_at_the_end(tmp_path: Path) -> None:
    """Or the end of the program would tell of it once more, in Python's own words."""
    with pytest.raises(OutputError, match="name too long"):
        write_files(tmp_path / ("x" * 300), {"a": lambda file: None})
    assert whole._mine == set()
