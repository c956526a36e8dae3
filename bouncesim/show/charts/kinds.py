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
    "answer": "one question, one answer: the figure in large type, how sure it is, and how to get it again",
}
FORMATS = ("png", "svg")
THEMES = ("dark", "light")
