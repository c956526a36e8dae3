"""python -m tests.evidence: make every check that records something, and write tests/EVIDENCE.md anew. Exit code 1 if one fails."""

from __future__ import annotations

import sys

import pytest

from tests.evidence import BOOKS, RECORDS
from tests.evidence.files import BOOKS_TEST, ROOT, recording_files
from tests.evidence.page import PAGE, render

if __name__ == "__main__":
    tests = [*map(str, recording_files()), str(ROOT / BOOKS_TEST)]
    failed = pytest.main(["-q", "-n", "0", "-p", "no:cacheprovider", "--rootdir", str(ROOT), *tests])
    if failed or not BOOKS:
        sys.exit("a check fails: nothing is written")
    before = PAGE.read_text("utf-8") if PAGE.exists() else ""
    PAGE.write_text(render(list(RECORDS.values()), BOOKS, before), "utf-8")
    print(f"{PAGE} has {len(RECORDS)} figures")
