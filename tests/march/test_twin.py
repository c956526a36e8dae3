"""The kernels, compiled and as plain Python, against the slow twin: single ones first, then whole stations of many shapes."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim.march import loop, stepper
from bouncesim.march.line import advance_cells, advance_cells_bare, midstep
from bouncesim.march.loop import BARE, LARGEST, LOCK_IN
from bouncesim.scenario import Antenna, Meter
from tests.march.discrete import passes_a_step
from tests.march.grids import coil, element, line, made_of, network, on_grid, parallel, receiving, resistor, series, station
from tests.march.test_discrete import FOSTER, LOSSY_END, TRAP
from tests.march.twin import Twin

# A few hundred steps in another order of additions; the twin's undamped source constraint v_n+1 = 2 s - v_n adds its rounding up.
ROUNDING = 1e-12
STEPS = 240
CELLS = 9
KERNELS = ("advance_lines", "close_books", "step_networks", "control_drive", "watch_places", "watch")


def plain(kernel):
    """A kernel as plain Python; where compiling is switched off it is that already."""
    return getattr(kernel, "py_func", kernel)


@pytest.fixture(params=["compiled", "plain"])
def kernels(request, monkeypatch):
    """Runs a test with the kernels as they are, and once more with all of them as plain Python."""
    if request.param == "plain":
        for name in KERNELS:
            monkeypatch.setattr(loop, name, plain(getattr(loop, name)))
        monkeypatch.setattr(loop, "advance_cells", plain(advance_cells))
        monkeypatch.setattr(loop, "midstep", plain(midstep))
        monkeypatch.setattr(loop, "halfway", plain(loop.halfway))
        monkeypatch.setattr(stepper, "march", plain(loop.march))
    return request.param


@pytest.mark.parametrize("kernel", [advance_cells, plain(advance_cells)], ids=["compiled", "plain"])
def test_cells(kernel):
    chance = np.random.default_rng(1)
    v, i = chance.normal(size=12), chance.normal(size=11)
    a_i, b_i, a_v, b_v = 0.9, 0.7, 0.8, 0.6
    new_i = a_i * i + b_i * (v[:-1] - v[1:])
    new_v = v.copy()
    new_v[1:-1] = a_v * v[1:-1] + b_v * (new_i[:-1] - new_i[1:])
    sums = [np.sum(v[1:-1] ** 2), np.sum(i * new_i), np.sum(new_i**2), np.sum(v[1:-1] * new_v[1:-1])]
    bare_v, bare_i = v.copy(), i.copy()
    found = kernel(v, i, a_i, b_i, a_v, b_v)
    np.testing.assert_allclose(v, new_v, rtol=0, atol=ROUNDING)
    np.testing.assert_allclose(i, new_i, rtol=0, atol=ROUNDING)
    np.testing.assert_allclose(found, sums, rtol=ROUNDING)
    advance_cells_bare(bare_v, bare_i, a_i, b_i, a_v, b_v)
    np.testing.assert_allclose(bare_v, new_v, rtol=0, atol=ROUNDING)
    np.testing.assert_allclose(bare_i, new_i, rtol=0, atol=ROUNDING)


@pytest.mark.parametrize("kernel", [advance_cells, plain(advance_cells)], ids=["compiled", "plain"])
def test_a_single_cell(kernel):
    v, i = np.array([3.0, 1.0]), np.array([0.5])
    vv, ii, pp, vw = kernel(v, i, 0.5, 2.0, 9.0, 9.0)
    assert (v.tolist(), i.tolist()) == ([3.0, 1.0], [4.25])  # 0.5 * 0.5 + 2 * (3 - 1); the ends are not the cells' to move
    assert (vv, ii, pp, vw) == (0.0, 0.5 * 4.25, 4.25**2, 0.0)


TOPOLOGIES = {
    "bare line": station([line()], 120.0),
    "line with loss": station([line(resistance=2.0, conductance=3e-4)], 120.0, source=15.0),
    # a capacitor in parallel with the half cell of the line: a loop of capacitors
    "L tuner, capacitor at the line": station(
        [network(element("series", "inductor", 8e-7), element("shunt", "capacitor", 3e-10)), line()], 25 - 60j
    ),
    "L tuner with Q": station(
        [network(element("series", "inductor", 8e-7, 0.3), element("shunt", "capacitor", 3e-10, 0.1)), line(resistance=1.0)],
        25 + 40j,
    ),
    "L tuner, capacitor at the source": station(
        [network(element("shunt", "capacitor", 3e-10), element("series", "inductor", 8e-7)), line()], 25 - 60j
    ),
    "ideal source across the line": station([line()], 230.0, source=0.0),
    "ideal source across a capacitor": station(
        [network(element("shunt", "capacitor", 3e-10), element("series", "resistor", 20.0)), line()], 25 - 60j, source=0.0
    ),
    "ideal source, series capacitor": station([network(element("series", "capacitor", 2e-10)), line(conductance=1e-4)], 70.0, source=0.0),
    "ideal source into a coil": station([network(element("series", "inductor", 5e-7)), line()], 70.0, source=0.0),
    # two coils in a row with nothing between them: a cut-set of inductors
    "two coils in a row": station([network(element("series", "inductor", 5e-7), element("series", "inductor", 3e-7)), line()], 70.0),
    "star of three coils": station(
        [
            network(
                element("series", "inductor", 5e-7),
                element("shunt", "inductor", 9e-7),
                element("series", "inductor", 3e-7),
            ),
            line(),
        ],
        70 + 90j,
    ),
    "two capacitors in a row": station(
        [network(element("series", "capacitor", 2e-10), element("series", "capacitor", 3e-10)), line()], 70.0
    ),
    "pi of capacitors on an ideal source": station(
        [
            network(element("shunt", "capacitor", 2e-10), element("series", "capacitor", 3e-10), element("shunt", "capacitor", 1e-10)),
            line(),
        ],
        70.0,
        source=0.0,
    ),
    "shorted antenna": station([line(resistance=0.5)], 0.0, source=20.0),
    "antenna of pure reactance": station([line()], -80j, source=20.0),
    "coil for an antenna": station([line()], 80j, source=20.0),
    "parallel antenna, inductive": station([line()], 30 + 80j, form="parallel"),
    "parallel antenna, capacitive": station([line()], 30 - 80j, form="parallel"),
    "two lines in a row": station([line(), line(300.0, 13.1, resistance=1.0, conductance=1e-4)], 25 - 60j, source=15.0),
    "meters everywhere": station(
        [
            Meter(name="first"),
            network(element("series", "inductor", 8e-7, 0.3)),
            Meter(name="second", reference_ohm=75),
            line(),
            Meter(name="third"),
            line(75.0, 11.0),
            Meter(name="fourth", reference_ohm=300),
        ],
        25 - 60j,
    ),
    "attenuator between lines": station(
        [
            line(),
            network(element("shunt", "resistor", 150.0), element("series", "resistor", 37.0), element("shunt", "resistor", 150.0)),
            line(50.0, 10.0),
        ],
        25 - 60j,
    ),
    "T of resistors": station(
        [network(element("series", "resistor", 10.0), element("shunt", "resistor", 90.0), element("series", "resistor", 30.0)), line()],
        12 - 30j,
    ),
    "trap": station([line()], made_of(TRAP)),
    "three branches": station([line(resistance=1.0)], made_of(FOSTER), 20.0),
    "short in a branch": station([line()], made_of(series(resistor(30.0), parallel(series(), coil(4e-7)))), 20.0),
    "antenna with loss": station([line()], LOSSY_END),
    "from an antenna": receiving([line(resistance=1.0)], LOSSY_END, 75.0),
    "from a coil of an antenna": receiving([network(element("series", "inductor", 5e-7)), line()], Antenna(impedance_ohm=25 + 60j)),
    # here the EMF reaches the half cell of the line through capacitors alone
    "from a capacitive antenna, parallel": receiving([Meter(), line()], Antenna(impedance_ohm=25 - 60j, form="parallel")),
    "from three branches": receiving([network(element("shunt", "capacitor", 2e-10)), line()], made_of(FOSTER), 75.0),
    "from a trap": receiving([line(), Meter(), line(75.0, 11.0)], made_of(TRAP)),
    "nearly a short and nearly nothing": station(
        [network(element("series", "resistor", 1e-3), element("shunt", "resistor", 1e6)), line()], 12 - 30j
    ),
}


def cells_of(scenario, nu: float) -> list[int]:
    """CELLS for the first line, as many as fit for the others."""
    first = scenario.lines[0].length_m
    return [max(int(CELLS / nu * one.length_m / first), 1) if k else CELLS for k, one in enumerate(scenario.lines)]


@pytest.mark.parametrize("name", TOPOLOGIES)
@pytest.mark.parametrize("nu", [1.0, 0.9])
def test_whole_stations(name, nu, kernels):
    """Voltages, currents, stored energy, every heat and every meter after every tenth step of a soft and incommensurate drive."""
    scenario = TOPOLOGIES[name]
    steps = STEPS if kernels == "compiled" else STEPS // 4

    def volts(time):
        return 40 * np.sin(2 * np.pi * 31e6 * time) + 9 * (1 - np.cos(2 * np.pi * 2.3e6 * time))

    march = on_grid(scenario, cells_of(scenario, nu), nu, volts)
    twin = Twin(scenario, march.plan.sections, march.dt)
    time = np.arange(steps + 1) * march.dt
    transmits = scenario.direction == "transmit"
    ideal = scenario.transmitter.source_impedance_ohm == 0 if transmits else passes_a_step(scenario.antenna)
    emf = (volts(time)[1:] + volts(time)[:-1]) / 2 if ideal else volts(time[:-1] + march.dt / 2)
    for n in range(steps):
        march.advance(1)
        twin.step(emf[n])
        if n % 10 == 9:
            compare(march, twin)
    assert march.worst_residual < 1e-12
    assert march.accumulated_residual() < 1e-11


def compare(march, twin) -> None:
    v, i = np.concatenate(twin.v), np.concatenate(twin.i)
    np.testing.assert_allclose(march.v, v, rtol=0, atol=ROUNDING * np.abs(v).max())
    np.testing.assert_allclose(march.i, i, rtol=0, atol=ROUNDING * np.abs(i).max())
    mid_v, mid_i = march.waves_now()
    np.testing.assert_allclose(mid_v, np.concatenate(twin.mid_v), rtol=0, atol=ROUNDING * np.abs(v).max())
    # The currents into half cells are differences of voltages, divided by dt.
    np.testing.assert_allclose(mid_i, np.concatenate(twin.mid_i), rtol=0, atol=10 * ROUNDING * np.abs(i).max())
    scale = twin.emf_energy + twin.stored
    assert march.stored == pytest.approx(twin.stored, rel=0, abs=ROUNDING * scale)
    assert march.emf_total == pytest.approx(twin.emf_energy, rel=0, abs=ROUNDING * scale)
    found = march.heat_totals()
    assert set(found) == set(twin.heat)
    for owner, joule in twin.heat.items():
        assert found[owner] == pytest.approx(joule, rel=0, abs=ROUNDING * scale), owner
    for name, part in twin.meters.items():
        row = march.rows.gauges[name]
        z = next(gauge.reference_ohm for gauge in march.gauges if gauge.name == name)
        lumped = next(lumped for lumped in twin.networks if part in lumped.parts)
        volts = voltage_of(lumped, part.start)
        expected = np.array([volts + z * part.mean_i, volts - z * part.mean_i]) / (2 * np.sqrt(z))
        np.testing.assert_allclose(march.y[row : row + 2], expected, rtol=0, atol=ROUNDING * np.abs(v).max() / np.sqrt(z))


def voltage_of(lumped, node: int) -> float:
    """Mean voltage of a node over the last step, by adding up branches from the return conductor."""
    known = {0: 0.0}
    while node not in known:
        for part in lumped.parts:
            if part.end in known:
                known.setdefault(part.start, known[part.end] + part.mean_v)
            if part.start in known:
                known.setdefault(part.end, known[part.start] - part.mean_v)
    return known[node]


def test_watching(kernels):
    """What is watched is what could have been computed from every step, whatever the chunks; and watching changes nothing."""
    scenario = station([line(resistance=1.0), line(75.0, 11.0)], 25 - 60j)
    cells, points, steps = [10, 5], 10, 40
    march, bare = on_grid(scenario, cells, 1.0), on_grid(scenario, cells, 1.0)
    turns = 2 * np.pi * (np.arange(steps) + 0.5) / points
    cosine, sine = np.cos(turns), -np.sin(turns)
    mean = np.linspace(0.5, 1.5, steps)  # any weights
    march.advance(steps, LARGEST | LOCK_IN, (cosine, sine, mean))
    voltage, current, rows = [], [], []
    for _ in range(steps):
        bare.advance(1, BARE)
        v, i = bare.waves_now()
        voltage.append(v)
        current.append(i)
        rows.append(bare.y.copy())
    v, i, y = np.array(voltage), np.array(current), np.array(rows)
    np.testing.assert_array_equal(march.v, bare.v)
    np.testing.assert_array_equal(march.i, bare.i)
    for found, history in zip(march.largest, (v, i), strict=True):
        np.testing.assert_allclose(found, np.abs(history).max(axis=0), rtol=ROUNDING)
    for found, weights, history in zip(march.lock, (cosine, sine, cosine, sine, mean, mean), (v, v, i, i, v, i), strict=True):
        np.testing.assert_allclose(found, weights @ history, rtol=0, atol=ROUNDING * np.abs(history).sum())
    np.testing.assert_allclose(march.lock_y, np.array([cosine @ y, sine @ y, mean @ y]), rtol=0, atol=ROUNDING * np.abs(y).sum())


def test_chunks_make_no_difference():
    """One call or many: the same run to the last bit, and the same books but for the order of additions."""
    scenario = station(
        [network(element("series", "inductor", 8e-7, 0.3), element("shunt", "capacitor", 3e-10)), line(resistance=1.0)], 25 - 60j
    )
    whole, pieces = on_grid(scenario, [20], 1.0), on_grid(scenario, [20], 1.0)
    whole.advance(2 * stepper.CHUNK + 77)
    for count in (1, 2, stepper.CHUNK, 77, stepper.CHUNK - 3):
        pieces.advance(count)
    np.testing.assert_array_equal(whole.v, pieces.v)
    assert whole.emf_total == pytest.approx(pieces.emf_total, rel=ROUNDING)
    assert whole.heat_totals() == pytest.approx(pieces.heat_totals(), rel=ROUNDING)
