"""Text as a stranger may write it, through every way out of here: captions, descriptions, drawings, pictures, the encoder's command line.

The reader refuses much of it (tests/strangers, tests/cli/test_hostile.py); here it comes past the reader, so that what writes holds alone.
What is written is read back by parsers that are not ours.
"""

from __future__ import annotations

import copy
import html
import io
import json
import os
import re
import struct
import sys
import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from bouncesim.account import made
from bouncesim.account.run import Run
from bouncesim.errors import ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.show.captions import webvtt
from bouncesim.show.charts.draw import draw_chart
from bouncesim.show.description import description
from bouncesim.show.film import FilmFiles, film
from bouncesim.show.fitting import check_texts
from bouncesim.show.live import Live
from bouncesim.show.pair import PairStage
from bouncesim.show.pair_film import description as description_of_two
from bouncesim.show.report.markdown import markdown_of
from bouncesim.show.report.page import page_of
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.stamped import png
from bouncesim.show.words import TABLE, Words, read_words
from tests.show.fake import Station, verdict_of
from tests.show.report.samples import report

MARKUP = (
    *("<script>alert(1)</script>", "</title></svg><svg onload=alert(1)>", "]]> <!-- -- --> <![CDATA[", "&lt;b&gt; &amp; & &#0;", "\"'`"),
    *("a --> b", "-->", "--->", "00:00:00.000 --> 09:00:00.000", "NOTE x", "STYLE", "WEBVTT", "<v Somebody>words</v> <00:00:01.000> <c.a>"),
    *("{{ 7 * 7 }} {% raw %}", "{0.__class__}", "%s%n%05d%", "$(touch x) `touch x` ; touch x", "-i /etc/passwd", "--help", "-", "@file"),
    *(r"$\frac{$", "$x^2$", r"\input{x} \alpha", "$$", r"a\n\x1b", "title=x;y=\\#"),
)
HIDDEN = (
    *("a\x00b", "a\x07\x08b", "\x1b[2J\x1b]0;owned\x07", "a\x7fb", "\x9b31mred", "\x85", "a\r\nb", "a\n\nb", "\n", "a\rb", "a\x0b\x0cb"),
    *("a\u2028b\u2029c", "\u202egnp.exe\u202c", "\u2066x\u2069", "\ufeffx", "\uffff", "\u200bx", "\U000e0041"),
    *("a\n\n00:00:00.000 --> 09:00:00.000\nb", "a\n<script>\n"),
)
LONE = ("a\ud800b", "\udcff")  # halves of letters: neither TOML nor JSON holds them, a file's name may
LONG = "averyveryverylongword" * 6
WORDS = (*MARKUP, *HIDDEN, LONG)
SIZE = (640, 360)
FPS = 4


def station(title: str = "A title", name: str = "feed line", caption: str = "Key down.") -> Run:
    """A run with such words, made past the reader."""
    beats = (Beat(until="antenna reached", lasts_s=1.0, caption=caption), Beat(until="settled", lasts_s=1.0, caption="Settled."))
    return Station(title=title, sections=((name, 1.0, 50.0),), beats=beats).run()


@pytest.fixture(scope="module")
def plain() -> Stage:
    """A film of plain words, laid out once."""
    run = station()
    return Stage(run, verdict_of(run), size=SIZE, fps=FPS)


def told_of(plain: Stage, run: Run) -> Stage:
    """The same film, telling of another run: whether its words have room and letters is asked elsewhere, before there is a run."""
    stage = copy.copy(plain)
    shots = tuple(replace(shot, caption=beat.caption) for shot, beat in zip(plain.story.shots, run.scenario.beats, strict=True))
    stage.run, stage.live, stage.story = run, Live(run), replace(plain.story, shots=shots)
    return stage


def shown(words: str) -> str:
    """Words on one line, white space of any kind a space, and the number of each other mark that cannot be seen."""
    return "".join(mark if mark.isprintable() else f"[U+{ord(mark):04X}]" for mark in " ".join(words.split()))


def can_be_seen(text: str) -> bool:
    return all(mark.isprintable() or mark == "\n" for mark in text)


# ---------------------------------------------------------------------------------------------------------------------------- WebVTT


@dataclass(frozen=True)
class Cue:
    start_s: float
    end_s: float
    text: str


_STAMP = re.compile(r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})")
_ENTITY = re.compile(r"&(?:amp|lt|gt|lrm|rlm|nbsp|#\d+|#x[0-9a-fA-F]+);")


def read_webvtt(content: bytes) -> list[Cue]:
    """The cues of a file, which must be one as authors are to write it: W3C, WebVTT: The Web Video Text Tracks Format (2019), section 4.1
    (file structure: a header, then blocks between empty lines, a comment block beginning with NOTE, times with an arrow between spaces) and
    4.2.2 (cue text: no "-->", and "&" and "<" only as what they begin). Ours has neither tags nor settings."""
    text = content.decode("utf-8")
    assert not re.search(r"[\0\r]", text)
    head, *blocks = re.split(r"\n{2,}", text.removesuffix("\n"))
    assert re.fullmatch(r"WEBVTT(?:[ \t][^\n]*)?", head)
    cues = []
    for block in blocks:
        lines = block.split("\n")
        if re.fullmatch(r"NOTE(?:[ \t].*)?", lines[0]):
            assert "-->" not in block, "a comment holds no arrow"
            continue
        start, arrow, end = lines[0].partition(" --> ")
        assert arrow, block
        assert len(lines) == 2, block
        times = [_STAMP.fullmatch(one) for one in (start, end)]
        a, b = (((int(t[1] or 0) * 60 + int(t[2])) * 60 + int(t[3])) + int(t[4]) / 1000 for t in times if t)
        words = lines[1]
        assert words
        assert not re.search("[<>]", words)
        assert "&" not in _ENTITY.sub("", words)
        cues.append(Cue(a, b, html.unescape(words)))
    assert all(one.start_s < one.end_s <= other.start_s for one, other in pairwise(cues))
    return cues


@pytest.mark.parametrize("words", WORDS, ids=ascii)
def test_captions_are_words_and_nothing_else(words: str, plain: Stage) -> None:
    stage, caution = told_of(plain, station(caption=words)), re.sub(r"[{}\0\1]", "", words)  # braces are filled in
    told = webvtt(stage.story, stage.live, Words({"caution": f"Take care. {caution}"}), made_with=words)
    assert can_be_seen(told)
    cues, usual = read_webvtt(told.encode("utf-8")), read_webvtt(webvtt(plain.story, plain.live).encode("utf-8"))
    if not words.strip():
        cues.insert(0, replace(usual[0], text=""))  # nothing to be read is no cue
    assert [(cue.start_s, cue.end_s) for cue in cues] == [(cue.start_s, cue.end_s) for cue in usual]
    assert [cue.text for cue in cues] == [shown(words), "Settled.", shown(f"Take care. {caution}")]


def test_the_reader_of_captions_refuses_what_is_none() -> None:
    good = "WEBVTT\n\n00:00:00.000 --> 00:00:01.000\n{}\n"
    assert read_webvtt(good.format("a &lt; b").encode()) == [Cue(0.0, 1.0, "a < b")]
    for bad in ("a < b", "a & b", "a --> b", "a\x00b", "a\n\n00:00:00.500 --> 00:00:02.000\nb", "a\n\nNOTE -->"):
        with pytest.raises(AssertionError):
            read_webvtt(good.format(bad).encode())


# ------------------------------------------------------------------------------------------------------------- descriptions in plain text


@pytest.mark.parametrize("words", WORDS, ids=ascii)
def test_a_description_keeps_its_lines_and_hides_nothing(words: str, plain: Stage) -> None:
    run = station(words, words.replace(".", ""), words)  # a name with a dot would be a name and a reading
    told = description(told_of(plain, run), verdict_of(run), f"bouncesim film {words} {LONE[0]}").encode("utf-8").decode("utf-8")
    usual = description(plain, verdict_of(plain.run), "bouncesim film x")
    assert can_be_seen(told)
    lines = told.splitlines()
    assert len(lines) == len(usual.splitlines())
    assert lines[0] == shown(words)
    assert lines[-1] == TABLE["caution"]


def test_nor_does_one_of_two_stations(plain: Stage) -> None:
    stage = PairStage((plain.run, plain.run), None, size=SIZE, fps=FPS)
    usual = description_of_two(stage, None, "bouncesim film x")
    for words in (*HIDDEN, MARKUP[0]):
        run = station(words, words.replace(".", ""), words)
        stage.runs = (run, run)
        told = description_of_two(stage, None, f"bouncesim film {words} {LONE[0]}").encode("utf-8").decode("utf-8")
        assert can_be_seen(told), ascii(words)
        assert len(told.splitlines()) == len(usual.splitlines()), ascii(words)


# --------------------------------------------------------------------------------------------------------------------------- drawings


GROUPS = [" ".join(WORDS[first::6]) for first in range(6)]  # drawn together, as drawing takes its time


@pytest.mark.parametrize("words", GROUPS, ids=ascii)
def test_a_drawing_is_xml_without_another_element(words: str) -> None:
    """Title and names of a chart reach its SVG: as outlines, in comments beside them, and in what it says about itself."""
    names = ET.fromstring(drawing(station("A title"))), ET.fromstring(drawing(station(words, words)))
    usual, tree = names
    ours = {element.tag for element in usual.iter()} | {f"{{http://www.w3.org/2000/svg}}{tag}" for tag in ("g", "use", "path", "defs")}
    assert {element.tag for element in tree.iter()} <= ours
    title = tree.find(".//{http://purl.org/dc/elements/1.1/}title")
    assert title is not None
    assert title.text == shown(words)
    assert can_be_seen("".join(tree.itertext()))
    assert not any(name.lower().startswith("on") for element in tree.iter() for name in element.attrib)


def drawing(run: Run) -> bytes:
    file = io.BytesIO()
    draw_chart("energy", run, size=SIZE).svg(file)
    file.getvalue().decode("utf-8")
    return file.getvalue()


@pytest.mark.parametrize("words", [*(words for words in MARKUP if re.search(r"[$\\%{]", words)), LONG], ids=ascii)
def test_no_words_are_mathematics(words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """matplotlib takes a pair of dollars for TeX: its parser is never asked, neither for drawing nor for measuring."""

    def never(*arguments: object, **options: object) -> None:
        raise AssertionError("read as mathematics")

    monkeypatch.setattr("matplotlib.mathtext.MathTextParser.parse", never)
    run = station(words, words.replace(".", ""), words)
    try:
        stage = Stage(run, verdict_of(run), size=SIZE, fps=FPS)
    except ScenarioError as error:  # it does not fit
        assert {problem.field for problem in error.problems} <= {"title", "beat[1].caption"}  # noqa: PT017
        return
    for k in (0, len(stage) - 1):
        stage.draw(k)
    assert not any(text.get_parse_math() for text in stage.frame.axes.texts)


@pytest.mark.parametrize("words", HIDDEN, ids=ascii)
def test_letters_that_no_face_has_are_refused_before_there_is_a_run(words: str) -> None:
    """Whatever is neither white space nor in the typeface; what it says of it can be printed (cli.text.clean)."""
    lacking = [
        mark for mark in words if not mark.isspace() and not mark.isprintable() and mark not in "\u200b\u202e\u202c\u2066\u2069\ufeff"
    ]
    scenario = station(words, "a", words).scenario
    if lacking:
        with pytest.raises(ScenarioError, match=r"cannot show"):
            check_texts(scenario, SIZE, Look())


@pytest.mark.parametrize("words", [*WORDS, *LONE], ids=ascii)
def test_what_a_picture_says_of_itself_is_one_chunk(words: str) -> None:
    """ISO/IEC 15948 (PNG), 11.3.4.3: a keyword, a null, and Latin-1 text that holds none."""
    content = png(stage_pixels(), words)
    chunks, at = [], 8
    while at < len(content):
        (size,) = struct.unpack(">I", content[at : at + 4])
        chunks.append((content[at + 4 : at + 8], content[at + 8 : at + 8 + size]))
        at += size + 12
    assert [name for name, _ in chunks if name != b"IDAT"] == [b"IHDR", b"tEXt", b"IEND"]
    keyword, _, text = dict(chunks)[b"tEXt"].partition(b"\0")
    assert keyword == b"Source"
    assert b"\0" not in text
    assert can_be_seen(text.decode("latin-1"))


def stage_pixels() -> Any:
    import numpy as np

    return np.zeros((4, 4, 3), np.uint8)


# ------------------------------------------------------------------------------------------------------------------------------- pages


class Outline(HTMLParser):
    """The tags of a page with the names of their attributes, and its words."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.words = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(sorted(name for name, _ in attrs))))

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.mark.parametrize("words", [*WORDS, *LONE], ids=ascii)
def test_a_page_has_no_other_tags(words: str) -> None:
    page = page_of(report(words))
    read = Outline(page.encode("utf-8").decode("utf-8"))
    assert read.tags == Outline(page_of(report())).tags
    assert can_be_seen(page.replace("\t", " "))
    markdown = markdown_of(report(words), "x.report")
    assert can_be_seen(markdown.encode("utf-8").decode("utf-8").replace("\t", " "))


# ------------------------------------------------------------------------------------------------------------------------- the encoder

SPY = """#!{python}
import json, sys
open({log!r}, "a").write(json.dumps(sys.argv[1:]) + "\\n")
sys.stdin.buffer.read()
target = sys.argv[-1]
name = "frame-00000.png" if target == "frame-%05d.png" else target.removeprefix("file:")
open(name, "wb").write({mark!r})
"""
MARKS = {"mp4": b"0000ftyp", "webm": b"\x1aE\xdf\xa3", "gif": b"GIF89a", "mov": b"0000ftyp", "png": b"\x89PNG"}
SMALL = {"size": (320, 180), "fps": 1}


def calls(run: Run, file: Path, spy: Path, monkeypatch: pytest.MonkeyPatch, kind: str) -> tuple[FilmFiles, list[list[str]]]:
    """A film made with an encoder that notes how it was called."""
    log = spy.with_suffix(".log")
    log.unlink(missing_ok=True)
    spy.write_text(SPY.format(python=sys.executable, log=str(log), mark=MARKS[kind]))
    spy.chmod(0o755)
    monkeypatch.setenv("IMAGEIO_FFMPEG_EXE", str(spy))
    try:
        files = film(run, file, kind=kind, **SMALL)  # type: ignore[arg-type]
    finally:
        told = [json.loads(line) for line in log.read_text().splitlines()]
    return files, told


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for the encoder begins with a line that only other systems read")
@pytest.mark.parametrize("kind", ["mp4", "webm", "mov", "gif"])
def test_no_words_of_a_scenario_reach_the_encoder(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its command line is the same to the letter but for the digest of the scenario, in which there are no words."""
    lines = []
    for words in ("plain", *(" ".join(word for word in MARKUP[first::4] if len(word) < 40) for first in range(4))):
        run = station(f"t {words}", f"n {words}", f"c {words}")
        _, told = calls(run, tmp_path / f"x.{kind}", tmp_path / "spy", monkeypatch, kind)
        assert sum("-metadata" in line for line in told) == 1, "it is told where the film comes from"
        assert [line[line.index("-metadata") + 1] for line in told if "-metadata" in line] == [f"comment={made.words(run.scenario)}"]
        lines.append([[word.replace(made.digest(run.scenario), "DIGEST") for word in line] for line in told])
    assert all(line == lines[0] for line in lines)


NAMES = ("-y", "--help", "%05d %s%n", "$(touch x) `touch x`;b", "concat:a|b", "pipe:1", "a\nb\x1b[2J", "\udcff \u202ex", "@x", "x=y")


@pytest.mark.skipif(os.name == "nt", reason="that system allows no such names")
@pytest.mark.parametrize("name", NAMES, ids=ascii)
def test_a_name_is_a_name_to_the_encoder(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the last word, after the protocol that takes whatever follows for a name."""
    files, (told,) = calls(station(), tmp_path / name / f"{name}.mp4", tmp_path / "spy", monkeypatch, "mp4")
    assert told[-1] == f"file:{name}.mp4"
    _, (plain,) = calls(station(), tmp_path / "plain.mp4", tmp_path / "spy", monkeypatch, "mp4")
    assert told[:-1] == plain[:-1]
    assert sorted(os.listdir(tmp_path / name)) == sorted(file.name for file in files)


# -------------------------------------------------------------------------------------------------------------------- words of a language


@pytest.mark.parametrize("words", HIDDEN, ids=ascii)
def test_a_table_of_words_holds_none_that_cannot_be_seen(words: str, tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text(f"forward = {json.dumps('x' + words + 'x')}\n", "utf-8")
    with pytest.raises(ScenarioError, match=r"is not one line of text|cannot be seen|no TOML file") as caught:
        read_words(file)
    assert can_be_seen(str(caught.value))


@pytest.mark.parametrize("key", HIDDEN, ids=ascii)
def test_nor_does_what_is_said_of_a_wrong_one(key: str, tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text(f'{json.dumps(key)} = "x"\n', "utf-8")
    with pytest.raises(ScenarioError) as caught:
        read_words(file)
    assert len(str(caught.value).splitlines()) == 1
    assert can_be_seen(str(caught.value))
