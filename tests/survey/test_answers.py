"""Answers to questions of choice, against published figures, the handbook's formula and the engine that solves one station."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.account.choices import OnBand, s_units_between
from bouncesim.errors import ScenarioError
from bouncesim.scenario import Line, parse_scenario
from bouncesim.scenario.catalogue import catalogue
from bouncesim.scenario.survey import Ratings
from bouncesim.survey.answers import cable_losses, on_bands, swr_limits
from bouncesim.survey.answers.bands import with_a_tuner
from bouncesim.survey.answers.lines import around, matched_db, used
from tests.exact.stations import real_impedance
from tests.reference import case, number
from tests.survey.scenarios import HEAD, PLAIN

FEET_100 = 30.48  # m
ROUNDED = 0.05  # dB per 100 ft: the data sheet prints one decimal
EXACT = 1e-9
TABLE = [("RG-8A", "rg8"), ("RG-58C", "rg58c"), ("RG-223", "rg223"), ("RG-174", "rg174"), ("RG-11A", "rg11a")]
STATION = HEAD + PLAIN.replace('impedance = "25 - 60j ohm"', 'dipole = { length = "20 m", wire = "2 mm" }\nloss_resistance = "2 ohm"')


def test_added_loss_of_a_line_of_real_impedance() -> None:
    """E08: the handbook's formula, whatever the phase; and the highest SWR for that much more is the SWR that it was worked out for."""
    figures = case("E08")
    found = {}
    for matched in figures.inputs["matched_dB"]:
        for swr in figures.inputs["swr"]:
            line = real_impedance(50, matched)
            losses = used(line, 1e7, around(line, 1e7, swr))[0]
            assert np.ptp(losses) < EXACT
            name = f"extra@{matched:g}dB,SWR{swr}"
            found[name] = float(losses.max()) - matched
            (limit,) = swr_limits(line, [("", 1e7)], found[name], "added")
            assert limit.highest == pytest.approx(swr, rel=EXACT)
            assert limit.by_rule == pytest.approx(swr, rel=EXACT)
            (limit,) = swr_limits(line, [("", 1e7)], found[name] + matched, "total")
            assert limit.highest == pytest.approx(swr, rel=EXACT)
    figures.check_all(found)


def test_loss_of_a_loaded_cable() -> None:
    """E09: 20 m at 13.56 MHz into 200 - 30j ohm."""
    figures = case("E09")
    given = figures.inputs
    matched = given["length"] * given["dB_per_100m"] / 100
    line = real_impedance(given["Z0"], matched, given["length"], given["vf"])
    total = float(used(line, given["f"], np.array([number(given["ZL"])]))[0][0])
    figures.check_all({"matched_dB": matched_db(line, given["f"]), "total_dB": total, "P_load": given["P_in"] * 10 ** (-total / 10)})


@pytest.mark.parametrize(("name", "kind"), TABLE)
def test_losses_of_a_published_table(name: str, kind: str) -> None:
    """E12: dB per 100 ft at 10 MHz, from a data sheet compiled by one author, to 0.1 dB; within that and what a sample may differ by."""
    figures = case("E12").inputs
    published = figures["dB_per_100ft_10MHz"][figures["types"].index(name)]
    (row,) = cable_losses([kind], FEET_100, [("", 1e7)])
    assert row.most_db == row.least_db
    assert abs(row.most_db - published) <= ROUNDED + published * catalogue()[kind].uncertainty_percent / 100


@pytest.mark.parametrize("kind", [name for name, one in catalogue().items() if one.figures])
def test_losses_of_the_published_figures_of_the_catalogue(kind: str) -> None:
    """Every figure with its source in the catalogue (bouncesim lines TYPE prints them), from 1 to 60 MHz: as far off as is told there."""
    checked = 0
    for figure in catalogue()[kind].figures:
        if not 1e6 <= figure.frequency_hz <= 60e6:
            continue
        (row,) = cable_losses([kind], 100.0, [("", figure.frequency_hz)])
        told = catalogue()[kind].departure_percent(figure)
        assert 100 * (row.matched_db / (100 * figure.loss_db_per_m) - 1) == pytest.approx(told, abs=1e-6), figure.source
        checked += 1
    assert checked


def test_half_the_power_is_half_an_s_unit() -> None:
    """J01, common practice, and G01: an S-unit is 6 dB."""
    found = s_units_between(1.0, case("J01").inputs["power_ratio"])
    assert found == pytest.approx(10 * math.log10(0.5) / 6, rel=1e-15)
    assert s_units_between(1.0, 4.0) == pytest.approx(1.0, abs=0.004)  # 4 times the power is 6.02 dB
    assert math.isnan(s_units_between(1.0, 0.0))


def test_open_wire_loses_a_tenth_of_a_decibel() -> None:
    """J04: 100 ft at 14 MHz, dry; common practice, no source."""
    figures = case("J04")
    (row,) = cable_losses(["open-wire-2mm"], figures.inputs["length_ft"] * 0.3048, [("20 m", figures.inputs["f"])])
    figures.check("matched_loss_db", row.matched_db)


def test_a_limit_is_where_the_worst_antenna_meets_the_budget() -> None:
    """With loss in the conductors alone the phase counts: of stations around the circle none loses more, and one just as much."""
    line = Line(name="line", length_m=9.0, type="rg58c")
    (limit,) = swr_limits(line, [("80 m", 3.65e6)], 0.8, "added")
    allowed = limit.matched_db + 0.8
    assert limit.by_rule > limit.highest  # short against the wave: the rule is too hopeful
    losses, shack = [], []
    for ohm in map(complex, around(line, 3.65e6, limit.highest)[::10]):
        head = HEAD.replace("7.1 MHz", "3.65 MHz")
        path = '[[path]]\npart = "line"\nname = "line"\nlength = "9 m"\ntype = "rg58c"\n'
        readings = perform.solve_exact(parse_scenario(f'{head}{path}[antenna]\nimpedance = "{ohm.real!r}{ohm.imag:+}j ohm"\n'))
        losses.append(readings.lines[0].loss_db)
        shack.append(readings.lines[0].swr_in)
    assert max(losses) == pytest.approx(allowed, abs=1e-3)  # every tenth phase: one of them is near the worst
    assert max(losses) <= allowed + EXACT
    low, high = limit.in_the_shack
    assert low - EXACT <= min(shack)
    assert max(shack) <= high + EXACT


def test_a_budget_that_nothing_or_everything_meets() -> None:
    line = Line(length_m=30.0, type="rg58c")
    none, some = swr_limits(line, [("10 m", 28.85e6), ("160 m", 1.83e6)], 1.0, "total")
    assert math.isnan(none.highest)
    assert math.isnan(none.by_rule)
    assert 1 < some.highest < 10
    (anything,) = swr_limits(Line(length_m=10.0, impedance_ohm=50.0, velocity_factor=0.66), [("10 m", 28.85e6)], 0.1, "added")
    assert math.isinf(anything.highest)
    assert math.isinf(anything.by_rule)


def test_one_antenna_for_every_type() -> None:
    """25 - 60j ohm behind 40 m: what the engine for one station finds."""
    for row in cable_losses(["rg58c", "window-line"], 40.0, [("40 m", 7.1e6)], antenna_ohm=25 - 60j):
        text = HEAD + PLAIN.replace('type = "rg58c"\nlength = "31 m"', f'type = "{row.type}"\nlength = "40 m"')
        assert row.most_db == row.least_db == pytest.approx(perform.solve_exact(parse_scenario(text)).lines[0].loss_db, rel=1e-12)
        assert row.share == pytest.approx(10 ** (-row.most_db / 10), rel=1e-15)


def test_bands_are_each_what_they_are_alone() -> None:
    scenario = parse_scenario(STATION)
    rows = on_bands(scenario, [3.65e6, 14.175e6], 1)
    assert [row.band for row in rows] == ["80 m", "20 m"]
    for row in rows:
        readings = perform.solve_exact(parse_scenario(STATION.replace("7.1 MHz", f"{row.frequency_hz!r} Hz")))
        line, tuner = readings.lines[0], readings.networks[0]
        assert row.swr_antenna == pytest.approx(readings.antenna.swr, rel=EXACT)
        assert row.swr_shack == pytest.approx(line.swr_in, rel=EXACT)
        assert row.radiated_w == pytest.approx(readings.antenna.radiated_w, rel=EXACT)
        assert row.line_heat_w == pytest.approx(line.heat_w, rel=EXACT)
        assert row.tuner_heat_w == pytest.approx(tuner.heat_w, rel=EXACT)
        assert (row.line_v_peak, row.coil_a_peak) == pytest.approx((line.largest_v_peak, tuner.coil_a_peak), rel=EXACT)
        together = row.radiated_w + row.antenna_heat_w + row.line_heat_w + row.tuner_heat_w + row.other_heat_w
        assert together == pytest.approx(row.transmitter_w, rel=EXACT)
        assert row.loss_db == pytest.approx(-10 * math.log10(row.radiated_w / 45.0), rel=1e-6)


def test_verdicts_name_what_is_above_its_rating() -> None:
    scenario = parse_scenario(STATION)
    (row,) = on_bands(scenario, [14.175e6], 1)
    assert all("lost" in one for one in row.verdict)
    low = Ratings(line_v_peak=row.line_v_peak * 0.9, coil_a_peak=row.coil_a_peak * 0.9, capacitor_v_peak=1e6)
    (judged,) = on_bands(scenario, [14.175e6], 1, ratings=low)
    assert [one.split()[0] for one in judged.verdict if ">" in one] == ["line", "coil"]


def test_a_published_working_voltage_counts_where_no_rating_is_given() -> None:
    """rg8x is made for 300 V rms, 424 V peak; 5 kW put more on it."""
    scenario = parse_scenario(STATION.replace('"45 W"', '"5 kW"').replace("rg58c", "rg8x"))
    (row,) = on_bands(scenario, [7.1e6], 1)
    assert row.line_v_peak > 424
    assert any(one.startswith("line") and one.endswith("> 424 V") for one in row.verdict)


def test_two_lines_for_one_job_and_ratings_of_the_first() -> None:
    rows = on_bands(parse_scenario(STATION), [14.175e6], 1, ("rg58c", "open-wire-2mm"), Ratings(line_v_peak=1.0))
    assert [row.line_type for row in rows] == ["rg58c", "open-wire-2mm"]
    assert [any(">" in one for one in row.verdict) for row in rows] == [True, False]
    assert rows[1].radiated_w > rows[0].radiated_w


def test_a_tuner_is_added_where_there_is_none() -> None:
    bare = STATION.replace('[[path]]\npart = "tuner"\ncoil_q = 200\ncapacitor_q = 1000\n', "")
    station, added = with_a_tuner(parse_scenario(bare))
    assert added
    assert on_bands(station, [7.1e6], 1) == on_bands(parse_scenario(STATION), [7.1e6], 1)
    assert with_a_tuner(station) == (station, False)


def test_what_is_not_known_on_other_bands_is_refused() -> None:
    with pytest.raises(ScenarioError, match=r"antenna: is told by its impedance, which holds at 7\.1 MHz alone"):
        on_bands(parse_scenario(HEAD + PLAIN), [7.1e6], 1)
    with pytest.raises(ScenarioError, match="antenna: is told by an SWR"):
        on_bands(parse_scenario(HEAD + PLAIN.replace('impedance = "25 - 60j ohm"', "swr = 2")), [7.1e6], 1)


def test_no_match_is_a_verdict() -> None:
    text = STATION.replace("coil_q = 200", 'coil_q = 200\nlargest_coil = "10 nH"\nlargest_capacitor = "20 pF"')
    (row,) = on_bands(parse_scenario(text), [3.65e6], 1)
    assert isinstance(row, OnBand)
    assert (row.outcome, row.verdict, row.is_solved) == ("no match", ("no match",), False)
    assert math.isnan(row.radiated_share)
    assert math.isinf(row.loss_db)
