"""From two runs to a film of both."""

from __future__ import annotations

from pathlib import Path
from typing import Unpack

from bouncesim.account import made
from bouncesim.account.run import Run
from bouncesim.account.verdict import Verdict
from bouncesim.scenario.narration import Cue
from bouncesim.show.both import NAMES
from bouncesim.show.captions import fill, spans, stamp, webvtt
from bouncesim.show.card import summary
from bouncesim.show.description import made_with, rests_on, station_words
from bouncesim.show.differences import ITEMS
from bouncesim.show.film import FilmFiles, Options, Order, Progress, Told, write_film
from bouncesim.show.numbers import ratio, reading, slowed
from bouncesim.show.pair import PairStage
from bouncesim.show.report.visible import lines_of, one_line

Verdicts = tuple[Verdict, Verdict] | None


def film_pair(
    runs: tuple[Run, Run],
    path: str | Path,
    verdicts: Verdicts = None,
    *,
    narration: tuple[Cue, ...] = (),
    made_by: str = "",
    progress: Progress | None = None,
    **options: Unpack[Options],
) -> FilmFiles:
    """Film two stations side by side, on one clock and on the same scales, into `path`; all else as `film` has it.

    The cues of a `narration` time the beats, one each. Raises OptionError for stations or a frame that do not go together besides.
    """

    def told(asked: Order) -> Told:
        stage = PairStage(runs, verdicts, look=asked.look, size=asked.size, fps=asked.fps, narration=narration)
        of = made.words(*(run.scenario for run in runs))
        return Told(stage, webvtt(stage.story, stage.both, asked.look.words, of), description(stage, verdicts, made_by), of)

    return write_film(path, told, progress, **options)


def description(stage: PairStage, verdicts: Verdicts, made_by: str = "") -> str:
    """Both stations, every stretch with its clock and the numbers of both, what they rest on, and the way to make the film again."""
    story, both = stage.story, stage.both
    lines = [" beside ".join(one_line(run.scenario.title) for run in stage.runs), ""]
    for which, run in zip(NAMES, stage.runs, strict=True):
        lines += [f"{which}, {run.scenario.title}: {station_words(run)}."]
    lines += [
        "",
        "The two stand side by side, each over a plot of its waves; time, distances and sizes have one scale for both. Below, bars",
    ]
    lines += ["compare what each comes to, and a note beside each tells which of them has more, and by how much.", ""]
    for a, b, shot in spans(story):
        lapse = "time-lapse, " if story.lapse[min(a + round(shot.lasts_s / 2 * story.fps), b - 1)] else ""
        told = " ".join(fill(shot.caption, both, shot.end_s).split())
        lines += [f"{stamp(a / story.fps)}  {told}", f"    {lapse}{slowed(shot.pace)}. At the end, t = {reading(shot.end_s, 's')}:"]
        lines += [*_numbers(stage, shot.end_s), ""]
    for which, run, verdict in zip(NAMES, stage.runs, verdicts or (None, None), strict=True):
        if verdict is not None:
            lines += [f"{which}: at the end a table compares it with the closed form. {summary(verdict)}"]
        lines += [*rests_on(run, verdict), ""]
    lines += made_with(stage.frame.size, story.fps, len(stage), made_by, *(run.scenario for run in stage.runs))
    return lines_of([*lines, "", stage.look.words("caution"), ""])


def _numbers(stage: PairStage, t: float) -> list[str]:
    names = {"source": stage.runs[0].scenario.source_name, "load": stage.runs[0].scenario.load_name}
    found = []
    for item in ITEMS:
        values = [item.read(live, t) for live in stage.both.lives]
        told = [reading(value, item.unit, 1e-4 * stage.both.scale_w) if item.unit else ratio(value) for value in values]
        found.append(f"    {stage.look.words(item.key, **names)}: {told[0]} in A, {told[1]} in B")
    return found
