"""Help comes at once, says everything, and agrees with the README; what the README shows works."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest

from bouncesim import __version__
from bouncesim.cli.main import COMMANDS, commands
from bouncesim.scenario.reader import parse_scenario
from tests.cli.conftest import Command

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
HELP_TO_CLICK = 2.5  # time of `bouncesim --help` to that of importing click alone: what keeps help from loading the simulator
TEN_MINUTES_S = 600
ROUNDS = 9  # the fastest of so many: the machine's other work only ever adds


(TUTORIAL,) = re.findall(r"^## Your own station in ten minutes$.*?(?=^## )", README, flags=re.MULTILINE | re.DOTALL)


def blocks(language: str, text: str = README) -> list[str]:
    return re.findall(rf"^ *```{language}\n(.*?)^ *```", text, flags=re.MULTILINE | re.DOTALL)


def command_lines(text: str) -> list[str]:
    return [line.strip() for block in blocks("sh", text) for line in block.splitlines() if line.strip().startswith("bouncesim")]


TUTORIAL_LINES = command_lines(TUTORIAL)
COMMAND_LINES = command_lines(README.replace(TUTORIAL, ""))


def python(*arguments: str, **options) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=False, **options)


def test_help_loads_nothing_but_click() -> None:
    script = """if True:
        import sys
        own = set(sys.modules)  # what this Python starts with: a sitecustomize, say
        from bouncesim.cli.main import main
        main(sys.argv[1:])
        print(*(set(sys.modules) - own), file=sys.stderr)
    """
    for arguments in ([], *([name] for name in COMMANDS)):
        done = python("-c", script, *arguments, "--help")
        loaded = {name.split(".")[0] for name in done.stderr.split()} - set(sys.stdlib_module_names)
        assert {name for name in loaded if not name.startswith("_")} == {"click", "bouncesim"}


def test_help_takes_hardly_longer_than_click() -> None:
    def seconds(*arguments: str) -> float:
        start = time.perf_counter()
        assert python(*arguments).returncode == 0
        return time.perf_counter() - start

    pairs = [(seconds("-c", "import click"), seconds("-m", "bouncesim", "--help")) for _ in range(ROUNDS)]
    bare, helping = (min(times) for times in zip(*pairs, strict=True))
    assert helping < HELP_TO_CLICK * bare


CLOSED_FORM = [
    "match one-echo-or-all",
    "demonstrate one-echo-or-all",
    'explain one-echo-or-all --on-line "78 W" "34 W" --full-scale "100 W"',
    'lines --at "28.3 MHz" --length "40 m"',
    "survey many-cables",
    "schema",
    "new station.toml",
]
WITH_A_PICTURE = ["bands many-cables", 'which-cable rg58c rg213 --length "40 m"', 'swr-limit rg58c --length "30 m"', "rules"]


@pytest.mark.parametrize("line", CLOSED_FORM + WITH_A_PICTURE)
def test_what_needs_no_time_domain_loads_no_compiler(tmp_path: Path, line: str) -> None:
    """Nor matplotlib, unless it draws: each of the two takes as long to load as most of these commands take."""
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    script = "import sys; from bouncesim.cli.main import main; print(main(sys.argv[1:]), *sys.modules, file=sys.stderr)"
    code, *loaded = python("-c", script, *shlex.split(line), cwd=tmp_path).stderr.splitlines()[-1].split()
    assert code == "0"
    heavy = {"numba", "llvmlite", "scipy", "matplotlib", "imageio", "imageio_ffmpeg"}
    drawing = {"matplotlib", "imageio"} if line in WITH_A_PICTURE else set()
    assert heavy & set(loaded) <= drawing


def test_a_reader_that_stops_listening_is_no_error() -> None:
    program = subprocess.Popen([sys.executable, "-m", "bouncesim", "--help"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert program.stdout is not None
    program.stdout.close()
    _, errors = program.communicate()
    assert (program.returncode, errors) == (141, b"")


@pytest.mark.parametrize(("redirection", "code"), [(">&-", 0), ("2>&-", 0), (">/dev/full", 4)])
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_stream_that_takes_nothing_causes_no_traceback(redirection: str, code: int) -> None:
    done = subprocess.run(f"'{sys.executable}' -m bouncesim --help {redirection}", shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == code
    assert "Traceback" not in done.stderr


def test_the_version(command: Command) -> None:
    assert command("--version").out == f"bouncesim, version {__version__}\n"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_has_help_and_stands_in_the_readme(name: str) -> None:
    one = commands.get_command(None, name)
    assert one.name == name
    assert " ".join(one.help.split("\n\n")[0].split()) == COMMANDS[name]
    assert f"bouncesim {name} " in README
    for option in one.params:
        if isinstance(option, click.Option):
            assert option.help
            assert f"`{option.opts[-1]}" in README, f"the README does not tell of {option.opts[-1]}"


def test_the_readme_shows_no_command_or_option_that_does_not_exist() -> None:
    known = {
        option for name in COMMANDS for param in commands.get_command(None, name).params for option in (*param.opts, *param.secondary_opts)
    } | {"--help"}
    assert {shlex.split(line)[1] for line in COMMAND_LINES + TUTORIAL_LINES} == set(COMMANDS)
    assert set(re.findall(r"`(--[a-z-]+)", README)) <= known


def test_the_exit_codes_of_help_and_readme_agree() -> None:
    assert commands.epilog is not None
    in_help = re.findall(r"^ +(\d) +(.*)$", commands.epilog, flags=re.MULTILINE)
    assert [int(code) for code, _ in in_help] == [0, 1, 2, 3, 4]
    readme = " ".join(README.split())
    for code, words in in_help:
        assert f"{code} {words}" in readme


def test_the_scenario_in_the_readme_is_one() -> None:
    (text,) = blocks("toml")
    assert parse_scenario(text).claims


def test_what_the_readme_links_to_exists() -> None:
    for target in re.findall(r"\]\(([^)#:]+)\)", README):
        assert (ROOT / target).exists(), target


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A folder with the scenarios in it, as a user has one."""
    shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
    (tmp_path / "outputs").mkdir()
    return tmp_path


@pytest.mark.slow
@pytest.mark.parametrize("line", COMMAND_LINES)
def test_every_command_line_of_the_readme_works(clone: Path, line: str) -> None:
    done = python("-m", *shlex.split(line, comments=True), cwd=clone)
    assert done.returncode == 0, done.stderr


@pytest.mark.slow
def test_the_tutorial_of_the_readme_leads_to_a_film_in_ten_minutes(tmp_path: Path) -> None:
    """Command by command, in an empty folder, as a new user types them."""
    begin = time.monotonic()
    for line in TUTORIAL_LINES:
        done = python("-m", *shlex.split(line, comments=True), cwd=tmp_path)
        assert done.returncode == 0, (line, done.stdout, done.stderr)
    assert time.monotonic() - begin < TEN_MINUTES_S / 2, "the other half is for reading and typing"
    home, published = tmp_path / "outputs" / "my-station", tmp_path / "outputs" / "published"
    for ending in ("mp4", "vtt", "poster.png", "description.txt", "report.html", "report.md", "report.json"):
        assert (home / f"my-station.{ending}").stat().st_size > 100, ending
    assert (published / "my-station.report.html").is_file()
    assert "Nothing that the earlier report" in (home / "my-station.report.md").read_text("utf-8")
    for named in re.findall(r"`(outputs/[a-z-]+)/`", TUTORIAL):
        assert (tmp_path / named).is_dir(), named


@pytest.mark.slow
def test_the_python_of_the_readme_works(clone: Path) -> None:
    (script,) = blocks("python")
    done = python("-c", script, cwd=clone)
    assert done.returncode == 0, done.stderr
    simulated, exact = map(float, done.stdout.split())
    assert simulated == pytest.approx(exact, rel=1e-3)  # one run on the ordinary grid
    assert (clone / "outputs" / "my-film.mp4").stat().st_size > 10_000
