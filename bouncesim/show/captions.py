"""The words of a film: captions with live numbers, the same as WebVTT, and a text for those who cannot see the picture."""

from __future__ import annotations

import difflib
import re

from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario.model import Line, Stub, Transformer
from bouncesim.show.books import items
from bouncesim.show.live import Live
from bouncesim.show.numbers import impedance, plain, rated, ratio, reading, slowed, unit_of
from bouncesim.show.signs import stub_end, stub_length, turns
from bouncesim.show.story import Shot, Story

NUMBER = re.compile(r"\$\{([^{}$]*)\}")
NOTHING = 1e-6  # share of the transmitter's power under which a power is told as 0 W
SAFETY = "Any exposed conductor that carries RF can burn. No figure here is a safe limit."


def fill(caption: str, live: Live, t: float) -> str:
    """The caption with every ${quantity} as its value at t; raises KeyError for an unknown one."""
    return NUMBER.sub(lambda found: number(found[1].strip(), live, t), caption)


def number(name: str, live: Live, t: float) -> str:
    """One quantity at t with its unit: "57.9 W"."""
    value = live.value(name, t)
    if name == "time":
        return reading(value, "s")
    unit = unit_of(name)
    if not unit:
        return ratio(value)
    return reading(value, unit, floor=NOTHING * live.full_power_w if unit == "W" else 0.0)


def check_captions(shots: tuple[Shot, ...], live: Live) -> None:
    """Raises ScenarioError naming every quantity in a caption that this run does not have."""
    known = live.names()
    problems = []
    for i, shot in enumerate(shots, 1):
        for name in NUMBER.findall(shot.caption):
            try:
                live.value(name.strip(), 0.0)
            except KeyError:
                near = difflib.get_close_matches(name.strip(), known, n=3, cutoff=0.3)
                remedy = f"Did you mean {', '.join(f'${{{n}}}' for n in near)}?" if near else f"Known are {', '.join(known)}"
                problems.append(Problem(f"beat[{i}].caption", f"${{{name}}} is no quantity of this run", remedy))
    if problems:
        raise ScenarioError(problems)


def stamp(seconds: float) -> str:
    """Time of a WebVTT cue, hh:mm:ss.mmm."""
    ms = round(seconds * 1000)
    return f"{ms // 3600000:02d}:{ms // 60000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def spans(story: Story) -> list[tuple[int, int, Shot]]:
    """First frame, end frame and shot of every stretch before the closing."""
    found = []
    for i, shot in enumerate(story.shots):
        frames = [k for k in range(story.closing) if story.shot[k] == i]
        if frames:
            found.append((frames[0], frames[-1] + 1, shot))
    return found


def webvtt(story: Story, live: Live) -> str:
    """The captions as a WebVTT file; numbers as they stand at the end of each stretch."""
    cues = [(a, b, fill(shot.caption, live, shot.end_s)) for a, b, shot in spans(story)]
    if story.closing < len(story):
        cues.append((story.closing, len(story), SAFETY))
    blocks = [f"{stamp(a / story.fps)} --> {stamp(b / story.fps)}\n{_escape(text)}" for a, b, text in cues if text.strip()]
    return "WEBVTT\n\n" + "\n\n".join(blocks) + "\n"


def _escape(text: str) -> str:
    return " ".join(text.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def station_words(run: Run) -> str:
    """The path in words, from the transmitter to the antenna."""
    scenario, lines = run.scenario, {line.name: line for line in run.readings.lines}
    words = [f"a transmitter of {rated(scenario.transmitter.power_w, 'W')} at {rated(scenario.transmitter.frequency_hz, 'Hz')}"]
    for part in scenario.path:
        if isinstance(part, Line):
            line = lines[part.name]
            words.append(
                f"the {part.name} ({plain(line.reference_ohm)} ohm, {plain(part.length_m)} m, SWR {ratio(line.swr_out)} at its far end)"
            )
        elif isinstance(part, Transformer):
            words.append(f"the {part.name} ({turns(part.impedance_ratio)})")
        elif isinstance(part, Stub):
            words.append(f"the {part.name} ({', '.join(word for word in (stub_length(part), stub_end(part)) if word)}) branching off")
        else:
            words.append(f"the {part.name}")
    return ", ".join(words) + f", and an antenna of {impedance(scenario.antenna.at_carrier_ohm)}"


def description(run: Run, story: Story, live: Live, verdict: Verdict | None) -> str:
    """What is to be seen, beat by beat, with the clock and the account at the end of each."""
    lines = [run.scenario.title, "", f"The picture shows {station_words(run)}."]
    lines += [
        "Above a plot of voltage along the path stands the station; each place on a line is over its place in the plot, and parts between"
    ]
    lines += [
        "lines stand in gaps. The wave toward the antenna is solid, the reflected wave dashed, their sum the widest curve; the shaded band"
    ]
    lines += ["is the largest voltage so far. Below are the meters and the net account of the energy that left the transmitter.", ""]
    for a, b, shot in spans(story):
        pace = ("time-lapse, " if story.lapse[(a + b) // 2] else "") + slowed(shot.pace)
        lines += [f"{stamp(a / story.fps)}  {' '.join(fill(shot.caption, live, shot.end_s).split())}", *_state(live, shot.end_s, pace), ""]
    if verdict is not None:
        held = sum(row.holds for row in verdict.rows)
        lines += [f"At the end a table compares the simulation with the closed form: {held} of {len(verdict.rows)} readings agree.", ""]
    return "\n".join([*lines, SAFETY, ""])


def _state(live: Live, t: float, pace: str) -> list[str]:
    """Clock and account at t."""
    account = live.account(t)
    shares, _ = items(live.kinds, account.heat, lambda labels: True)
    heat = [f"{share.name} {reading(account.of(share.kinds), 'J')}" for share in shares if share.kinds[0] in account.heat]
    return [
        f"    {pace}. At the end, t = {reading(t, 's')}: {reading(account.left, 'J')} left the transmitter;",
        f"    into the antenna {reading(account.antenna, 'J')} ({number('antenna.power_w', live, t)} now), {', '.join(heat)},",
        f"    stored {reading(account.stored, 'J')}.",
    ]
