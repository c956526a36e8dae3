"""The files: the same from run to run, SVG that is SVG and nothing else, whole or not there at all."""

from __future__ import annotations

import io
import os
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

import pytest

from bouncesim.account import whole
from bouncesim.errors import OptionError, OutputError
from bouncesim.show.charts.draw import draw_chart, write_charts
from bouncesim.show.charts.sheet import Sheet
from tests.show.charts.stations import run_of

NASTY = '<script>alert(1)</script> --> ]]> & "quoted" $x_{1}$ \\frac \u202e ü 電波'
SMALL_SIZE = (640, 360)


def svg_of(kind: str, title: str) -> bytes:
    run = run_of("short")
    file = io.BytesIO()
    draw_chart(kind, replace(run, scenario=run.scenario.model_copy(update={"title": title}))).svg(file)
    return file.getvalue()


@pytest.mark.filterwarnings("error")  # a letter that the typeface lacks is drawn as a question mark
def test_a_title_is_words_and_nothing_else() -> None:
    """It names itself as it is, but for marks that cannot be seen, and nothing in it becomes an element, a script or mathematics."""
    plain, nasty = (ET.fromstring(svg_of("stress", title)) for title in ("A title", NASTY))
    names = [{element.tag.rpartition("}")[2] for element in tree.iter()} for tree in (plain, nasty)]
    assert "script" not in names[1]
    assert names[1] <= names[0] | {"g", "use", "path", "defs"}
    dublin = "{http://purl.org/dc/elements/1.1/}title"
    assert nasty.find(f".//{dublin}").text == NASTY.replace("\u202e", "[U+202E]")  # type: ignore[union-attr]
    for element in nasty.iter():
        assert not any(name.lower().startswith("on") for name in element.attrib)
        links = [value for name, value in element.attrib.items() if name.rpartition("}")[2] == "href"]
        assert all(link.startswith(("#", "data:image/png")) for link in links)


@pytest.mark.parametrize("title", [r"$\frac{1}{$", "$x^2$"])
def test_dollars_are_dollars(title: str) -> None:
    """A pair of dollars would be mathematics to matplotlib, and a broken one an exception."""
    run = run_of("short")
    sheet = draw_chart("stress", replace(run, scenario=run.scenario.model_copy(update={"title": title})), size=SMALL_SIZE)
    (drawn,) = [text for text in sheet.axes.texts if text.get_text() == title]
    assert not drawn.get_parse_math()


@pytest.mark.parametrize("kind", ["bounces", pytest.param("energy", marks=pytest.mark.slow)])
def test_the_same_run_gives_the_same_bytes(kind: str, tmp_path: Path) -> None:
    for folder in ("a", "b"):
        written = write_charts(run_of("short"), tmp_path / folder, [kind], formats=("png", "svg"), size=SMALL_SIZE)
        assert [path.name for path in written] == [f"{kind}.png", f"{kind}.svg"]
    for form in ("png", "svg"):
        assert (tmp_path / "a" / f"{kind}.{form}").read_bytes() == (tmp_path / "b" / f"{kind}.{form}").read_bytes()
    text = (tmp_path / "a" / f"{kind}.svg").read_text(encoding="utf-8")
    assert "<dc:date>" not in text
    assert re.findall(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]*Z", text) == ["2026-01-02T03:04:00Z"]  # where it says what it was made with
    assert str(tmp_path) not in text


def test_settings_of_the_user_change_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import matplotlib

    write_charts(run_of("short"), tmp_path / "a", ["meters"], formats=("png", "svg"), size=SMALL_SIZE)
    for name, value in {"lines.linewidth": 9.0, "svg.fonttype": "none", "font.size": 3.0, "path.simplify": False}.items():
        monkeypatch.setitem(matplotlib.rcParams, name, value)
    write_charts(run_of("short"), tmp_path / "b", ["meters"], formats=("png", "svg"), size=SMALL_SIZE)
    for name in ("meters.png", "meters.svg"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_an_interrupted_chart_leaves_the_old_one_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_charts(run_of("short"), tmp_path, ["stress"], size=SMALL_SIZE)
    before = (tmp_path / "stress.png").read_bytes()
    for problem, expected in ((OSError(28, "No space left on device"), OutputError), (KeyboardInterrupt(), KeyboardInterrupt)):

        def fail(descriptor: int, problem: BaseException = problem) -> None:
            raise problem

        monkeypatch.setattr(whole.os, "fsync", fail)
        with pytest.raises(expected):
            write_charts(run_of("short"), tmp_path, ["stress"], size=SMALL_SIZE, theme="light")
        monkeypatch.undo()
        assert os.listdir(tmp_path) == ["stress.png"]
        assert (tmp_path / "stress.png").read_bytes() == before


@pytest.mark.parametrize("problem", [OSError(28, "No space left on device"), KeyboardInterrupt(), OptionError("not this one")])
def test_a_set_of_charts_is_there_or_not(tmp_path: Path, problem: BaseException, monkeypatch: pytest.MonkeyPatch) -> None:
    """What ends it at the second chart, drawn or being written, leaves no first one, and the user's own files as they were."""
    kinds, before = ["meters", "stress"], {"notes.txt": b"mine", "meters.png": b"of last week"}
    for name, content in before.items():
        (tmp_path / name).write_bytes(content)
    fine, count = Sheet.png, [0]

    def fail(sheet: Sheet, file: BinaryIO) -> None:
        count[0] += 1
        fine(sheet, file)
        if count[0] == len(kinds):
            raise problem

    monkeypatch.setattr(Sheet, "png", fail)
    with pytest.raises(OutputError if isinstance(problem, OSError) else type(problem)):
        write_charts(run_of("short"), tmp_path, kinds, size=SMALL_SIZE)
    assert count == [2]
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    monkeypatch.undo()
    write_charts(run_of("short"), tmp_path, kinds, size=SMALL_SIZE)
    assert sorted(os.listdir(tmp_path)) == ["meters.png", "notes.txt", "stress.png"]
    assert (tmp_path / "notes.txt").read_bytes() == b"mine"


def test_an_unknown_format_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OptionError, match="no format 'bmp'"):
        write_charts(run_of("short"), tmp_path, ["stress"], formats=("bmp",))
    assert os.listdir(tmp_path) == []
