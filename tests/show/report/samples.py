"""A report of every kind of block, with strings as a stranger may write them."""

from __future__ import annotations

import io

import imageio.v3 as imageio
import numpy as np

from bouncesim.show.report.content import (
    Code,
    Drawn,
    Figure,
    Items,
    Picture,
    Pictures,
    Report,
    Row,
    Section,
    Station,
    Table,
    Words,
)

HOSTILE = (
    "</script><script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "![](http://203.0.113.7/x.png) [here](javascript:alert(1)) <http://203.0.113.7>",
    "www.example.net and http://example.net/?a=b&c",
    "{{ 7 * 7 }} {% raw %} ${x}",
    "a | b || c *d* _e_ `f` ``` ~~g~~ # h",
    "- not a list",
    "1. not a list either",
    "=====",
    "</style><style>*{display:none}</style>",
    "&lt;b&gt; &amp; <b>bold</b>",
    "\u202egnp.exe\u202c \u2066x\u2069 \x1b[2J\x07 \ufeff",
    "שלום and then 40 W",
    "averyveryveryverylongwordthatnobodywouldwriteandthatstillhastobebroken" * 2,
)


def picture(
    name: str = "flow", themes: tuple[str, ...] = ("light", "dark"), title: str = "A title.", caption: str = "What it shows."
) -> Picture:
    file = io.BytesIO()
    imageio.imwrite(file, np.full((8, 8, 3), 128, np.uint8), extension=".png")
    svg = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8"><rect width="8" height="8" fill="gray"/></svg>'
    return Picture(name, title, caption, (8, 8), dict.fromkeys(themes, ("image/svg+xml", svg)), file.getvalue())


def report(words: str = "Plain words", themes: tuple[str, ...] = ("light", "dark")) -> Report:
    """The same words in every place that there is."""
    rows = (Row((words, "1.5 W", f"holds {words}"), ends=True), Row((words, words, "FAILS"), level=1))
    blocks = (
        Words(words),
        Items((words, words), is_warning=True),
        Items((words,)),
        Table(words, (words, words, words), rows, (False, True, False), words),
        Code(f"{words}\n```\n{words}\n", "toml"),
        Pictures((picture(title=words, caption=words, themes=themes), picture("b", themes=themes))),
        Station((Drawn("transmitter", words, (words,)), Drawn("line", words, (words, words), 1.0), Drawn("antenna", words, ()))),
    )
    sections = (Section("first", words, blocks), Section("second", "Second", (Words("More"),)))
    return Report(words, words, (words, words), (Figure(words, words),), sections, "Made 2026-01-02 03:04 UTC")
