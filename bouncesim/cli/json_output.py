"""The one JSON object of --json: strict, so that any program can read it."""

from __future__ import annotations

import json
from typing import Any

import click

from bouncesim.account import made
from bouncesim.account.plain import strict
from bouncesim.scenario import Scenario


def print_json(plain: dict[str, Any], *scenarios: Scenario) -> None:
    """Print one object on stdout, and in it, under "made", where it comes from. A number without a value (an infinite SWR, say) becomes
    null."""
    click.echo(json.dumps(strict(plain | {"made": made.stamp(*scenarios)}, lambda _: None), indent=1, allow_nan=False))
