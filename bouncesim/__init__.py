"""bouncesim: waves on a radio feed line, from key-down to steady state, with every watt accounted for.

    station = bouncesim.load("scenarios/one-echo-or-all.toml")
    run = bouncesim.simulate(station)          # readings, traces, ledger, settling
    exact = bouncesim.solve_exact(station)     # the same readings in closed form
    verdict = bouncesim.check(station)         # a row a reading: simulated, error bar, exact, holds
    bouncesim.film(run, "station.mp4", verdict)
    bouncesim.allow_work(5)                    # what would take more than 30 minutes or 1 GB is refused; up to five times that is not

Each name is loaded on first use, so that `import bouncesim` costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from bouncesim.version import __version__

if TYPE_CHECKING:
    from bouncesim.account.store import load_run
    from bouncesim.budget import allow_work
    from bouncesim.compare.check import check
    from bouncesim.perform import load, simulate, solve_exact
    from bouncesim.show.film import film

__all__ = ["__version__", "allow_work", "check", "film", "load", "load_run", "simulate", "solve_exact"]

_HOMES = {
    "allow_work": "bouncesim.budget",
    "load": "bouncesim.perform",
    "simulate": "bouncesim.perform",
    "solve_exact": "bouncesim.perform",
    "check": "bouncesim.compare.check",
    "film": "bouncesim.show.film",
    "load_run": "bouncesim.account.store",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
