"""The start of a station against three other ways to it: which is taken, that they agree, and that a fault shows."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.account.verdict import Transient
from bouncesim.compare import transient as module
from bouncesim.compare.check import check
from bouncesim.compare.transient import LADDER_BAR, LAPLACE_BAR, SERIES_BAR, transient
from bouncesim.exact import ladder, laplace
from bouncesim.scenario import Antenna, Event, Keying, Meter, Scenario, Stub
from tests.compare.chance import random_station
from tests.march.grids import FREQUENCY, LENGTH, element, line, network, station

PATHS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
TUNER = network(element("series", "inductor", 8e-7, 0.3), element("shunt", "capacitor", 3e-10, 0.1))
# The ladder of 160 and 320 cells a period, extrapolated, against the inversion, on half a wavelength under a soft key: shows 3e-9.
BETWEEN = 2e-8


@pytest.fixture(autouse=True)
def _fewer_instants(monkeypatch):
    """A third of the time."""
    monkeypatch.setattr(module, "INSTANTS", 4)


LATTICE = {
    "a step": station([line(length=0.7 * LENGTH)], 370.0, 15.0),
    "a linear key, ideal source": station([line(length=0.3 * LENGTH)], 20.0, 0.0, keying=Keying(shape="linear", rise_s=1.7e-7)),
    "a short at the end": station([line(73.0, 0.4 * LENGTH)], 0j, 20.0, keying=Keying(rise_s=2.3e-7)),
    "two lines, delays as 3 to 2": station([line(length=6.0), Meter(), line(75.0, 4.0)], 300.0),
}


@pytest.mark.parametrize("name", LATTICE)
def test_the_lattice_series_to_the_sample(name):
    found = transient(LATTICE[name])
    assert "lattice series" in found.method
    assert found.bar == SERIES_BAR == 1e-12
    assert len(found.rows) == 4 * len(LATTICE[name].lines)
    assert found.holds
    assert found.largest > 0


LOSSY = {
    "a step, bare line": station([line(length=0.3 * LENGTH, resistance=2.0, conductance=3e-4)], 120.0),
    "without distortion": station([line(length=0.2 * LENGTH, resistance=0.3, conductance=0.3 / 2500)], 200.0),
    "a tuner": station([TUNER, Meter(), line(length=0.2 * LENGTH, resistance=1.0)], 25 + 40j),
}


@pytest.mark.parametrize("name", LOSSY)
def test_inversion_of_the_laplace_transform(name):
    found = transient(LOSSY[name])
    assert "Laplace" in found.method
    assert "its own key" in found.key
    assert found.bar == LAPLACE_BAR == 1e-6
    assert len(found.rows) == 4
    assert found.holds


def test_a_ladder_for_several_lines():
    stub = Stub(path=(line(75.0, 2.0),), end="open")
    found = transient(station([line(length=4.0, resistance=0.5), stub, TUNER], 25 - 40j))
    assert "ladder" in found.method
    assert "in place of its own" in found.key  # a step is too sharp for it
    assert found.bar == LADDER_BAR == 1e-5
    assert {row.place for row in found.rows} == {f"{name}, {end} end" for name in ("line", "stub line") for end in ("near", "far")}
    assert found.holds


@pytest.mark.parametrize("source", [0.0, 20.0])
def test_ladder_and_inversion_agree_without_the_simulator(source):
    """Ends of every kind, the loss in both parts of the line."""
    path = [TUNER, line(length=0.5 * LENGTH, resistance=1.0, conductance=2e-4), network(element("shunt", "capacitor", 1e-10))]
    one = station(path, 40 + 30j, source, keying=Keying(rise_s=2 / FREQUENCY), form="parallel")
    step, steps = 1 / FREQUENCY / 128, 400
    coarse, fine = (ladder.solve(one, 1 / FREQUENCY / cells, step, steps)["line"] for cells in (160, 320))
    both = fine + (fine - coarse) / 3
    at = np.array([90, 220, 399])
    inverted = laplace.solve(one, list((at + 1) * step))
    for q, column in ((0, 0), (2, 1)):
        np.testing.assert_allclose(both[at, column], inverted[q], rtol=0, atol=BETWEEN * np.abs(both).max())


def test_a_fault_shows(monkeypatch):
    """The simulator marches an antenna a thousandth off, in each of the three ways."""
    march = module._march

    def wrong(scenario: Scenario, *rest):
        antenna = Antenna(impedance_ohm=scenario.antenna.at_carrier_ohm * 1.001)
        return march(scenario.model_copy(update={"antenna": antenna}), *rest)

    monkeypatch.setattr(module, "_march", wrong)
    for one in (LATTICE["a step"], LOSSY["a step, bare line"], station([line(length=2.0), line(75.0, 3.1)], 120.0)):
        found = transient(one)
        assert not found.holds
        assert 1e-5 < found.largest < 1e-2


def test_what_is_not_compared_is_said(monkeypatch):
    one = LOSSY["a step, bare line"]
    controlled = one.model_copy(update={"transmitter": one.transmitter.model_copy(update={"behaviour": "fold-back"})})
    assert "fold-back" in transient(controlled).not_compared
    eventful = one.model_copy(update={"events": (Event(at_s=1e-6, happens="antenna opens"),)})
    assert "happens" in transient(eventful).not_compared
    long = station([line(length=150 * LENGTH, resistance=1e-3)], 50.0)
    assert "150 wavelengths" in transient(long).not_compared
    without_loss = station([line(length=3000 * LENGTH)], 80.0)  # of the series, 6e5 nodes at 7e5 steps
    assert "3000 wavelengths" in transient(without_loss).not_compared
    tiny = station([line(length=LENGTH / 15_000), line(length=20 * LENGTH, resistance=1e-3)], 80.0)
    assert "a grid of 45,000 steps a period" in transient(tiny).not_compared
    monkeypatch.setattr(module, "find_spec", lambda name: None)
    missing = transient(one)
    assert missing.not_compared == "mpmath is missing: install bouncesim[proof]"
    assert missing.holds  # nothing is judged
    assert missing == Transient(not_compared=missing.not_compared)


def test_other_keys_give_way_to_a_soft_one():
    morse = LATTICE["a step"].model_copy(update={"keying": Keying(shape="morse", text="e", words_per_minute=20, rise_s=5e-3)})
    slow = LATTICE["a step"].model_copy(update={"keying": Keying(rise_s=5e-3)})
    assert "in place of its own" in transient(morse).key
    assert "in place of its own" in transient(slow).key
    assert transient(slow).span_s < 50 / FREQUENCY


@pytest.mark.slow
@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_lesson(path):
    found = transient(perform.resolve(perform.load(path)))
    assert found.rows or found.not_compared
    assert found.holds, [row for row in found.rows if row.difference > found.bar]


@pytest.mark.slow
def test_random_stations():
    chance = np.random.default_rng(11)
    for number in range(12):
        found = transient(perform.resolve(random_station(chance)))
        assert found.rows or found.not_compared
        assert found.holds, (number, found)


def test_the_check_asks_for_it_where_told():
    one = LOSSY["a step, bare line"]
    with_start = check(one, transient=True)
    assert with_start.transient is not None
    assert with_start.transient.holds
    assert with_start.holds
    failing = dataclasses.replace(with_start, transient=dataclasses.replace(with_start.transient, bar=1e-15))
    assert not failing.holds
    assert check(one).transient is None
