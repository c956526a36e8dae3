"""Surveys as they are worked off: estimated first, interrupted, gone on with, in threads and on a cluster, to the same bytes."""

from __future__ import annotations

import csv
import json
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bouncesim import budget
from bouncesim.errors import OptionError, OutputError, ScenarioError, TooMuchWork
from bouncesim.scenario import parse_scenario
from bouncesim.survey import Cluster, Threads, Work, survey
from bouncesim.survey.journal import NAME, Journal
from bouncesim.survey.work import thinned
from tests.survey.scenarios import HEAD, MANY, PLAIN, SMALL, many, small

FILES = ("survey.csv", "survey.npz")


class Interrupted(Exception):
    """What a test throws in the middle."""


def stop_after(count: int):
    """A progress that interrupts."""
    calls = []

    def progress(done: int, total: int) -> None:
        calls.append(done)
        if len(calls) >= count:
            raise Interrupted

    return progress


def same(one: Path, other: Path) -> bool:
    return all((one / name).read_bytes() == (other / name).read_bytes() for name in FILES)


def test_a_survey_of_a_billion_is_refused_with_what_could_be_done(monkeypatch: pytest.MonkeyPatch) -> None:
    ranges = """
[survey]
frequency = { from = "2 MHz", to = "30 MHz", count = 1000 }
length = { from = "3 m", to = "60 m", count = 1000 }
swr = { from = 1.1, to = 20, count = 50 }
phases = 20
"""
    monkeypatch.setattr(budget, "memory_bytes", lambda: 64e9)
    with pytest.raises(TooMuchWork) as caught:
        Work(parse_scenario(HEAD + PLAIN + ranges))
    told = str(caught.value)
    assert "1,000,000,000 stations (1,000 frequencies × 1,000 lengths × 1,000 antennas = 1,000,000,000)" in told
    assert "This machine has 64 GB of memory. The nearest that can be done is fewer values, for example" in told
    assert "--most-work" not in told  # no leave makes up for memory that is not there


def test_phases_without_number_are_refused_before_they_are_laid_out() -> None:
    ranges = "[survey]\nswr = { from = 1.1, to = 20, count = 100_000 }\nphases = 10_000\n"
    with pytest.raises(TooMuchWork, match=r"100,000 SWRs with 10,000 phases each"):
        Work(parse_scenario(HEAD + PLAIN + ranges))


@pytest.fixture
def usual():
    yield
    budget.allow_work(1)


def test_more_is_allowed_when_it_is_asked_for(usual: None) -> None:
    budget.allow_work(1e-4)
    with pytest.raises(TooMuchWork, match=r"19,200 stations .* The nearest that can be done .* or allow more with --most-work"):
        Work(many())
    budget.allow_work(1)
    assert Work(many()).stations.count == 19_200
    budget.allow_work(0.2)
    with pytest.raises(TooMuchWork, match=r"19,200 stations .* each of them started in time"):
        Work(many(), in_time=True)
    with pytest.raises(ScenarioError, match="survey: is missing"):
        Work(parse_scenario(HEAD + PLAIN))


@given(st.lists(st.integers(1, 5000), min_size=1, max_size=6), st.integers(1, 300_000))
def test_what_is_offered_instead_fits(shape: list[int], most: int) -> None:
    found = thinned(tuple(shape), most)
    assert math.prod(found) <= most
    assert all(1 <= size <= before for size, before in zip(found, shape, strict=True))
    if math.prod(shape) <= most:
        assert list(found) == shape


def test_the_table_as_csv_and_as_npz(tmp_path: Path) -> None:
    table = survey(small(), tmp_path / "a folder é")
    with open(tmp_path / "a folder é" / "survey.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with np.load(tmp_path / "a folder é" / "survey.npz", allow_pickle=False) as archive:
        arrays = {name: archive[name] for name in archive.files}
    assert len(rows) == 8
    for name, values in table.columns.items():
        assert np.array_equal(arrays[name], values, equal_nan=values.dtype.kind == "f")
        for row, value in zip(rows, values.tolist(), strict=True):
            assert row[name] == ("" if value != value else str(value))
    assert [row["tuner_shape"] for row in rows[:2]] == ["none", "L"]
    assert [row["band"] for row in rows] == ["40 m"] * 4 + ["20 m"] * 4
    assert rows[0]["tuner.heat_w"] == ""  # a tuner that is not there has no heat
    assert float(rows[1]["tuner.heat_w"]) > 0
    assert rows[1]["tuner.part_1"] in ("shunt capacitor", "series inductor", "series capacitor", "shunt inductor")
    about = json.loads((tmp_path / "a folder é" / "survey.json").read_text("utf-8"))
    assert about["outcomes"] == {"solved": 8}
    assert {"at", "with", "on", "of"} == set(about["made"])
    assert {row["made_with"] for row in rows} == {str(arrays["made_with"])}
    assert sorted(path.name for path in (tmp_path / "a folder é").iterdir()) == ["survey.csv", "survey.json", "survey.npz"]


def test_an_interrupted_survey_goes_on_without_loss(tmp_path: Path) -> None:
    """And what it had is not worked on again."""
    survey(small(), tmp_path / "whole", in_time=True)
    work = Work(small(), in_time=True)
    with work.kept_in(tmp_path / "parts") as journal:
        work.solve(journal, Threads(1))
        with pytest.raises(Interrupted):
            work.start(journal, Threads(1), stop_after(3))
    again = Work(small(), in_time=True)
    with again.kept_in(tmp_path / "parts") as journal:
        assert again.done == 3
        again.solve(journal, Threads(1))
        again.start(journal, Threads(2))
        again.table().save(tmp_path / "parts", {})
    assert same(tmp_path / "whole", tmp_path / "parts")


def test_a_changed_scenario_starts_anew(tmp_path: Path) -> None:
    work = Work(small())
    with work.kept_in(tmp_path) as journal:
        work.solve(journal, Threads(1))
    other = Work(parse_scenario(HEAD.replace("45 W", "46 W") + PLAIN + SMALL))
    with other.kept_in(tmp_path):
        assert other.done == 0
    with Work(small()).kept_in(tmp_path) as journal:
        assert not journal.goes_on  # the first one's journal is gone: it was another's turn


@pytest.mark.parametrize("damage", ["cut", "flip", "head"])
def test_a_damaged_journal_is_taken_over_as_far_as_it_is_whole(tmp_path: Path, damage: str) -> None:
    header = {"survey": "x"}
    rows = np.arange(12.0).reshape(2, 6)
    with Journal(tmp_path, header) as journal:
        journal.add("exact", 0, rows)
        good = journal.path.stat().st_size
        journal.add("exact", 2, rows + 1)
    data = bytearray((tmp_path / NAME).read_bytes())
    if damage == "cut":
        data = data[:-5]
    elif damage == "flip":
        data[-3] ^= 1
    else:
        data[good] ^= 1
    (tmp_path / NAME).write_bytes(data)
    with Journal(tmp_path, header) as journal:
        ((kind, first, kept),) = journal.records()
        assert (kind, first) == ("exact", 0)
        assert np.array_equal(kept, rows)
        assert journal.path.stat().st_size == good
        journal.add("key", 2, rows)
    with Journal(tmp_path, header) as journal:
        assert [kind for kind, _, _ in journal.records()] == ["exact", "key"]


def test_two_surveys_into_one_folder_are_kept_apart(tmp_path: Path) -> None:
    with Journal(tmp_path, {}), pytest.raises(OutputError, match="another survey is writing into"):
        Journal(tmp_path, {})
    with Journal(tmp_path, {}):
        pass


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="cannot write into"):
        survey(small(), tmp_path / "file" / "folder")


@pytest.mark.slow
def test_a_disk_that_fills_up_loses_nothing(tmp_path: Path) -> None:
    """A file may grow to 3 kB and no further, as on a full disk: exit code 4, and with room again the survey goes on."""
    survey(small(), tmp_path / "whole", in_time=True)
    (tmp_path / "x.toml").write_text(HEAD + PLAIN + SMALL)
    limit = (
        "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); resource.setrlimit(resource.RLIMIT_FSIZE, (BYTES, BYTES))"
    )
    run = "import sys; from bouncesim.cli.main import main; sys.exit(main(sys.argv[1:]))"
    arguments = ["survey", "x.toml", "--in-time", "--threads", "1", "--output", "parts"]
    size = 8 * 8 * 60 + 4000  # the closed form fits, not all of the rest
    full = [sys.executable, "-c", f"{limit.replace('BYTES', str(size))}; {run}", *arguments]
    stopped = subprocess.run(full, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert stopped.returncode == 4
    assert "cannot write into parts" in stopped.stderr
    assert "Traceback" not in stopped.stderr
    done = subprocess.run([sys.executable, "-c", run, *arguments], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert "Going on" in done.stderr
    assert same(tmp_path / "whole", tmp_path / "parts")


def test_threads_hand_over_everything_and_stop_early() -> None:
    done = dict(Threads(3).each(lambda a, b: a * b, [(k, 7) for k in range(40)]))
    assert done == {(k, 7): 7 * k for k in range(40)}
    taken = []

    def slow(k: int) -> int:
        taken.append(k)
        time.sleep(0.01)
        return k

    for _ in Threads(2).each(slow, [(k,) for k in range(1000)]):
        break
    assert len(taken) < 20
    with pytest.raises(ZeroDivisionError):
        list(Threads(2).each(lambda k: 1 // k, [(1,), (0,), (1,)]))


def test_a_cluster_that_is_not_there_is_told() -> None:
    pytest.importorskip("distributed")
    with pytest.raises(OptionError, match="No cluster answers at nonsense"):
        Cluster("nonsense")


@pytest.mark.slow
def test_a_cluster_of_two_workers_gives_the_same_bytes(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    survey(small(), tmp_path / "here", in_time=True)
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        engine = Cluster(cluster.scheduler_address)
        survey(small(), tmp_path / "there", in_time=True, engine=engine)
        engine.close()
    assert same(tmp_path / "here", tmp_path / "there")


@pytest.mark.slow
def test_killed_at_any_moment_it_goes_on_and_ends_the_same(tmp_path: Path) -> None:
    """SIGKILL, SIGTERM and SIGINT after a while of its own each; at last it is left to end. No half file under a final name."""
    text = (
        HEAD + PLAIN + MANY.replace("count = 5", "count = 2").replace("[1, 1.5, 3, 10, 100]", "[1.5]").replace("phases = 12", "phases = 2")
    )
    (tmp_path / "x.toml").write_text(text.replace('["20 W", "50 W"]', '"20 W"'))
    command = [sys.executable, "-m", "bouncesim", "survey", "x.toml", "--in-time", "--threads", "2", "--output"]
    subprocess.run([*command, "whole"], cwd=tmp_path, check=True, capture_output=True)
    for turn, stop in enumerate((signal.SIGKILL, signal.SIGTERM, signal.SIGINT) * 3):
        program = subprocess.Popen([*command, "parts"], cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(1.5 + 0.37 * turn)
        os.kill(program.pid, stop)
        program.wait(timeout=60)
        for name in FILES:
            half = tmp_path / "parts" / name
            assert not half.exists() or half.read_bytes() == (tmp_path / "whole" / name).read_bytes()
    subprocess.run([*command, "parts"], cwd=tmp_path, check=True, capture_output=True)
    assert same(tmp_path / "whole", tmp_path / "parts")
