"""The option that allows more time, memory and disk than usual."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from bouncesim.budget import Work
    from bouncesim.scenario import Scenario


def _allow(ctx: click.Context, param: click.Parameter, value: float) -> None:
    from bouncesim import budget

    budget.allow_work(value)


work_option = click.option(
    "--most-work",
    type=click.FloatRange(min=0, min_open=True),
    default=1,
    show_default=True,
    metavar="TIMES",
    expose_value=False,
    callback=_allow,
    help="Allow so many times the usual 30 minutes, 1 GB of memory and 10 GB on disk.",
)


def check_ahead(*scenarios: Scenario, more: tuple[Work, ...] = (), run: bool = True, checked: bool = True, started: bool = True) -> None:
    """Raise TooMuchWork if all that a command is to do with these is too much: simulations, checks, starts under several keys, and more."""
    from bouncesim import budget, perform
    from bouncesim.cli.terminal import progress
    from bouncesim.compare.check import check_work
    from bouncesim.perform.start_up import start_up_work

    works = list(more)
    fits = any(scenario.keying.shape == "pulse" and (scenario.antenna.dipole or scenario.antenna.touchstone) for scenario in scenarios)
    with progress("fitting a circuit to the antenna" if fits else "looking ahead"):
        for scenario in map(perform.resolve, scenarios if run or checked or started else ()):
            works += [perform.work(scenario)] if run else []
            works += [check_work(scenario)] if checked else []
            works += start_up_work(scenario) if started else ()
    if works:
        budget.check(*works)
