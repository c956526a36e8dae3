"""A report as one HTML page: no script, nothing from outside, pictures inside it; colours are those of the films."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from bouncesim.show.report.content import Picture, Report
from bouncesim.show.report.visible import visible
from bouncesim.show.theme import PALETTES, Palette

THEMES = {
    "auto": ("light", "dark"),
    "light": ("light",),
    "dark": ("dark",),
}  # how a page may look -> themes of its pictures, first the usual
VERDICTS = re.compile(r"(holds|fails)\b", re.IGNORECASE)
# Colours of verdicts and warnings have at least 4.95:1 on both grounds of their theme (tests/show/report).
GOOD = {"light": "#14431F", "dark": "#8DF08F"}
BAD = {"light": "#9C1C1C", "dark": "#FF9C92"}


def page_of(report: Report, theme: str = "auto") -> str:
    """The page. `theme`: "auto" follows the reader's settings; "light" or "dark". The same report gives the same page."""
    here = files("bouncesim.show.report")
    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_seen)
    template = made.from_string((here / "page.html.j2").read_text("utf-8"))
    style = (here / "page.css").read_text("utf-8")
    page = template.render(
        report=report,
        style=Markup(_colours(theme) + style),  # ours, nothing of it from a scenario
        scheme={"auto": "light dark"}.get(theme, theme),
        data=data_of,
        verdict=verdict_of,
        themes=THEMES[theme],
    )
    return page


def _seen(value: object) -> object:
    """Every string that goes into the page, but for our own markup."""
    return visible(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def data_of(picture: Picture, theme: str) -> str:
    """A picture as the address of itself."""
    kind, content = picture.images[theme]
    return f"data:{kind};base64,{base64.b64encode(content).decode('ascii')}"


def verdict_of(cell: str) -> str:
    """Which class a cell has: "good", "bad", or none."""
    found = VERDICTS.match(cell)
    return "" if found is None else "good" if found.group(1).lower() == "holds" else "bad"


def _colours(theme: str) -> str:
    """The palettes as variables; print is on white."""
    first = THEMES[theme][0]
    told = f":root {{ {_variables(PALETTES[first])} }}\n"
    if theme == "auto":
        told += f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {_variables(PALETTES['dark'])} }} }}\n"
    return told + f"@media print {{ :root {{ {_variables(replace(PALETTES['light'], background='#FFFFFF'))} }} }}\n"


def _variables(palette: Palette) -> str:
    names = ("background", "panel", "text", "secondary", "forward", "reflected", "axis", "grid", "conductor")
    own = {name: getattr(palette, name) for name in names} | {"good": GOOD[palette.name], "bad": BAD[palette.name]}
    return " ".join(f"--{name}: {value};" for name, value in own.items())
