"""A report in Markdown (CommonMark with tables). Pictures are files in a folder beside it."""

from __future__ import annotations

from collections.abc import Iterator

from bouncesim.show.report.content import Block, Code, Items, Pictures, Report, Section, Station, Table, Words
from bouncesim.show.report.visible import fenced, markdown


def markdown_of(report: Report, folder: str) -> str:
    """The whole report; `folder`: where its pictures are, as seen from the file."""
    lines = [f"# {markdown(report.title)}", "", markdown(report.subtitle), ""]
    for paragraph in report.about:
        lines += [markdown(paragraph), ""]
    lines += [f"- {markdown(figure.label)}: **{markdown(figure.value)}**" for figure in report.figures]
    for section in report.sections:
        lines += ["", *_section(section, folder)]
    return "\n".join([*lines, "", markdown(report.made_at), ""])


def _section(section: Section, folder: str) -> Iterator[str]:
    yield f"## {markdown(section.title)}"
    for block in section.blocks:
        yield ""
        yield from _block(block, folder)


def _block(block: Block, folder: str) -> Iterator[str]:
    if isinstance(block, Words):
        yield markdown(block.text)
    elif isinstance(block, Items):
        yield from (f"- {markdown(item)}" for item in block.items)
    elif isinstance(block, Code):
        yield fenced(block.text, block.language)
    elif isinstance(block, Table):
        yield from _table(block)
    elif isinstance(block, Pictures):
        for picture in block.pictures:
            yield from (f"![{markdown(picture.title)}]({folder}/{picture.name}.png)", "", markdown(picture.caption), "")
    elif isinstance(block, Station):
        for count, part in enumerate(block.parts, 1):
            yield f"{count}. {markdown(part.name)}: {markdown('; '.join(part.figures))}"


def _table(table: Table) -> Iterator[str]:
    """A cell of several lines becomes one."""
    if table.title:
        yield from (f"**{markdown(table.title)}**", "")
    heads = [*table.heads]
    yield f"| {' | '.join(markdown(head) or ' ' for head in heads)} |"
    yield f"|{'|'.join('---:' if right else '---' for right in table.right)}|"
    for row in table.rows:
        first, *others = row.cells
        cells = ["&nbsp;" * 3 * row.level + markdown(first), *(markdown(cell) for cell in others)]
        yield f"| {' | '.join(cell or ' ' for cell in cells)} |"
    if table.note:
        yield from ("", markdown(table.note))
