"""bouncesim film: a narration, a second station beside the first, a tuner being turned: what goes together, before long work begins."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import STATION, Command

NARRATION = "WEBVTT\n\n00:00.000 --> 00:04.000\nKey down.\n\n00:04.000 --> 00:09.000\nAn echo.\n"
BEAT = '[[beat]]\nuntil = "settled"\nlasts = "3 s"\ncaption = "All of it."\n'


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("one.toml").write_text(STATION + BEAT, encoding="utf-8")
    Path("bare.toml").write_text(STATION.replace('[[path]]\npart = "tuner"\n', ""), encoding="utf-8")
    Path("receives.toml").write_text('direction = "receive"\n' + STATION, encoding="utf-8")
    Path("talk.vtt").write_text(NARRATION, encoding="utf-8")
    Path("broken.vtt").write_text(NARRATION.replace("00:09.000", "00:03.000"), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("one.toml", "--narration", "talk.vtt"), 'narration: it has 2 cues, and the story 1 beat (until "settled")'),
        (("one.toml", "--narration", "broken.vtt"), "broken.vtt, line 6: the cue ends before it has begun"),
        (("one.toml", "--narration", "nothing.vtt"), "nothing.vtt: cannot be read (No such file or directory)"),
        (("one.toml", "--beside", "two"), "there is no file two"),
        (("one.toml", "--beside", "bare.toml", "--shape", "square"), "a square frame has no room for both"),
        (("one.toml", "--beside", "receives.toml"), "no scale in common"),
        (("one.toml", "--turn", "coil", "--beside", "bare.toml"), "--turn goes with neither --beside nor --narration"),
        (("one.toml", "--turn", "coil", "--shape", "square"), "a square frame has no room for it"),
        (("one.toml", "--turn", "knob"), "The tuner has no part 'knob'. Its parts are coil, capacitor."),
        (("bare.toml", "--turn", "coil"), "no tuner with a line behind it"),
    ],
)
def test_what_does_not_go_together(files: Path, command: Command, options: tuple[str, ...], says: str) -> None:
    done = command("film", *options)
    assert done.code == 2
    assert says in " ".join(done.err.split())
    assert not Path("outputs").exists()


def test_a_tuner_is_turned_in_a_film_of_its_own(files: Path, command: Command) -> None:
    done = command("film", "one.toml", "--turn", "coil", "--format", "gif", "--size", "320x180", "--fps", "1")
    assert done.code == 0
    made = Path("outputs/one/one-turning-coil.gif")
    assert made.stat().st_size > 1000
    told = made.with_name("one-turning-coil.description.txt").read_text(encoding="utf-8")
    assert "the coil of its tuner" in told
    assert "Make it again with:  bouncesim" in told
