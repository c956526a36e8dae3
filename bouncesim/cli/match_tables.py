"""What bouncesim match prints: a table a tuner, a row a network."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from rich.table import Table

from bouncesim import perform
from bouncesim.account.plain import to_plain
from bouncesim.account.verdict import Verdict
from bouncesim.cli.cautions import cautions
from bouncesim.cli.terminal import stdout, table
from bouncesim.cli.text import clean
from bouncesim.errors import BouncesimError
from bouncesim.exact.matching.bandwidth import SPAN, SWRS, Band
from bouncesim.exact.matching.choice import shown
from bouncesim.exact.matching.networks import Match, Matches
from bouncesim.exact.retuned import antenna_law
from bouncesim.quantity import show
from bouncesim.scenario import Element, Line, Network, Part, Scenario, Stub

Verdicts = Mapping[tuple[str, int], Verdict | BouncesimError]
UNITS = {"inductor": "H", "capacitor": "F", "resistor": "ohm"}
REAL = 1e-9  # a reactance below this share of an impedance is rounding


def print_matches(scenario: Scenario, found: list[Matches], verdicts: Verdicts, confirming: bool) -> None:
    """All of it, on stdout."""
    console = stdout()
    console.print(clean(scenario.title), style="bold")
    console.print(_introduction(scenario, found))
    for matches in found:
        console.print(_table(matches))
        for remark in _remarks(matches, verdicts):
            console.print(remark)
        console.print()
        if matches.why_not:
            console.print(_not_by_its_own(matches) + "\n")
    for note in _notes(scenario, confirming):
        console.print(note)
    for caution in _warnings(scenario, found):
        console.print("Caution:", caution)


def _warnings(scenario: Scenario, found: list[Matches]) -> list[str]:
    best = next((match for matches in found for match in matches.matches if not match.candidate.obstacle), None)
    return cautions(scenario, perform.solve_exact(best.scenario)) if best else []


def _introduction(scenario: Scenario, found: list[Matches]) -> str:
    told = [f"At {show(scenario.transmitter.frequency_hz, 'Hz', 6)}, {show(scenario.transmitter.power_w, 'W')}."]
    if any(matches.is_added for matches in found):
        tuner = found[0].tuner
        told.append(
            "There is no tuner in the path; this is what one right behind the transmitter would do, with a Q of "
            f"{tuner.coil_q:g} in its coils and {tuner.capacitor_q:g} in its capacitors (usual values, an assumption, unless given)."
        )
    return " ".join(told) + "\n"


def _notes(scenario: Scenario, confirming: bool) -> Iterator[str]:
    yield (
        "current, voltage: the largest peak in a coil and across a capacitor, or on the lines that make the match. Stubs and lines are of "
        "the kind of the line next to them, with its loss. loaded Q: reactive power in the coils over the power that enters."
    )
    yield (
        "SWR 1.5, SWR 2: over how wide a band the SWR at the transmitter stays below, every part left as it is set, the antenna "
        f"{antenna_law(scenario).known}; searched from a half of the carrier to {SPAN:g} times."
    )
    if not confirming:
        yield "With --confirm each is simulated in time, and told whether that agrees."


def _table(matches: Matches) -> Table:
    """A row a network, numbered as --take has them."""
    ends = f"sees {ohms(matches.load_ohm)}, presents {ohms(matches.target_ohm)}"
    bands = "\n".join(f"SWR {swr:g}" for swr in SWRS)
    made = table(f"{matches.tuner.name}: {ends}", "", "from the transmitter", "heat", "current\nvoltage", "loaded\nQ", bands)
    made.columns[1].justify = "left"
    for column in (*made.columns[:1], *made.columns[2:]):
        column.no_wrap = True
    for number, match in enumerate(matches.matches, 1):
        c = match.candidate
        parts = "\n".join(f"  {row}" for part in c.parts for row in part_rows(part)) or "  nothing"
        stress = "\n".join(show(value, unit) if value else "none" for value, unit in zip(_stress(match), "AV", strict=True))
        loaded_q = "" if c.loaded_q is None else f"{c.loaded_q:.3g}"
        cells = (show(match.heat_w, "W"), stress, loaded_q, "\n".join(map(width, match.bands)))
        made.add_row(str(number), f"{c.kind}, {clean(c.told)}\n{parts}", *cells)
        made.add_section()
    return made


def _remarks(matches: Matches, verdicts: Verdicts) -> Iterator[str]:
    """What there is to say of single networks; the same of several in one line."""
    said: dict[str, list[int]] = {}
    for number, match in enumerate(matches.matches, 1):
        if remark := _remark(matches, match, verdicts.get((matches.tuner.name, number))):
            said.setdefault(remark, []).append(number)
    for remark, numbers in said.items():
        yield f"{', '.join(map(str, numbers))}: {clean(remark)}."


def part_rows(part: Part) -> list[str]:
    """A part of a match in words, a row each."""
    if isinstance(part, Network):
        return [_element(element) for element in part.elements]
    if isinstance(part, Stub):
        length = sum(inner.length_m for inner in part.path if isinstance(inner, Line))
        return [f"{part.end} stub {show(length, 'm', 4)}"]
    assert isinstance(part, Line)
    kind = f" of {show(part.impedance_ohm, 'ohm', 4)}" if part.impedance_ohm else ""
    return [f"line{kind} {show(part.length_m, 'm', 4)}"]


def _element(element: Element) -> str:
    """The unit tells a coil from a capacitor."""
    return f"{element.position} {show(element.value, UNITS[element.kind], 4)}"


def _stress(match: Match) -> tuple[float, float]:
    """The largest current and voltage, peak: of a coil and of a capacitor, or on the lines that make the match."""
    return max(match.coil_a_peak, match.line_a_peak), max(match.capacitor_v_peak, match.line_v_peak)


def width(band: Band) -> str:
    """A bandwidth in words; "from ... on" where only one limit was found."""
    if band.width_hz is not None:
        return show(band.width_hz, "Hz")
    if band.low_hz is None and band.high_hz is None:
        return "all searched"
    return f"up to {show(band.high_hz, 'Hz', 4)}" if band.high_hz is not None else f"from {show(band.low_hz or 0.0, 'Hz', 4)}"


def _remark(matches: Matches, match: Match, verdict: Verdict | BouncesimError | None) -> str:
    c = match.candidate
    told = [c.obstacle] if c.obstacle else []
    told += ["the scenario's tuner takes this"] if c.is_set else []
    told += ["least heat"] if match is matches.best else []
    told += [c.note] if c.note else []
    if isinstance(verdict, Verdict):
        told.append("confirmed in time" if verdict.holds else "NOT confirmed in time")
    elif verdict is not None:
        told.append(f"not simulated: {str(verdict).splitlines()[0]}")
    return "; ".join(told)


def _not_by_its_own(matches: Matches) -> str:
    """Why the scenario's own tuner cannot be set, and how near it comes."""
    near = matches.nearest
    assert near is not None
    parts = ", ".join(_element(element) for element in near.elements)
    return (
        f"{clean(matches.tuner.name)} itself ({matches.tuner.shape}) cannot make this match: {matches.why_not}. "
        f"The nearest that it comes is SWR {near.swr:.3g}, with {parts}."
    )


def ohms(impedance: complex) -> str:
    """An impedance, without a reactance that is rounding."""
    return shown(impedance) if abs(impedance.imag) > REAL * abs(impedance) else show(impedance.real, "ohm", 4)


def plain(scenario: Scenario, found: list[Matches], verdicts: Verdicts) -> dict[str, Any]:
    """What the tables say; keys are the names of the fields, units in their suffix."""
    return {
        "frequency_hz": scenario.transmitter.frequency_hz,
        "has_tuner": not any(matches.is_added for matches in found),
        "antenna_taken": antenna_law(scenario).known,
        "tuners": [_plain_tuner(matches, verdicts) for matches in found],
        "cautions": _warnings(scenario, found),
    }


def _plain_tuner(matches: Matches, verdicts: Verdicts) -> dict[str, Any]:
    own = matches.nearest
    return {
        "name": matches.tuner.name,
        "shape": matches.tuner.shape,
        "load_ohm": to_plain(matches.load_ohm),
        "target_ohm": to_plain(matches.target_ohm),
        "cannot": matches.why_not or None,
        "nearest": own and {"swr": own.swr, "elements": [element.model_dump() for element in own.elements]},
        "networks": [
            _plain_match(matches, number, match, verdicts.get((matches.tuner.name, number)))
            for number, match in enumerate(matches.matches, 1)
        ],
    }


def _plain_match(matches: Matches, number: int, match: Match, verdict: Verdict | BouncesimError | None) -> dict[str, Any]:
    c = match.candidate
    bands = [{"swr": band.swr, "low_hz": band.low_hz, "high_hz": band.high_hz, "width_hz": band.width_hz} for band in match.bands]
    stress = {name: getattr(match, name) for name in ("heat_w", "coil_a_peak", "capacitor_v_peak", "line_v_peak", "line_a_peak")}
    return {
        "number": number,
        "kind": c.kind,
        "which": c.told,
        "parts": [part.model_dump(mode="json", exclude_defaults=True) for part in c.parts],
        **stress,
        "loaded_q": c.loaded_q,
        "bandwidths": bands,
        "obstacle": c.obstacle or None,
        "note": c.note or None,
        "is_set": c.is_set,
        "is_best": match is matches.best,
        "confirmed": verdict.holds if isinstance(verdict, Verdict) else None,
        "not_simulated": str(verdict) if isinstance(verdict, BouncesimError) else None,
    }
