"""The one JSON object of --json: strict, so that any program can read it."""

from __future__ import annotations

import json
from typing import Any

import click

from bouncesim.account.plain import strict


def print_json(plain: dict[str, Any]) -> None:
    """Print one object on stdout. A number without a value (an infinite SWR, say) becomes null."""
    click.echo(json.dumps(strict(plain, lambda _: None), indent=1, allow_nan=False))
