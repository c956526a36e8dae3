"""Runs settle to the discrete phasors: a bug shows apart from the error of the grid."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bouncesim.march.settling import settle
from bouncesim.scenario import Antenna, Keying, Meter
from tests.march.discrete import Discrete
from tests.march.grids import (
    DELAY,
    FREQUENCY,
    capacitor,
    coil,
    element,
    line,
    made_of,
    network,
    on_grid,
    parallel,
    receiving,
    resistor,
    series,
    station,
)

# A run is stopped where its estimated rest is TOLERANCE; the estimate may be short by the factor 6 of the design, and a lock-in
# over 1e3 samples of a wave that has been marched 1e5 steps carries their rounding.
TOLERANCE = 1e-12
AGREE = 1e-10

SOFT = Keying(shape="raised-cosine", rise_s=16 / FREQUENCY)
L_TUNER = network(element("series", "inductor", 8e-7), element("shunt", "capacitor", 3e-10))
L_WITH_Q = network(element("shunt", "capacitor", 3e-10, 0.2), element("series", "inductor", 8e-7, 0.5))
PI = network(element("shunt", "capacitor", 2e-10), element("series", "inductor", 5e-7, 0.2), element("shunt", "capacitor", 1e-10))
T = network(element("series", "capacitor", 4e-10), element("shunt", "inductor", 1e-6, 0.4), element("series", "capacitor", 3e-10))

STATIONS = {
    "resistive": ([line()], 120.0, 50.0, "series"),
    "L tuner": ([L_TUNER, line()], 25 - 60j, 50.0, "series"),
    "L tuner with Q, meter, loss": ([Meter(), L_WITH_Q, line(resistance=2.0, conductance=3e-4)], 25 + 40j, 15.0, "series"),
    "L tuner and parallel antenna": ([L_TUNER, line()], 25 - 60j, 50.0, "parallel"),
    "pi network": ([PI, line(resistance=1.0)], 90 + 30j, 20.0, "parallel"),
    "T network": ([T, line(conductance=1e-4)], 90 + 30j, 300.0, "series"),
    "ideal source on the line": ([line(resistance=1.0)], 120 - 10j, 0.0, "series"),
    "ideal source into a coil": ([network(element("series", "inductor", 5e-7)), line()], 120.0, 0.0, "series"),
    "ideal source across a capacitor": (
        [network(element("shunt", "capacitor", 2e-10), element("series", "resistor", 30.0)), line()],
        70 + 20j,
        0.0,
        "series",
    ),
    "shorted antenna": ([line(resistance=1.0)], 0.0, 50.0, "series"),
    "two lines, network between": ([line(), PI, Meter(), line(300.0, 13.1, resistance=1.0)], 25 - 60j, 50.0, "series"),
}


# A trap in series with a loss; three resonances side by side, as a measured antenna is told; steps of voltage pass the second alone.
TRAP = series(resistor(21.0), resistor(4.0, radiates=False), parallel(coil(4e-7), capacitor(4e-10), resistor(900.0)))
FOSTER = parallel(capacitor(6e-11), series(resistor(40.0), coil(9e-7), capacitor(3e-10)), series(resistor(120.0), coil(4e-7)))
LOSSY_END = Antenna(impedance_ohm=25 - 60j, loss_resistance_ohm=8.0)
ENDS = {
    "trap": station([line()], made_of(TRAP), keying=SOFT),
    "trap behind a network, ideal source": station([L_WITH_Q, line(resistance=1.0)], made_of(TRAP), 0.0, keying=SOFT),
    "three branches": station([line(conductance=2e-4)], made_of(FOSTER), 20.0, keying=SOFT),
    "antenna with loss": station([L_TUNER, line()], LOSSY_END, keying=SOFT),
    "from an antenna": receiving([line(resistance=1.0), L_TUNER], Antenna(impedance_ohm=25 - 60j), 75.0, SOFT),
    "from an antenna with loss": receiving([line(), Meter()], LOSSY_END, keying=SOFT),
    "from an inductive antenna": receiving([line(), L_WITH_Q], Antenna(impedance_ohm=25 + 60j, form="parallel"), keying=SOFT),
    "from a capacitive antenna, parallel": receiving([line(), Meter()], Antenna(impedance_ohm=25 - 60j, form="parallel"), keying=SOFT),
    "from three branches": receiving([PI, line(resistance=2.0)], made_of(FOSTER, 40 - 20j), 75.0, SOFT),
    "from a trap": receiving([line(), line(300.0, 13.1, resistance=1.0)], made_of(TRAP, 20 + 10j), 75.0, SOFT),
}


@pytest.mark.parametrize("name", [*STATIONS, *ENDS])
@pytest.mark.parametrize(("cells", "points"), [(20, 20), (20, 21), (16, 20), (30, 60)])
def test_steady_state(name, cells, points):
    """Every node of every line, and every row that a reading comes from. The (first) line is one wavelength: nu = cells/points."""
    if name in STATIONS:
        path, antenna, source, form = STATIONS[name]
    scenario = ENDS[name] if name in ENDS else station(path, antenna, source, form, SOFT)
    counts = [cells, int(13.1 / 20 * points)][: len(scenario.lines)]
    march = on_grid(scenario, counts, cells / points)
    steady = settle(march, points, SOFT.rise_s + 3 * DELAY, TOLERANCE, march.advance)
    expected = Discrete(scenario, march.plan.sections, march.dt)
    np.testing.assert_allclose(steady.voltage, expected.voltage, rtol=0, atol=AGREE * np.abs(expected.voltage).max())
    np.testing.assert_allclose(steady.current, expected.current, rtol=0, atol=AGREE * np.abs(expected.current).max())
    gauges = {gauge.name: gauge for gauge in march.gauges}
    places = {"transmitter": expected.before[scenario.path[0].name], "antenna": expected.after[scenario.path[-1].name]}
    for part in scenario.path:
        if part.part in ("meter", "line"):
            places[part.name] = expected.before[part.name]
    for place, (v, i) in places.items():
        z, row = gauges[place].reference_ohm, march.rows.gauges[place]
        waves = np.array([v + z * i, v - z * i]) / (2 * math.sqrt(z))
        np.testing.assert_allclose(steady.rows[row : row + 2], waves, rtol=0, atol=AGREE * np.abs(waves).max())
