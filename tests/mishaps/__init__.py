"""Faults of the surroundings: programs stopped at any moment, full disks, folders that cannot be written, missing encoders, odd names,
locales and terminals. Every test here runs commands as a user does, in processes of their own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
STATION = """
title = "Ein billiger Sender, 50 Ω – für Versuche"
[transmitter]
frequency = "14.2 MHz"
power = "{power} W"
[keying]
shape = "step"
[[path]]
part = "line"
name = "feed line"
length = "6 m"
impedance = "50 ohm"
velocity_factor = 0.66
[antenna]
impedance = "40 + 10j ohm"
"""
SURVEY = """
[survey]
line = "feed line"
length = { from = "5 m", to = "8 m", count = 4 }
power = ["20 W", "50 W"]
"""
FILM = ("--draft", "--no-check", "--size", "320x180", "--fps", "2")  # as cheap as a film can be


def scenario(folder: Path, name: str = "cheap", power: int = 50) -> Path:
    """The cheap station as a file, with a survey in it."""
    file = folder / f"{name}.toml"
    file.write_text(STATION.format(power=power) + SURVEY, encoding="utf-8")
    return file


def environment(**changed: str | None) -> dict[str, str]:
    """That of a program: this copy of the package, one thread, and a time that stands still in reports; None takes a variable out."""
    usual = os.environ | {"PYTHONPATH": str(ROOT), "NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "SOURCE_DATE_EPOCH": "0"}
    return {name: value for name, value in (usual | changed).items() if value is not None}


def bouncesim(*arguments: str | Path, folder: Path, **changed: str | None) -> subprocess.CompletedProcess[str]:
    """One command line, run in `folder`, its output read as UTF-8."""
    command = [sys.executable, "-m", "bouncesim", *map(str, arguments)]
    done = subprocess.run(command, cwd=folder, env=environment(**changed), stdin=subprocess.DEVNULL, capture_output=True, check=False)
    out, err = (stream.decode("utf-8", "replace") for stream in (done.stdout, done.stderr))
    return subprocess.CompletedProcess(command, done.returncode, out, err)


def files(folder: Path) -> dict[str, bytes]:
    """Every file below `folder` by its name there, but for what is still in parts and the scenarios themselves."""
    found = (path for path in folder.rglob("*") if path.is_file() and path.suffix != ".toml")
    names = {str(path.relative_to(folder)): path for path in found}
    return {name: path.read_bytes() for name, path in names.items() if ".bouncesim-" not in name}


def parts(folder: Path) -> list[Path]:
    """What programs that were killed have left."""
    return sorted(folder.rglob(".bouncesim-*.part"))
