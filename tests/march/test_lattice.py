"""March against the lattice series, sample by sample at nu = 1: every node, voltage and current, some thousand steps."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim.exact.bounces import Bounces
from bouncesim.scenario import Keying
from tests.march.grids import FREQUENCY, LENGTH, histories, line, on_grid, station

SAMPLE = 1e-12  # of the largest value: rounding of some thousand steps
CELLS = 40
STEPS = 4000

KEYS = {
    "step": Keying(shape="step"),
    "linear": Keying(shape="linear", rise_s=3.3e-7),
    "raised cosine": Keying(shape="raised-cosine", rise_s=1e-6),
}


def lattice_of(scenario, steps: int, cells: int):
    """V and I by the series, from the same samples that the scheme takes: at half steps, or for an ideal source means of whole ones."""
    one = scenario.lines[0].constants(FREQUENCY)
    z0, delay = one.impedance_ohm, scenario.lines[0].length_m / one.velocity
    source, load = scenario.transmitter.source_impedance_ohm, scenario.antenna.impedance_ohm.real
    loss = np.exp(-one.resistance / z0 * scenario.lines[0].length_m)
    dt = delay / cells
    time = dt * np.arange(steps + 1)

    def emf(t):
        rise = scenario.keying.rise_s
        part = np.clip(t / rise, 0, 1) if rise else np.ones_like(t)
        key = (1 - np.cos(np.pi * part)) / 2 if scenario.keying.shape == "raised-cosine" else part
        return scenario.transmitter.emf_v_peak * key * np.sin(2 * np.pi * FREQUENCY * t)

    samples = emf(time[:-1] + dt / 2) if source else (emf(time)[1:] + emf(time)[:-1]) / 2
    return Bounces(z0, delay, source, load, loss).solve_samples(samples, cells)


def compare(march, expected, steps: int) -> None:
    for found, exact in zip(histories(march, steps), expected, strict=True):
        np.testing.assert_allclose(found, exact, rtol=0, atol=SAMPLE * np.abs(exact).max())


@pytest.mark.parametrize("source", [0.0, 15.0, 50.0, 500.0])
@pytest.mark.parametrize("load", [0.0, 7.0, 50.0, 370.0, 1e6])
@pytest.mark.parametrize("key", KEYS)
def test_carrier(source, load, key):
    """A keyed carrier on 1.3 wavelengths; with an ideal source into (nearly) nothing lost it grows or beats for ever, and still agrees."""
    scenario = station([line(length=1.3 * LENGTH)], load, source, keying=KEYS[key])
    cells = round(1.3 * CELLS)
    steps = STEPS if key == "step" else STEPS // 4
    compare(on_grid(scenario, [cells], 1.0), lattice_of(scenario, steps, cells), steps)


def test_another_impedance():
    scenario = station([line(73.0, 0.7 * LENGTH)], 300.0, 20.0)
    cells = round(0.7 * CELLS)
    compare(on_grid(scenario, [cells], 1.0), lattice_of(scenario, STEPS, cells), STEPS)
