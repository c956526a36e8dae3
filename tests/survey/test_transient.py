"""Stations of a survey started in time, against what can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.scenario import Scenario, parse_scenario
from bouncesim.survey.path import SOLVED, TOO_SHORT
from bouncesim.survey.stations import Stations
from bouncesim.survey.tasks import exact_rows, key_rows, solved, solver_of
from bouncesim.survey.transient import OUTCOME, columns
from tests.survey.scenarios import HEAD, PLAIN, SHARP

LEDGER = 1e-11  # of the energy: the books of a whole run (march.stepper)
GRID = 2e-3  # what a sharp front is off by on a grid whose steps are not those of the line
RULE = 'impedance = "50 ohm"\nvelocity_factor = 0.66'


def found_of(scenario: Scenario) -> dict[str, float]:
    """What a survey finds of its first station in time."""
    stations = Stations(scenario)
    text = stations.base.model_copy(update={"survey": stations.survey}).to_json()
    names = list(solved(solver_of(text), 0, 1))
    steady = dict(zip(names, map(float, exact_rows(text, (0, 1))[0]), strict=True))
    return dict(zip(columns(stations.base), key_rows(text, (0, 1), steady)[0], strict=True)) | steady


def bare(length: str, load: str, source: str = "50 ohm") -> Scenario:
    """A line without loss between two resistances, under a step."""
    head = HEAD.replace('power = "45 W"', f'power = "45 W"\nsource_impedance = "{source}"')
    path = f'[[path]]\npart = "line"\nname = "line"\n{RULE}\nlength = "{length}"\n[antenna]\nimpedance = "{load}"\n'
    return parse_scenario(head + SHARP + path + f'[survey]\nlength = "{length}"\n')


def test_one_echo_settles_after_one_round_trip() -> None:
    """A matched source takes what comes back: after the first echo nothing changes at the transmitter; a mean takes one period more."""
    scenario = bare("42 m", "150 ohm")
    found = found_of(scenario)
    trip = 2 * 42 / (0.66 * 299_792_458)
    assert found[OUTCOME] == SOLVED
    assert found["settled_to_s"] == pytest.approx(1 / 7.1e6, rel=1e-9)
    assert trip <= found["settled_s"] <= trip + 2 / 7.1e6
    assert found["settled_round_trips"] == pytest.approx(found["settled_s"] / trip, rel=1e-9)
    assert found["accumulated"] < LEDGER


def test_echo_upon_echo_takes_as_many_round_trips_as_the_series() -> None:
    """Reflections of 1/2 at the antenna and -3/5 at the source (12.5 ohm): each round trip leaves 0.3 of what was off, and powers are
    within 1 % once 2 * 0.3^n and what belongs to it are: between 3 and 7 round trips."""
    found = found_of(bare("42 m", "150 ohm", "12.5 ohm"))
    assert 3 < found["settled_round_trips"] < 7


def test_the_first_wave_may_be_larger_than_all_of_them_together() -> None:
    """A line of one wavelength, reflections of 1/2 at the antenna and -3/5 at the source (12.5 ohm): forward waves add up to the first one
    divided by 1 - (1/2)(-3/5) = 1.3, so that until the second one is there, voltages stand 30 % above their steady state."""
    wave = 0.66 * 299_792_458 / 7.1e6
    found = found_of(bare(f"{wave!r} m", "150 ohm", "12.5 ohm"))
    assert found["line.key_v_above"] == pytest.approx(0.3, abs=GRID)
    assert found["line.key_v_peak"] == pytest.approx(1.3 * found["line.largest_v_peak"], rel=GRID)


def test_a_soft_key_brings_nothing_above_the_steady_state() -> None:
    text = HEAD + '[keying]\nshape = "raised-cosine"\nrise = "20 us"\n' + PLAIN + '[survey]\nlength = "31 m"\n'
    found = found_of(parse_scenario(text))
    for name in ("line.key_v_above", "line.key_a_above", "tuner.key_coil_a_above", "tuner.key_capacitor_v_above"):
        assert abs(found[name]) < GRID, name
    assert found["settled_s"] < 20e-6 + 3e-6


def test_the_stations_are_those_that_are_simulated_alone() -> None:
    """The same tuner, the same grid: the largest values of perform.simulate, in which every step is watched too."""
    text = HEAD + SHARP + PLAIN + '[survey]\nlength = "31 m"\n'
    found, run = found_of(parse_scenario(text)), perform.simulate(parse_scenario(text))
    for stress in run.stresses:
        name = {"voltage": "v", "current": "a", "coil current": "coil_a", "capacitor voltage": "capacitor_v"}[stress.quantity]
        key = f"{stress.line}.key_{name}_peak"
        if key in found:
            assert found[key] == pytest.approx(stress.largest, rel=1e-9), key
    assert sum(np.isfinite(value) for name, value in found.items() if ".key_" in name) == 8


def test_a_line_too_short_for_a_grid_is_told() -> None:
    found = found_of(bare("1 mm", "150 ohm"))
    assert found[OUTCOME] == TOO_SHORT
    assert np.isnan(found["settled_s"])
