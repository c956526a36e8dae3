"""With what a report was made, when, and how it is made again."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping
from datetime import UTC, datetime

from bouncesim.cli.film import typed
from bouncesim.show.report.content import Code, Row, Section, Table, Words


def made_section(versions: Mapping[str, str]) -> Section:
    """Programs and machine, and the command to be typed again."""
    rows = [*versions.items(), ("system", f"{platform.system()} {platform.release()}, {platform.machine()}")]
    return Section(
        "made",
        "How this was made, and how it is made again",
        (
            Table("", ("program", "version"), tuple(map(Row, rows)), (False, False)),
            Words("The same scenario and the same programs give the same report, but for the time in its last line. To make it again:"),
            Code(typed(), "sh"),
        ),
    )


def moment() -> str:
    """When it was made, in UTC; the variable SOURCE_DATE_EPOCH (seconds since 1970, a convention of reproducible builds) takes the place of
    the clock."""
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    seconds = float(told) if told.isdecimal() and len(told) <= 11 else None
    when = datetime.now(UTC) if seconds is None else datetime.fromtimestamp(seconds, UTC)
    return f"Made {when:%Y-%m-%d %H:%M} UTC"
