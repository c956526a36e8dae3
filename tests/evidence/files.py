"""Which tests record evidence."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
CHECKS = re.compile(r"^from tests\.(?:reference|evidence) import .*\b(?:case|record)\b", re.MULTILINE)
BOOKS = "tests/march/test_perform.py"  # of whose tests only one records something
BOOKS_TEST = f"{BOOKS}::test_ledger"


def recording_files() -> list[Path]:
    """Every test file that asks for a published case, or records a check of its own."""
    return sorted(path for path in (ROOT / "tests").rglob("test_*.py") if CHECKS.search(path.read_text("utf-8")))
