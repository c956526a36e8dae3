"""Type that fits."""

from __future__ import annotations

from bouncesim.show.text import fit, shorten, width, wrap


def test_one_line_is_as_large_as_it_may_be() -> None:
    assert fit("A short caption", 1000, (38, 34), (30, 26)) == (["A short caption"], 38)
    assert fit("Two lines\nthat fit on one", 1000, (38, 34), (30, 26)) == (["Two lines that fit on one"], 38)


def test_two_lines_keep_the_author_s_break_or_are_even() -> None:
    first, second = "A first sentence that is rather long.", "A second one that is just as long as it."
    lines, size = fit(f"{first}\n{second}", 700, (38, 34), (30, 26))
    assert (lines, size) == ([first, second], 30)
    lines, _ = fit(f"{first} {second}", 700, (38, 34), (30, 26))
    assert len(lines) == 2
    assert abs(width(lines[0], 30) - width(lines[1], 30)) < 200


def test_what_cannot_fit_is_shortened() -> None:
    lines, size = fit("word " * 200, 500, (38,), (30, 24))
    assert size == 24
    assert len(lines) == 2
    assert lines[1].endswith("…")
    assert all(width(line, 24) <= 500 for line in lines)
    assert shorten("unbreakableunbreakable", 100, 24).endswith("…")
    assert wrap("a b", 1000, 24) == ["a b"]
