"""What `bouncesim check` says of the start of a station."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from bouncesim.account.verdict import Transient, TransientRow
from tests import samples
from tests.cli.conftest import Command

ROWS = (TransientRow("feed line, near end", "voltage", 63.2, 3e-9), TransientRow("feed line, far end", "current", 1.4, 4e-6))


def said(command: Command, engine: pytest.MonkeyPatch, station: Path, start: Transient | None, *more: str):
    verdict = dataclasses.replace(samples.verdict(), transient=start)
    engine.setattr("bouncesim.compare.check.check", lambda scenario, transient=False, progress=None: verdict)
    return command("check", station, *more)


def test_the_way_the_size_and_the_bar_are_told(command: Command, engine, station: Path) -> None:
    done = said(command, engine, station, Transient("a second way", "its own key", 1e-6, 12, 1e-5, ROWS))
    told = " ".join(done.out.split())
    assert done.code == 0
    assert "feed line, near end: voltage (V) 63.2 3e-09 holds" in told
    assert "Compared with a second way, at 12 instants of the first 1 µs, with its own key." in told
    assert "4e-06; allowed: 1e-05: it holds." in told


def test_a_start_that_differs_fails(command: Command, engine, station: Path) -> None:
    done = said(command, engine, station, Transient("a second way", "its own key", 1e-6, 12, 1e-6, ROWS))
    assert done.code == 1
    assert "current (A) 1.4 4e-06 FAILS" in " ".join(done.out.split())
    assert said(command, engine, station, Transient("a second way", "its own key", 1e-6, 12, 1e-6, ROWS), "--json").json["holds"] is False


def test_what_is_not_compared_says_why(command: Command, engine, station: Path) -> None:
    done = said(command, engine, station, Transient(not_compared="mpmath is missing: install bouncesim[proof]"))
    assert done.code == 0
    assert "not compared: mpmath is missing: install bouncesim[proof]." in " ".join(done.out.split())
