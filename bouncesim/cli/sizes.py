"""Shapes and sizes of pictures, as films and charts take them."""

from __future__ import annotations

import re

import click

SHAPES = {"wide": (1920, 1080), "tall": (1080, 1920), "square": (1080, 1080)}


def read_size(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[int, int] | None:
    """Width and height in pixels from "1280x720". Raises click.BadParameter."""
    if value is None:
        return None
    found = re.fullmatch(r"([0-9]{1,5})x([0-9]{1,5})", value)
    if not found:
        raise click.BadParameter(f"{value!r} is no size; write width x height in pixels, such as 1280x720")
    return int(found[1]), int(found[2])
