"""From the settings of a tuner's part to a film."""

from __future__ import annotations

from pathlib import Path
from typing import Unpack

from bouncesim.account import made
from bouncesim.account.turning import Turning
from bouncesim.show.captions import fill, spans, stamp, webvtt
from bouncesim.show.description import made_with
from bouncesim.show.film import FilmFiles, Options, Order, Progress, Told, write_film
from bouncesim.show.numbers import plain, rated, reading
from bouncesim.show.report.visible import lines_of, one_line
from bouncesim.show.tuning import TuningStage
from bouncesim.show.turned import apart


def film_turning(
    turning: Turning, path: str | Path, *, made_by: str = "", progress: Progress | None = None, **options: Unpack[Options]
) -> FilmFiles:
    """Film a tuner's part being turned from low through its setting to high and back into `path`; all else as `film` has it."""

    def told(asked: Order) -> Told:
        stage, of = TuningStage(turning, look=asked.look, size=asked.size, fps=asked.fps), made.words(turning.scenario)
        return Told(stage, webvtt(stage.story, stage.turned, asked.look.words, of), description(stage, made_by), of)

    return write_film(path, told, progress, **options)


def description(stage: TuningStage, made_by: str = "") -> str:
    """What is seen, every stretch with the waves and powers at its end, and the way to make the film again."""
    turning, turned, story, scenario = stage.turning, stage.turned, stage.story, stage.turning.scenario
    transmitter, line, own = scenario.transmitter, plain(turning.line_ohm, 3), plain(turning.transmitter_ohm, 3)
    lines = [one_line(scenario.title), ""]
    lines += [
        f"A transmitter of {rated(transmitter.power_w, 'W')} at {rated(transmitter.frequency_hz, 'Hz')}; the {turning.part} of its tuner"
    ]
    lines += ["is turned, and every picture is a steady state.", ""]
    lines += ["Two planes show the waves that leave the tuner as arrows whose length squared is a power: onto the line, against"]
    lines += [f"{line} ohm, and back to the transmitter, against {own} ohm. In each a solid arrow is what the tuner makes of the"]
    lines += ["transmitter's wave; a dashed one at its tip is what it makes of the echo on the line; a wide one is their sum."]
    lines += ["Beside them are the powers at each setting, below them the powers of the moment.", ""]
    for a, _, shot in spans(story):
        s = shot.end_s
        setting = reading(turned.setting(s), turning.unit)
        power = {name: reading(turned.value(name, s), "W", 1e-3 * turned.scale_w) for name in turned.names()}
        lines += [f"{stamp(a / story.fps)}  {' '.join(fill(shot.caption, turned, s).split())}"]
        lines += [f"    At the end, {turning.part} {setting}: on the line {power['forward_w']} forward and {power['echo_w']} reflected,"]
        lines += [f"    {power['back_w']} back to the transmitter, {power['antenna_w']} into the antenna. The two waves onto the line are"]
        lines += [
            f"    {apart(*turned.on_line(s)):.0f} degrees apart, those toward the transmitter {apart(*turned.at_transmitter(s)):.0f}.",
            "",
        ]
    lines += ["What it rests on: chain matrices of the scenario's own parts and lines, solved at each setting.", ""]
    lines += made_with(stage.frame.size, story.fps, len(stage), made_by, scenario)
    return lines_of([*lines, "", stage.look.words("caution"), ""])
