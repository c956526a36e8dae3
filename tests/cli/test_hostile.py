"""What strangers may write, at the command line: refused where it is read, and harmless wherever words are printed."""

from __future__ import annotations

import os
import signal
import time
from io import StringIO
from pathlib import Path

import pytest

from bouncesim import perform
from bouncesim.cli import stopping
from bouncesim.cli.main import main
from bouncesim.cli.pages import Heading, Paragraph, Rows, Steps, print_page
from bouncesim.cli.terminal import Terminal, table
from bouncesim.cli.text import place, tell
from bouncesim.scenario import Keying
from bouncesim.scenario.tables import TEXTS
from tests.cli.conftest import STATION

HIDDEN = (
    *(
        "\x00",
        "\x07",
        "\x08",
        "\x1b[2J\x1b]0;owned\x07",
        "\x7f",
        "\x85",
        "\x9b31m",
        "\r",
        "\t",
        "\x0b",
        "\u2028",
        "\u202e",
        "\u2066",
        "\ufeff",
    ),
    *("\uffff", "\u200b", "\U000e0041"),
)
IN_NAMES = ("\x1b[2J", "\x07", "\x9b31m", "\u202ex", "a\nb", "\r", "\udcff", "[bold]x", "%s", "-y")
# every key of a scenario that holds words, in a station where it stands; {} is where the hostile mark goes
EVENT = '[[event]]\nat = "settled"\nhappens = "connector fails"\nbehind = "feed line{}"\n'
BEAT = '[[beat]]\nuntil = "settled"\nlasts = "2 s"\ncaption = "Words{}"\n'
PLACES: dict[str, str] = {
    "title": STATION.replace('cable[/bold]"', 'cable{}"'),
    "about": 'about = "words{}"' + STATION,
    "name": STATION.replace('"feed line"', '"feed line{}"'),
    "says": STATION + '[[claim]]\nsays = "It arrives{}"\nquantity = "antenna.power_w"\nat_least = "1 W"\n',
    "quantity": STATION + '[[claim]]\nsays = "It arrives"\nquantity = "antenna.power_w{}"\nat_least = "1 W"\n',
    "caption": STATION + BEAT,
    "text": STATION.replace('shape = "step"', 'shape = "morse"\nrise = "2 us"\ndot = "10 us"\ntext = "e{}"'),
    "behind": STATION + EVENT,
    "touchstone": STATION.replace('impedance = "25 - 60j ohm"', 'touchstone = "a{}.s1p"'),
    "narration": 'narration = "a{}.vtt"' + STATION + BEAT,
    "part": STATION.replace('part = "meter"', 'part = "meter{}"'),
    "type": STATION.replace('impedance = "50 ohm"\nvelocity_factor = 0.66', 'type = "rg58c{}"'),
    "length": STATION.replace('"31 m"', '"31 m{}"'),
    "survey.line": STATION + '[survey]\nline = "feed line{}"\n',
}


def can_be_seen(words: str) -> bool:
    return all(mark.isprintable() or mark == "\n" for mark in words)


def test_every_key_with_words_is_tried() -> None:
    assert set(TEXTS) <= set(PLACES)


@pytest.mark.parametrize("key", PLACES)
def test_marks_that_cannot_be_seen_are_refused(key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "s.toml"
    for mark in HIDDEN:
        told = "".join(f"\\U{ord(letter):08x}" for letter in mark)
        file.write_text(PLACES[key].replace("{}", f"{told}x"), "utf-8")
        code, err = main(["run", str(file)]), capsys.readouterr().err
        assert code == 2, (key, ascii(mark))
        assert err.startswith("Error: "), err
        assert can_be_seen(err), (key, ascii(mark))


@pytest.mark.parametrize("mark", [*HIDDEN, "\udcff", "[bold]"], ids=ascii)
def test_nothing_that_is_printed_steers_a_terminal(mark: str) -> None:
    """Past the reader, and on a terminal that takes colours: no mark of a stranger's is left, and brackets are brackets."""
    told = StringIO()
    console = Terminal(file=told, force_terminal=True, color_system=None, markup=False, emoji=False, highlight=False, width=80)
    made = table(f"title {mark}", f"column {mark}", f"b {mark}")
    made.add_row(f"cell {mark}", f"two {mark}\nlines")
    console.print(made)
    console.print("Caution:", f"words {mark}")
    console.print(f"more {mark}", soft_wrap=True)
    assert can_be_seen(told.getvalue())
    assert told.getvalue().count("[bold]") == (7 if mark == "[bold]" else 0)


@pytest.mark.parametrize("as_markdown", [False, True])
def test_nor_does_a_page(as_markdown: bool, capsys: pytest.CaptureFixture[str]) -> None:
    for mark in (*HIDDEN, "\udcff"):
        words = f"a {mark} b"
        print_page([Heading(words), Paragraph(words), Steps([words]), Rows(words, [words, words], [[words, words]])], as_markdown)
        assert can_be_seen(capsys.readouterr().out), ascii(mark)


@pytest.mark.parametrize("name", IN_NAMES, ids=ascii)
def test_nor_does_the_name_of_a_file(name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    tell(f"Saved in {name}/x")
    told = capsys.readouterr()
    assert can_be_seen(told.err)
    assert told.err.endswith("/x\n")
    assert place(Path(name)) == name, "to a program it is the name"
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert can_be_seen(place(Path(name)))


@pytest.mark.skipif(os.name == "nt", reason="that system allows no such names")
@pytest.mark.parametrize("name", IN_NAMES, ids=ascii)
def test_a_name_of_a_file_or_a_word_is_told_without_its_marks(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files that are not there, files that are no scenario, words and options that there are not, and files that are written."""
    monkeypatch.chdir(tmp_path)
    Path("dir").mkdir()
    Path(f"dir/{name}.toml").write_bytes(b"\xff")
    Path(f"dir/{name}2.toml").write_text("x = ", "utf-8")
    lines = [["run", f"dir/{name}.toml"], ["run", f"dir/{name}2.toml"], ["run", f"none/{name}"], ["check", "dir"], ["run", f"x{name}"]]
    lines += [[f"x{name}"], ["run", f"--x{name}"], ["lines", f"x{name}"], ["lines", "--at", f"1 {name}"], ["rules", f"x{name}"]]
    lines += [
        ["which-cable", f"x{name}", "--length", "1 m"],
        ["swr-limit", "rg58c", "--length", f"1 m{name}"],
        ["film", "x", "--size", f"x{name}"],
    ]
    lines += [["new", f"dir/{name}3.toml", "--title", f"a {name}", "--line", f"x{name}"], ["film", "x", "--hide", f"x{name}"]]
    for line in lines:
        code, told = main(line), capsys.readouterr()
        assert code == 2, line
        assert can_be_seen(told.out + told.err), line
    for line in (["new", f"dir/{name}4.toml"], ["schema", "--output", f"dir/{name}.json"]):
        assert main(line) == 0
        told = capsys.readouterr()
        assert can_be_seen(told.out + told.err), line
        assert os.path.exists(line[-1])


@pytest.mark.parametrize("command", ["bands", "open-wire"])
def test_a_frequency_below_all_stations_is_a_wrong_option(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was allowed by the option, and refused by a part that was made of it further on, which could not say whose it was."""
    monkeypatch.chdir(tmp_path)
    assert main([command, "many-cables", "--at", "99 Hz"]) == 2
    assert "Invalid value for --at: 99 Hz is too small. Allowed: 100 Hz or more" in capsys.readouterr().err


@pytest.mark.filterwarnings("error")
def test_a_line_behind_which_nothing_can_be_read_is_not_explained(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """4,000 dB: a power of which no digit is left in double precision, by which the answer would be divided."""
    file = tmp_path / "s.toml"
    file.write_text(STATION.replace('length = "31 m"', 'length = "4000 m"\nloss = "1 dB/m"'), "utf-8")
    assert main(["explain", str(file), "--on-line", "30 W", "1 W"]) == 2
    assert "matched loss is 4,000 dB" in capsys.readouterr().err


def test_values_that_lead_to_no_station_get_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody knows such values; a model that refuses what was worked out stands in for them."""
    (tmp_path / "station.toml").write_text(STATION)
    monkeypatch.setattr(perform, "load", lambda path: Keying(shape="raised-cosine", rise_s=5.0))
    assert main(["run", str(tmp_path / "station.toml")]) == 2
    told = capsys.readouterr().err
    assert "lead to something that no station has: 5 s is too large" in told
    assert "Traceback" not in told


@pytest.mark.parametrize(("ago_s", "code"), [(0.1, 130), (60.0, None)])
def test_what_compiled_text_makes_of_an_interrupt_is_an_interrupt(ago_s: float, code: int | None, capsys, monkeypatch) -> None:
    """matplotlib's drawing turns an exception that passes it into a ValueError of its own, as was seen once in 200 trials."""

    def draws(path: Path) -> None:
        raise ValueError("Invalid bounding box")

    monkeypatch.setattr(perform, "load", draws)
    monkeypatch.setattr(stopping, "_first", (signal.SIGINT, time.monotonic() - ago_s))
    if code is None:
        with pytest.raises(ValueError, match="Invalid bounding box"):
            main(["run", "one-echo-or-all"])
    else:
        assert main(["run", "one-echo-or-all"]) == code
        assert capsys.readouterr().err == "\nStopped. Nothing half-written is left behind.\n"
