"""The story that a film tells of a scenario without one: what matters of a station of its kind, beat by beat."""

from __future__ import annotations

import math
from itertools import takewhile

import numpy as np

from bouncesim.account.run import Run
from bouncesim.scenario.model import Beat, Line, Network
from bouncesim.scenario.morse import marks
from bouncesim.show.fronts import ECHO_WORTH
from bouncesim.show.words import ENGLISH, Words

SLOW = 4.0  # times the first echo: under a key that rises more slowly the echoes do not show
QUICK = 0.25  # carrier periods for a round trip; below it the line has no waves to show
SENT_AGAIN = 0.01  # share of an echo's power under which nothing of it sets out again
HEAT = 0.005  # share of the power that is worth a word
CHANGE = 0.02  # of the full drive that is worth a word
LEFT = 0.01  # of the energy of a pulse under which no later echo is worth a look
DRAIN = 4  # round trips in which a line runs empty, as far as one can see
LOOK = 3  # carrier periods of steady state
PASS_S, LONGEST_PASS_S = 0.55, 12.0  # s of film a wavelength, so that one can follow it, and at most for a whole line
HOLD_S = 1.0  # s of film for which the picture stands still where a wave arrives


def default_beats(run: Run, words: Words = ENGLISH) -> tuple[Beat, ...]:
    """Key down, the far end reached, the first echo, a few round trips, settled, and a look at the steady state; a pulse, a text in
    Morse, events and a slow key have stories of their own. Moments that come out of order are left out."""
    told = _Told(run, words)
    shape = run.scenario.keying.shape
    if shape == "pulse":
        told.pulse()
    elif shape == "morse":
        told.morse()
    else:
        told.start()
        if run.scenario.events:
            told.events()
        else:
            told.settle()
            told.steady()
    return tuple(told.beats)


class _Told:
    """A story under way; it is told up to `at` (s)."""

    def __init__(self, run: Run, words: Words) -> None:
        self.run, self.words, self.beats = run, words, list[Beat]()
        self.at = run.moments.get("key down", 0.0)
        self.period = 1 / run.scenario.transmitter.frequency_hz
        self.end = float(run.traces.time_s[-1])
        self.ended = False  # whether it was told what becomes of the echo
        self.names = {"source": words(run.scenario.source_name), "load": words(run.scenario.load_name)}
        self.reached = run.moments.get("antenna reached", 0.0)
        self.echo = run.moments.get("first echo", math.inf)
        self.matched = isinstance(run.scenario.path[-1], Line) and run.readings.lines[-1].swr_out < ECHO_WORTH
        drive = run.traces.drive
        self.controlled = drive is not None and float(np.ptp(drive[len(drive) // 50 :])) > CHANGE

    def tell(self, until: str | float, lasts: float, key: str, pause: float = 0.0, **values: str) -> None:
        """One beat more, if its end is still ahead."""
        end = self.run.moments[until] if isinstance(until, str) else until
        if end > self.at * (1 + 1e-9):
            caption = self.words(key, **self.names, **values)
            self.beats.append(Beat(until=until, lasts_s=lasts, pause_s=pause, caption=caption))
            self.at = end

    def live(self, reading: str) -> str:
        """A number in a caption."""
        return f"${{{reading}}}"

    @property
    def down(self) -> list[tuple[float, float]]:
        """When the key is down, s: from, to, of every mark of a text."""
        dot = self.run.scenario.keying.dot_length_s
        return [(start * dot, (start + length) * dot) for start, length in marks(self.run.scenario.keying.text)]

    @property
    def takes(self) -> str:
        return self.live(f"{self.run.scenario.load_name}.power_w")

    def start(self) -> None:
        """Out, back, and what becomes of the echo: as far as one can see them apart, and before anything happens."""
        scenario, rise = self.run.scenario, self.run.scenario.keying.rise_s
        first = min((event.at_s for event in scenario.events), default=math.inf)
        if scenario.keying.shape == "morse":
            first = self.down[0][1]
        if rise >= SLOW * self.echo or self.echo > first or self.echo < QUICK * self.period:
            return
        receives = scenario.direction == "receive"
        lasts = min(max(5.0, PASS_S * self.reached / self.period), LONGEST_PASS_S)
        self.tell("antenna reached", lasts, "beat_signal" if receives else "beat_out", HOLD_S)
        if self.matched:
            self.tell("first echo", lasts, "beat_no_echo", takes=self.takes)
            return
        self.tell("first echo", lasts, "beat_back", HOLD_S, takes=self.takes)
        latest = min(self.run.moments.get("settled", math.inf), first)
        trips = [n for n in (4, 3, 2) if self.echo < self.run.moments.get(f"round trip {n}", -1.0) < latest]
        if trips:
            self.ended = True
            self.tell(f"round trip {trips[0]}", 6.0, self._end_of_the_echo())

    def _end_of_the_echo(self) -> str:
        """What the end that drives the station makes of an echo."""
        scenario, echoes = self.run.scenario, self.run.readings.echoes
        before = takewhile(lambda part: not isinstance(part, Line), scenario.path)
        if any(isinstance(part, Network) and part.is_tuner for part in before):
            return "beat_tuner"
        if scenario.direction == "receive":
            return "beat_end"
        if scenario.transmitter.behaviour == "isolated":
            return "beat_dump"
        if self.controlled:
            return "beat_control"
        swallowed = echoes is not None and abs(echoes.reflection_looking_back) ** 2 < SENT_AGAIN
        return "beat_swallowed" if swallowed else "beat_end"

    def settle(self) -> None:
        """Up to the steady state, in a time-lapse if it takes long."""
        settled = self.run.moments.get("settled", self.run.settling.settled_s)
        key = "beat_settle" if self.ended else self._end_of_the_echo()
        if not self.beats:
            key = (
                "beat_quick"
                if self.echo < QUICK * self.period and self.run.scenario.keying.rise_s < SLOW * self.period
                else "beat_slow_key"
            )
        elif self.matched:
            key = "beat_rises"
        elif self.controlled:
            key = "beat_fold_back" if self.run.scenario.transmitter.behaviour == "fold-back" else "beat_level"
        self.tell("settled" if "settled" in self.run.moments else settled, 6.0, key, takes=self.takes)

    def steady(self) -> None:
        """A slow look at what it came to: first the waves, then the account."""
        run = self.run
        line = run.readings.lines[-1]
        forward, reflected = self.live(f"{line.name}.forward_in_w"), self.live(f"{line.name}.reflected_in_w")
        if line.reflected_in_w > HEAT * line.forward_in_w:
            self.tell(self.at + LOOK * self.period, 6.0, "beat_flow", forward=forward, reflected=reflected, line=line.name)
        out, into = run.readings.transmitter.power_w, run.readings.antenna.power_w
        key = "beat_steady_lost" if into < HEAT * out else "beat_steady_heat" if out - into > HEAT * out else "beat_steady"
        leaves = self.live(f"{run.scenario.source_name}.power_w")
        self.tell(self.at + LOOK * self.period, 6.0, key, leaves=leaves, takes=self.takes)

    def events(self) -> None:
        """What happens, each event as it comes, and what follows from it."""
        scenario = self.run.scenario
        events = sorted(scenario.events, key=lambda event: event.at_s)
        trip = self.echo if math.isfinite(self.echo) else self.period
        for event, after in zip(events, [*events[1:], None], strict=True):
            self.tell(
                event.at_s, 6.0, "beat_until_event" if len(self.beats) < 4 and event is events[0] else "beat_goes_on", takes=self.takes
            )
            follows = min(max(event.at_s, self.at) + trip, self.end if after is None else after.at_s)
            self.tell(follows, 6.0, _KEYS[event.happens], HOLD_S, behind=event.behind)
        if events[-1].happens == "key up":
            self.tell(self.end, 6.0, "beat_runs_out")
            return
        self.settle()
        self.steady()

    def pulse(self) -> None:
        """Out, home again, and the echoes that follow."""
        self.tell("antenna reached", 6.0, "beat_pulse", HOLD_S)
        self.tell("first echo", 6.0, "beat_pulse_back", HOLD_S)
        width = self.run.scenario.keying.width_s or 0.0
        home, stored = self.at + width, self.run.traces.stored_j
        left = float(np.interp(home, self.run.traces.time_s, stored))
        if left < LEFT * float(np.max(stored)):
            self.tell(min(home + width, self.end), 5.0, "beat_pulse_ends")
        else:
            self.tell(self.end, 6.0, "beat_pulse_more")

    def morse(self) -> None:
        """The first sign, the first gap, and the whole text."""
        down = self.down
        self.start()
        self.tell(min(down[0][1], self.end), 5.0, "beat_sign", takes=self.takes)
        if len(down) > 1:
            drained = down[0][1] + self.run.scenario.keying.rise_s + DRAIN * self.echo
            self.tell(min(drained, down[1][0], self.end), 4.0, "beat_gap")
        self.tell(self.end, 8.0, "beat_text", takes=self.takes)


_KEYS = {
    "antenna opens": "beat_opens",
    "antenna shorts": "beat_shorts",
    "antenna changes": "beat_changes",
    "connector fails": "beat_connector",
    "key up": "beat_key_up",
}
