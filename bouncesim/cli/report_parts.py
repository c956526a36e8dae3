"""The sections of a report: what the other commands print, put together for a page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rich.table import Table as Printed

from bouncesim.account.exposure import limits
from bouncesim.account.verdict import Verdict
from bouncesim.cli import tables
from bouncesim.cli.cautions import CONTEXT, cautions, line_notes
from bouncesim.cli.check import start_verdict
from bouncesim.cli.extras import Extras
from bouncesim.cli.sources import source_rows
from bouncesim.cli.station import Station
from bouncesim.cli.text import number, says_something, split_quantity, within
from bouncesim.quantity import show
from bouncesim.show.report.content import Block, Code, Figure, Items, Pictures, Row, Section, Table, Words
from bouncesim.show.report.since import Since
from bouncesim.show.report.station import station_of

FIGURE_LIKE = 26  # characters: a column of nothing longer is set to the right, as figures are
MOST_MOVED = 40  # numbers of a correction note, told one by one


def from_printed(printed: Printed) -> Table:
    """A table of the terminal. Its first cells are set in by pairs of spaces."""
    columns = [[str(cell) for cell in column.cells] for column in printed.columns]
    rows = []
    for k, line in enumerate(printed.rows):
        first, *others = (column[k] for column in columns)
        rows.append(Row((first.strip(), *others), level=(len(first) - len(first.lstrip())) // 2, ends=line.end_section))
    right = [k > 0 and all(len(line) <= FIGURE_LIKE for cell in column for line in cell.split("\n")) for k, column in enumerate(columns)]
    heads = tuple(str(column.header) for column in printed.columns)
    return Table(str(printed.title or ""), heads, tuple(rows), tuple(right), str(printed.caption or ""))


def blocks(parts: Iterable[Printed | str]) -> tuple[Block, ...]:
    """Tables and sentences of the terminal; a paragraph for each line of a text."""
    found: list[Block] = []
    for part in parts:
        if isinstance(part, Printed):
            found.append(from_printed(part))
        else:
            found += [Words(line) for line in part.splitlines() if line.strip()]
    return tuple(found)


def top_figures(station: Station, verdict: Verdict) -> tuple[Figure, ...]:
    """What one wants to know first."""
    run = station.run
    source, load = run.scenario.source_name, run.scenario.load_name
    held = sum(row.holds for row in verdict.rows)
    claims = [claim.outcome for claim in station.claims]
    found = [
        Figure(f"left the {source}", show(run.readings.transmitter.power_w, "W")),
        Figure(f"into the {load}", show(run.readings.antenna.power_w, "W")),
        Figure(f"SWR at the {load}", number(run.readings.antenna.swr, 3)),
        Figure("readings that hold against the closed form", f"{held} of {len(verdict.rows)}"),
    ]
    if claims:
        found.append(Figure("claims that hold", f"{claims.count('holds')} of {len(claims)}"))
    return tuple(found)


def sections(
    station: Station, verdict: Verdict, extras: Extras, stills: Pictures, poster: Pictures | str, changed: Since | None, text: str
) -> Iterator[Section]:
    """Every section that has something to say, in order; who made it, and with what, is left to the caller."""
    run = station.run
    if changed is not None:
        yield Section("since", "What changed since the earlier report", tuple(_since(changed)))
    told = cautions(run.scenario, run.readings, run.stresses)
    warnings = [one for one in told if not one.startswith(CONTEXT)]  # the limits come in a table here
    yield Section("station", "The station", (station_of(run),))
    if warnings:
        yield Section("cautions", "Cautions", (Items(tuple(warnings), is_warning=True), *_limits(station)))
    account = (from_printed(tables.power_table(station, verdict)), *blocks([tables.transient(station)]))
    notes = line_notes(run.scenario, run.readings)
    yield Section("account", "The account", (*account, *([Items(tuple(notes))] if notes else [])))
    if station.claims:
        yield Section("claims", "What is claimed, and the verdicts", (from_printed(tables.claims_table(station.claims)),))
    if station.reception:
        yield Section("reception", "What is received", blocks([tables.reception_story(station.reception, run.scenario)]))
    yield Section("start", "From key-down on", tuple(_start(station, extras)))
    yield Section("open", "What is open", tuple(_open(station)))
    yield Section("pictures", "Pictures", (stills,))
    shown: Block = Words(f"There is no picture of the film: {poster}") if isinstance(poster, str) else poster
    yield Section("poster", "The film in one frame", (shown,))
    yield Section("proof", "How far the numbers can be trusted", tuple(_proof(station, verdict)))
    rows = tuple(Row(pair) for pair in source_rows(run.scenario))
    yield Section("sources", "Sources", (Table("", ("what", "from"), rows, (False, False)),))
    yield Section("scenario", "The scenario", (Code(text, "toml"),))


def _start(station: Station, extras: Extras) -> Iterator[Block]:
    if station.exact.echoes:
        yield from blocks([tables.echo_story(station.exact.echoes)])
    told = blocks(extras.tables())
    yield from told
    if not told and station.run.stresses:
        yield from_printed(tables.stress_table(station))


def _open(station: Station) -> Iterator[Block]:
    """What is not known of the transmitter and of the antenna, and what that leaves open."""
    if station.by_source:
        yield Words(
            "No tuner sets what the transmitter sees: the readings depend on its source impedance and on what it does about its load. Both "
            "are rarely known."
        )
        yield from_printed(tables.range_table(station))
        yield from_printed(tables.behaviour_table(station))
    elif station.run.scenario.direction == "transmit":
        yield Words(
            "The transmitter sees its rated load, or is isolated: once the station has settled, neither its source impedance nor what it "
            "does about its load changes a reading. On the way there they do."
        )
    if station.by_antenna:
        yield Words("The antenna is not known for certain. Over all that it may be:")
        yield from_printed(tables.antenna_table(station))
    else:
        yield Words("The antenna's impedance is taken as it is given; nothing is told of how sure it is.")


def _proof(station: Station, verdict: Verdict) -> Iterator[Block]:
    yield Words(
        "Two programs that share no code must agree: a simulation in time, extrapolated from three grids, with an error bar a reading; and "
        "the closed form, by chain matrices."
    )
    yield Words(tables.summary(verdict))
    yield from blocks(start_verdict(verdict.transient))
    yield from_printed(tables.verdict_table(verdict))
    judged, exact = {row.quantity for row in verdict.rows}, station.exact.flatten()
    rows = []
    for quantity, value in exact.items():
        if quantity not in judged and says_something(quantity, exact):
            part, label, unit = split_quantity(quantity)
            rows.append(Row((f"{part}: {label}{f' ({unit})' if unit else ''}", number(value))))
    if rows:
        yield Table("Given, or derived from what is given: nothing to judge", ("", "closed form"), tuple(rows), (False, True))


def _limits(station: Station) -> Iterator[Block]:
    """Published limits of exposure, where there is power to speak of."""
    scenario = station.run.scenario
    found = limits(scenario.transmitter.frequency_hz)
    if scenario.direction == "receive" or not found:
        return
    rows = []
    for limit in found:
        fields = (("V/m", limit.electric_v_per_m), ("A/m", limit.magnetic_a_per_m), ("W/m²", limit.density_w_per_m2))
        cells = ("" if value is None else f"{value:.3g} {unit}" for unit, value in fields)
        rows.append(Row((f"{limit.source}: {limit.who}", *cells, f"{limit.average_min:g} min")))
    yield Table(
        f"For context only: published limits at {show(scenario.transmitter.frequency_hz, 'Hz', 6)}",
        ("", "electric field, rms", "magnetic field, rms", "power density", "mean over"),
        tuple(rows),
        (False, True, True, True, True),
        "The field of this station is not known here, so nothing is compared with these figures. The rules of your country count.",
    )


def _since(found: Since) -> Iterator[Block]:
    """The correction note."""
    when = f"the earlier report ({found.made_at})"
    if found.stands:
        yield Words(
            f"Nothing that {when} told needs a correction: {found.compared} numbers agree within their error bars, and so do all claims."
        )
    else:
        yield Words(
            f"Correction note. Since {when}, {len(found.moved)} of {found.compared} numbers moved by more than their error bars, and "
            f"{len(found.turned)} claims have another verdict."
        )
    same = "The scenario is the same in all that a number depends on."
    yield Words("The scenario itself was changed:" if found.inputs else same)
    yield from _changes("what was changed", found.inputs)
    if found.versions:
        yield Words("It was made with other programs:")
        yield from _changes("program", found.versions)
    if found.turned:
        rows = [Row((one.says, one.before or "not claimed", one.after or "no longer claimed")) for one in found.turned]
        yield Table("Claims with another verdict", ("claim", "before", "now"), tuple(rows), (False, False, False))
    if found.moved:
        rows = []
        for one in found.moved[:MOST_MOVED]:
            part, _, unit = one.quantity.rpartition(".")
            _, label, unit = split_quantity(one.quantity) if "." in one.quantity else ("", one.quantity, "")
            cells = tuple("no value" if value is None else within(value, one.bar) for value in (one.before, one.after))
            rows.append(Row((f"{part}: {label}{f' ({unit})' if unit else ''}".removeprefix(": "), *cells, f"{one.bar:.0e}")))
        rest = len(found.moved) - MOST_MOVED
        note = f"{rest} more, which moved less, stand in the data beside this page." if rest > 0 else ""
        yield Table("Numbers that moved", ("", "before", "now", "both error bars"), tuple(rows), (False, True, True, True), note)
    for names, words in ((found.gone, "No longer told"), (found.new, "Told for the first time")):
        if names:
            yield Words(f"{words}: {', '.join(names)}.")


def _changes(head: str, changed: tuple[tuple[str, str, str], ...]) -> Iterator[Block]:
    if changed:
        yield Table("", (head, "before", "now"), tuple(map(Row, changed)), (False, False, False))
