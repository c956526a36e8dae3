"""Narrations: WebVTT as the standard has it is read, everything else is refused with its line.

Source of the format, and of the cases marked so: WebVTT: The Web Video Text Tracks Format, W3C Candidate Recommendation (2019).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim.errors import ScenarioError
from bouncesim.scenario import Scenario, read_scenario
from bouncesim.scenario.narration import MOST_BYTES, Cue, parse_narration, read_narration
from tests.scenario.test_reader import GOOD

# headers, identifiers, comments, settings, hours, styles, voices: all that section 1 of the standard shows
WHOLE = """\ufeffWEBVTT the film's words

STYLE
::cue { color: white }

REGION
id:low
lines:3

NOTE
two lines of comment
before the first cue

first
00:00.500 --> 00:04.250 line:0 align:start
Key down.

NOTE between

2
00:04.250 --> 00:09.000
<v Narrator>The wave
arrives.

01:00:00.000\t-->  01:00:03.000
"""


def test_what_the_standard_allows() -> None:
    text = WHOLE.replace("01:00:00", "00:08:00").replace("01:00:03", "00:08:03")
    expected = (Cue(start_s=0.5, end_s=4.25), Cue(start_s=4.25, end_s=9.0), Cue(start_s=480.0, end_s=483.0))
    for end in ("\n", "\r\n", "\r"):
        assert parse_narration(text.replace("\n", end)) == expected
    assert parse_narration("WEBVTT\n\n00:00.000 --> 00:00:59.999")[0].end_s == 59.999  # no word, and no end of line


GIVEN = "WEBVTT\n\n00:00.000 --> 00:05.000\nKey down.\n\n00:05.000 --> 00:09.000\nAn echo.\n"


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("WEBVTT", "WEBVTTx", 'line 1: "WEBVTTx" where a WebVTT file begins with WEBVTT. Is this the right file?'),
        ("WEBVTT\n\n", "", 'line 1: "00:00.000 --> 00:05.000" where a WebVTT file begins with WEBVTT. Is this the right file?'),
        ("00:00.000 -->", "0:00.000 -->", 'line 3: "0:00.000 --> 00:05.000" is not a time line'),
        ("00:05.000\nKey", "00:05,000\nKey", 'line 3: "00:00.000 --> 00:05,000" is not a time line'),
        ("00:05.000\nKey", "00:65.000\nKey", 'line 3: "00:00.000 --> 00:65.000" is not a time line'),
        ("00:05.000\nKey", "00:05.000 align\nKey", 'line 3: "00:00.000 --> 00:05.000 align" is not a time line'),
        ("00:00.000 --> 00:05", "00:00.000-->00:05", 'line 3: "00:00.000-->00:05.000" is not a time line'),
        ("00:05.000 -->", "00:00.000 -->", "line 6: the cue begins no later than the one before it"),
        ("00:09.000", "00:05.000", "line 6: the cue ends before it has begun"),
        ("Key down.\n\n", "Key down.\n", 'line 5: another time line, "00:05.000 --> 00:09.000", within a cue'),
        ("Key down.", "\nKey down.", 'line 5: "Key down." stands alone, without a time line'),
        ("00:05.000 --> 00:09", "00:15:05.000 --> 00:15:09", "line 6: more than 10 minutes for one cue"),
    ],
)
def test_what_it_does_not(old: str, new: str, says: str) -> None:
    assert old in GIVEN
    with pytest.raises(ScenarioError) as caught:
        parse_narration(GIVEN.replace(old, new, 1), "talk.vtt")
    assert str(caught.value).startswith(f"talk.vtt, {says}")


def test_files_that_are_no_narration(tmp_path: Path) -> None:
    for content, says in (
        (b"WEBVTT\n\nNOTE nothing\n", "has no cue"),
        (b"WEBVTT \xff\n\n", "is not a text file in UTF-8"),
        (b"W" * (MOST_BYTES + 1), "is larger than 1 MB"),
        (
            GIVEN.encode() + b"".join(b"\n00:%02d:%02d.000 --> 01:10:00.000\n" % divmod(5 * n, 60) for n in range(2, 70)),
            "more than 60 cues",
        ),
    ):
        (tmp_path / "talk.vtt").write_bytes(content.replace(b"01:10:00.000", b"00:06:00.000"))
        with pytest.raises(ScenarioError, match=says):
            read_narration(tmp_path / "talk.vtt")
    with pytest.raises(ScenarioError, match=r"no-file.vtt: cannot be read \(No such file or directory\)"):
        read_narration(tmp_path / "no-file.vtt")


def written(folder: Path, name: str = "talk.vtt", old: str = "", new: str = "") -> Path:
    text = f'narration = "{name}"\n' + (GOOD.replace(old, new, 1) if old else GOOD)
    (folder / "station.toml").write_text(text, encoding="utf-8")
    return folder / "station.toml"


def test_a_scenario_names_its_narration(tmp_path: Path) -> None:
    (tmp_path / "talk.vtt").write_text("WEBVTT\n\n00:00.000 --> 00:05.000\nAll of it.\n", encoding="utf-8")
    station = read_scenario(written(tmp_path))
    assert station.narration == (Cue(start_s=0.0, end_s=5.0),)
    assert Scenario.from_json(station.to_json()) == station
    assert read_scenario(written(tmp_path, old='lasts = "3 s"\n', new="")).beats[0].lasts_s is None  # the narration gives the pace


def test_problems_with_it_are_the_scenarios(tmp_path: Path) -> None:
    def says(**change: str) -> list[str]:
        with pytest.raises(ScenarioError) as caught:
            read_scenario(written(tmp_path, **change))
        return [str(problem) for problem in caught.value.problems]

    assert says(name="../talk.vtt")[0].startswith('narration: "../talk.vtt" leads away from the scenario\'s folder')
    lost = says(old='lasts = "3 s"\n', new="")
    assert lost == ['narration: "talk.vtt" is not there. Put the file into the folder of the scenario, and mind capitals']
    (tmp_path / "talk.vtt").write_text(GIVEN, encoding="utf-8")
    (many,) = says()
    assert many.startswith("narration: it has 2 cues, and the story 1 beat. One cue tells one beat")
    (tmp_path / "talk.vtt").write_text(GIVEN.replace("00:09", "00:04"), encoding="utf-8")
    assert says() == ["narration (talk.vtt), line 6: the cue ends before it has begun. Exchange its times"]
