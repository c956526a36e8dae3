"""bouncesim report: what it leaves, what it says, what it refuses, and how a browser shows it."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from bouncesim.cli.main import main
from tests import samples
from tests.cli.conftest import CLAIM, STATION, Command
from tests.show.charts.stations import TEXTS
from tests.show.report.browser import Browser, chromium
from tests.show.report.samples import HOSTILE, picture

EPOCH = "1767323040"  # 2026-01-02 03:04 UTC
SMALLEST_TYPE_PX = 14  # read at arm's length: common practice, no source
WHERE_TO_GET_ONE = "no Chromium on the PATH (Debian: apt-get install chromium) and none named by BROWSER_FOR_TESTS"


@pytest.fixture
def drawn(engine: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Pictures at once."""
    engine.setattr("bouncesim.show.report.pictures.charts", lambda run, start, themes, tick: [picture("flow", themes)])
    engine.setattr("bouncesim.show.report.pictures.poster", lambda run, verdict, themes: picture("poster", themes))
    engine.setenv("SOURCE_DATE_EPOCH", EPOCH)
    return engine


def test_a_report_is_a_page_the_same_in_markdown_and_its_numbers(command: Command, drawn, station: Path) -> None:
    done = command("report", station)
    assert done.code == 0, done.err
    assert done.out.split() == [f"outputs/thin/thin.report.{ending}" for ending in ("html", "md", "json")]
    folder = Path("outputs/thin")
    assert sorted(path.name for path in folder.iterdir()) == ["thin.report", "thin.report.html", "thin.report.json", "thin.report.md"]
    assert sorted(path.name for path in (folder / "thin.report").iterdir()) == ["flow.png", "poster.png"]
    for page in ("thin.report.html", "thin.report.md"):
        text = (folder / page).read_text("utf-8")
        for words in (
            "26.5",
            "into the antenna",
            "holds",
            "Largest while starting up",
            "Cautions",
            "can burn",
            "1.1310",
            "numpy",
            "Made 2026-01-02",
        ):
            assert words in text, words
        assert "What changed" not in text
        assert 'impedance = "25 - 60j ohm"' in text.replace("&#34;", '"'), "the scenario as it was written"
        assert "bouncesim" in text
    numbers = json.loads((folder / "thin.report.json").read_text("utf-8"))
    assert numbers["numbers"]["antenna.power_w"]["value"] == 26.5
    assert numbers["numbers"]["start-up, step, feed line: voltage"]["value"] == 195.0
    assert numbers["versions"]["bouncesim"]
    assert numbers["made_at"] == "Made 2026-01-02T03:04:00Z"


def test_only_the_time_differs_from_one_report_to_the_next(command: Command, drawn, station: Path) -> None:
    texts = []
    for epoch in (EPOCH, "86400"):
        drawn.setenv("SOURCE_DATE_EPOCH", epoch)
        assert command("report", station).code == 0
        texts.append([Path(f"outputs/thin/thin.report.{ending}").read_text("utf-8").splitlines() for ending in ("html", "md", "json")])
    for first, second in zip(*texts, strict=True):
        different = [pair for pair in zip(first, second, strict=True) if pair[0] != pair[1]]
        assert len(different) == 1
        assert "2026-01-02T03:04:00Z" in different[0][0]
        assert "1970-01-02T00:00:00Z" in different[0][1]


def test_a_report_tells_what_changed_since_an_earlier_one(command: Command, drawn, station: Path) -> None:
    assert command("report", station, "-o", "old").code == 0
    data = json.loads(Path("old/thin.report.json").read_text("utf-8"))
    assert command("report", station, "--since", "old").code == 0
    assert "needs a correction" in Path("outputs/thin/thin.report.md").read_text("utf-8")
    data["numbers"]["antenna.power_w"]["value"] = 25.0
    data["claims"] = [{"says": "Much [x](http://y) arrives", "outcome": "holds"}]
    data["versions"]["numpy"] = "0.1"
    data["scenario"]["transmitter"]["power_w"] = 39.0
    Path("old/thin.report.json").write_text(json.dumps(data), "utf-8")
    assert command("report", station, "--since", "old/thin.report.json").code == 0
    told = Path("outputs/thin/thin.report.md").read_text("utf-8")
    for words in (
        "Correction note",
        "1 of ",
        "transmitter.power\\_w | 39.0 | 40.0",
        "numpy | 0.1",
        "antenna: power (W) | 25",
        "no longer claimed",
    ):
        assert words in told, words
    assert "[x](http" not in told


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (None, "there is no report here"),
        ("{", "cannot be read as the data of a report"),
        ("[1]", "is not the data of a report"),
        ('{"form": 99}', "that of another version"),
        ('{"form": 1, "name": "other", "title": "x"}', 'is the report of another scenario, "other"'),
        ('{"form": 1, "name": "thin"}', "damaged"),
    ],
)
def test_an_earlier_report_that_will_not_do_is_refused(command: Command, drawn, station: Path, content: str | None, message: str) -> None:
    Path("old").mkdir()
    if content is not None:
        Path("old/thin.report.json").write_text(content, "utf-8")
    done = command("report", station, "--since", "old")
    assert done.code == 2
    assert message in done.err
    assert not Path("outputs").exists()


def test_a_missing_or_doubtful_earlier_report_is_refused_before_any_work(command: Command, drawn, station: Path) -> None:
    drawn.setattr("bouncesim.perform.simulate", lambda *_, **__: pytest.fail("nothing is simulated"))
    assert "there is no such file" in command("report", station, "--since", "nowhere.json").err
    Path("two").mkdir()
    for name in ("a", "b"):
        Path(f"two/{name}.report.json").write_text("{}", "utf-8")
    assert "there are several reports here" in command("report", station, "--since", "two").err


def test_a_claim_or_a_check_that_fails_is_reported_and_decides_the_exit_code(command: Command, drawn, tmp_path: Path) -> None:
    (tmp_path / "thin.toml").write_text(STATION + CLAIM.format(53), encoding="utf-8")
    assert command("report", "thin.toml").code == 1
    assert "✗ </span>fails by 50 %" in Path("outputs/thin/thin.report.html").read_text("utf-8")
    (tmp_path / "thin.toml").write_text(STATION, encoding="utf-8")
    drawn.setattr("bouncesim.compare.check.check", lambda scenario, transient=False, progress=None: samples.verdict(holds=False))
    assert command("report", "thin.toml").code == 1
    assert "✗ </span>FAILS" in Path("outputs/thin/thin.report.html").read_text("utf-8")


def test_without_a_tuner_the_report_tells_what_is_open(command: Command, drawn, tmp_path: Path) -> None:
    (tmp_path / "bare.toml").write_text(STATION.replace('[[path]]\npart = "tuner"\n', ""), encoding="utf-8")
    assert command("report", "bare.toml").code == 0
    text = Path("outputs/bare/bare.report.md").read_text("utf-8")
    assert "No tuner: power in watts by source impedance" in text
    assert "what the transmitter does about it" in text


def test_a_report_that_cannot_be_written_says_so(command: Command, drawn, station: Path) -> None:
    Path("outputs").write_text("in the way", "utf-8")
    done = command("report", station)
    assert done.code == 4
    assert "cannot write into outputs" in done.err


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a real run of a station whose words are hostile."""
    folder = tmp_path_factory.mktemp("report")
    about, says = (json.dumps(words) for words in (HOSTILE[0] + " " + HOSTILE[5], HOSTILE[2]))
    claim = f'[[claim]]\nsays = {says}\nquantity = "antenna.power_w"\nat_least = "1 W"\nsource = "its own"\n'
    text = TEXTS["short"].replace("A twentieth of a wavelength", HOSTILE[1]).replace("[transmitter]", f"about = {about}\n[transmitter]", 1)
    (folder / "hostile.toml").write_text(text + claim + "# \u202egnp.exe\u202c \ufeff\n", "utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("SOURCE_DATE_EPOCH", EPOCH)
        for output in ("a", "b"):
            patch.setattr(sys, "argv", ["bouncesim", "report", "hostile.toml", "-o", output])
            assert main() == 0
    return folder


@pytest.mark.slow
def test_a_real_report_is_the_same_from_run_to_run(real: Path) -> None:
    """All bytes, but for the folder in the command that makes it again."""
    for path in sorted(path for path in (real / "a").rglob("*") if path.is_file()):
        again = real / "b" / path.relative_to(real / "a")
        first, second = path.read_bytes(), again.read_bytes()
        assert first == second.replace(b"-o b", b"-o a"), path
    for page in ("html", "md"):
        assert "bouncesim report hostile.toml -o a" in (real / "a" / f"hostile.report.{page}").read_text("utf-8")
    assert len(list((real / "a" / "hostile.report").iterdir())) >= 8


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    program = chromium()
    if program is None:
        pytest.skip(WHERE_TO_GET_ONE)
    with Browser(program, tmp_path_factory.mktemp("profile")) as opened:
        yield opened


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 360, 800, 1400, 2560])
@pytest.mark.parametrize("dark", [False, True])
def test_a_browser_shows_the_page(real: Path, browser: Browser, width: int, dark: bool) -> None:
    """No complaint of the browser, nothing fetched, nothing wider than the window, every picture drawn, the reader's choice of colours."""
    browser.open(real / "a" / "hostile.report.html", width, dark=dark)
    complaints = [
        event for event in browser.events if event["method"] in ("Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled")
    ]
    assert complaints == []
    asked = [event["params"]["request"]["url"] for event in browser.events if event["method"] == "Network.requestWillBeSent"]
    assert [url[:60] for url in asked if not url.startswith("data:")] == [(real / "a" / "hostile.report.html").resolve().as_uri()[:60]]
    assert browser.run("document.documentElement.scrollWidth") <= width
    outside = "[...document.querySelectorAll('body *')].filter(e => { const r = e.getBoundingClientRect(); return r.width > 1 && "
    outside += "(r.right > innerWidth + 1 || r.left < -1) }).map(e => e.tagName + ' ' + e.textContent.slice(0, 40))"
    assert browser.run(outside) == []
    assert browser.run("[...document.images].every(image => image.naturalWidth > 100)")
    assert browser.run("document.scripts.length") == 0
    ground = browser.run("getComputedStyle(document.documentElement).backgroundColor")
    assert ground == ("rgb(14, 20, 32)" if dark else "rgb(243, 245, 248)")
    assert browser.run("document.querySelector('h1').textContent") == HOSTILE[1]
    sizes = "[...document.querySelectorAll('p, li, td, th, dd, dt, figcaption')].map(e => parseFloat(getComputedStyle(e).fontSize))"
    assert min(browser.run(sizes)) >= SMALLEST_TYPE_PX


@pytest.mark.slow
def test_a_page_without_scripts_reads_the_same(real: Path, browser: Browser) -> None:
    browser.open(real / "a" / "hostile.report.html", 360)
    with_scripts = browser.run("document.body.innerText")
    browser.ask("Emulation.setScriptExecutionDisabled", value=True)
    try:
        browser.open(real / "a" / "hostile.report.html", 360)
        assert browser.run("document.body.innerText") == with_scripts
    finally:
        browser.ask("Emulation.setScriptExecutionDisabled", value=False)


@pytest.mark.slow
def test_it_prints_on_paper(real: Path, browser: Browser) -> None:
    """On white, whatever the reader likes on a screen; some pages, not a hundred."""
    browser.open(real / "a" / "hostile.report.html", 1400, dark=True)
    pages = len(re.findall(rb"/Type\s*/Page\b", browser.pdf()))
    assert 4 <= pages <= 40
    browser.ask("Emulation.setEmulatedMedia", media="print", features=[{"name": "prefers-color-scheme", "value": "dark"}])
    try:
        assert browser.run("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        assert browser.run("getComputedStyle(document.querySelector('nav')).display") == "none"
    finally:
        browser.ask("Emulation.setEmulatedMedia", media="screen", features=[])
