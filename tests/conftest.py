"""One thread a test, and the same random examples and the same clock on every machine."""

import os

for variable in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
os.environ.setdefault("SOURCE_DATE_EPOCH", "1767323040")  # results tell the time, and many are compared byte by byte

from hypothesis import settings  # noqa: E402 (the variables must be set before numpy is loaded)

settings.register_profile("house", deadline=None, derandomize=True)  # compiling takes longer than any deadline
settings.load_profile("house")


def pytest_collection_modifyitems(items):
    """What all other tests have recorded is looked at last."""
    items.sort(key=lambda item: item.path.name == "test_evidence.py")
