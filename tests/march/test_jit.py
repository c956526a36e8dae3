"""The folder of compiled kernels: it belongs to the sources that they were compiled from."""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim.march import jit


def package(folder: Path, text: str) -> str:
    """A package of one module with this text; returns the place that jit takes for its own."""
    folder.mkdir()
    (folder / "line.py").write_text(text)
    return str(folder / "jit.py")


@pytest.fixture(autouse=True)
def _kept_apart(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))


def test_kernels_of_other_sources_are_not_taken(tmp_path, monkeypatch):
    """A kernel that inlines another one from another file would go stale with it."""
    folders = []
    for name, text in (("before", "a = 1"), ("after", "a = 2"), ("again", "a = 1")):
        monkeypatch.setattr(jit, "__file__", package(tmp_path / name, text))
        folders.append(jit._cache_folder())
    before, after, again = folders
    assert before is not None
    assert before != after
    assert before == again


def test_nothing_is_kept_where_nothing_can_be_written(tmp_path, monkeypatch):
    (tmp_path / "cache").write_text("a file is no folder")
    assert jit._cache_folder() is None
