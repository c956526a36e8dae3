"""bouncesim lines: the catalogue of line types, compared at a frequency and a length."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from bouncesim.cli.terminal import Terminal
    from bouncesim.scenario.catalogue import LineType


@click.command("lines")
@click.argument("types", nargs=-1, metavar="[TYPE]...")
@click.option("--at", "frequency", default="14.2 MHz", show_default=True, metavar="FREQUENCY", help="Where to compare.")
@click.option("--length", default="30 m", show_default=True, metavar="LENGTH", help="How much of it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(types: tuple[str, ...], frequency: str, length: str, as_json: bool) -> None:
    """Compare types of line, or show where the figures of one come from.

    TYPE is a name from the list that comes without any; a line in a scenario takes it as type = "rg58c". Losses are those of a matched
    line. With one TYPE: every published figure, its source, and by how much it differs from what is used here.
    """
    from bouncesim.scenario.catalogue import catalogue

    for name in types:
        if name not in catalogue():
            raise click.UsageError(unknown_type(name, list(catalogue())))
    hertz, metres = _quantity("--at", "frequency", frequency), _quantity("--length", "length", length)
    kinds = [catalogue()[name] for name in dict.fromkeys(types)] or list(catalogue().values())
    if as_json:
        from bouncesim.cli.json_output import print_json

        plain = [plain_type(kind, hertz, metres) for kind in kinds]
        print_json({"frequency_hz": hertz, "length_m": metres, "types": plain})
        return
    from bouncesim.cli.terminal import stdout

    console = stdout()
    print_comparison(console, kinds, hertz, metres)
    if len(kinds) == 1:
        print_sources(console, kinds[0], hertz)


def _quantity(option: str, kind: str, text: str) -> float:
    from bouncesim.quantity import QuantityError
    from bouncesim.scenario.measured import Measured

    ranges = {"frequency": Measured("frequency", least=1.0, most=1e11), "length": Measured("length", above=0, most=1e6)}
    try:
        return float(ranges[kind].read(text))
    except QuantityError as error:
        raise click.BadParameter(str(error), param_hint=option) from error


def unknown_type(name: str, names: list[str]) -> str:
    import difflib

    from bouncesim.quantity import quote

    near = difflib.get_close_matches(name[:40].lower(), names, n=3, cutoff=0.5)
    return f"{quote(name)} is not a type of line. {'Nearest' if near else 'There are'}: {', '.join(near or names)}"


def losses_db(kind: LineType, frequency_hz: float, length_m: float) -> tuple[float, float, float]:
    """Matched loss, and the least and most of it that an unknown sample may have, dB."""
    loss = kind.loss_db_per_m(frequency_hz) * length_m
    doubt = loss * kind.uncertainty_percent / 100
    return loss, loss - doubt, loss + doubt


def arrives_percent(loss_db: float) -> float:
    """Power at the far end of a matched line, in per cent of what goes in."""
    return 100 * float(10 ** (-loss_db / 10))


def is_inside(kind: LineType, frequency_hz: float) -> bool:
    """True where the loss of this type is known."""
    return kind.valid_from_hz <= frequency_hz <= kind.valid_to_hz


def plain_type(kind: LineType, frequency_hz: float, length_m: float) -> dict[str, Any]:
    """Everything about a type, for --json."""
    from dataclasses import asdict

    loss, least, most = losses_db(kind, frequency_hz, length_m)
    return {
        **asdict(kind),
        "figures": [{**asdict(figure), "law_is_above_percent": kind.departure_percent(figure)} for figure in kind.figures],
        "sources_differ_percent": kind.sources_differ_percent,
        "loss_is_known_here": is_inside(kind, frequency_hz),
        "matched_loss_db": loss,
        "matched_loss_least_db": least,
        "matched_loss_most_db": most,
        "arrives_percent": arrives_percent(loss),
        "notes": list(kind.notes_at(frequency_hz)),
    }


def print_comparison(console: Terminal, kinds: Sequence[LineType], frequency_hz: float, length_m: float) -> None:
    """A row a type, and a line for every mark in it."""
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    title = f"{show(length_m, 'm', 4)} of line at {show(frequency_hz, 'Hz', 5)}, matched"
    made = table(title, "type", "ohm", "v/c", "loss (dB)", "arrives (%)", "V rms", "differ")
    for column in made.columns:
        column.no_wrap = True
    for kind in kinds:
        loss, least, most = losses_db(kind, frequency_hz, length_m)
        made.add_row(
            kind.name,
            f"{kind.impedance_ohm:g} ± {kind.impedance_tolerance_ohm:g}",
            f"{kind.velocity_factor:.2f}",
            _with_doubt(loss, (most - least) / 2) + ("" if is_inside(kind, frequency_hz) else " ?"),
            f"{arrives_percent(loss):.0f} ({arrives_percent(most):.0f}–{arrives_percent(least):.0f})",
            "unknown" if kind.working_voltage_v_rms is None else f"{kind.working_voltage_v_rms:.0f}",
            _differ(kind),
        )
    console.print(made)
    console.print("±: what an unknown sample may differ by, at 1.8 to 30 MHz. V rms: the working voltage.")
    console.print("differ: the largest difference between a published figure and what is used here.")
    if any(not is_inside(kind, frequency_hz) for kind in kinds):
        console.print("?: outside the range in which the loss of this type is known; a guess.")
    if any(kind.all_from_memory for kind in kinds):
        console.print("*: every figure from memory.")
    if len(kinds) > 1:
        console.print("Figures and sources of one type: bouncesim lines TYPE.")


def _with_doubt(loss: float, doubt: float) -> str:
    """Both with the same decimals, so many that the doubt shows."""
    decimals = min(9, max(2, -math.floor(math.log10(doubt))))
    return f"{loss:.{decimals}f} ± {doubt:.{decimals}f}"


def _differ(kind: LineType) -> str:
    if kind.sources_differ_percent is None:
        return "computed"
    return f"{kind.sources_differ_percent:.0f} %" + (" *" if kind.all_from_memory else "")


def print_sources(console: Terminal, kind: LineType, frequency_hz: float) -> None:
    """Description, published figures with their sources, and notes of one type."""
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    console.print(f"\n{kind.description}.")
    laws = ((kind.constant_db_per_100m, ""), (kind.conductor_db_per_100m, " √f"), (kind.dielectric_db_per_100m, " f"))
    terms = " + ".join(f"{size:.4g}{term}" for size, term in laws if size > 0)
    valid = f"{show(kind.valid_from_hz, 'Hz')} to {show(kind.valid_to_hz, 'Hz')}"
    console.print(f"Loss used here: {terms} dB/100 m at f MHz, known from {valid}.\n")
    if kind.figures:
        made = table("Published loss (dB/100 m)", "at", "published", "used here", "differs by", "", "source")
        made.columns[-2].justify = "left"
        sources = list(dict.fromkeys((figure.source, figure.seen) for figure in kind.figures))
        for figure in kind.figures:
            used = kind.loss_db_per_m(figure.frequency_hz) * 100
            label = figure.kind + (", fitted" if figure.fitted else "")
            cells = (f"{figure.loss_db_per_m * 100:.4g}", f"{used:.4g}", f"{kind.departure_percent(figure):+.0f} %", label)
            made.add_row(show(figure.frequency_hz, "Hz", 5), *cells, str(sources.index((figure.source, figure.seen)) + 1))
        console.print(made)
        for count, (source, seen) in enumerate(sources, 1):
            console.print(f"Source {count}: {source} ({seen}).", soft_wrap=True)
    else:
        console.print("There is no published figure for this line: its loss is computed.")
    console.print()
    for note in kind.notes_at(frequency_hz):
        console.print(f"{note}.")
