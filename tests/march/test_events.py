"""Contacts that turn while the station is on the air: against the slow twin, in the books, and in the steady state that they leave."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bouncesim.march import loop
from bouncesim.march.settling import settle
from bouncesim.march.simulation import build, earliest
from bouncesim.march.switches import SWITCH
from bouncesim.scenario import Antenna, Event, Keying, Scenario, Transformer
from bouncesim.scenario.events import with_connectors
from tests.march.discrete import Discrete
from tests.march.grids import (
    FREQUENCY,
    LENGTH,
    coil,
    element,
    line,
    made_of,
    network,
    parallel,
    resistor,
    series,
    station,
)
from tests.march.strategies import antennas, sizes, stations
from tests.march.test_discrete import AGREE, TRAP
from tests.march.test_energy import A_RUN, A_STEP, MOSTLY_KEPT, grid_of, round_trip
from tests.march.twin import Twin

PERIOD = 1 / FREQUENCY
POINTS = 24
# The twin solves for every node with contacts of 1 milliohm and 1 gigohm side by side: it loses some digits of sixteen.
NEAR = 1e-9
RAMP = 40  # steps from 1 milliohm to 1 gigohm, each the double of the one before: log2(1e12) = 39.9


def with_events(scenario: Scenario, *events: Event) -> Scenario:
    return scenario.model_copy(update={"events": events})


def event(at: float, happens: str, **particulars) -> Event:
    """`at` in carrier periods."""
    return Event(at_s=at * PERIOD, happens=happens, **particulars)


def marching(scenario: Scenario, points: int = POINTS):
    """At rest, with every connector still good."""
    return build(scenario.model_copy(update={"path": with_connectors(scenario.path, scenario.events, before=True)}), points)


def ramp(steps: np.ndarray, start: int, first: float, last: float) -> np.ndarray:
    """A contact's ohms in each of `steps`: even in the logarithm, over RAMP steps from `start` on."""
    part = np.clip((steps - start + 1) / RAMP, 0, 1)
    return first * (last / first) ** part


OPEN, CLOSED = 1e9, 1e-3
BASE = station([line(length=0.6 * LENGTH, resistance=0.5)], 30 + 70j, 30.0)
PARALLEL = station([line(length=0.6 * LENGTH)], Antenna(impedance_ohm=30 - 70j, form="parallel"), 30.0)
# Scenario, and the ohms of each contact as (contact, start in steps, from, to).
TURNS = {
    "opens": (with_events(BASE, event(3.0, "antenna opens")), [("antenna 0", 72, CLOSED, OPEN)]),
    "opens, parallel": (with_events(PARALLEL, event(3.0, "antenna opens")), [("antenna 0", 72, CLOSED, OPEN)]),
    "shorts": (with_events(PARALLEL, event(2.51, "antenna shorts")), [("across", 61, OPEN, CLOSED)]),
    "changes": (
        with_events(BASE, event(3.0, "antenna changes", impedance_ohm=90 - 40j)),
        [("antenna 0", 72, CLOSED, OPEN), ("antenna 1", 72, OPEN, CLOSED)],
    ),
    "shorts before the wave is there, then opens": (
        with_events(BASE, event(0.1, "antenna shorts"), event(4.0, "antenna opens")),
        [("across", 3, OPEN, CLOSED), ("across", 96, CLOSED, OPEN), ("antenna 0", 96, CLOSED, OPEN)],
    ),
    "changes twice": (
        with_events(BASE, event(5.0, "antenna changes", impedance_ohm=20 + 0j), event(2.0, "antenna changes", impedance_ohm=90 - 40j)),
        [
            ("antenna 0", 48, CLOSED, OPEN),
            ("antenna 1", 48, OPEN, CLOSED),
            ("antenna 1", 120, CLOSED, OPEN),
            ("antenna 2", 120, OPEN, CLOSED),
        ],
    ),
    # a short that opens again half way: each turn starts from what the contact has by then
    "a short turned back half way": (
        with_events(BASE, event(3.0, "antenna shorts"), event(3.0 + 20 / 24, "antenna changes", impedance_ohm=90 - 40j)),
        None,
    ),
}


@pytest.mark.parametrize("name", TURNS)
def test_the_slow_twin(name):
    """Every voltage, current, heat and the energy stored, while contacts turn and after."""
    scenario, turns = TURNS[name]
    march = marching(scenario)
    twin = Twin(scenario, march.plan.sections, march.dt)
    steps = np.arange(200)
    emf = scenario.emf_v_peak * np.sin(2 * np.pi * (steps + 0.5) / POINTS)
    half = (OPEN * CLOSED) ** 0.5  # after 20 of 40 steps
    turns = turns or [
        ("across", 72, OPEN, CLOSED),
        ("antenna 0", 92, CLOSED, OPEN),
        ("antenna 1", 92, OPEN, CLOSED),
        ("across", 92, half, OPEN),
    ]
    for n in steps:
        for contact, start, first, last in turns:
            if start <= n < start + RAMP:
                part = (n - start + 1) / (RAMP // 2 if first == half else RAMP)
                twin.turning[contact] = first * (last / first) ** min(part, 1)
        march.advance(1)
        twin.step(emf[n])
        if n % 5 == 4:
            close(march, twin)
    assert march.worst_residual <= A_STEP
    assert march.heat_totals()[SWITCH] > 0


def close(march, twin) -> None:
    v, i = np.concatenate(twin.v), np.concatenate(twin.i)
    np.testing.assert_allclose(march.v, v, rtol=0, atol=NEAR * np.abs(v).max())
    np.testing.assert_allclose(march.i, i, rtol=0, atol=NEAR * np.abs(i).max())
    scale = twin.emf_energy + twin.stored
    assert march.stored == pytest.approx(twin.stored, rel=0, abs=NEAR * scale)
    found = {owner: joule for owner, joule in march.heat_totals().items() if owner in twin.heat}
    assert found == pytest.approx(twin.heat, rel=0, abs=NEAR * scale)
