"""A survey's readings are those of perform.solve_exact, station by station, and come a hundred times as fast."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.errors import ScenarioError
from bouncesim.scenario import Scenario
from bouncesim.survey.path import SOLVED, Solver
from bouncesim.survey.stations import Stations
from bouncesim.survey.tasks import BATCH, solved
from tests.survey.scenarios import EVERY_PART, HEAD, PLAIN, every_part, many, parse_scenario

# Of the reading; of the largest power, voltage or current of its kind in the station where it is what is left of a difference (a reflected
# power of nothing, a reactance of none).
SAME = 1e-12
# Of the line's length: where a ripple is nearly flat, rounding moves its top along.
SAME_PLACE = 1e-6
FASTER = 100  # at least; it shows about 300

UNTOLD = ("echoes.", "in the stub.")  # what a survey leaves out: the echoes, and what is inside a stub


def scale_of(name: str, numbers: dict[str, float]) -> float:
    """The size against which a reading is known: that of the power, voltage or current that it is a part of."""
    kinds = (("_w", "_w"), ("_v_peak", "_v_peak"), ("_a_peak", "_a_peak"), ("_ohm.imag", "_ohm.real"), ("_share", "_share"))
    ending = next((of for end, of in kinds if name.endswith(end)), None)
    others = [abs(value) for other, value in numbers.items() if ending and other.endswith(ending) and math.isfinite(value)]
    return max([abs(numbers[name]), *others])


def differences(scenario: Scenario, numbers: list[int]) -> int:
    """Compare stations; how many of them can be solved."""
    stations = Stations(scenario)
    columns = solved(Solver(stations), 0, stations.count)
    good = 0
    for number in numbers:
        try:
            expected = perform.solve_exact(stations.station(number)).numbers()
        except ScenarioError:
            assert columns["outcome"][number] != SOLVED
            assert np.isnan(columns["antenna.power_w"][number])
            continue
        good += 1
        assert columns["outcome"][number] == SOLVED
        for name, value in expected.items():
            if name.startswith(UNTOLD):
                continue
            found = columns[name][number]
            if name.endswith("_at_m"):
                assert abs(found - value) <= SAME_PLACE * max(value, 1.0), f"station {number}: {name}"
            elif found != value:
                assert abs(found - value) <= SAME * scale_of(name, expected), f"station {number}: {name} {found!r} {value!r}"
    return good


def test_many_stations_are_each_what_they_are_alone() -> None:
    chosen = np.random.default_rng(7).choice(19_200, 60, replace=False)
    assert differences(many(), [int(number) for number in chosen]) == 60


def test_a_path_with_every_part_and_a_controlled_transmitter() -> None:
    scenario = every_part()
    good = differences(scenario, list(range(0, Stations(scenario).count, 3)))
    assert good > 10
    assert good < Stations(scenario).count // 3  # some coils would have to be larger than there is


@pytest.mark.slow
def test_pi_and_t_tuners_too() -> None:
    text = EVERY_PART.replace('["none", "L"]', '["pi", "T"]').replace('kind = "series coil"\n', "").replace("count = 16", "count = 8")
    assert differences(parse_scenario(HEAD + text), list(range(32))) > 20


@pytest.mark.slow
def test_many_more_stations() -> None:
    chosen = np.random.default_rng(8).choice(19_200, 800, replace=False)
    assert differences(many(), [int(number) for number in chosen]) == 800


def test_the_cut_into_batches_changes_nothing() -> None:
    solver = Solver(Stations(many()))
    whole, part = solved(solver, 0, BATCH), solved(solver, 1000, 8)
    for name, values in part.items():
        assert np.allclose(values, whole[name][1000:1008], rtol=1e-13, atol=0, equal_nan=True)


def test_a_station_without_a_match_is_told_and_left_empty() -> None:
    """A coil of 10 nH at most matches 25 - 60j ohm nowhere on 80 m."""
    text = PLAIN.replace("coil_q = 200", 'coil_q = 200\nlargest_coil = "10 nH"\nlargest_capacitor = "20 pF"')
    stations = Stations(parse_scenario(HEAD + text + '[survey]\nbands = "80 m"\ntuner = ["none", "L", "T"]\n'))
    columns = solved(Solver(stations), 0, 3)
    assert columns["outcome"].tolist() == [0.0, 1.0, 1.0]
    assert np.isfinite(columns["transmitter.power_w"]).tolist() == [True, False, False]


def test_an_antenna_that_is_not_known_at_a_frequency(tmp_path) -> None:
    (tmp_path / "antenna.s1p").write_text("# MHz S RI R 50\n7.0 0.1 0.2\n7.2 0.1 0.1\n")
    text = PLAIN.replace('impedance = "25 - 60j ohm"', 'touchstone = "antenna.s1p"')
    (tmp_path / "x.toml").write_text(HEAD + text + '[survey]\nfrequency = ["7.1 MHz", "10.1 MHz"]\n')
    columns = solved(Solver(Stations(perform.load(tmp_path / "x.toml"))), 0, 2)
    assert columns["outcome"].tolist() == [0.0, 2.0]


def test_an_ideal_source_into_a_short_has_no_current() -> None:
    line = 'impedance = "50 ohm"\nvelocity_factor = 0.66'
    text = (HEAD + PLAIN.replace('type = "rg58c"', line)).replace('power = "45 W"', 'power = "45 W"\nsource_impedance = "0 ohm"')
    text = text.replace('[[path]]\npart = "tuner"\ncoil_q = 200\ncapacitor_q = 1000\n', "")
    stations = Stations(parse_scenario(text + '[survey]\nantenna = ["0 ohm", "50 ohm"]\nlength = "14 m"\n'))
    quarter = replace_length(stations)
    columns = solved(Solver(quarter), 0, 2)
    assert columns["outcome"].tolist() == [3.0, 0.0]


def replace_length(stations: Stations) -> Stations:
    """The line half a wave long, to the last digit: a short at its end is one at its start."""
    half = stations.base.lines[0].constants(7.1e6).velocity / 7.1e6 / 2
    stations.lengths = (half,)
    return stations


def test_the_stations_are_numbered_with_the_power_running_fastest() -> None:
    """By hand: 4 bands x 4 types x 5 lengths x 60 antennas x 2 tuners x 2 powers."""
    stations = Stations(many())
    assert stations.shape == (4, 4, 5, 60, 2, 2)
    assert stations.count == 19_200
    first, second, third, last = (stations.station(number) for number in (0, 1, 2, 19_199))
    assert [one.transmitter.power_w for one in (first, second, third, last)] == [20.0, 50.0, 20.0, 50.0]
    assert [part.part for part in first.path] == ["meter", "line"]
    assert [part.part for part in third.path] == ["tuner", "meter", "line"]
    assert (last.transmitter.frequency_hz, last.lines[0].type, last.lines[0].length_m) == (28.85e6, "open-wire-2mm", 60.0)
    rho = 99 / 101
    turn = rho * complex(math.cos(math.radians(330)), math.sin(math.radians(330)))
    z0 = last.lines[0].constants(28.85e6).impedance_ohm
    assert last.antenna.at_carrier_ohm == pytest.approx(z0 * (1 + turn) / (1 - turn), rel=1e-12)


def test_an_swr_alone_is_taken_around_its_circle() -> None:
    text = PLAIN.replace('impedance = "25 - 60j ohm"', "swr = 2.5")
    stations = Stations(parse_scenario(HEAD + text + '[survey]\nbands = "40 m"\nphases = 6\n'))
    columns = solved(Solver(stations), 0, 6)
    assert columns["antenna.swr"] == pytest.approx(np.full(6, 2.5), rel=1e-12)
    assert columns["antenna.impedance_ohm.real"][[0, 3]] == pytest.approx([125.0, 20.0], rel=1e-12)


@pytest.mark.slow
def test_it_is_a_hundred_times_as_fast_as_a_loop() -> None:
    """In the same run: a whole batch, against a few of its stations one by one; the best of several each."""
    stations = Stations(many())
    solver = Solver(stations)
    solved(solver, 0, BATCH)

    def best(work, rounds: int) -> float:
        times = []
        for _ in range(rounds):
            begin = time.perf_counter()
            work()
            times.append(time.perf_counter() - begin)
        return min(times)

    at_once = best(lambda: solved(solver, 0, BATCH), 5) / BATCH
    few = [stations.station(number) for number in range(0, BATCH, 400)]
    one_by_one = best(lambda: [perform.solve_exact(station) for station in few], 5) / len(few)
    assert one_by_one > FASTER * at_once


def test_scale_is_that_of_the_kind() -> None:
    numbers = {"a.power_w": 3.0, "b.heat_w": 1e-20, "c.swr": 2.0}
    assert scale_of("b.heat_w", numbers) == 3.0
    assert scale_of("c.swr", numbers) == 2.0
