"""What a station tells besides its readings: how it starts under other keys, and the echoes of a pulse."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from rich.table import Table

from bouncesim.account.plain import to_plain
from bouncesim.account.pulse import PulseReport, pulse_report
from bouncesim.account.run import Run
from bouncesim.account.startup import StartUp
from bouncesim.cli.terminal import progress
from bouncesim.scenario import Scenario


@dataclass(frozen=True)
class Extras:
    """Each None where it does not apply or was not wanted."""

    start_up: StartUp | None = None
    echoes: PulseReport | None = None

    def tables(self) -> Iterator[Table | str]:
        """For the terminal."""
        from bouncesim.cli.echoes import echo_tables
        from bouncesim.cli.start_up import start_up_tables

        if self.echoes:
            yield from echo_tables(self.echoes)
        if self.start_up:
            yield from start_up_tables(self.start_up)

    def plain(self) -> dict[str, Any]:
        """For --json."""
        start = None
        if self.start_up:
            start = to_plain(self.start_up)
            for key, told in zip(start["keys"], self.start_up.keys, strict=True):
                for row, stress in zip(key["stresses"], told.stresses, strict=True):
                    row["overshoot"] = stress.overshoot
        return {"start_up": start, "pulse": to_plain(self.echoes) if self.echoes else None}


def extras_of(scenario: Scenario, run: Run, start_up: bool = True) -> Extras:
    """The echoes of a station that sends a pulse; the start-up of one that transmits a carrier, if it is wanted."""
    if scenario.keying.shape == "pulse":
        return Extras(echoes=pulse_report(run))
    if not start_up or scenario.direction == "receive":
        return Extras()
    from bouncesim.perform.start_up import start_up as start

    with progress("starting up") as tick:
        return Extras(start_up=start(scenario, progress=tick))
