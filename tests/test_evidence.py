"""The page of evidence is what the tests find. These run last, on what the session has recorded (tests/conftest.py)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.evidence import BOOKS, RECORDS, Record
from tests.evidence.files import BOOKS as BOOKS_FILE
from tests.evidence.files import ROOT, recording_files
from tests.evidence.page import PAGE, RENEW, heading, render, rounded, row


def whole(session: pytest.Session) -> bool:
    """True where every test that records something runs in this process: then nothing may be missing from the page, or be left over on
    it. (Where tests are shared out among processes, each has recorded a part; .ci/run renews the page and compares.)"""
    if hasattr(session.config, "workerinput"):
        return False
    collected = {item.path for item in session.items}
    return not session.config.option.keyword and not session.testsfailed and collected >= {*recording_files(), ROOT / BOOKS_FILE}


def test_the_page_is_current(request) -> None:
    if not RECORDS:
        pytest.skip("nothing was recorded in this session")
    page = PAGE.read_text("utf-8")
    lines = set(page.splitlines())
    stale = [made for record in RECORDS.values() if (made := row(record)) not in lines]
    assert not stale, f"{RENEW}: it lacks {stale[:3]}"
    if whole(request.session):
        assert render(list(RECORDS.values()), BOOKS, page) == page, RENEW


def made(ours: float, value: float = 2.5, tolerance: float = 0.06, origin: str = "printed in source") -> Record:
    return Record("A01", "A table", "SWR", value, tolerance, "", "A book", origin, ours, "tests/march/test_x.py")


def test_numbers_do_not_depend_on_the_machine() -> None:
    for noise in (-1e-14, 0.0, 1e-14):
        assert rounded(0.45 * (1 + noise), 0.1) == Decimal("0.5")
        assert str(rounded(-1e-13 * noise, 0.06)) == "0.00"
        assert row(made(2.515 * (1 + noise))) == row(made(2.515))


def test_a_row_tells_all() -> None:
    assert row(made(2.53)) == "| A01 | SWR | 2.5 | 2.53 | 0.03 | 0.06 | simulation | agrees |"
    assert row(made(2.63)).endswith("DIFFERS |")
    assert "### A01: A table" in heading(made(2.5))
    assert "Source: A book. Kind: published." in heading(made(2.5))


@pytest.mark.parametrize("origin", ["from memory", "common practice", "computed here"])
def test_what_is_no_published_figure_says_so(origin: str) -> None:
    told = " ".join(heading(made(2.5, origin=origin)))
    assert origin.removesuffix(" here") in told
    assert "Kind: published." not in told


def test_a_bound_on_the_books_stays_while_it_holds() -> None:
    def page(worst: float, before: str) -> str:
        return render([made(2.5)], {"a lesson": (worst, 10 * worst)}, before)

    first = page(2e-14, "")
    assert "at most 1e-13 in the worst step" in first
    assert "at most 1e-12 in a whole run" in first
    assert page(3e-14, first) == page(9e-14, first) == page(2e-16, first) == first  # another machine
    assert page(2e-13, first) != first  # a change for the worse
    assert page(5e-17, first) != first  # the bound says too little
