"""Saving and loading: an exact round trip, and never half a file."""

from __future__ import annotations

import dataclasses
import json
import math
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bouncesim import load_run
from bouncesim.account import store, whole
from bouncesim.account.plain import from_plain, strict, to_plain
from bouncesim.account.readings import AntennaReading
from bouncesim.account.store import checked_scenario, load_verdict, save_run, save_verdict
from bouncesim.account.whole import try_folder, write_files
from bouncesim.errors import BouncesimError, OutputError
from tests import samples


def same(one: object, other: object) -> bool:
    """Equal to the bit: type, array type, sign of zero and all."""
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and one.shape == other.shape and one.tobytes() == other.tobytes()
    if isinstance(one, dict):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if dataclasses.is_dataclass(one):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in dataclasses.fields(one))
    return repr(one) == repr(other)


def test_a_run_comes_back_equal_in_every_field(tmp_path: Path) -> None:
    run = samples.run()
    assert run.save(tmp_path / "deep" / "down") == tmp_path / "deep" / "down"
    loaded = load_run(tmp_path / "deep" / "down")
    assert same(run, loaded)
    assert loaded.scenario == run.scenario
    assert sorted(os.listdir(tmp_path / "deep" / "down")) == ["run.json", "run.npz"]


def test_a_run_and_its_verdict_are_saved_together_or_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What ends it while they are written leaves the earlier three as they were."""
    save_run(samples.run(), tmp_path, samples.verdict())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert sorted(before) == ["run.json", "run.npz", "verdict.json"]
    assert same(samples.verdict(), load_verdict(tmp_path))
    assert checked_scenario(tmp_path) == samples.run().scenario
    fine, count = os.fsync, [0]

    def stop(descriptor: int) -> None:
        fine(descriptor)
        count[0] += 1
        if count[0] == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(whole.os, "fsync", stop)
    other = dataclasses.replace(samples.run(), scenario=samples.scenario().model_copy(update={"title": "Another"}))
    with pytest.raises(KeyboardInterrupt):
        save_run(other, tmp_path, samples.verdict(holds=False))
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_run_without_echoes_comes_back_too(tmp_path: Path) -> None:
    run = dataclasses.replace(samples.run(), readings=dataclasses.replace(samples.readings(), echoes=None))
    run.save(tmp_path)
    assert same(run, load_run(tmp_path))


def test_the_same_run_is_saved_as_the_same_bytes(tmp_path: Path) -> None:
    for folder in ("a", "b"):
        samples.run().save(tmp_path / folder)
    for name in ("run.json", "run.npz"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_a_verdict_comes_back_equal(tmp_path: Path) -> None:
    verdict = samples.verdict(holds=False)
    save_verdict(verdict, tmp_path)
    assert same(verdict, load_verdict(tmp_path))


def test_the_files_are_strict_json_and_arrays_without_pickles(tmp_path: Path) -> None:
    samples.run().save(tmp_path)

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    json.loads((tmp_path / "run.json").read_text(encoding="utf-8"), parse_constant=refuse)
    with np.load(tmp_path / "run.npz", allow_pickle=False) as archive:
        assert all(archive[key].dtype != object for key in archive.files)


@given(st.tuples(*[st.floats()] * 4))
def test_any_float_survives(values: tuple[float, ...]) -> None:
    reading = AntennaReading(*values)
    text = json.dumps(strict(to_plain(reading), str), allow_nan=False)
    back = from_plain(AntennaReading, json.loads(text))
    for field in dataclasses.fields(reading):
        one, other = getattr(reading, field.name), getattr(back, field.name)
        assert (math.isnan(one) and math.isnan(other)) or repr(one) == repr(other)


def damage_truncate(folder: Path) -> None:
    content = (folder / "run.npz").read_bytes()
    (folder / "run.npz").write_bytes(content[: len(content) // 2])


def damage_swap(folder: Path) -> None:
    dataclasses.replace(samples.run(), traces=dataclasses.replace(samples.run().traces, stored_j=np.ones(12))).save(folder / "other")
    (folder / "run.npz").write_bytes((folder / "other" / "run.npz").read_bytes())


def damage_fields(folder: Path) -> None:
    plain = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    del plain["settling"]["periods"]
    (folder / "run.json").write_text(json.dumps(plain), encoding="utf-8")


def damage_scenario(folder: Path) -> None:
    plain = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    plain["scenario"]["transmitter"]["power_w"] = -1.0
    (folder / "run.json").write_text(json.dumps(plain), encoding="utf-8")


DAMAGES = {
    "no json": lambda folder: (folder / "run.json").unlink(),
    "no arrays": lambda folder: (folder / "run.npz").unlink(),
    "not json": lambda folder: (folder / "run.json").write_text("{", encoding="utf-8"),
    "a list": lambda folder: (folder / "run.json").write_text("[]", encoding="utf-8"),
    "not utf-8": lambda folder: (folder / "run.json").write_bytes(b"\xff\xfe"),
    "not npz": lambda folder: (folder / "run.npz").write_bytes(b"PK\x03\x04 nonsense"),
    "empty npz": lambda folder: (folder / "run.npz").write_bytes(b""),
    "half an npz": damage_truncate,
    "another run's npz": damage_swap,
    "a field missing": damage_fields,
    "an impossible scenario": damage_scenario,
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_run_is_refused_with_a_message(tmp_path: Path, damage) -> None:
    samples.run().save(tmp_path)
    damage(tmp_path)
    with pytest.raises(BouncesimError, match=r"no run can be read from .*Simulate and save it again"):
        load_run(tmp_path)


def test_a_damaged_verdict_is_refused_with_a_message(tmp_path: Path) -> None:
    with pytest.raises(BouncesimError, match="no verdict can be read"):
        load_verdict(tmp_path)


@pytest.mark.parametrize("interruption", [KeyboardInterrupt, OSError(28, "No space left on device"), MemoryError])
def test_an_interrupted_save_leaves_the_old_run_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, interruption) -> None:
    old = samples.run()
    old.save(tmp_path)

    def fail(file, **arrays) -> None:
        file.write(b"half of it")
        raise interruption

    monkeypatch.setattr(store.np, "savez", fail)
    expected = OutputError if isinstance(interruption, OSError) else interruption
    with pytest.raises(expected):
        dataclasses.replace(old, moments={}).save(tmp_path)
    monkeypatch.undo()
    assert sorted(os.listdir(tmp_path)) == ["run.json", "run.npz"]
    assert same(old, load_run(tmp_path))


def test_nothing_is_renamed_before_everything_is_written(tmp_path: Path) -> None:
    def fail(file) -> None:
        raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match="No space left on device"):
        write_files(tmp_path, {"first": lambda file: file.write(b"new"), "second": fail})
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("write", [lambda folder: save_run(samples.run(), folder), try_folder])
@pytest.mark.parametrize("place", ["below a file", "in proc"])
def test_a_folder_that_cannot_be_written_is_an_output_error(tmp_path: Path, write, place: str) -> None:
    (tmp_path / "file").write_text("in the way")  # root may write anywhere else, so permissions would prove nothing
    folder = tmp_path / "file" / "results" if place == "below a file" else Path("/proc/bouncesim/results")
    with pytest.raises(OutputError, match=r"cannot write into .*Choose another folder"):
        write(folder)
    assert os.listdir(tmp_path) == ["file"]


def test_the_trial_leaves_no_trace(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    try_folder(tmp_path / "kept" / "new" / "newer")
    assert os.listdir(tmp_path / "kept") == []
    try_folder(tmp_path / "kept")
    assert (tmp_path / "kept").is_dir()
