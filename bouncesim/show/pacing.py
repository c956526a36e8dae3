"""How much of the film each beat of a story takes: told by the beat itself, or by a narration."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from bouncesim.errors import Problem, ScenarioError
from bouncesim.scenario.model import Beat
from bouncesim.scenario.narration import Cue

LEAST_S, LONGEST_S = 0.2, 600.0  # of film that a beat may last


def rooms_of(cues: Sequence[Cue], beats: Sequence[Beat]) -> list[float | None]:
    """Seconds of film that a narration gives each beat: up to the start of the next cue, and the last one to the end of its own.

    None for each where there is no narration. ScenarioError if there are not as many cues as beats.
    """
    if not cues:
        return [None] * len(beats)
    if len(cues) != len(beats):
        moments = ", ".join(f'"{beat.until}"' if isinstance(beat.until, str) else f"{beat.until * 1e6:.4g} us" for beat in beats)
        cue_s, beat_s = ("s" * (len(found) > 1) for found in (cues, beats))
        reason = f"it has {len(cues)} cue{cue_s}, and the story {len(beats)} beat{beat_s} (until {moments})"
        raise ScenarioError(Problem("narration", reason, "One cue tells one beat: put sentences that belong together into one cue"))
    edges = [0.0, *(cue.start_s for cue in cues[1:]), cues[-1].end_s]
    return [end - start for start, end in pairwise(edges)]


def paced(beat: Beat, span: float, room: float | None, i: int) -> tuple[float, float, list[Problem]]:
    """Seconds of film that beat number i, of `span` station seconds, runs and then pauses, and what is wrong with them.

    In the `room` that a narration gives, a beat with a pace of its own runs at that pace and then waits for the next cue; any other one
    takes all of the room but for its pause.
    """
    own = span * beat.slowed if beat.slowed is not None else None
    if room is None:
        lasts, pause = own if own is not None else beat.lasts_s or 0.0, beat.pause_s
        if own is None or LEAST_S <= lasts + pause <= LONGEST_S:
            return lasts, pause, []
        reason = f"at this pace it takes {lasts + pause:.3g} s of film"
        return 0.0, 0.0, [Problem(f"beat[{i}].slowed", reason, f"Allowed: {LEAST_S:g} s to {LONGEST_S:g} s")]
    lasts = own if own is not None else room - beat.pause_s
    if lasts >= 0 and lasts + beat.pause_s <= room * (1 + 1e-9):
        return lasts, max(room - lasts, 0.0), []
    needs = f"it runs for {own:.3g} s" if own is not None else f"it pauses for {beat.pause_s:.3g} s"
    reason = f"{needs}, and cue {i} of the narration leaves {room:.3g} s"
    return 0.0, 0.0, [Problem(f"beat[{i}]", reason, "Leave its pace to the narration, or give the cue more time")]
