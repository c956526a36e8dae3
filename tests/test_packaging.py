"""The archives that are installed: what is in them, that both ways to build one agree, and that they work away from the sources."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from email.message import Message
from email.parser import BytesParser
from pathlib import Path

import pytest

from bouncesim import __version__
from tests.test_house import TOP

ROOT = Path(__file__).parents[1]
NAME = f"bouncesim-{__version__}"
BY_SETUPTOOLS = {"PKG-INFO", "setup.cfg"}
DATA = {"scenario/catalogue.toml", "scenario/starter.toml", "show/report/page.css", "show/report/page.html.j2", "py.typed"}
LEFT_BY_USE = {"__pycache__", "bouncesim.egg-info", ".git", ".hypothesis", ".pytest_cache"}
PROGRAMS = "Scripts" if os.name == "nt" else "bin"

pytestmark = pytest.mark.slow


def run(*command: str | Path, folder: Path, **settings: str) -> str:
    """What a command prints in `folder`, far from the sources: no PYTHONPATH, and a home of its own."""
    plain = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    home = {"HOME": str(folder), "USERPROFILE": str(folder)}
    done = subprocess.run(command, cwd=folder, env=plain | home | settings, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def build(what: str, folder: Path) -> Path:
    """An archive made by the build backend that pyproject.toml names, in this environment, so that no network is needed."""
    made = run(sys.executable, "-c", f"from setuptools import build_meta; print(build_meta.build_{what}('dist'))", folder=folder)
    return folder / "dist" / made.split()[-1]


def contents(wheel: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def files(folder: Path) -> set[str]:
    paths = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    return {path.as_posix() for path in paths if not LEFT_BY_USE & set(path.parts)}


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The repository as it stands, with what Python leaves in it, but without what the user made in outputs."""
    folder = tmp_path_factory.mktemp("copy")
    for name in TOP - {"outputs"}:
        (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(ROOT / name, folder / name)
    shutil.copytree(ROOT / "outputs" / "gallery", folder / "outputs" / "gallery")
    shutil.copy(ROOT / "outputs" / "README.md", folder / "outputs")
    run("git", "init", "-q", folder=folder)
    run("git", "add", "--all", folder=folder)
    run("git", "-c", "user.name=tests", "-c", "user.email=tests@localhost", "commit", "-q", "-m", "as it stands", folder=folder)
    return folder


@pytest.fixture(scope="module")
def unpacked(copy: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The source archive, unpacked."""
    folder = tmp_path_factory.mktemp("unpacked")
    with tarfile.open(build("sdist", copy)) as archive:
        archive.extractall(folder, filter="data")
    return folder / NAME


@pytest.fixture(scope="module")
def wheel(unpacked: Path) -> Path:
    """The wheel, built from the source archive."""
    return build("wheel", unpacked)


@pytest.fixture(scope="module")
def metadata(wheel: Path) -> Message:
    return BytesParser().parsebytes(contents(wheel)[f"{NAME}.dist-info/METADATA"])


def test_the_source_archive_is_the_repository(copy: Path, unpacked: Path) -> None:
    inside = {name for name in files(unpacked) if not name.startswith(("build/", "dist/"))}
    assert inside - BY_SETUPTOOLS == {name for name in files(copy) if not name.startswith(("build/", "dist/"))}


def test_a_wheel_from_the_source_archive_is_one_from_the_repository(copy: Path, wheel: Path) -> None:
    assert contents(build("wheel", copy)) == contents(wheel)


def test_the_wheel_holds_the_package_and_the_lessons_and_nothing_else(wheel: Path) -> None:
    package = {f"bouncesim/{path.relative_to(ROOT / 'bouncesim').as_posix()}" for path in (ROOT / "bouncesim").rglob("*.py")}
    lessons = {f"{NAME}.data/data/share/bouncesim/scenarios/{path.name}" for path in (ROOT / "scenarios").iterdir()}
    about = ("METADATA", "WHEEL", "RECORD", "entry_points.txt", "top_level.txt", "licenses/LICENSE")
    data = {f"bouncesim/{name}" for name in DATA} | {f"{NAME}.dist-info/{name}" for name in about}
    assert set(contents(wheel)) == package | lessons | data


def test_no_file_tells_where_it_was_made(wheel: Path) -> None:
    places = [str(place).encode() for place in (ROOT, Path.home(), wheel.parent, Path(sys.prefix))]
    assert [name for name, text in contents(wheel).items() if any(place in text for place in places)] == []


def test_the_metadata(metadata: Message) -> None:
    assert metadata.get_payload(decode=True) == (ROOT / "README.md").read_bytes()
    assert (metadata["Description-Content-Type"], metadata["License-Expression"]) == ("text/markdown", "MIT")
    versions = {f"Programming Language :: Python :: 3.{minor}" for minor in (11, 12, 13, 14)}
    assert versions < set(metadata.get_all("Classifier", []))
    assert set(metadata.get_all("Provides-Extra", [])) == {"proof", "cluster", "test"}


@pytest.mark.parametrize("way", ["environment", "target", "prefix"])
def test_installed_it_finds_its_lessons_and_leaves_nothing_behind(way: str, wheel: Path, tmp_path: Path) -> None:
    """In an environment with a space in its path; the libraries are those of this one, so that nothing is fetched."""
    home, elsewhere = tmp_path / "an environment", tmp_path / "elsewhere"
    elsewhere.mkdir()
    venv.create(home, symlinks=os.name != "nt")
    python = home / PROGRAMS / "python"
    own = Path(run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", folder=elsewhere).strip())
    (own / "libraries.pth").write_text("\n".join({sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}), encoding="utf-8")
    before = files(home)

    place = tmp_path / way
    option = [] if way == "environment" else [f"--{way}", place]
    pip = (sys.executable, "-m", "pip", "--python", python)
    run(*pip, "install", "--quiet", "--no-deps", "--no-index", *option, wheel, folder=elsewhere)
    where = {"environment": own, "target": place, "prefix": place / own.relative_to(home)}[way]
    settings = {} if way == "environment" else {"PYTHONPATH": str(where)}

    told = run(python, "-c", "import bouncesim; print(bouncesim.__file__)", folder=elsewhere, **settings)
    assert Path(told.strip()) == where / "bouncesim" / "__init__.py"
    command = (home if way == "environment" else place) / PROGRAMS / "bouncesim"
    assert run(python, command, "--version", folder=elsewhere, **settings) == f"bouncesim, version {__version__}\n"
    assert "At 7.05 MHz, 45 W." in run(python, "-m", "bouncesim", "match", "one-echo-or-all", folder=elsewhere, **settings)

    if way == "environment":  # pip can only take back what lies in an environment
        run(*pip, "uninstall", "--quiet", "--yes", "bouncesim", folder=elsewhere)
        assert files(home) == before
