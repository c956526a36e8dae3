"""Every lesson, its lines without loss, marched and by delay lines: two programs, one transient, to rounding."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.march.simulation import build
from bouncesim.scenario import Keying, Meter, Scenario, Stub, Transformer
from tests.march.delay_lines import solve, without_loss
from tests.march.grids import element, line, network, station

PATHS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
POINTS = 200
STEPS = 1200  # six periods at least: several round trips of most; on a long path until the first echo is on its way
# Rounding of so many steps, of the wave. Most lessons show 1e-14; behind the coil of the T tuner, which is in cut-set with another, 3e-12.
ROUNDING = 1e-11


def keyed_emf(scenario: Scenario, steps: int) -> np.ndarray:
    """The mean of the EMF over each step as the scheme takes it: its middle; of an ideal source the mean of two whole steps."""
    keying, dt = scenario.keying, 1 / (scenario.transmitter.frequency_hz * POINTS)

    def emf(time):
        part = np.clip(time / keying.rise_s, 0, 1) if keying.rise_s else np.ones_like(time)
        key = np.sin(np.pi / 2 * part) ** 2 if keying.shape == "raised-cosine" else part  # (1 - cos)/2, of which little is left so early
        return scenario.emf_v_peak * key * np.sin(2 * np.pi * scenario.transmitter.frequency_hz * time)

    whole = emf(dt * np.arange(steps + 1))
    return emf(dt * (np.arange(steps) + 0.5)) if scenario.source_ohm else (whole[1:] + whole[:-1]) / 2


def distance(scenario: Scenario) -> float:
    """The largest difference at any end of any line, relative to the largest wave there."""
    march = build(scenario, POINTS)
    assert all(abs(section.nu - 1) < 1e-9 for section in march.plan.sections)
    steps = max(STEPS, round(1.3 * sum(section.cells for section in march.plan.sections)))
    other = solve(scenario, POINTS, keyed_emf(scenario, steps))
    found = {section.name: np.empty((steps, 4)) for section in march.plan.sections}
    for n in range(steps):
        march.advance(1)
        v, i = march.waves_now()
        for s, section in enumerate(march.plan.sections):
            at = march.nodes_of(s)
            found[section.name][n] = v[at][0], i[at][0], v[at][-1], i[at][-1]
    worst = 0.0
    for section in march.plan.sections:
        ohm = np.array([1.0, section.reference_ohm] * 2)
        waves = np.abs(other[section.name] * ohm).max(0).reshape(2, 2).max(1).repeat(2)  # at an open end the current is nothing
        worst = max(worst, float((np.abs(found[section.name] - other[section.name]) * ohm / waves).max()))
    return worst


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_lesson(path):
    """As the last event leaves it, at full drive; a text or a pulse gives way to one rise of the key."""
    scenario = perform.resolve(perform.load(path)).at_end().driven()
    if scenario.keying.shape in ("morse", "pulse"):
        scenario = scenario.model_copy(update={"keying": Keying(rise_s=2 / scenario.transmitter.frequency_hz)})
    assert distance(without_loss(scenario, POINTS)) <= ROUNDING


TUNER = network(element("series", "inductor", 8e-7, 0.3), element("shunt", "capacitor", 3e-10, 0.1))
STATIONS = {
    "ideal source across a capacitor": station([network(element("shunt", "capacitor", 3e-10)), line()], 25 - 60j, source=0.0),
    "tuner, step": station([Meter(), TUNER, line(length=7.0)], 25 + 40j, keying=Keying(shape="step")),
    "junction of three lines": station(
        [line(length=9.0), Stub(path=(line(75.0, 4.0),), end="open"), line(300.0, 13.0)], 300.0, keying=Keying(rise_s=2e-7)
    ),
    "transformer between lines": station(
        [
            line(),
            Transformer(impedance_ratio=4.0, leakage_inductance_h=1e-7, magnetising_inductance_h=1e-5, core_resistance_ohm=3e3),
            line(200.0, 11.0),
        ],
        180 - 90j,
        form="parallel",
    ),
    "short at the far end": station([line(), TUNER, line(75.0, 3.0)], 0j, source=20.0),
}


@pytest.mark.parametrize("name", STATIONS)
def test_networks(name):
    assert distance(without_loss(STATIONS[name], POINTS)) <= ROUNDING
