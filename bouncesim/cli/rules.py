"""bouncesim rules: published rules of thumb against the exact answer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.text import tell

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table

    from bouncesim.account.rulemap import MapAxis, Point, RuleMap
    from bouncesim.cli.terminal import Terminal
    from bouncesim.exact.formulas.rules import Rule

HOME = Path("outputs") / "rules"


@click.command("rules")
@click.argument("rules", nargs=-1, metavar="[RULE]...")
@click.option("--spots", is_flag=True, help="March a few places of each rule's range in time, to confirm the exact answer there.")
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), default=HOME, show_default=True, metavar="FOLDER", help="For the pictures."
)
@click.option("--format", "file_format", type=click.Choice(["png", "svg"]), default="png", show_default=True, help="Of the pictures.")
@click.option("--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True, help="Of the pictures.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(rules: tuple[str, ...], spots: bool, output: Path, file_format: str, theme: str, as_json: bool) -> bool:
    """Hold published rules of thumb against the exact answer.

    RULE is a name from the list that comes without any. Each rule is laid over its range, and the exact engine solves every place of it:
    where the rule holds within 1 %, where it does not, and how wrong it gets, as a table and a picture. With a RULE: what it says, its
    source and what it takes for granted. Fails (exit code 1) when a place that --spots marched does not confirm the exact answer.

    Example: bouncesim rules added-loss --spots
    """
    from bouncesim.account import made
    from bouncesim.account.whole import try_folder, write_files
    from bouncesim.exact.formulas.rules import RULES

    names = [rule.name for rule in RULES]
    for name in rules:
        if name not in names:
            raise click.UsageError(_unknown(name, names))
    chosen = [rule for rule in RULES if not rules or rule.name in rules]
    try_folder(output)
    mapped = _map(chosen, spots)
    from bouncesim.show.charts.rules import rule_chart

    sheets = {f"{one.name}.{file_format}": rule_chart(one, theme=theme) for one in mapped}
    for sheet in sheets.values():
        sheet.made = made.words()
    write_files(output, {name: getattr(sheet, file_format) for name, sheet in sheets.items()})
    if as_json:
        from bouncesim.cli.json_output import print_json

        print_json({"rules": [_plain(one) for one in mapped], "pictures": [str(output / name) for name in sheets]})
    else:
        from bouncesim.cli.terminal import stdout

        _print(stdout(), mapped, in_detail=bool(rules))
    tell(f"{len(sheets)} picture{'s' * (len(sheets) > 1)} in {output}")
    return all(spot.holds for one in mapped for spot in one.spots)


def _unknown(name: str, names: list[str]) -> str:
    import difflib

    from bouncesim.quantity import quote

    near = difflib.get_close_matches(name[:40].lower(), names, n=3, cutoff=0.5)
    return f"{quote(name)} is not a rule. {'Nearest' if near else 'There are'}: {', '.join(near or names)}"


def _map(rules: Sequence[Rule], with_spots: bool) -> list[RuleMap]:
    from dataclasses import replace

    from bouncesim.cli.terminal import progress
    from bouncesim.compare.rules import map_rule
    from bouncesim.compare.spots import spots

    mapped = []
    with progress("holding rules against the exact answer") as tick:
        for count, rule in enumerate(rules, 1):
            one = map_rule(rule)
            mapped.append(replace(one, spots=spots(rule)) if with_spots else one)
            tick(count, len(rules))
    return mapped


def _print(console: Terminal, mapped: list[RuleMap], in_detail: bool) -> None:
    if not in_detail:
        console.print(overview(mapped))
        console.print("How far each is off, over the whole of its range. What a rule says, its source, what it takes for granted,")
        console.print("its range, and where in it the rule holds: bouncesim rules RULE.")
    for one in mapped:
        if in_detail:
            _print_one(console, one)
        if one.spots:
            console.print(spot_table(one))


def overview(mapped: Sequence[RuleMap]) -> Table:
    """A row a rule."""
    from bouncesim.account.rulemap import ROUNDING
    from bouncesim.cli.terminal import table

    made = table("Rules of thumb against the exact answer", "rule", "holds within 1 %", "off, median", "most too much", "most too little")
    for one in mapped:
        if one.everywhere:
            made.add_row(one.name, "everywhere", "rounding", "", "")
            continue
        most, least = (off_words(off) if off * sign > ROUNDING else "never" for off, sign in ((one.most.off, 1), (one.least.off, -1)))
        made.add_row(one.name, f"{100 * one.share:.0f} % of its range", off_words(one.typical, False), most, least)
    return made


def off_words(off: float, signed: bool = True) -> str:
    """How far off: "+3.4 %", "-67 %"; from twice the truth on "4.4 times"; "rounding" below a billionth."""
    from bouncesim.account.rulemap import ROUNDING

    if abs(off) <= ROUNDING:
        return "rounding"
    if signed and off >= 1:
        return f"{1 + off:.3g} times" if 1 + off < 1000 else "over 1000 times"
    sign = "+" if signed else ""
    return f"{100 * off:{sign}.0f} %" if abs(off) >= 0.1 else f"{100 * off:{sign}.2g} %"


def _print_one(console: Terminal, one: RuleMap) -> None:
    console.print(one.says, style="bold")
    console.print(f"The rule: {one.formula}. It gives: {one.quantity}.")
    console.print(f"Source: {one.source}.")
    console.print(f"It takes for granted: {'; '.join(one.assumes)}.")
    console.print(f"Held against it: {one.held}.\n")
    console.print(where_table(one))
    console.print(_verdict(one))


def where_table(one: RuleMap) -> Table:
    """Where the rule holds: a row for some values of y."""
    from bouncesim.cli.terminal import table
    from bouncesim.compare.rules import rows

    made = table(f"{one.name}: where it holds within 1 %", one.y.label, one.x.label, "off")
    for row in rows(one):
        held = ", ".join(place(one.x, a) if a == b else f"{place(one.x, a)} to {place(one.x, b)}" for a, b in row.holds)
        where = "everywhere" if row.everywhere else held or "nowhere"
        low, high = off_words(row.least_off), off_words(row.most_off)
        made.add_row(place(one.y, row.y), where, low if low == high else f"{low} to {high}")
    return made


def place(axis: MapAxis, value: float) -> str:
    """A value on an axis: "3.2", "50 ohm"."""
    from bouncesim.quantity import show

    return show(value, axis.unit, 3) if axis.unit else f"{value:.3g}"


def _verdict(one: RuleMap) -> str:
    """In sentences: the share of the range, and the furthest off either way with its place and both values."""
    if one.everywhere:
        return "Right everywhere in its range, to rounding.\n"
    share = f"{100 * one.share:.0f} %" if one.share else "none"
    told = [f"Holds within 1 % in {share} of its range; half of the range is off by {off_words(one.typical, False)} or more."]
    for point, beyond in ((one.most, one.most.off > 0), (one.least, one.least.off < 0)):
        if beyond and off_words(point.off) != "rounding":
            told.append(f"Furthest {'above' if point.off > 0 else 'below'}: {off_words(point.off)}, {_at(one, point)}.")
    return "\n".join(told) + "\n"


def _at(one: RuleMap, point: Point) -> str:
    unit = f" {one.unit}" if one.unit else ""
    values = (f"{abs(value) if not point.real else value.real:.3g}{unit}" for value in (point.by_rule, point.exact))
    return f"at {one.x.label} {place(one.x, point.x)}, {one.y.label} {place(one.y, point.y)}: {' by the rule, '.join(values)} in truth"


def spot_table(one: RuleMap) -> Table:
    """Places marched in time; all of a rule have the same reading."""
    from bouncesim.cli.terminal import table

    title = f"{one.name}, marched in time: {one.spots[0].reading}"
    made = table(title, one.x.label, one.y.label, "simulated", "exact", "")
    for spot in one.spots:
        cells = (place(one.y, spot.y), f"{spot.simulated:.7g}", f"{spot.exact:.7g}", "agrees" if spot.holds else "DIFFERS")
        made.add_row(place(one.x, spot.x), *cells)
    return made


def _plain(one: RuleMap) -> dict[str, Any]:
    """Everything about one rule, for --json; `off` as (rule - exact)/exact, a row a value of y."""
    from bouncesim.account.plain import to_plain
    from bouncesim.compare.rules import rows

    axes = {name: {"label": axis.label, "unit": axis.unit, "values": axis.values.tolist()} for name, axis in (("x", one.x), ("y", one.y))}
    texts = {name: getattr(one, name) for name in ("name", "says", "formula", "quantity", "unit", "source", "held")}
    return {
        **texts,
        "assumes": list(one.assumes),
        **axes,
        "holds_share_of_range": one.share,
        "right_to_rounding": one.everywhere,
        "off_median": one.typical,
        "most_too_much": to_plain(one.most),
        "most_too_little": to_plain(one.least),
        "rows": to_plain(rows(one)),
        "off": one.off.tolist(),
        "spots": [{**vars(spot), "holds": spot.holds} for spot in one.spots],
    }
