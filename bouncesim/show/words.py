"""Every word that a film shows, in one table, and tables of other languages in its place.

A table is a TOML file of `key = "text"`; keys that it leaves out stay English. {braces} hold what the film fills in; a translation may
move them about, not invent any.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

from bouncesim.errors import Problem, ScenarioError
from bouncesim.quantity import quote
from bouncesim.scenario.tables import unseen

BRACES = re.compile(r"\{([^{}]*)\}")
LARGEST_FILE = 200_000  # bytes

TABLE: dict[str, str] = {
    # heading and clock
    "at_frequency": "{power} at {frequency}",
    "source": "source {impedance}",
    "load": "{name} {impedance}, SWR {swr}",
    "at_first": "{name} {impedance} at first",
    "clock": "t = {time}",
    "time_lapse": "time-lapse, {pace}",
    "paused": "paused",
    "real_time": "in real time",
    "sped_up": "sped up {times} times",
    "slowed": "slowed {times} times",
    "million": "million",
    "billion": "billion",
    "trillion": "trillion",
    # station
    "transmitter": "transmitter",
    "antenna": "antenna",
    "receiver": "receiver",
    "takes": "takes",
    "parts": "{count} parts",
    "one_part": "1 part",
    "elements": "{count} elements",
    "one_element": "1 element",
    "open": "open",
    "shorted": "shorted",
    "now_open": "now open",
    "now_shorted": "now shorted",
    "now_ohm": "now {impedance}",
    "no_wave": "no wave yet",
    "under_way": "a wave on its way",
    "no_wave_now": "no wave now",
    "swr": "SWR {swr}",
    "swr_start": "SWR {swr} at its start",
    "swr_start_end": "SWR {start} at its start, {end} at its end",
    "swr_from_to": "SWR {start} → {end}",
    # waves
    "total": "total",
    "forward": "forward",
    "reflected": "reflected",
    "largest": "largest so far",
    "voltage": "voltage ({unit})",
    "current": "current ({unit})",
    "distance_line": "distance along the line (m)",
    "distance_lines": "distance along the lines (m)",
    "distance_stubs": "distance along the lines, without stubs (m)",
    "wavefront": "wavefront",
    "first_echo": "first echo",
    "antenna_echo": "echo of the {name}",
    "against": "waves as a meter for this line reads them",
    "key_shortened": "key shortened so that you can see it",
    # meters
    "power_at": "Power at the {name}",
    "power_at_start": "Power at the start of the {name}",
    "at_short": "At the {name}",
    "elsewhere": "at the {name}  ▶ {forward}  ◀ {reflected}  net {net}",
    "elsewhere_short": "{name} ▶ {forward} ◀ {reflected}",
    "leaves": "forward less reflected: {net} leave the {name}",
    "returns": "reflected less forward: {net} go back into the {name}",
    "net": "net {power}",
    # energy
    "energy": "Where is the energy?",
    "left": "left the {name}: {energy}",
    "into_load": "into the {name}",
    "into_load_short": "into {name}",
    "stored": "stored",
    "heat_in": "heat in the {part}",
    "heat_short": "{part} heat",
    "into_part": "into the {part}",
    "into_part_short": "into {part}",
    "other_heat": "other heat",
    "tuner": "tuner",
    "tuners": "tuners",
    "network": "network",
    "networks": "networks",
    "transformer": "transformer",
    "transformers": "transformers",
    "stub": "stub",
    "stubs": "stubs",
    "line": "line",
    "lines": "lines",
    "connector": "connector",
    "connectors": "connectors",
    "contact": "contact",
    "contacts": "contacts",
    "bad_connector": "bad connector",
    # verdict
    "is_it_right": "Is it right? The simulation beside the closed form",
    "simulated": "simulated",
    "error_bar": "error bar",
    "exact": "exact",
    "holds": "holds",
    "not_proven": "not proven",
    "fails": "fails",
    "all_agree": "All {count} readings agree with the closed form within their error bars.",
    "not_agree": "{failed} of {count} readings do not agree with the closed form.",
    "unproven": "{failed} of {count} readings are not proven: their error bars cannot be trusted.",
    "grids": "grids of {steps} steps a carrier period",
    "order": "order of convergence {order}",
    "books": "energy books close to {residual}",
    "row_source_power": "power leaving the {name}",
    "row_load_power": "power into the {name}",
    "row_heat": "heat in the {part}",
    "row_into": "power into the {part}",
    "row_radiated": "power radiated by the {part}",
    "row_resistance": "resistance that the {part} sees",
    "row_reactance": "reactance that the {part} sees",
    "row_rms_voltage": "rms voltage at the {part}",
    "row_rms_current": "rms current at the {part}",
    "row_drive": "drive of the {part}, as a share",
    "row_dump_load": "heat in the {part}'s dump load",
    "row_start": "power, start of the {part}",
    "row_end": "power, end of the {part}",
    "row_forward_start": "forward power, start of the {part}",
    "row_reflected_start": "reflected power, start of the {part}",
    "row_swr_start": "SWR, start of the {part}",
    "row_forward_end": "forward power, end of the {part}",
    "row_reflected_end": "reflected power, end of the {part}",
    "row_swr_end": "SWR, end of the {part}",
    "row_reference": "impedance of the {part} itself",
    "row_loss": "loss of the {part}, as it is used",
    "row_matched_loss": "loss of the {part}, if matched",
    "row_largest": "largest voltage on the {part}",
    "row_largest_place": "place of the largest voltage, {part}",
    "row_largest_current": "largest current on the {part}",
    "row_largest_current_place": "place of the largest current, {part}",
    "row_forward": "forward power at the {part}",
    "row_reflected": "reflected power at the {part}",
    "row_swr": "SWR at the {part}",
    "row_reflected_least": "least reflected power, {part}",
    "row_reflected_most": "most reflected power, {part}",
    "row_swr_least": "least SWR, {part}",
    "row_swr_most": "most SWR, {part}",
    "row_coil": "peak current in the coil of the {part}",
    "row_capacitor": "peak voltage on the capacitor of the {part}",
    # captions of our own
    "caution": "Any exposed conductor that carries RF can burn. No figure here is a safe limit.",
    "both_out": "Both keys go down at once, and a wave sets out in each.",
    "both_back": "In A the {load} takes {a} so far, in B {b}. The rest turns back.",
    "both_turns": "Part of each wave turns back.",
    "both_run_out": "Where the key is up no new wave sets out. What is on its way runs out, pass by pass.",
    "both_settle": "Echo upon echo, until each has settled: {a} into the {load} in A, {b} in B.",
    "both_steady": "Settled. Into the {load} go {a} in A, and {b} in B.",
    # a tuner turned
    "turn_line": "Onto the line",
    "turn_source": "Back to the {source}",
    "turn_against": "roots of power, against {impedance}",
    "turn_of_source": "from the {source}",
    "turn_of_echo": "from the echo",
    "turn_sum_line": "both together: forward",
    "turn_sum_source": "both together: reflected",
    "turn_apart": "{degrees}° apart",
    "turn_curves": "Power at each setting",
    "turn_steady": "a steady state at every setting",
    "turn_value": "{part} {value}",
    "turn_forward": "forward on the line",
    "turn_echo": "reflected on the line",
    "turn_back_w": "back to the {source}",
    "turn_antenna": "into the {load}",
    "turn_start": "The tuner's {part} is far from its setting. Each arrow is a wave; its length squared is a power.",
    "turn_sum": "On the line two waves set out together: what the tuner lets through, and what it makes of the echo.",
    "turn_near": "The {part} turns, the echo's arrow swings round toward the other, and their sum grows.",
    "turn_set": "Here they are in phase: {forward} forward. At the transmitter the two cancel: {back} come back.",
    "turn_past": "Turned too far, they fall out of step again, and {back} come back to the transmitter.",
    "turn_back": "So back it goes, until the two waves pull together once more.",
    "turn_end": "Set: {forward} forward on the line, {antenna} into the antenna, and nothing comes back to the transmitter.",
    # what differs
    "equal": "equal",
    "pair_leaves": "out of the {source}",
    "pair_into": "into the {load}",
    "pair_heat": "heat on the way",
    "pair_forward": "forward power",
    "pair_reflected": "reflected power",
    "pair_swr": "SWR at the {source}",
    "beat_out": "Key down: the wave sets out. It cannot know yet what waits at the far end.",
    "beat_signal": "A signal comes in: its wave sets out from the {source} toward the {load}.",
    "beat_back": "The {load} takes its part, {takes} so far; the rest turns back.",
    "beat_no_echo": "The {load} takes the whole wave, {takes} so far: nothing turns back.",
    "beat_tuner": "At the tuner the echo meets the new wave, and part of it sets out once more.",
    "beat_end": "At the near end the echo meets the new wave, and part of it sets out once more.",
    "beat_swallowed": "At the {source} the echo ends: it looks like the line, so nothing sets out again.",
    "beat_dump": "The echo is home: the dump load behind the {source} takes it, and nothing sets out again.",
    "beat_control": "The {source} notices what comes back, and begins to change its drive.",
    "beat_fold_back": "It turns its drive down until little enough comes back: {takes} into the {load} now.",
    "beat_level": "It changes its drive until the power that it watches is right: {takes} into the {load} now.",
    "beat_settle": "Echo upon echo, each weaker than the last: the station settles.",
    "beat_rises": "Nothing is left to wait for but the key's own rise: {takes} by now.",
    "beat_slow_key": "The key rises so slowly that the echoes hide under its rise: {takes} into the {load} so far.",
    "beat_quick": "On so short a line waves are there and back at once: it fills like a vessel, {takes} so far.",
    "beat_flow": "On the {line} {forward} run forward, {reflected} back. What flows is the difference.",
    "beat_steady": "Settled: {leaves} leave the {source}, {takes} go into the {load}.",
    "beat_steady_heat": "Settled: {leaves} leave the {source}, {takes} go into the {load}. The rest is heat.",
    "beat_steady_lost": "Settled: {leaves} leave the {source}, and all of it becomes heat on the way.",
    "beat_until_event": "So it goes on, {takes} into the {load}, until something happens.",
    "beat_goes_on": "It settles anew: {takes} into the {load}.",
    "beat_opens": "The antenna comes off! At the open end the whole wave turns back.",
    "beat_shorts": "The antenna is shorted! At its end the whole wave turns back.",
    "beat_changes": "The antenna changes. What turns back now is another part of the wave.",
    "beat_connector": "The connector behind the {behind} goes bad: heat, and an echo of its own.",
    "beat_key_up": "Key up: no new wave sets out. What is on its way still arrives.",
    "beat_runs_out": "What was stored runs out, pass by pass, into the {load} and into heat.",
    "beat_pulse": "A short pulse sets out. Wherever the line changes, part of it will turn back.",
    "beat_pulse_back": "An echo comes home. The time it took tells how far away it was made.",
    "beat_pulse_ends": "Home again, it ends: the {source} looks like the line, and nothing sets out once more.",
    "beat_pulse_more": "Every later echo has been to and fro once more, and is weaker.",
    "beat_sign": "The first sign: {takes} into the {load} by now.",
    "beat_gap": "Key up: what was stored runs out.",
    "beat_text": "Sign upon sign: each starts from nothing again, as the first one did.",
}


class Words:
    """The words of a film: `words("slowed", times="67 million")`."""

    def __init__(self, changed: Mapping[str, str] | None = None) -> None:
        self.changed = dict(changed or {})
        self._table = TABLE | self.changed

    def __call__(self, key: str, **values: object) -> str:
        text = self._table[key].replace("{{", "\0").replace("}}", "\1")
        return BRACES.sub(lambda found: str(values[found[1]]), text).replace("\0", "{").replace("\1", "}")


ENGLISH = Words()


def read_words(path: str | Path) -> Words:
    """The table in a TOML file. Raises ScenarioError naming every key that is unknown or says what it must not; OSError if unreadable."""
    path = Path(path)
    place = path.name
    with path.open("rb") as file:
        data = file.read(LARGEST_FILE + 1)
    if len(data) > LARGEST_FILE:
        raise ScenarioError(Problem(place, f"is larger than {LARGEST_FILE} bytes", "A table of words is short"))
    try:
        table = tomllib.loads(data.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ScenarioError(Problem(place, f"is no TOML file in UTF-8: {error}", 'Lines read: forward = "..."')) from None
    problems = [problem for key, text in table.items() if (problem := _wrong(place, key, text))]
    if problems:
        raise ScenarioError(problems)
    return Words(table)


def _wrong(place: str, key: str, text: object) -> Problem | None:
    where = f"{place}: {quote(key)[1:-1]}"
    if key not in TABLE:
        near = difflib.get_close_matches(key[:60], TABLE, n=1)
        return Problem(where, "is no word of the film", f"Did you mean {near[0]}?" if near else f"Known are {', '.join(TABLE)}")
    if not isinstance(text, str) or not text.strip() or len(text.splitlines()) > 1:
        return Problem(where, "is not one line of text", f'In English it is "{TABLE[key]}"')
    if found := unseen(text):
        return Problem(where, f"has {found}", "Write plain text on one line")
    given, known = _fields(text), _fields(TABLE[key])
    if given - known or "{" in BRACES.sub("", text.replace("{{", "").replace("}}", "")):
        allowed = ", ".join(f"{{{name}}}" for name in sorted(known)) or "nothing"
        return Problem(where, f'"{text}" asks for what the film does not fill in here', f"In braces may stand: {allowed}")
    return None


def _fields(text: str) -> set[str]:
    return set(BRACES.findall(text.replace("{{", "").replace("}}", "")))
