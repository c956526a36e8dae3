"""The page of a report: nothing that a stranger writes becomes more than text, and nothing comes from outside."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from bouncesim.show.report import page
from bouncesim.show.report.page import page_of
from bouncesim.show.report.visible import visible
from bouncesim.show.theme import PALETTES
from tests.show.report.samples import HOSTILE, report
from tests.show.test_theme import contrast

TEXT_CONTRAST = 4.95  # as of all words of the films
EMPTY = {"meta", "link", "source", "img"}
ALLOWED = {
    *(
        "html",
        "head",
        "title",
        "style",
        "body",
        "header",
        "nav",
        "main",
        "section",
        "footer",
        "h1",
        "h2",
        "p",
        "ul",
        "ol",
        "li",
        "dl",
        "dt",
    ),
    *(
        "dd",
        "div",
        "span",
        "a",
        "strong",
        "figure",
        "figcaption",
        "picture",
        "pre",
        "code",
        "table",
        "caption",
        "thead",
        "tbody",
        "tr",
        "th",
    ),
    *("td", "svg", "circle", "path", "rect", *EMPTY),
}


class Reader(HTMLParser):
    """Tags, attributes and text; fails where tags do not match."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(text)
        self.close()
        assert self.tags == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in ALLOWED, tag
        self.found.append((tag, dict(attrs)))
        if tag not in EMPTY and not self.get_starttag_text().endswith("/>"):
            self.tags.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in ALLOWED, tag
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.tags.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1] != "style":
            self.text.append(data)


@pytest.mark.parametrize("words", HOSTILE)
def test_what_a_stranger_writes_is_shown_and_does_nothing(words: str) -> None:
    read, plain = Reader(page_of(report(words))), Reader(page_of(report()))
    assert [tag for tag, _ in read.found] == [tag for tag, _ in plain.found], "no tag more or less than with plain words"
    assert [set(attributes) for _, attributes in read.found] == [set(attributes) for _, attributes in plain.found]
    text = "".join(read.text)
    assert text.count(visible(words)) >= 20
    assert "[U+202E]" in text or "\u202e" not in words
    assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069\ufeff]", page_of(report(words)))


def test_nothing_comes_from_outside_and_nothing_runs() -> None:
    for tag, attributes in Reader(page_of(report())).found:
        assert not any(name.startswith("on") for name in attributes), tag
        for name in ("src", "srcset", "href"):
            assert re.match(r"(data:|#)", attributes.get(name) or "#"), (tag, attributes[name][:60])
    assert "url(" not in page_of(report())
    assert "@import" not in page_of(report())
    assert "default-src 'none'" in page_of(report())


def test_pictures_are_inside_and_have_words() -> None:
    found = Reader(page_of(report())).found
    pictures = [attributes for tag, attributes in found if tag == "img"]
    assert len(pictures) == 2
    assert all(one["alt"] and one["src"].startswith("data:image/svg+xml;base64,") for one in pictures)
    assert sum(tag == "source" for tag, _ in found) == 2, "the dark ones"


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_a_page_of_one_theme_does_not_follow_the_reader(theme: str) -> None:
    made = page_of(report(themes=(theme,)), theme)
    assert "prefers-color-scheme" not in made
    assert f"--background: {PALETTES[theme].background}" in made
    assert "<source" not in made


def test_the_same_report_gives_the_same_page() -> None:
    assert page_of(report()) == page_of(report())


@pytest.mark.parametrize("name", ["light", "dark"])
def test_verdicts_and_links_can_be_read_on_both_grounds(name: str) -> None:
    palette = PALETTES[name]
    for colour in (page.GOOD[name], page.BAD[name], palette.text, palette.secondary, palette.forward):
        for ground in (palette.background, palette.panel):
            assert contrast(colour, ground) >= TEXT_CONTRAST, (colour, ground)


def test_a_verdict_is_told_by_words_and_a_mark_not_by_colour_alone() -> None:
    made = page_of(report())
    assert re.search(r'class="good"><span><span aria-hidden="true">✓ </span>holds', made)
    assert re.search(r'class="bad"><span><span aria-hidden="true">✗ </span>FAILS', made)
