"""Contacts that turn while the station is on the air: against the slow twin, in the books, and in the steady state that they leave."""

from __future__ import annotations

import math
from dataclasses import replace
from unittest import mock

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from bouncesim import perform
from bouncesim.errors import NotSettled
from bouncesim.exact.solve import solve
from bouncesim.march import loop, settling
from bouncesim.march.settling import settle
from bouncesim.march.simulation import build, earliest, simulate
from bouncesim.march.stepper import Stepper
from bouncesim.march.switches import SWITCH
from bouncesim.scenario import Antenna, Event, Scenario, Transformer
from bouncesim.scenario.events import with_connectors
from tests.march.discrete import Discrete
from tests.march.grids import (
    FREQUENCY,
    LENGTH,
    capacitor,
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
from tests.march.strategies import sizes, stations
from tests.march.test_discrete import AGREE, TOLERANCE
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
    # no capacitor between coil and contacts: the books hang on how the small and the large resistance stand side by side
    "opens and shorts behind a coil": (
        with_events(
            station([line(), network(element("series", "inductor", 1.2e-7))], 2.7, 7.4),
            event(1.0, "antenna opens"),
            event(1.0, "antenna shorts"),
        ),
        [("antenna 0", 24, CLOSED, OPEN), ("across", 24, OPEN, CLOSED)],
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


@st.composite
def happenings(draw: st.DrawFn, scenario: Scenario, key_up: bool) -> tuple[Event, ...]:
    """Up to four events, before the wave is there or long after, on one another's heels too."""
    found = []
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["antenna opens", "antenna shorts", "antenna changes", "connector fails"]))
        told = {}
        if kind == "antenna changes":
            told["impedance_ohm"] = complex(draw(sizes(2.0, 800.0)), 10.0 * draw(st.integers(-50, 50)))
        elif kind == "connector fails":
            told = {"behind": draw(st.sampled_from([part.name for part in scenario.path])), "resistance_ohm": draw(sizes(0.1, 1e4))}
        found.append(event(draw(st.one_of(st.sampled_from([1.0, 2.0]), st.floats(0.02, 12.0))), kind, **told))
    if key_up:
        found.append(event(draw(st.floats(12.0, 20.0)), "key up"))
    return tuple(found)


@st.composite
def eventful(draw: st.DrawFn, key_up: bool = False) -> Scenario:
    scenario = draw(stations(most_lines=2, sources=sizes(5.0, 500.0)))
    return scenario.model_copy(update={"events": draw(happenings(scenario, key_up))})


def check_books(scenario: Scenario) -> None:
    """At every step and over the run, whatever turns when; and no turn touches what coils, capacitors and lines hold."""
    march = marching(scenario, grid_of(scenario))
    steps = math.ceil((max(one.at_s for one in scenario.events) + 8 * round_trip(scenario)) / march.dt)
    while march.step < steps:
        due = march.due[0][0] - march.step if march.due else steps
        march.advance(max(min(due, steps - march.step), 1))
        held = [array.copy() for array in (march.v, march.i, march.x)]
        march._turn_contacts()
        for before, after in zip(held, (march.v, march.i, march.x), strict=True):
            np.testing.assert_array_equal(before, after)
        assert march.stored >= 0
    slack = max(1.0, march.emf_total / float(march.scalars[loop.SCALE]) / MOSTLY_KEPT)
    assert march.worst_residual <= A_STEP * slack
    assert march.accumulated_residual() <= A_RUN * slack


@settings(max_examples=12)
@given(eventful(key_up=True))
def test_books_close_through_events(scenario):
    check_books(scenario)


@pytest.mark.slow
@settings(max_examples=150)
@given(eventful(key_up=True))
def test_books_close_through_many_events(scenario):
    check_books(scenario)


def left_behind(scenario: Scenario) -> Scenario:
    """What the events leave, contacts and all: every antenna behind its own, and one across the end."""
    ports, closed, across = [scenario.antenna.port(scenario.omega)], 0, OPEN
    for one in sorted(scenario.events, key=lambda one: one.at_s):
        if one.happens == "antenna shorts":
            across = CLOSED
        elif one.happens in ("antenna opens", "antenna changes"):
            across = OPEN
            is_new = one.happens == "antenna changes"
            closed = len(ports) if is_new else -1
            if is_new:
                z = one.impedance_ohm
                part = coil(z.imag / scenario.omega) if z.imag > 0 else capacitor(-1 / (scenario.omega * z.imag)) if z.imag else series()
                ports.append(series(resistor(z.real), part))
    path = with_connectors(scenario.path, scenario.events)
    antenna = scenario.antenna
    if any(one.happens.startswith("antenna") for one in scenario.events):
        behind = [series(resistor(CLOSED if k == closed else OPEN), port) for k, port in enumerate(ports)]
        has_short = any(one.happens == "antenna shorts" for one in scenario.events)
        antenna = made_of(parallel(*behind, *([resistor(across)] if has_short else [])))
    return scenario.model_copy(update={"antenna": antenna, "path": path, "events": ()})


def check_rest(scenario: Scenario) -> None:
    """After the last event a station comes to rest where the circuit that it then is has its steady state, to the last digits."""
    points = grid_of(scenario)
    march = marching(scenario, points)
    with mock.patch.object(settling, "MOST_PERIODS", 1500):
        try:
            steady = settle(march, points, earliest(scenario, march), TOLERANCE, march.advance)
        except NotSettled:
            reject()  # it rings for long
    expected = Discrete(left_behind(scenario), march.plan.sections, march.dt)
    np.testing.assert_allclose(steady.voltage, expected.voltage, rtol=0, atol=AGREE * np.abs(expected.voltage).max())
    np.testing.assert_allclose(steady.current, expected.current, rtol=0, atol=AGREE * np.abs(expected.current).max())


@settings(max_examples=10)
@given(eventful())
def test_the_steady_state_that_is_left(scenario):
    check_rest(scenario)


@pytest.mark.slow
@settings(max_examples=150)
@given(eventful())
def test_the_steady_state_that_many_leave(scenario):
    check_rest(scenario)


PATH = [line(length=0.8 * LENGTH, resistance=0.4), network(element("series", "inductor", 4e-7, 0.5))]
LAST = {
    "opens": [event(4.0, "antenna opens")],
    "shorts": [event(4.0, "antenna shorts")],
    "changes": [event(3.0, "antenna opens"), event(6.0, "antenna changes", impedance_ohm=80 + 30j)],
    "a connector": [event(4.0, "connector fails", behind="line", resistance_ohm=35.0)],
    "all at once": [
        event(4.0, "connector fails", behind="line", resistance_ohm=35.0),
        event(4.0, "antenna changes", impedance_ohm=80 + 30j),
    ],
}
# A closed contact is a milliohm in a station of tens of ohms, on top of the grid's own error (w dt)^2/12 at 200 steps a period.
CONTACT_AND_GRID = 5e-4


@pytest.mark.parametrize("name", LAST)
@pytest.mark.parametrize("ratio", [1.0, 4.0])
def test_the_closed_form_of_the_end(name, ratio):
    """A whole run against the closed form of at_end(), behind an ideal ratio too."""
    scenario = with_events(station([*PATH, Transformer(impedance_ratio=ratio)], 25 - 60j), *LAST[name])
    found, exact = simulate(scenario).outcome.readings().flatten(), solve(scenario.at_end()).flatten()
    largest = exact["line.forward_in_w"]
    assert set(exact) == set(found)
    for key, value in exact.items():
        if key.endswith("_w"):
            assert found[key] == pytest.approx(value, rel=0, abs=CONTACT_AND_GRID * largest), key


@pytest.mark.parametrize("before", [25 - 60j, 25 + 60j])
@pytest.mark.parametrize("after", [80 + 30j, 80 - 30j])
def test_a_contact_that_opens_between_two_coils(before, after):
    """The coils' currents agree in all of their digits then, and the voltage across the gigohm between them is no difference of these: at
    first it was taken for one, and the books of this run missed 3e-9 of its energy."""
    march = simulate(with_events(station(PATH, before), event(4.0, "antenna changes", impedance_ohm=after))).outcome.stepper
    assert march.worst_residual <= A_STEP
    assert march.accumulated_residual() <= A_RUN


def test_turns_between_a_contact_and_the_network_do_not_matter():
    """A contact behind a ratio of 1:9 in impedance is nine times as large as seen from in front: the same wave, to the rounding, as a
    station without the ratio whose antenna, contacts and connector are a ninth."""
    events = (event(2.0, "antenna opens"), event(3.1, "connector fails", behind="ratio", resistance_ohm=90.0))
    behind = with_events(station([line(), Transformer(name="ratio", impedance_ratio=9.0)], 270 + 90j), *events)
    plain = with_events(
        station([line(), network()], 30 + 10j),
        event(2.0, "antenna opens"),
        event(3.1, "connector fails", behind="network", resistance_ohm=10.0),
    )
    one, other = marching(behind), marching(plain)
    for turn in other.plan.turns:  # as seen from in front
        assert turn.at_s in (events[0].at_s, events[1].at_s)
    branches = other.plan.circuits[-1].branches
    for k, branch in enumerate(branches):
        if branch.kind == "R" and branch.value == CLOSED:
            branches[k] = replace(branch, value=CLOSED / 9)
    turns = [replace(turn, ohm=turn.ohm / 9 if turn.ohm == OPEN else turn.ohm) for turn in other.plan.turns]
    other.plan.turns[:] = turns
    other = Stepper(other.plan, other.gauges, other.dt, other.drive)
    for _ in range(12):
        one.advance(20)
        other.advance(20)
        np.testing.assert_allclose(one.v, other.v, rtol=0, atol=NEAR * np.abs(other.v).max())
    assert one.heat_totals()[SWITCH] == pytest.approx(other.heat_totals()[SWITCH], rel=NEAR)


def turned_at_the_largest(antenna: complex, happens: str) -> tuple[float, float, float, float, float]:
    """A station whose antenna, nearly or wholly a coil or a capacitor, turns so that the contact is as large as its reactance just when
    that holds most. Returns, in J, the most that it holds; what it holds when the turn begins; and what comes out of the line and goes
    into the contact and into the antenna's resistance from then on."""
    points, calm = 200, station([line(length=0.6 * LENGTH)], antenna)
    is_coil, omega = antenna.imag > 0, calm.omega
    march = marching(with_events(calm, event(50.0, happens)), points)
    row, root = march.rows.gauges["antenna"], math.sqrt(50.0)  # waves against 50 ohm
    march.advance(8 * points)
    seen = []
    for _ in range(points):
        march.advance(1)
        a, b = march.y[row : row + 2]
        seen.append(antenna.imag / omega * ((a - b) / root) ** 2 / 2 if is_coil else ((a + b) * root) ** 2 / (-2 * antenna.imag * omega))
    largest = int(np.argmax(seen[points // 2 :])) + points // 2
    first = largest - round(math.log2(abs(antenna.imag) / CLOSED if is_coil else OPEN / abs(antenna.imag)))
    held = (math.sqrt(seen[first - 1]) + math.sqrt(seen[first])) ** 2 / 4  # at the whole step, where a turn begins
    march = marching(with_events(calm, event((8 * points + first) / points, happens)), points)
    march.advance(8 * points + first)
    heat, before = march.heat_totals(), [march.row_total(row), march.row_total(row + 1)]
    march.advance(RAMP + 2)
    through = [march.row_total(row) - before[0], march.row_total(row + 1) - before[1]]
    spent = [march.heat_totals().get(owner, 0.0) - heat.get(owner, 0.0) for owner in (SWITCH, "antenna")]
    a, b = march.y[row : row + 2]
    assert abs(a - b if is_coil else a + b) < NOTHING_LEFT * max(abs(a), abs(b))
    return seen[largest], held, through[0] - through[1], *spent


# A milliohm in 50 ohm leaves 4e-5 of what there was. The books stand one step behind the waves, in which the
# line gives up to w dt of what is held; and half a step lies between what is seen and the instant of a turn.
NOTHING_LEFT, A_STEP_LATE = 1e-4, 2 * math.pi / 200


@pytest.mark.parametrize("antenna", [5 + 300j, 2 + 900j])
def test_what_a_coil_held_ends_in_the_contact_that_opens(antenna):
    """1/2 L i^2, and what the line gives while the contact opens: nearly all of it is heat in the contact, an arc in life."""
    most, held, line_gave, contact, resistance = turned_at_the_largest(antenna, "antenna opens")
    assert contact + resistance == pytest.approx(held + line_gave, rel=A_STEP_LATE)
    assert contact > 0.95 * most
    assert resistance < 0.1 * most


@pytest.mark.parametrize("antenna", [-80j, -400j])
def test_what_a_capacitor_held_ends_in_the_contact_that_shorts(antenna):
    """1/2 C v^2, likewise."""
    most, held, line_gave, contact, resistance = turned_at_the_largest(antenna, "antenna shorts")
    assert resistance == 0
    assert contact == pytest.approx(held + line_gave, rel=A_STEP_LATE)
    assert contact > 0.95 * most


def test_after_the_key_is_up():
    """Nothing more comes from the transmitter; what the lines held goes into the antenna, into heat, and back into the transmitter."""
    scenario = with_events(station(PATH, 25 - 60j, 20.0), event(40.0, "key up"))
    run = perform.simulate(scenario)
    t = run.traces
    up = int(np.searchsorted(t.time_s, 40 * PERIOD))
    left, stored, antenna = t.left_transmitter_j, t.stored_j, t.into_antenna_j
    heat = sum(t.heat_j.values())
    given_back = left[up] - left[-1]
    assert given_back > 0
    assert stored[-1] < 1e-6 * stored[up]
    spent = antenna[-1] - antenna[up] + heat[-1] - heat[up] + given_back
    assert spent == pytest.approx(stored[up], rel=1e-6)
    assert antenna[-1] - antenna[up] > 0.1 * stored[up]
    assert run.moments["key up"] == 40 * PERIOD
    assert run.readings.antenna.power_w == pytest.approx(solve(scenario.at_end()).antenna.power_w, rel=CONTACT_AND_GRID)
