"""A transmitter whose drive is controlled: its detector, where the loop comes to rest, its books, and when it hunts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bouncesim.errors import NotSettled
from bouncesim.exact.solve import solve
from bouncesim.march import loop, stepper
from bouncesim.march.line import advance_cells
from bouncesim.march.loop import control_drive
from bouncesim.march.settling import settle
from bouncesim.march.simulation import build, earliest, gauges_of, simulate
from bouncesim.scenario import Keying, Scenario, Transmitter
from tests.march.grids import FREQUENCY, LENGTH, element, line, network, station
from tests.march.strategies import sizes, stations
from tests.march.test_energy import A_RUN, A_STEP, MOSTLY_KEPT, grid_of, round_trip
from tests.march.test_twin import KERNELS, plain
from tests.march.twin import Twin

PERIOD = 1 / FREQUENCY
POINTS = 24
# Both take the mean of the same readings in another order of additions.
ROUNDING = 1e-12
# A run stops where the estimated rest of the phasors, and the swing of the drive in a window, are below 1e-7.
TOLERANCE, AT_REST = 1e-7, 1e-5
# (w dt)^2/12 is 8e-5 at 200 steps a period; a drive goes with a reading, in which a reflection of some size makes a few times that.
GRID = 1e-3


def transmitter(**told) -> Transmitter:
    return Transmitter(frequency_hz=FREQUENCY, power_w=40.0, **told)


def controlled(scenario: Scenario, key: Keying | None = None, **told) -> Scenario:
    """With a transmitter that controls its drive, the source impedance kept unless another one is told."""
    told.setdefault("source_impedance_ohm", scenario.transmitter.source_impedance_ohm)
    return scenario.model_copy(update={"transmitter": transmitter(**told), "keying": key or scenario.keying})


def by_hand(t: Transmitter, forward: np.ndarray, reflected: np.ndarray, target: np.ndarray, points: int, dt: float) -> np.ndarray:
    """The rule, from its words: the detector has the mean of the last period; the drive changes by as large a share of itself as the
    detector is off from what is held, times dt/tau, tau for lowering or for raising; and stays within its range."""
    if t.behaviour == "fold-back":
        reading, least, most = reflected, t.floor, 1.0
    else:
        reading = forward if t.holds == "forward" else forward - reflected
        least, most = 1e-6, 10 ** (t.drive_limit_db / 10)
    held = t.power_w / 9 if t.behaviour == "fold-back" and t.threshold_w is None else (t.threshold_w or t.level_w or t.power_w)
    drive, found = 1.0, []
    for n in range(len(reading)):
        detected = reading[max(n - points + 1, 0) : n + 1].sum() / points
        off = target[n] - detected
        drive = min(max(drive * (1 + off / held * dt / (t.attack_s if off < 0 else t.release_s)), least), most)
        found.append(drive)
    return np.array(found)


BEHAVIOURS = {
    "fold-back": {"behaviour": "fold-back", "floor": 0.2},
    "fold-back, threshold": {"behaviour": "fold-back", "threshold_w": 1.5},
    "forward held": {"behaviour": "level-controlled"},
    "delivered held": {"behaviour": "level-controlled", "holds": "delivered", "level_w": 25.0, "drive_limit_db": 1.0},
}


@pytest.mark.parametrize("kernel", [control_drive, plain(control_drive)], ids=["compiled", "plain"])
@pytest.mark.parametrize("name", BEHAVIOURS)
def test_the_rule_by_hand(name, kernel):
    """Random readings that wander through the whole range, and a target that does what a key does to it."""
    t = transmitter(**BEHAVIOURS[name], attack_s=PERIOD, release_s=0.5 * PERIOD)
    scenario = station([line()], 120.0).model_copy(update={"transmitter": t})
    march = build(scenario, POINTS, controlled=True)
    control, row = march.control.arrays(march.dt, march.rows), march.rows.gauges["transmitter"]
    chance = np.random.default_rng(5)
    count = 40 * POINTS
    slow = 1.2 - 1.2 * np.cos(2 * np.pi * np.arange(count) / count * np.array([[3.0], [5.0]]))
    waves = chance.normal(size=(2, count)) * slow * math.sqrt(t.held_w)
    target = t.held_w * np.clip(np.arange(count) / (5 * POINTS), 0, 1)
    y, found = np.zeros(march.rows.count), []
    for n in range(count):
        y[row : row + 2] = waves[:, n]
        kernel(y, control, target[n])
        found.append(control[1][loop.SHARE])
        assert control[1][loop.GAIN] == math.sqrt(found[-1])
    expected = by_hand(t, *waves**2, target, POINTS, march.dt)
    np.testing.assert_allclose(found, expected, rtol=0, atol=ROUNDING * count)
    least, most = t.drive_range
    assert (control[1][loop.LOWEST], control[1][loop.HIGHEST]) == (min(1.0, *found), max(1.0, *found))
    assert np.isclose(expected, least).any() or t.behaviour == "level-controlled"  # the limits came into play
    assert np.isclose(expected, most).any()


@pytest.mark.parametrize("is_plain", [False, True], ids=["compiled", "plain"])
def test_a_whole_station_by_hand(is_plain, monkeypatch):
    """The slow twin under the same rule, worked out from its own waves at the transmitter: every voltage, current, heat and energy."""
    if is_plain:
        for name in KERNELS:
            monkeypatch.setattr(loop, name, plain(getattr(loop, name)))
        monkeypatch.setattr(loop, "advance_cells", plain(advance_cells))
        monkeypatch.setattr(loop, "halfway", plain(loop.halfway))
        monkeypatch.setattr(stepper, "march", plain(loop.march))
    told = {"behaviour": "fold-back", "threshold_w": 1.0, "attack_s": 2 * PERIOD, "release_s": PERIOD, "source_impedance_ohm": 30.0}
    scenario = controlled(station([network(element("series", "inductor", 4e-7)), line(resistance=1.0)], 9 - 90j), **told)
    points = 12
    march = build(scenario, points, controlled=True)
    twin = Twin(scenario, march.plan.sections, march.dt)
    t, emf = scenario.transmitter, scenario.emf_v_peak
    forward, reflected = [], []
    drive, steps = 1.0, 60 if is_plain else 400
    for n in range(steps):
        march.advance(1)
        twin.step(emf * np.sin(2 * np.pi * (n + 0.5) / points) * math.sqrt(drive))
        driven, source = (next(part for part in twin.networks[0].parts if part.owner == owner) for owner in ("emf", "source"))
        v, i = driven.mean_v - source.mean_v, source.mean_i
        forward.append((v + 50 * i) ** 2 / 200)
        reflected.append((v - 50 * i) ** 2 / 200)
        target = np.full(n + 1, 1.0)
        drive = by_hand(t, np.array(forward), np.array(reflected), target, points, march.dt)[-1]
        assert march.share == pytest.approx(drive, rel=0, abs=ROUNDING * steps)
    assert drive < 0.9
    np.testing.assert_allclose(march.v, np.concatenate(twin.v), rtol=0, atol=1e-10 * np.abs(march.v).max())
    np.testing.assert_allclose(march.i, np.concatenate(twin.i), rtol=0, atol=1e-10 * np.abs(march.i).max())
    assert march.emf_total == pytest.approx(twin.emf_energy, rel=1e-10)
    for owner, joule in twin.heat.items():
        assert march.heat_totals()[owner] == pytest.approx(joule, rel=0, abs=1e-10 * twin.emf_energy), owner


def at_rest(scenario: Scenario, points: int):
    """A controlled run's stepper once it has settled, and the forward and reflected power of the same grid at full drive."""
    full, march = (build(scenario, points, controlled=held) for held in (False, True))
    steady = settle(full, points, earliest(scenario, full), 1e-9, full.advance)
    row = full.rows.gauges["transmitter"]
    settle(march, points, earliest(scenario, march), TOLERANCE, march.advance)
    return march, *(float(power) for power in np.abs(steady.rows[row : row + 2]) ** 2 / 2)


NET = network(element("series", "inductor", 6e-7, 0.4), element("shunt", "capacitor", 2e-10))
STATIONS = {
    "echoes": station([line(length=1.6 * LENGTH, resistance=0.5)], 110 + 40j, 20.0),
    "one echo": station([line(length=1.6 * LENGTH)], 170 + 0j, 50.0),
    "network": station([NET, line(length=1.3 * LENGTH, resistance=1.0)], 25 - 60j, 120.0),
}
# Behaviour, and the drive where it must come to rest, from forward and reflected power at full drive, both worked out by hand.
RESTS = {
    "folds back": ({"behaviour": "fold-back", "threshold_w": 2.0, "floor": 0.01}, lambda f, r: 2.0 / r),
    "folds back to its floor": ({"behaviour": "fold-back", "threshold_w": 0.5, "floor": 0.4}, lambda f, r: 0.4),
    "does not fold back": ({"behaviour": "fold-back", "threshold_w": 500.0}, lambda f, r: 1.0),
    "holds forward": ({"behaviour": "level-controlled"}, lambda f, r: 40.0 / f),
    "holds delivered": ({"behaviour": "level-controlled", "holds": "delivered", "drive_limit_db": 12.0}, lambda f, r: 40.0 / (f - r)),
    "holds less": ({"behaviour": "level-controlled", "level_w": 11.0, "drive_limit_db": 0.0}, lambda f, r: 11.0 / f),
    "cannot hold it": (
        {"behaviour": "level-controlled", "holds": "delivered", "level_w": 4e4, "drive_limit_db": 1.0},
        lambda f, r: 10**0.1,
    ),
}


@pytest.mark.parametrize("times", [(30, 30), (80, 160), (200, 40)], ids=["quick", "slow to raise", "slow to lower"])
@pytest.mark.parametrize("behaviour", RESTS)
@pytest.mark.parametrize("name", STATIONS)
def test_where_it_comes_to_rest(name, behaviour, times):
    """At the fixed point of the grid's own readings at full drive, however fast it gets there."""
    told, rest = RESTS[behaviour]
    scenario = controlled(STATIONS[name], **told, attack_s=times[0] * PERIOD, release_s=times[1] * PERIOD)
    march, forward, reflected = at_rest(scenario, POINTS)
    assert march.share == pytest.approx(rest(forward, reflected), rel=AT_REST)
    assert march.worst_residual <= A_STEP
    assert march.accumulated_residual() <= A_RUN


@pytest.mark.parametrize("key", [Keying(shape="step"), Keying(shape="raised-cosine", rise_s=30 * PERIOD)], ids=["step", "soft"])
def test_the_closed_form_comes_to_rest_there_too(key):
    """All readings of a fine run against the closed form, but for the grid; and full-drive runs are brought to the same rest."""
    told = {"behaviour": "fold-back", "threshold_w": 2.0, "attack_s": 60 * PERIOD, "release_s": 60 * PERIOD}
    scenario = controlled(STATIONS["echoes"], key, **told)
    run = simulate(scenario)
    exact, found = solve(scenario).flatten(), run.outcome.readings().flatten()
    assert 0.1 < exact["transmitter.drive"] < 0.9
    largest = exact["line.forward_in_w"]
    for name, value in exact.items():
        if name.endswith("_w"):
            assert found[name] == pytest.approx(value, rel=0, abs=GRID * largest), name
    assert found["transmitter.drive"] == pytest.approx(exact["transmitter.drive"], rel=GRID)
    full = build(scenario, run.points)
    steady = settle(full, run.points, earliest(scenario, full), TOLERANCE, full.advance)
    brought = type(run.outcome)(scenario, full, steady).readings().flatten()
    for name in ("transmitter.drive", "transmitter.power_w", "line.largest_v_peak", "antenna.power_w"):
        assert brought[name] == pytest.approx(found[name], rel=AT_REST), name


@settings(max_examples=40)
@given(
    stations(most_lines=2, sources=sizes(5.0, 500.0)),
    st.sampled_from(sorted(RESTS)),
    sizes(0.1, 300.0),
    sizes(0.1, 300.0),
)
def test_books_close_while_the_drive_moves(scenario, behaviour, attack, release):
    """Whatever the control does, hunting too: the EMF is what it is in each step. The drive stays in its range."""
    scenario = controlled(scenario, **RESTS[behaviour][0], attack_s=attack * PERIOD, release_s=release * PERIOD)
    march = build(scenario, grid_of(scenario), controlled=True)
    march.advance(math.ceil(20 * round_trip(scenario) / march.dt))
    slack = max(1.0, march.emf_total / float(march.scalars[loop.SCALE]) / MOSTLY_KEPT)
    assert march.worst_residual <= A_STEP * slack
    assert march.accumulated_residual() <= A_RUN * slack
    least, most = scenario.transmitter.drive_range
    low, high = march.share_range()
    assert least <= low <= high <= most


def critical_s(scenario: Scenario) -> float:
    """The time constant at which a control begins to hunt, where a source that equals the line sees one echo. What left with the drive p
    comes back a round trip T later and is read as a mean over a period, half a period later on the average. In shares of the rest it is

        tau dp/dt = p(t) (1 - p(t - D)),   D = T + 1/(2 f),

    which comes to rest where D/tau < pi/2 and swings for ever where it is more (E. M. Wright, J. reine angew. Math. 194, 1955, from memory;
    Hutchinson's equation)."""
    return 2 / math.pi * (round_trip(scenario) + PERIOD / 2)


@pytest.mark.parametrize("wavelengths", [3.0, 7.5])
@pytest.mark.parametrize(("factor", "hunts"), [(0.5, True), (0.85, True), (1.2, False), (4.0, False)])
def test_hunting(wavelengths, factor, hunts):
    """A control that acts sooner than its reading follows swings for ever, and that is what is reported; a slower one comes to rest."""
    scenario = station([line(length=wavelengths * LENGTH)], 250.0)
    told = {"behaviour": "fold-back", "threshold_w": 4.0, "floor": 0.01}
    tau = factor * critical_s(controlled(scenario, **told))
    scenario = controlled(scenario, **told, attack_s=tau, release_s=tau)
    if not hunts:
        march, _, reflected = at_rest(scenario, POINTS)
        assert march.share == pytest.approx(4.0 / reflected, rel=AT_REST)
        return
    march = build(scenario, POINTS, controlled=True)
    message = r"the transmitter hunts: its control swings the drive between \d+ % and \d+ % of full power .*longer attack and release"
    with pytest.raises(NotSettled, match=message):
        settle(march, POINTS, earliest(scenario, march), 1e-6, march.advance)
    assert march.accumulated_residual() <= A_RUN


def test_isolated_is_linear_at_its_terminals():
    """Bit for bit the wave of a linear source that equals the rated load. The dump load takes what comes back: of the power that the EMF
    could give to a matched load, s^2/(4 Z) at every instant, all that did not go out."""
    path = [network(element("series", "inductor", 6e-7, 0.4)), line(length=1.3 * LENGTH, resistance=1.0)]
    linear = station(path, 25 - 60j, 75.0)
    told = {"rated_load_ohm": 75.0, "source_impedance_ohm": 75.0}
    linear = linear.model_copy(update={"transmitter": transmitter(**told)})
    isolated = linear.model_copy(update={"transmitter": transmitter(**told, behaviour="isolated")})
    marches = [build(scenario, 60, controlled=True) for scenario in (linear, isolated)]
    steps = 900
    for march in marches:
        march.advance(steps)
    np.testing.assert_array_equal(marches[0].v, marches[1].v)
    np.testing.assert_array_equal(marches[0].i, marches[1].i)
    march = marches[1]
    assert gauges_of(isolated, march.plan)[0].reference_ohm == 75.0
    row = march.rows.gauges["transmitter"]
    # The books of the heat stand one step behind those of the rows' own sum at the end of a run; so does the EMF's.
    emf = isolated.emf_v_peak * np.sin(2 * np.pi * (np.arange(steps - 1) + 0.5) / 60)
    could_give = float(np.sum(emf**2)) / (4 * 75.0) * march.dt
    forward, dumped = march.row_total(row), march.row_total(row + 1)
    net = march.emf_total - march.heat_totals()["source"]
    assert forward == pytest.approx(could_give, rel=1e-12)
    assert dumped == pytest.approx(could_give - net, rel=1e-10)
    assert dumped > 0.1 * could_give
