"""The whole table: python -m tests.benchmarks; a part of it: python -m tests.benchmarks -k step. Any option of pytest may follow."""

import sys
from pathlib import Path

import pytest

# In one process, or the benchmarks would disturb one another; their files have names that an ordinary run of the tests does not collect.
OPTIONS = ["-n", "0", "-o", "python_files=bench_*.py", "--benchmark-only", "--benchmark-quiet", "-q"]

if __name__ == "__main__":
    sys.exit(pytest.main([str(Path(__file__).parent), *OPTIONS, *sys.argv[1:]]))
