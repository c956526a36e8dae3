"""The ladder that stands for a line: its cells against the line itself, at one frequency."""

from __future__ import annotations

import cmath

import numpy as np
import pytest

from bouncesim.exact.circuit import Circuit
from bouncesim.exact.ladder import cells
from bouncesim.scenario import Line

FREQUENCY = 10e6
OMEGA = 2 * np.pi * FREQUENCY
FOURTH_ORDER = 14  # 16 in the limit, from 20 to 40 cells on 0.7 wavelengths
LOSSY = {"resistance_ohm_per_m": 2.0, "conductance_s_per_m": 3e-4}


def growth(line: Line, count: int) -> complex:
    """Voltage in over voltage out of an open ladder, which stands for cosh(gamma l)."""
    circuit = Circuit()
    near, far = circuit.unknown(), circuit.unknown()
    circuit.emf = circuit.branch(near)
    delay = line.length_m / line.constants(FREQUENCY).velocity
    cells(FREQUENCY, delay / count)(circuit, line, near, far)
    storing, passing = circuit.matrices()
    right = np.zeros(circuit.unknowns)
    right[circuit.emf] = 1.0
    return 1 / complex(np.linalg.solve(passing + 1j * OMEGA * storing, right)[far])


@pytest.mark.parametrize("loss", [{}, LOSSY], ids=["lossless", "with loss"])
def test_a_wave_keeps_its_speed_to_the_fourth_order(loss):
    line = Line(length_m=14.0, inductance_h_per_m=2.5e-7, capacitance_f_per_m=1e-10, **loss)
    exact = cmath.cosh(line.constants(FREQUENCY).propagation(FREQUENCY) * 14.0)
    coarse, fine = (abs(growth(line, count) - exact) for count in (20, 40))
    assert coarse / fine > FOURTH_ORDER
    assert fine < 1e-4 * abs(exact)


def test_the_branches_of_a_wideband_law_are_there():
    """Not bridged: of the second order in the cell, so within the loss that they stand for on 80 cells."""
    line = Line(length_m=14.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.1, dielectric_share=0.4, loss_law="wideband")
    exact = cmath.cosh(line.constants(FREQUENCY).propagation(FREQUENCY) * 14.0)
    coarse, fine = (abs(growth(line, count) - exact) for count in (40, 80))
    assert 3.8 < coarse / fine < 17
    assert fine < 1e-3 * abs(exact)
