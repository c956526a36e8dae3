"""A station small enough to be marched as plain Python: every reading of power against the closed form, as near as its grid comes."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim import exact
from bouncesim.march.graph import GROUND, Circuit, normal_tree
from bouncesim.march.outcome import Outcome
from bouncesim.march.settling import settle
from bouncesim.scenario import Keying, Line, Meter
from tests.march.grids import DELAY, FREQUENCY, element, line, network, on_grid, station

CELLS = 60
A_STEP, A_RUN = 1e-12, 1e-11  # the books: the design's own limits
GRID = 0.02  # 60 steps a period: (w dt)^2/12 is 1e-3, and the tuner makes a few times as much of it
SOFT = Keying(shape="raised-cosine", rise_s=16 / FREQUENCY)
TUNER = network(element("shunt", "capacitor", 2e-10, 0.2), element("series", "inductor", 5e-7, 0.5))


def test_readings_of_a_small_station():
    scenario = station([Meter(name="shack"), TUNER, line(resistance=1.0, conductance=2e-4)], 90 + 30j, keying=SOFT)
    march = on_grid(scenario, [CELLS], 1.0)
    found = Outcome(scenario, march, settle(march, CELLS, SOFT.rise_s + DELAY, 1e-6, march.advance)).readings()
    expected = exact.solve(scenario)
    assert found.transmitter.power_w == pytest.approx(expected.transmitter.power_w, rel=GRID)
    assert found.antenna.power_w == pytest.approx(expected.antenna.power_w, rel=GRID)
    assert found.networks[0].heat_w == pytest.approx(expected.networks[0].heat_w, rel=GRID)
    for ours, theirs in ((found.meters[0], expected.meters[0]), (found.lines[0], expected.lines[0])):
        for name in ("forward_w", "reflected_w", "swr", "forward_in_w", "reflected_in_w", "swr_in", "swr_out", "heat_w"):
            if hasattr(ours, name):
                assert getattr(ours, name) == pytest.approx(getattr(theirs, name), rel=2 * GRID), name
    # Power on its way: what the meter passes on is what the transmitter gives, and is below what is available.
    meter = found.meters[0]
    assert meter.forward_w - meter.reflected_w == pytest.approx(found.transmitter.power_w, rel=1e-9)
    assert found.transmitter.power_w <= scenario.transmitter.power_w


def test_the_books_of_a_small_line_of_wideband_loss():
    """Skin effect and dielectric loss, on a line that is all edge: 200 steps."""
    cable = Line(length_m=20.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.1, dielectric_share=0.3, loss_law="wideband")
    march = on_grid(station([cable], 120.0), [12], 0.9)
    assert march.plan.sections[0].series_branches
    assert march.plan.sections[0].shunt_branches
    march.advance(200)
    assert march.worst_residual <= A_STEP
    assert march.accumulated_residual() <= A_RUN
    assert march.heat_totals()["line"] > 0


def test_the_tree_takes_the_smallest_resistances():
    """A closed contact of a milliohm beside an open one of a gigohm: in the tree the gigohm would drown what the milliohm carries."""
    circuit = Circuit()
    node = circuit.node()
    gigohm, milliohm = (circuit.add("R", node, GROUND, ohm, "contact") for ohm in (1e9, 1e-3))
    assert normal_tree(circuit) == ([milliohm], [gigohm])


def test_the_books_in_pieces():
    """Pieces that are booked on the way are what stepping from end to end of each books, to the last digit."""
    scenario = station([TUNER, line(resistance=1.0)], 90 + 30j, keying=SOFT)
    at_once, bit_by_bit = on_grid(scenario, [CELLS], 1.0), on_grid(scenario, [CELLS], 1.0)
    at_once.advance(100, ends=[7, 40, 41])
    for steps in (7, 33, 1, 59):
        bit_by_bit.advance(steps)
    assert at_once.row_ends == bit_by_bit.row_ends == [7, 40, 41, 100]
    assert np.array_equal(at_once.row_j, bit_by_bit.row_j)
