"""Faults planted on purpose, one at a time: each is caught by the tests that tests/faults/faults.toml names."""

from __future__ import annotations

import pytest

from tests.faults import FAILED, PASSED, ROOT, Copy, Fault, faults

FAULTS = faults()
LEAST = 20
LEAST_OF_A_KIND = {"solver": 8, "ledger": 4, "exact": 5, "meters": 4}


def test_there_are_enough_of_every_kind() -> None:
    assert len(FAULTS) >= LEAST
    kinds = [fault.kind for fault in FAULTS]
    for kind, least in LEAST_OF_A_KIND.items():
        assert kinds.count(kind) >= least, kind


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.file}: {fault.what}")
def test_a_fault_still_has_its_place(fault: Fault) -> None:
    """The text is there, once, and the tests that catch it exist."""
    assert (ROOT / "bouncesim" / fault.file).read_text("utf-8").count(fault.find) == 1
    assert fault.put != fault.find
    assert fault.caught_by
    for test in fault.caught_by:
        file, _, name = test.partition("::")
        assert f"def {name.split('[')[0]}" in (ROOT / "tests" / file).read_text("utf-8")


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Copy:
    """A copy without faults, in which every test that is to catch one passes."""
    copy = Copy(tmp_path_factory.mktemp("faults"))
    done = copy.run(sorted({test for fault in FAULTS for test in fault.caught_by}), write_bytecode=True)
    assert done.returncode == PASSED, done.stdout
    return copy


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.file}: {fault.what}")
def test_a_fault_is_caught(fault: Fault, sound: Copy) -> None:
    for test, code, told in sound.with_fault(fault):
        assert code == FAILED, f"{test} does not notice it:\n{told}"
