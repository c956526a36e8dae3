"""A text for those who cannot see the film: what is to be seen, beat by beat, what it rests on, and how it is made again."""

from __future__ import annotations

from bouncesim.account import made
from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.scenario import Scenario
from bouncesim.scenario.model import Line, Stub, Transformer
from bouncesim.show.books import items
from bouncesim.show.captions import fill, number, spans, stamp
from bouncesim.show.card import summary
from bouncesim.show.live import Live
from bouncesim.show.numbers import impedance, plain, rated, ratio, reading, slowed
from bouncesim.show.report.visible import lines_of, one_line
from bouncesim.show.sections import LOSSY_DB
from bouncesim.show.signs import stub_end, stub_length, turns
from bouncesim.show.stage import Stage

CURVES = {
    "forward": "The wave toward the antenna is solid with arrowheads that point that way.",
    "reflected": "The reflected wave is dashed with arrowheads the other way.",
    "total": "The widest curve is the total.",
    "largest": "The shaded band with dotted edges is the largest so far.",
}


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


def description(stage: Stage, verdict: Verdict | None, made_by: str = "") -> str:
    """Title, station, what the picture holds, every stretch with its clock and account, what the figures rest on, the way to make it again.

    `made_by` is the command that makes the film.
    """
    run, story, live, look = stage.run, stage.story, stage.live, stage.look
    what = " and ".join(look.quantities)
    lines = [one_line(run.scenario.title), "", f"The picture shows {station_words(run)}."]
    lines += [
        f"Over a plot of the {what} along the lines stands the station: each place on a line is over its place in the plot, and parts"
    ]
    lines += ["between lines stand in gaps. Arrows in each line are as thick as the forward and the reflected power that they stand for."]
    lines += [" ".join(words for curve, words in CURVES.items() if look.shows(curve))]
    if any(line.matched_loss_db >= LOSSY_DB for line in run.readings.lines):
        lines += ["Forward and reflected are (V + ZI)/2 and (V - ZI)/2 with Z = sqrt(L/C) of the line, as a meter made for it reads them."]
    lines += ["Below are the meters and the net account of the energy that left the source.", ""]
    for a, b, shot in spans(story):
        pace = ("time-lapse, " if story.lapse[min(a + round(shot.lasts_s / 2 * story.fps), b - 1)] else "") + slowed(shot.pace)
        pace += f", then {shot.pause_s:.3g} s at rest" if 0 < shot.pause_s < shot.whole_s else ""
        lines += [f"{stamp(a / story.fps)}  {' '.join(fill(shot.caption, live, shot.end_s).split())}", *_state(live, shot.end_s, pace), ""]
    if verdict is not None:
        lines += [f"At the end a table compares the simulation with the closed form. {summary(verdict)}", ""]
    lines += [*rests_on(run, verdict), "", *made_with(stage.frame.size, stage.story.fps, len(stage), made_by, run.scenario), ""]
    return lines_of([*lines, look.words("caution"), ""])


def _state(live: Live, t: float, pace: str) -> list[str]:
    """Clock and account at t."""
    account, scenario = live.account(t), live.run.scenario
    shares, _ = items(live.kinds, account.heat, lambda labels: True, load=scenario.load_name)
    takes = number(f"{scenario.load_name}.power_w", live, t)
    heat = [f"{share.name} {reading(account.of(share.kinds), 'J')}" for share in shares if share.kinds[0] in account.heat]
    return [
        f"    {pace}. At the end, t = {reading(t, 's')}: {reading(account.left, 'J')} left the {scenario.source_name};",
        f"    into the {scenario.load_name} {reading(account.antenna, 'J')} ({takes} now), {', '.join(heat)},",
        f"    stored {reading(account.stored, 'J')}.",
    ]


def rests_on(run: Run, verdict: Verdict | None) -> list[str]:
    """Where the figures come from."""
    scenario = run.scenario
    lines = ["What it rests on: a simulation in time of the lines' own equations, whose energy books close to"]
    lines += [f"{run.ledger.accumulated:.0e} of the energy; it settled after {reading(run.settling.settled_s, 's')}."]
    if verdict is not None:
        steps = ", ".join(str(points) for points in verdict.points_per_period)
        lines += [f"Error bars are from grids of {steps} steps a carrier period. The closed form is computed apart, by chain matrices."]
    for line in scenario.all_lines:
        if line.line_type is not None:
            sources = sorted({figure.source for figure in line.line_type.figures})
            lines += [f"Loss of the {line.name} ({line.type}): {'; '.join(sources) or 'no published figure'}."]
        else:
            lines += [f"Figures of the {line.name}: as given in the scenario."]
        lines += [f"    {note}." for note in line.notes(scenario.transmitter.frequency_hz)]
    return [*lines, f"Figures of the {scenario.load_name}: as given in the scenario."]


def made_with(size: tuple[int, int], fps: int, frames: int, made_by: str, *scenarios: Scenario) -> list[str]:
    """What was made, with what and when, and the command that makes it again."""
    lines = [f"Made as {size[0]}x{size[1]}, {fps} frames a second, {frames} frames, with", f"{made.words(*scenarios)}."]
    return [*lines, *([f"Make it again with:  {made_by}"] if made_by else [])]
