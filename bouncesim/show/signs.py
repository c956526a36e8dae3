"""What stands in the drawing beside the lines: how much room each symbol takes, and the words under it."""

from __future__ import annotations

from dataclasses import dataclass

from bouncesim.scenario.events import CLOSED_OHM, OPEN_OHM
from bouncesim.scenario.model import Line, Meter, Network, Part, Scenario, Stub, Transformer
from bouncesim.show.numbers import impedance, plain
from bouncesim.show.words import ENGLISH, Words

GAUGE = 68.0  # px between the two wires of the path
SYMBOL = 84.0  # px of the path that a transmitter, a meter or a plain box takes
LOAD = 156.0  # px for what stands at the end, whose power stands below it
WINDINGS = 64.0
ELEMENT = 56.0  # px for each lumped element
MOST_ELEMENTS = 4  # of a network that is drawn element by element


@dataclass(frozen=True)
class Several:
    """Parts at one place for which there is no room one by one."""

    parts: tuple[Part, ...]


@dataclass(frozen=True)
class LoadState:
    """What stands at the end of the path from `since_s` (s) on: its impedance at the carrier, and its figure in words."""

    since_s: float
    ohm: complex
    figure: str

    @property
    def is_open(self) -> bool:
        return abs(self.ohm) >= OPEN_OHM

    @property
    def is_short(self) -> bool:
        return abs(self.ohm) <= CLOSED_OHM


What = str | Part | Several  # "source", "load", or a part that is no line


def drawn_out(network: Network, compact: bool) -> bool:
    """Whether a network is drawn with its elements."""
    return not compact and 0 < len(network.elements) <= MOST_ELEMENTS


def network_width(network: Network, compact: bool) -> float:
    """px of the box around a network."""
    return 20 + ELEMENT * len(network.elements) if drawn_out(network, compact) else SYMBOL - 14


def needed(what: What, compact: bool) -> float:
    """px of the symbol."""
    if isinstance(what, Network):
        return network_width(what, compact)
    if what == "load":
        return LOAD
    return WINDINGS if isinstance(what, Transformer) else SYMBOL


def words_of(what: What, scenario: Scenario, compact: bool, words: Words = ENGLISH) -> tuple[str, tuple[str, ...]]:
    """A thing's name, and its figures in lines of their own."""
    if what == "load":
        return words(scenario.load_name), (impedance(scenario.load_ohm),)
    if isinstance(what, str):
        return words(scenario.source_name), (impedance(scenario.source_ohm),) if scenario.direction == "receive" else ()
    if isinstance(what, Several):
        return words("parts", count=len(what.parts)), ()
    if isinstance(what, Transformer):
        return what.name, (turns(what.impedance_ratio),)
    if isinstance(what, Stub):
        return what.name, (stub_length(what, words), stub_end(what, words))
    if isinstance(what, Network) and not drawn_out(what, compact) and what.elements:
        return what.name, (words("elements", count=len(what.elements)) if len(what.elements) > 1 else words("one_element"),)
    return what.name, ()


def load_states(scenario: Scenario, words: Words = ENGLISH) -> tuple[LoadState, ...]:
    """The end of the path at first, and as each event leaves it, in order."""
    found = [LoadState(0.0, scenario.load_ohm, impedance(scenario.load_ohm))]
    for event in sorted(scenario.events, key=lambda event: event.at_s):
        if event.happens == "antenna opens":
            found.append(LoadState(event.at_s, complex(OPEN_OHM), words("now_open")))
        elif event.happens == "antenna shorts":
            found.append(LoadState(event.at_s, 0j, words("now_shorted")))
        elif event.happens == "antenna changes" and event.impedance_ohm is not None:
            found.append(LoadState(event.at_s, event.impedance_ohm, words("now_ohm", impedance=impedance(event.impedance_ohm))))
    return tuple(found)


def turns(impedance_ratio: float) -> str:
    """A transformer's impedance ratio, transmitter's side first: "1:4", "9:1"."""
    return f"1:{plain(impedance_ratio, 3)}" if impedance_ratio >= 1 else f"{plain(1 / impedance_ratio, 3)}:1"


def stub_length(stub: Stub, words: Words = ENGLISH) -> str:
    """How long a stub's own lines are together, and how much else it holds: "4.2 m", "2.5 m + 1 part", "2 parts"."""
    lines = [part.length_m for part in stub.path if isinstance(part, Line)]
    others = sum(not isinstance(part, Line | Meter) for part in stub.path)
    found = [f"{plain(sum(lines), 3)} m"] if lines else []
    found += [words("parts", count=others) if others > 1 else words("one_part")] if others else []
    return " + ".join(found)


def stub_end(stub: Stub, words: Words = ENGLISH) -> str:
    """What a stub ends in: "open", "shorted", "50 Ω"."""
    return words({"open": "open", "short": "shorted"}[stub.end]) if isinstance(stub.end, str) else impedance(stub.end)


def letters(network: Network) -> str:
    """The kinds of element of a network drawn as a plain box: "LC"."""
    kinds = {element.kind for element in network.elements}
    return "".join(letter for letter, kind in (("R", "resistor"), ("L", "inductor"), ("C", "capacitor")) if kind in kinds)
