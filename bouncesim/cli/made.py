"""With what a report was made, and how it is made again."""

from __future__ import annotations

from collections.abc import Mapping

from bouncesim.account import made
from bouncesim.cli.film import typed
from bouncesim.show.report.content import Code, Row, Section, Table, Words


def made_section(versions: Mapping[str, str], digest: str) -> Section:
    """Programs, machine and scenario, and the command to be typed again."""
    rows = [*versions.items(), ("system", made.system()), ("scenario, sha256", digest)]
    return Section(
        "made",
        "How this was made, and how it is made again",
        (
            Table("", ("program", "version"), tuple(map(Row, rows)), (False, False)),
            Words("The same scenario and the same programs give the same report, but for the time in its last line. To make it again:"),
            Code(typed(), "sh"),
        ),
    )
