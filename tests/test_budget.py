"""One limit for everything that may take long: what is told when it is passed, and what stands in the way of allowing more."""

import pytest

import bouncesim
from bouncesim import budget
from bouncesim.budget import Work, check, count, duration, size, together
from bouncesim.errors import OptionError, TooMuchWork


@pytest.fixture(autouse=True)
def usual(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(budget, "memory_bytes", lambda: 64e9)
    yield
    budget.allow_work(1)


def work(**more: float) -> Work:
    return Work("The painting takes 7 walls", "Take fewer walls", **more)


def test_what_is_usual_passes() -> None:
    check(work(seconds=1799, memory=0.7e9, disk=9.9e9))


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"seconds": 7200.0}, "in all about 2 hours. Allowed: 30 minutes, 1 GB of memory and 10 GB on disk. Take fewer walls"),
        ({"memory": 2e9}, "in all about a second and 2.2 GB of memory."),
        ({"disk": 2e11}, "in all about a second and 200 GB on disk."),
    ],
)
def test_each_limit_is_told_with_the_way_round(more: dict[str, float], told: str) -> None:
    with pytest.raises(TooMuchWork) as caught:
        check(work(**more))
    assert str(caught.value).startswith("The painting takes 7 walls: ")
    assert told in str(caught.value)
    times = str(caught.value).rpartition("bouncesim.allow_work(")[2].partition(")")[0]
    assert f"or allow more with --most-work {times} (in Python: " in str(caught.value)
    bouncesim.allow_work(float(times))
    check(work(**more))
    assert isinstance(caught.value, OptionError)


def test_pieces_add_up_in_time_and_on_disk_and_share_their_memory() -> None:
    pieces = [work(seconds=1000, memory=0.5e9, disk=6e9), Work("The drying takes a day", "Wait", 1000, 0.6e9, 6e9)]
    whole = together(*pieces)
    assert (whole.seconds, whole.memory, whole.disk) == (2000, 0.6e9, 12e9)
    with pytest.raises(TooMuchWork, match="33 minutes"):
        check(*pieces)


def test_more_memory_than_the_machine_has_cannot_be_allowed() -> None:
    budget.allow_work(500)
    with pytest.raises(TooMuchWork, match=r"This machine has 64 GB of memory\. Take fewer walls\.$"):
        check(work(memory=65e9))


def test_what_nobody_waits_for_is_not_offered() -> None:
    with pytest.raises(TooMuchWork) as caught:
        check(work(seconds=1e9))
    assert "32 years" in str(caught.value)
    assert "--most-work" not in str(caught.value)


@pytest.mark.parametrize("times", [0.0, -1.0, float("nan")])
def test_no_work_at_all_cannot_be_allowed(times: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        bouncesim.allow_work(times)


def test_words() -> None:
    assert [duration(s) for s in (0.1, 20, 100, 7200, 3e5, 1e9, 1e12)] == [
        *("a second", "20 seconds", "1.7 minutes", "2 hours", "3.5 days", "32 years", "31,688 years"),
    ]
    assert [size(b) for b in (2.5e8, 1e10, 1.4e12)] == ["0.25 GB", "10 GB", "1,400 GB"]
    assert [count(n) for n in (376, 5_747_158, 2e9)] == ["376", "5,747,158", "2e9"]
