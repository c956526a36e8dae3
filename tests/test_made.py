"""Every result says where it comes from: the scenario, the programs, the machine and the time."""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from pathlib import Path

import imageio.v3 as imageio
import numpy as np
import pytest

import bouncesim
from bouncesim import perform
from bouncesim.account import made
from bouncesim.account.store import load_run, load_verdict, save_run, save_verdict
from bouncesim.cli.main import main
from bouncesim.scenario.narration import parse_narration
from bouncesim.show.captions import webvtt
from bouncesim.show.film import film
from bouncesim.show.live import Live
from bouncesim.show.stamped import png
from bouncesim.show.story import tell
from tests import samples
from tests.cli.conftest import STATION
from tests.show.charts.stations import run_of
from tests.show.fake import verdict_of

MOMENT = "2026-01-02T03:04:00Z"  # of SOURCE_DATE_EPOCH in tests/conftest.py


def test_the_stamp() -> None:
    scenario = samples.scenario()
    told = made.stamp(scenario)
    assert told["at"] == MOMENT
    assert told["with"]["bouncesim"] == bouncesim.__version__
    assert told["with"]["numpy"] == np.__version__
    assert set(told["with"]) == {"bouncesim", "python", "numpy", "numba"}
    (of,) = told["of"]
    assert of["scenario"] == json.loads(scenario.to_json())
    assert of["sha256"] == hashlib.sha256(scenario.to_json().encode()).hexdigest()
    for part in (MOMENT, of["sha256"], told["on"], *told["with"].values()):
        assert str(part) in made.words(scenario)
    json.dumps(told, allow_nan=False)


@pytest.mark.parametrize("epoch", ["", "soon", "-1", "9" * 30])
def test_without_a_time_that_makes_sense_the_clock_counts(epoch: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    assert re.fullmatch(r"20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ", made.moment())
    assert made.moment() != MOMENT


def test_a_saved_run_and_verdict(tmp_path: Path) -> None:
    """And one of an older version, without it, can still be read."""
    run, verdict = samples.run(), samples.verdict()
    save_run(run, tmp_path)
    save_verdict(verdict, tmp_path, run.scenario)
    for file in ("run.json", "verdict.json"):
        plain = json.loads((tmp_path / file).read_text("utf-8"))
        assert plain["made"]["at"] == MOMENT
        assert plain["made"]["of"][0]["sha256"] == made.digest(run.scenario)
        del plain["made"]
        (tmp_path / file).write_text(json.dumps(plain), encoding="utf-8")
    assert load_run(tmp_path).readings == run.readings
    assert load_verdict(tmp_path) == verdict


def test_words_in_a_picture_are_not_seen(tmp_path: Path) -> None:
    pixels = np.arange(48, dtype=np.uint8).reshape(4, 4, 3)
    told = png(pixels, "from here: \u2126")
    assert np.array_equal(imageio.imread(told), pixels)
    at = told.index(b"tEXt")
    size = int.from_bytes(told[at - 4 : at], "big")
    assert told[at + 4 : at + 4 + size] == b"Source\0from here: ?"
    assert int.from_bytes(told[at + 4 + size : at + 8 + size], "big") == zlib.crc32(told[at : at + 4 + size])
    assert png(pixels, "") == imageio.imwrite("<bytes>", pixels, extension=".png")


@pytest.mark.parametrize("kind", ["mp4", pytest.param("webm", marks=pytest.mark.slow), pytest.param("mov", marks=pytest.mark.slow)])
def test_a_film_its_poster_and_its_description(kind: str, tmp_path: Path) -> None:
    run = run_of("short")
    files = film(run, tmp_path / f"a.{kind}", verdict_of(run), draft=True, fps=2)
    words = made.words(run.scenario)
    for file in (files.film, files.poster, files.captions, files.description):
        assert words.encode() in file.read_bytes(), file.name
    assert MOMENT in words


def test_captions_tell_it_in_a_comment() -> None:
    """WebVTT (W3C Candidate Recommendation 2019), section 4.1: a comment block is NOTE, then lines without "-->", up to an empty line."""
    run = run_of("short")
    story = tell(run, 10, 2.0)
    plain, told = (webvtt(story, Live(run), made_with=words) for words in ("", "from ---> here\n\n00:00.000"))
    header, note, *cues = told.split("\n\n")
    assert note == "NOTE\nMade with from -→ here 00:00.000."
    assert "\n\n".join([header, *cues]) == plain
    assert parse_narration(told) == parse_narration(plain)


@pytest.mark.parametrize(("name", "with_scenario"), [("demonstrate", True), ("explain", True), ("explain", False)])
def test_a_page_in_markdown(name: str, with_scenario: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And not the tables on a terminal, which nobody keeps."""
    file = tmp_path / "thin.toml"
    file.write_text(STATION, encoding="utf-8")
    line = [
        name,
        *([str(file)] if with_scenario else []),
        *(["--band", "40 m"] if name == "demonstrate" else ["--on-line", "62 W", "23 W"]),
    ]
    assert main([*line, "--markdown"]) == 0
    *_, last = capsys.readouterr().out.strip().splitlines()
    words = made.words(perform.load(file)) if with_scenario else made.words()
    assert last.replace("\\", "") == f"Made with {words}."
    assert ("sha256" in last, MOMENT in last) == (with_scenario, True)
    assert main(line) == 0
    assert MOMENT not in capsys.readouterr().out
