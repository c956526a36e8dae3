"""The option that allows a simulation more time and memory than usual."""

from __future__ import annotations

import click


def _allow(ctx: click.Context, param: click.Parameter, value: float) -> None:
    if value != 1:
        from bouncesim.march import budget

        budget.allow(value)


work_option = click.option(
    "--most-work",
    type=click.FloatRange(min=0, min_open=True),
    default=1,
    show_default=True,
    metavar="TIMES",
    expose_value=False,
    callback=_allow,
    help="Allow a simulation so many times the usual 30 minutes and 1 GB.",
)
