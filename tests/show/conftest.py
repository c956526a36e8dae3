"""Runs to film, made once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bouncesim.account.run import Run
from bouncesim.show.text import own_style
from tests.show.awkward import STORIES
from tests.show.fake import BEATS, Station


@pytest.fixture(scope="session")
def run() -> Run:
    return Station(beats=BEATS).run()


@pytest.fixture(scope="session")
def stories() -> dict[str, Run]:
    return {name: station.run() for name, station in STORIES.items()}


@pytest.fixture(autouse=True)
def style() -> Iterator[None]:
    """Everything here is drawn as films are."""
    with own_style():
        yield
