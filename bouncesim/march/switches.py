"""Contacts at the antenna and connectors that fail: resistors that change their value while the station runs.

A contact takes a fifth of a period or so to turn, its resistance growing or falling by a steady factor a step. It passes every resistance
on the way, so that the current of a coil that is cut off, or the charge of a capacitor that is shorted, finds the one that takes it up
within a step: a jump would leave it to ring from step to step for ever, as the midpoint rule does not damp what is faster than a step. No
state jumps, and the books hold: in each step the circuit is what it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bouncesim.scenario.ends import port_of
from bouncesim.scenario.events import CLOSED_OHM, OPEN_OHM, Event
from bouncesim.scenario.oneport import OnePort

if TYPE_CHECKING:
    from bouncesim.march.station import Plan, Spot

ANTENNA, SWITCH = "antenna", "switch"  # owners
FACTOR = 2.0  # of resistance from one step to the next
ROUNDING = 1e-9  # of a step: a time that is meant to be a whole number of steps is one

Changes = list[tuple[int, int, float]]  # (circuit, branch, ohm)


@dataclass(frozen=True)
class Turn:
    """A resistor that takes a new value from a time on; circuit and branch tell which, `ohm` is as the circuit has it, behind turns."""

    at_s: float
    circuit: int
    branch: int
    ohm: float


def contacts(plan: Plan, port: OnePort, end: Spot, events: Sequence[Event]) -> None:
    """Hang the antenna on the end of the path, and every antenna that takes its place later, each behind a contact, uncharged; and a
    contact across the end if it is ever shorted. `events` in order of time; their turns go into the plan."""
    events = [event for event in events if event.happens.startswith("antenna")]
    if not events:
        plan.one_port(port, end, None, ANTENNA)
        return
    changed = [event.impedance_ohm for event in events if event.impedance_ohm is not None]
    ports = [port, *(port_of(impedance, "series", plan.omega) for impedance in changed)]
    branches = []
    for k, one in enumerate(ports):
        behind = plan.node(end)
        branches.append(plan.add("R", end, behind, OPEN_OHM if k else CLOSED_OHM, SWITCH))
        plan.one_port(one, behind, None, ANTENNA)
    across = plan.add("R", end, None, OPEN_OHM, SWITCH) if any(event.happens == "antenna shorts" for event in events) else None
    scale = end.turns**2

    def turn(event: Event, branch: int | None, ohm: float) -> None:
        if branch is not None:
            plan.turns.append(Turn(event.at_s, end.network, branch, ohm / scale))

    connected = 0
    for event in events:
        if event.happens == "antenna shorts":
            turn(event, across, CLOSED_OHM)
            continue
        turn(event, across, OPEN_OHM)
        turn(event, branches[connected], OPEN_OHM)
        if event.happens == "antenna changes":
            connected += 1
            turn(event, branches[connected], CLOSED_OHM)


def schedule(plan: Plan, dt: float) -> list[tuple[int, Changes]]:
    """What changes at which step, in order: every turn as a ramp of resistance, from what that resistor is by then to what it becomes. A
    turn that comes while another one is under way goes on from where that one has got to."""
    ramps: dict[tuple[int, int], dict[int, float]] = {}
    for turn in sorted(plan.turns, key=lambda turn: turn.at_s):
        place, first = (turn.circuit, turn.branch), math.ceil(turn.at_s / dt - ROUNDING)
        ramp = {step: ohm for step, ohm in ramps.get(place, {}).items() if step < first}
        now = ramp[max(ramp)] if ramp else plan.circuits[turn.circuit].branches[turn.branch].value
        count = math.ceil(abs(math.log(turn.ohm / now, FACTOR)) - ROUNDING)
        ramps[place] = ramp | {first + k: now * (turn.ohm / now) ** ((k + 1) / count) for k in range(count)}
    due: dict[int, Changes] = {}
    for place, ramp in ramps.items():
        for step, ohm in ramp.items():
            due.setdefault(step, []).append((*place, ohm))
    return sorted(due.items())
