"""The words of the frame: all in one table, and other languages in its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from bouncesim.account.run import Run
from bouncesim.errors import ScenarioError
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.words import ENGLISH, TABLE, Words, read_words
from tests.show.fake import verdict_of


def written(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "words.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_table_changes_what_it_names_and_nothing_else(tmp_path: Path) -> None:
    words = read_words(written(tmp_path, 'forward = "vorwärts"\nslowed = "{times}-mal verlangsamt"\n'))
    assert words("forward") == "vorwärts"
    assert words("slowed", times="67") == "67-mal verlangsamt"
    assert words("reflected") == "reflected"
    assert ENGLISH("forward") == "forward"


def test_quantities_of_our_own_captions_stay_to_be_filled_in() -> None:
    told = ENGLISH("beat_steady", source="transmitter", load="antenna", leaves="${transmitter.power_w}", takes="${antenna.power_w}")
    assert "${antenna.power_w}" in told
    assert Words({"beat_steady": "${{time}}!"})("beat_steady") == "${time}!"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('forwrd = "x"', "words.toml: forwrd: is no word of the film. Did you mean forward?"),
        ("forward = 3", "words.toml: forward: is not one line of text"),
        ('forward = ""', "is not one line of text"),
        ('slowed = "{pace} slow"', "asks for what the film does not fill in here. In braces may stand: {times}"),
        ('slowed = "{times.__class__}"', "asks for what the film does not fill in here"),
        ('forward = "{"', "In braces may stand: nothing"),
        ("forward", "is no TOML file in UTF-8"),
    ],
)
def test_what_a_table_may_not_say(text: str, told: str, tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_words(written(tmp_path, text))
    assert told in str(caught.value)


def test_all_mistakes_at_once(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_words(written(tmp_path, 'a = "b"\nc = "d"\nforward = "ok"\n'))
    assert len(caught.value.problems) == 2


def test_every_word_of_the_frame_comes_from_the_table(stories: dict[str, Run]) -> None:
    """With every word of the table replaced by others, no English is left but what the scenario itself says."""
    signs = {key: "Ж" + "".join(f"{{{name}}}" for name in _fields(text)) for key, text in TABLE.items() if not key.startswith("beat_")}
    run = stories["balun"]
    scenario = run.scenario
    own = " ".join(
        [
            scenario.title,
            *(part.name for part in scenario.path),
            *(text for key, text in TABLE.items() if key.startswith("beat_")),
            "SWR W V m J Hz MHz Ω dB",
        ]
    )
    allowed = {word.strip(".,:") for word in own.split()} | {"µJ", "mJ", "nJ", "kV", "mW", "µW", "ns", "µs"}
    stage = Stage(run, verdict_of(run), size=(640, 360), look=Look(words=Words(signs)))
    for k in (int(0.6 * stage.story.closing), len(stage) - 1):
        stage.draw(k)
        for text in stage.frame.axes.texts + [a for a in stage.frame.axes.artists if hasattr(a, "get_text")]:
            for word in text.get_text().replace("·", " ").split():
                plain = word.strip(".,:()…")
                if plain.isascii() and plain.isalpha() and len(plain) > 2:
                    assert plain in allowed, text.get_text()


def _fields(text: str) -> list[str]:
    import re

    return re.findall(r"\{([^{}]*)\}", text)
