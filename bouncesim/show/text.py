"""Type: the bundled DejaVu Sans whatever the user's settings, measured, fitted and wrapped."""

from __future__ import annotations

import bisect
import unicodedata
from contextlib import AbstractContextManager
from functools import lru_cache
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

ELLIPSIS = "…"
UNFITTED: dict[Any, Any] = {"text.hinting": "no_hinting"}


def own_style() -> AbstractContextManager[None]:
    """matplotlib as it comes, whatever the user's settings: to be held while a stage is built and drawn.

    Letters are not fitted to whole pixels, so that a line is as long as it was measured, at every size.
    """
    return matplotlib.rc_context({**matplotlib.rcParamsDefault, **UNFITTED})


@lru_cache(maxsize=64)
def font(size: float, bold: bool = False) -> FontProperties:
    """DejaVu Sans from matplotlib's own data, so that a film looks the same on every machine; size in px of a 1920 px frame."""
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return FontProperties(fname=str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name), size=size)


def drawn(text: str) -> str:
    """The text with a question mark for every mark that cannot be seen, but for spaces of any width: in an SVG it stands as a comment
    beside its outlines, and XML holds no control characters."""
    return "".join(mark if mark.isprintable() or unicodedata.category(mark) == "Zs" else "?" for mark in text)


@lru_cache(maxsize=4096)
def width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text in px."""
    measured: Any = text_to_path.get_text_width_height_descent(text, font(size, bold), ismath=False)
    return float(measured[0])


def shorten(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text itself, or its beginning and an ellipsis, so that it fits `room` px."""
    if width(text, size, bold) <= room:
        return text
    kept = bisect.bisect_left(range(len(text)), True, key=lambda n: width(text[: n + 1].rstrip() + ELLIPSIS, size, bold) > room)
    return text[:kept].rstrip() + ELLIPSIS


def wrap(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """Lines of at most `room` px, broken at spaces and as even in length as their number allows."""
    greedy = _greedy(text, room, size, bold)
    if len(greedy) == 2:
        total = width(text, size, bold)
        for share in (0.5, 0.54, 0.58, 0.62, 0.68, 0.75, 0.85):
            even = _greedy(text, min(room, total * share), size, bold)
            if len(even) == 2 and all(width(line, size, bold) <= room for line in even):
                return even
    return greedy


def _greedy(text: str, room: float, size: float, bold: bool) -> list[str]:
    lines: list[str] = []
    for word in text.strip().replace("\n", " ").split(" "):  # at ordinary spaces alone: a number may be tied to its unit
        if word and lines and width(f"{lines[-1]} {word}", size, bold) <= room:
            lines[-1] += f" {word}"
        elif word:
            lines.append(word)
    return lines


def fit(text: str, room: float, sizes: tuple[float, ...], two_lines: tuple[float, ...] = (), bold: bool = False) -> tuple[list[str], float]:
    """The text in the largest of `sizes` that holds it on one line, else the largest of `two_lines` on two, else shortened."""
    own_lines = [" ".join(line.split()) for line in text.strip().splitlines()]
    text = " ".join(text.split())
    for size in sizes:
        if width(text, size, bold) <= room:
            return [text], size
    if len(own_lines) == 2:  # the author's own break, if it fits
        for size in two_lines:
            if all(width(line, size, bold) <= room for line in own_lines):
                return own_lines, size
    for size in two_lines:
        lines = wrap(text, room, size, bold)
        if len(lines) <= 2 and all(width(line, size, bold) <= room for line in lines):
            return lines, size
    if not two_lines:
        return [shorten(text, room, sizes[-1], bold)], sizes[-1]
    size = two_lines[-1]
    lines = _greedy(text, room, size, bold)
    rest = " ".join(lines[1:])
    return [shorten(lines[0], room, size, bold), shorten(rest, room, size, bold)] if rest else [shorten(lines[0], room, size, bold)], size


Plan = tuple[tuple[int, float], ...]  # (lines, px of type), from what is liked best to what may still be


def set_in(text: str, room: float, plan: Plan, bold: bool = False) -> tuple[list[str], float] | None:
    """The text in the first setting of a plan that holds it, with the author's own line breaks where they fit; None if none does."""
    own = [" ".join(line.split(" ")).strip() for line in text.strip().splitlines()]
    whole = " ".join(word for line in own for word in line.split(" ") if word)
    for most, size in plan:
        if most == 1:
            if width(whole, size, bold) <= room:
                return [whole], size
            continue
        if 1 < len(own) <= most and all(width(line, size, bold) <= room for line in own):
            return own, size
        lines = wrap(whole, room, size, bold)
        if len(lines) <= most and all(width(line, size, bold) <= room for line in lines):
            return lines, size
    return None
