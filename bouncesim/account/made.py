"""Where a result comes from: the scenario, the programs, the machine, the time. Whatever is printed or written takes it from here."""

from __future__ import annotations

import functools
import hashlib
import json
import os
import platform
from datetime import UTC, datetime
from typing import Any

from bouncesim.scenario import Scenario
from bouncesim.version import __version__

PROGRAMS = ("numpy", "numba")  # whose versions may show in a last digit
SHORT = 12  # digits of a digest where a person reads it


def digest(scenario: Scenario) -> str:
    """SHA-256 of a scenario in its canonical form, `Scenario.to_json`, as hexadecimal digits."""
    return hashlib.sha256(scenario.to_json().encode("utf-8")).hexdigest()


@functools.cache
def versions() -> dict[str, str]:
    """What computed: this program, Python, and what it computes with. None of them is loaded for that."""
    from importlib.metadata import version  # takes a while to load

    return {"bouncesim": __version__, "python": platform.python_version()} | {name: version(name) for name in PROGRAMS}


def system() -> str:
    """The machine: system, release, processor; nothing that names its owner."""
    return f"{platform.system()} {platform.release()}, {platform.machine()}"


def moment() -> str:
    """The time, in UTC, as ISO 8601 writes it; the variable SOURCE_DATE_EPOCH (seconds since 1970, a convention of reproducible builds)
    takes the place of the clock."""
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    seconds = float(told) if told.isdecimal() and len(told) <= 11 else None
    when = datetime.now(UTC) if seconds is None else datetime.fromtimestamp(seconds, UTC)
    return f"{when:%Y-%m-%dT%H:%M:%SZ}"


def stamp(*scenarios: Scenario, whole: bool = True) -> dict[str, Any]:
    """All of it, as plain values: `at`, `with`, `on`, and `of` which scenarios: by their digests and, if `whole`, in canonical form."""
    of = [{"sha256": digest(one)} | ({"scenario": json.loads(one.to_json())} if whole else {}) for one in scenarios]
    return {"at": moment(), "with": versions(), "on": system(), **({"of": of} if of else {})}


def words(*scenarios: Scenario) -> str:
    """The same on one line; of the scenarios only the digests."""
    programs = ", ".join(f"{name} {number}" for name, number in versions().items())
    of = "".join(f"; scenario sha256 {digest(one)}" for one in scenarios)
    return f"{programs}; {system()}{of}; {moment()}"
