"""A report in Markdown, read by a parser of CommonMark: nothing that a stranger writes becomes more than text."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token

from bouncesim.show.report.markdown import markdown_of
from bouncesim.show.report.visible import fenced, markdown, one_line, visible
from tests.show.report.samples import HOSTILE, report


def read(text: str) -> list[Token]:
    parser = MarkdownIt("commonmark").enable(["table", "strikethrough"])
    return list(_flat(parser.parse(text)))


def _flat(tokens: list[Token]) -> Iterator[Token]:
    for token in tokens:
        yield token
        yield from _flat(token.children or [])


@pytest.mark.parametrize("words", HOSTILE)
def test_what_a_stranger_writes_is_shown_and_does_nothing(words: str) -> None:
    def shape(text: str) -> list[tuple[str, object]]:
        return [
            (token.type, token.attrGet("src") or token.attrGet("href"))
            for token in read(text)
            if token.type not in ("text", "text_special")
        ]

    hostile, plain = markdown_of(report(words), "x.report"), markdown_of(report(), "x.report")
    assert shape(hostile) == shape(plain)
    assert all(src in (None, "x.report/flow.png", "x.report/b.png") for _, src in shape(hostile))
    told = "".join(token.content for token in read(hostile) if token.type in ("text", "text_special"))
    assert told.count(one_line(words)) >= 15


@pytest.mark.parametrize("words", HOSTILE)
def test_escaped_words_read_as_they_were_written(words: str) -> None:
    (inline,) = [token for token in MarkdownIt("commonmark").parse(markdown(words)) if token.type == "inline"]
    assert "".join(child.content for child in inline.children or []) == one_line(words)


@pytest.mark.parametrize("text", ["a\n```\nb\n````\nc", "`" * 9, "plain", "~~~\n"])
def test_nothing_closes_the_fence_of_a_code_block(text: str) -> None:
    (token,) = MarkdownIt("commonmark").parse(fenced(text, "toml"))
    assert (token.type, token.info, token.content.rstrip("\n")) == ("fence", "toml", text.rstrip("\n"))


def test_marks_that_cannot_be_seen_are_shown_by_their_number() -> None:
    assert visible("a\u202eb\x1bc\td\n") == "a[U+202E]b[U+001B]c\td\n"
    assert visible("Grüße, 40 Ω, שלום") == "Grüße, 40 Ω, שלום"


def test_the_last_line_tells_when_it_was_made_and_no_other() -> None:
    *others, last, _ = markdown_of(report(), "x").split("\n")
    assert "2026" in last
    assert not any("2026" in line for line in others)
