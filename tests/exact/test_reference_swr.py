"""Group A of the reference cases, power and SWR: read from stations in steady state, and from the published rules."""

from __future__ import annotations

import math

import pytest

from bouncesim import exact
from bouncesim.account.readings import swr_of_powers
from bouncesim.exact import formulas
from bouncesim.scenario import Meter, Tuner
from tests.exact.stations import decibel, lossless, real_impedance, station
from tests.reference import case, number


def matched_source(antenna: complex, impedance: float = 50.0, power: float = 40.0, wavelengths: float = 0.37):
    """Readings of a lossless line on a source that matches it: the forward power is what the source could give."""
    return exact.solve(station([Meter(reference_ohm=impedance), lossless(impedance, wavelengths)], antenna, power, rated=impedance))


def test_a01_swr_table():
    figures, from_station, from_rules = case("A01"), {}, {}
    for swr in figures.inputs["swr"]:
        readings = matched_source(50 * swr)
        line = readings.lines[0]
        share = line.reflected_in_w / line.forward_in_w
        from_station[f"rho@SWR{swr}"] = math.sqrt(share)
        from_station[f"reflected_percent@SWR{swr}"] = 100 * share
        from_station[f"return_loss@SWR{swr}"] = -decibel(share)
        from_station[f"mismatch_loss@SWR{swr}"] = decibel(40 / readings.antenna.power_w)
        rho = float(formulas.rho(swr))
        from_rules[f"rho@SWR{swr}"] = rho
        from_rules[f"reflected_percent@SWR{swr}"] = 100 * float(formulas.reflected_share(swr))
        from_rules[f"return_loss@SWR{swr}"] = float(formulas.return_loss_db(rho))
        from_rules[f"mismatch_loss@SWR{swr}"] = float(formulas.mismatch_loss_db(rho))
    figures.check_all(from_station)
    figures.check_all(from_rules)


def test_a02_reactive_load():
    figures = case("A02")
    line = matched_source(number(figures.inputs["ZL"]), figures.inputs["Z0"]).lines[0]
    share = line.reflected_in_w / line.forward_in_w
    figures.check_all({"rho": math.sqrt(share), "SWR": line.swr_out, "return_loss": -decibel(share)})


def test_a03_wattmeter():
    """A line whose antenna sends back 20 W of 150 W: the wattmeter reads both, and their SWR."""
    figures = case("A03")
    forward, reflected = figures.inputs["Pf"], figures.inputs["Pr"]
    rho = math.sqrt(reflected / forward)
    meter = matched_source(50 * (1 + rho) / (1 - rho), power=forward).meters[0]
    assert meter.forward_w == pytest.approx(forward)
    assert meter.reflected_w == pytest.approx(reflected)
    for swr in (meter.swr, swr_of_powers(forward, reflected), float(formulas.swr_of_powers(forward, reflected))):
        figures.check_all({"SWR": swr})


def test_a04_power_absorbed():
    figures = case("A04")
    readings = matched_source(50 * figures.inputs["SWR"], power=figures.inputs["Pf"])
    figures.check_all({"P_load": readings.antenna.power_w})


def test_a05_half_reflected():
    figures = case("A05")
    readings = matched_source(150, power=figures.inputs["Pf"])  # rho = 0.5
    figures.check_all({"P_refl": 1e3 * readings.lines[0].reflected_out_w, "P_load": 1e3 * readings.antenna.power_w})


def test_a06_reflected_power():
    figures = case("A06")
    line = matched_source(50 / figures.inputs["SWR"], power=figures.inputs["Pf"]).lines[0]
    figures.check_all({"P_refl": 1e3 * line.reflected_in_w})


def test_a08_mismatch_loss():
    figures = case("A08")
    readings = matched_source(figures.inputs["RL"], figures.inputs["R0"])
    figures.check_all({"mismatch_loss": decibel(40 / readings.antenna.power_w)})


def test_a09_small_transmitter():
    figures = case("A09")
    given = figures.inputs
    wavelengths = given["length"] * given["f"] / given["v"]
    line = lossless(given["Z0"], wavelengths, given["f"], given["v"])
    readings = exact.solve(station([line], given["ZL"], given["P_available"], frequency=given["f"]))
    line = readings.lines[0]
    rho = math.sqrt(line.reflected_in_w / line.forward_in_w)
    figures.check_all({"rho": rho, "length_wavelengths": wavelengths, "SWR": line.swr_in, "P_load": readings.antenna.power_w})


def test_a10_forward_power_exceeds_the_transmitters():
    """With a lossless tuner and line; the source impedance makes no difference, as the transmitter sees its rated load."""
    figures = case("A10")
    for source in (0.0, 15.0, 50.0, 500.0):
        values = {}
        for power, swr in zip(figures.inputs["P"], figures.inputs["SWR"], strict=True):
            readings = exact.solve(station([Tuner(), lossless(50, 1.3)], 50 * swr, power, source=source))
            values[f"Pf@{swr}"] = readings.lines[0].forward_in_w
            values[f"Pr@{swr}"] = readings.lines[0].reflected_in_w
            assert float(formulas.tuned_forward_w(power, formulas.rho(swr))) == pytest.approx(values[f"Pf@{swr}"], rel=1e-12)
        figures.check_all(values)


def test_a11_mismatch_efficiency():
    figures = case("A11")
    readings = matched_source(figures.inputs["ZL"], figures.inputs["Z0"])
    gamma = complex(formulas.reflection(figures.inputs["ZL"], figures.inputs["Z0"]))
    assert readings.echoes is not None
    assert abs(readings.echoes.reflection_at_input) == pytest.approx(gamma.real, rel=1e-12)
    figures.check_all({"Gamma": gamma.real, "mismatch_dB": decibel(readings.antenna.power_w / 40)})


def test_f01_directivity():
    """A station's meter of each directivity, on a perfect load and on two SWRs: the range that it may show."""
    figures, values = case("F01"), {}
    for directivity in figures.inputs["D_dB"]:
        meter = Meter(directivity_db=directivity)
        for swr in (1.0, 1.5, 3.0):
            reading = exact.solve(station([meter, lossless(50, 0.37)], 50 * swr)).meters[0]
            values[f"low@{directivity}dB,{swr}"], values[f"high@{directivity}dB,{swr}"] = reading.swr_least, reading.swr_most
            assert reading.swr == pytest.approx(swr, rel=1e-12)
        values[f"perfect_load_reads@{directivity}dB"] = values[f"high@{directivity}dB,1.0"]
    figures.check_all({name: values[name] for name in figures.expected})


def test_f02_loss_hides_swr():
    """From the published rule; and on a station with that loss, with a real Z0: 4 at the antenna, 3 at the transmitter."""
    figures = case("F02")
    given = figures.inputs
    nepers = float(formulas.matched_loss_np(given["SWR_load"], given["SWR_in"]))
    figures.check_all({"alpha": nepers / given["length"]})
    matched_db = nepers * 20 / math.log(10)
    line = real_impedance(50, matched_db, given["length"])
    readings = exact.solve(station([Meter(name="here"), line, Meter(name="there")], 50 * given["SWR_load"]))
    here, there = readings.meters
    assert (here.swr, there.swr) == pytest.approx((given["SWR_in"], given["SWR_load"]), rel=1e-12)
    assert float(formulas.swr_at_input(matched_db, given["SWR_load"])) == pytest.approx(given["SWR_in"], rel=1e-12)


def test_j01_half_the_power_is_half_an_s_unit():
    """Common practice, no source."""
    figures = case("J01")
    figures.check_all({"s_units": -float(formulas.s_units(figures.inputs["power_ratio"]))})


def test_j02_two_thirds_come_back():
    """Common practice, no source."""
    figures = case("J02")
    line = matched_source(50 / figures.inputs["SWR"]).lines[0]
    figures.check_all({"reflected_percent": 100 * line.reflected_in_w / line.forward_in_w})


def test_j03_what_a_meter_on_a_tuned_line_reads():
    """Common practice, no source."""
    figures = case("J03")
    meter = exact.solve(station([Tuner(), Meter(), lossless(50, 0.8)], 50 * figures.inputs["SWR"], figures.inputs["P"])).meters[0]
    figures.check_all({"Pf": meter.forward_w, "Pr": meter.reflected_w})
