"""The kinds of chart and what each shows; loads nothing, so that the command line's help comes at once."""

from __future__ import annotations

KINDS: dict[str, str] = {
    "standing-wave": "voltage and current along the lines in steady state, and where they are largest",
    "bounces": "forward and reflected power at every place and time: the echoes as they run up and down the lines",
    "meters": "what the meters read from key-down on",
    "energy": "where the energy is that has left the transmitter, from key-down on",
    "flow": "net power as bands as wide as the power is large, and beside it what the meters read",
    "reflection": "size and phase of the reflection along each line, in the complex plane",
    "stress": "the largest voltages and currents while the station starts up, against its steady state",
    "start-up": "what each part has to bear under a step, a short key and a real one, and what the transmitter sees meanwhile",
    "echo": "what comes back of a pulse, over the place that it comes from, and what stands there",
    "answer": "one question, one answer: the figure in large type, how sure it is, and how to get it again",
}


def applies(kind: str, shape: str, direction: str) -> bool:
    """Whether a chart says anything of a station with this shape of its key, and this direction."""
    return {"echo": shape == "pulse", "start-up": shape != "pulse" and direction == "transmit"}.get(kind, True)


FORMATS = ("png", "svg")
THEMES = ("dark", "light")
