"""tests/EVIDENCE.md from what was recorded. Every number is cut to digits that no machine's rounding can change."""

from __future__ import annotations

import itertools
import math
import re
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

from tests.evidence import Record

PAGE = Path(__file__).parents[1] / "EVIDENCE.md"
RENEW = "run `python -m tests.evidence` to renew tests/EVIDENCE.md"
# A value that stands exactly between two roundings must fall on the same side everywhere.
TILT = Decimal("1e-9")
# A new bound on the books leaves the first of these for other machines; it is renewed when it is broken, or the second above the residual.
ROOM = (3, 1000)

ENGINES = {"march": "simulation", "exact": "closed form", "compare": "rule of thumb", "scenario": "line data"}
KINDS = {
    "printed in source": "published",
    "companion output": "published; read in a transcription of the book's examples",
    "from memory": "published; from memory",
    "from memory and computed": "from memory, and computed by us",
    "computed here": "computed by us from the formula named; no published figure",
    "common practice": "common practice, no source",
}
TITLES = ("case", "quantity", "figure", "ours", "difference", "tolerance", "by", "status")
RULE = f"|{'---|' * len(TITLES)}"
GROUPS = {
    "A": "SWR and power",
    "B": "Lines in steady state",
    "C": "Transients",
    "D": "Matching networks",
    "E": "What a line is",
    "F": "Meters",
    "G": "Signals",
    "H": "Antennas",
    "I": "The grid",
    "J": "Facts of the trade",
    "K": "More matching",
}

HEAD = """# Evidence

Every check of bouncesim against a figure from outside, made by the tests and written by them:
{renew}. The tests fail while this page differs from what they find.

"Ours" is what the simulation in time, the closed form, or the data of the lines give for the same case; the tolerance follows from
the digits that the source prints, never from our result. The kind of a figure is told with it: published (and whether it was read in
the source itself, in a transcription of its examples, or is from memory), computed by us from a formula that is named, or common
practice. Figures computed by us show that two of our programs agree with a formula, and no more.

{count} figures of {cases} cases; {outside} come from outside; {agree} agree.
"""

BOOKS_HEAD = """## The energy books

Largest residual of the ledger over all {count} lessons in `scenarios/`, relative to the energy handled (allowed: 1e-12 a step,
1e-11 a run):
"""


def decimals(tolerance: float) -> int:
    """Digits behind the point that a tolerance is worth."""
    return max(0, -math.floor(math.log10(tolerance))) if tolerance else 0


def rounded(value: float, tolerance: float) -> Decimal:
    """The value to the digits of its tolerance, halves away from nothing."""
    exact = Decimal(repr(value)) * (1 + TILT)
    cut = exact.quantize(Decimal(1).scaleb(-decimals(tolerance)), rounding=ROUND_HALF_UP)
    return cut if cut else abs(cut)  # no minus nothing


def engine(test: str) -> str:
    """What a test folder stands for."""
    folder = test.split("/")[1] if test.count("/") > 1 else ""
    return ENGINES.get(folder, "tests")


def row(record: Record) -> str:
    """One line of the table."""
    ours, value = rounded(record.ours, record.tolerance), Decimal(repr(record.value))
    difference = ours - value
    unit = f" {record.unit}" if record.unit else ""
    status = "agrees" if record.miss <= 1 else "DIFFERS"
    cells = (
        record.case,
        _safe(record.quantity),
        f"{_plain(value)}{unit}",
        f"{ours:f}{unit}",
        f"{difference.normalize():f}" if difference else "0",
        f"{record.tolerance:g}",
        engine(record.test),
        status,
    )
    return f"| {' | '.join(cells)} |"


def heading(record: Record) -> list[str]:
    """What stands above the rows of a case: what it is about, its source, and what kind of figure it is."""
    kind = KINDS.get(record.origin, "what theory says")
    return ["", f"### {record.case}: {record.name}", "", f"Source: {record.source}. Kind: {kind}.", "", f"| {' | '.join(TITLES)} |", RULE]


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _safe(text: str) -> str:
    return text.replace("|", "\\|")


def group_of(case: str) -> str:
    """The heading that a case stands under."""
    return GROUPS.get(case[:1], "Others")


def books_lines(books: dict[str, tuple[float, float]], before: str) -> list[str]:
    """The worst ledger residuals as bounds that hold on any machine: kept from the page before while they still say something."""
    old = {kind: float(bound) for bound, kind in re.findall(r"at most (\S+) in (the worst step|a whole run)", before)}
    found = []
    for k, kind in enumerate(("the worst step", "a whole run")):
        worst = max(residuals[k] for residuals in books.values())
        bound = old.get(kind, math.inf)
        if not worst <= bound <= ROOM[1] * worst:
            bound = 10.0 ** math.ceil(math.log10(ROOM[0] * worst))
        found.append(f"- at most {bound:.0e} in {kind}")
    return found


def render(records: list[Record], books: dict[str, tuple[float, float]], before: str = "") -> str:
    """The page. before: the page as it stands, for the bounds on the books."""
    outside = sum(not re.search("computed|theory|practice", record.origin) for record in records)
    agree = sum(record.miss <= 1 for record in records)
    head = HEAD.format(
        renew=RENEW,
        count=len(records),
        cases=len({record.case for record in records}),
        outside=outside,
        agree="all" if agree == len(records) else f"only {agree}",
    )
    lines = [head]
    for group in (*GROUPS.values(), "Others"):
        here = sorted((r for r in records if group_of(r.case) == group), key=lambda r: (r.case, r.test, r.quantity))
        lines += [f"## {group}"] if here else []
        for _, rows in itertools.groupby(here, key=lambda r: r.case):
            of_case = list(rows)
            lines += [*heading(of_case[0]), *map(row, of_case)]
        lines += [""] if here else []
    lines += [BOOKS_HEAD.format(count=len(books)), *books_lines(books, before), ""]
    return "\n".join(lines)
