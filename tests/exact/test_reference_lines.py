"""Groups B and E of the reference cases: impedance along lines, matching lines, loss. Read from stations in steady state."""

from __future__ import annotations

import cmath
import math

import pytest
from scipy.optimize import brentq

from bouncesim import exact
from bouncesim.exact import formulas, phasor
from bouncesim.exact.solve import station as solved
from bouncesim.scenario import Element, Line, Network
from bouncesim.scenario.lines import SPEED_OF_LIGHT
from tests.exact.stations import FREQUENCY, VELOCITY, decibel, input_impedance, lossless, real_impedance, station, with_emf
from tests.reference import case, number


def degrees(value: complex) -> float:
    return math.degrees(cmath.phase(value))


def test_b02_lossless_line():
    figures = case("B02")
    given = figures.inputs
    load = number(given["ZL"])
    wavelengths = given["length"] * given["f"] / given["v"]
    scenario = station([lossless(given["Z0"], wavelengths, given["f"], given["v"])], load, frequency=given["f"])
    readings, gamma = exact.solve(scenario), complex(formulas.reflection(load, given["Z0"]))
    seen = readings.transmitter.impedance_ohm
    share = readings.lines[0].reflected_out_w / readings.lines[0].forward_out_w
    swr = readings.antenna.swr
    figures.check_all({"rho": math.sqrt(share), "Gamma_deg": degrees(gamma), "SWR": swr, "Zin_re": seen.real, "Zin_im": seen.imag})


def test_b03_complex_characteristic_impedance():
    figures = case("B03")
    given = figures.inputs
    gamma = complex(given["alpha_dB_per_m"] / given["dB_per_Np"], given["beta"])
    z, y, omega = gamma * number(given["Z0"]), gamma / number(given["Z0"]), 2 * math.pi * FREQUENCY
    line = Line(
        name="feed",
        length_m=given["length"],
        resistance_ohm_per_m=z.real,
        inductance_h_per_m=z.imag / omega,
        conductance_s_per_m=y.real,
        capacitance_f_per_m=y.imag / omega,
    )
    scenario = with_emf(station([line], number(given["ZL"]), source=given["Zg"]), given["Vg"])
    seen = exact.solve(scenario).transmitter.impedance_ohm
    _, current = exact.profile(scenario, "feed", [0.0, given["length"] / 2])
    figures.check_all(
        {
            "Zin_re": seen.real,
            "Zin_im": seen.imag,
            "Iin": 1e3 * abs(current[0]),
            "Iin_deg": degrees(current[0]),
            "Imid": 1e3 * abs(current[1]),
            "Imid_deg": degrees(current[1]) % 360,
        }
    )


def test_b04_input_impedance():
    figures = case("B04")
    load = number(figures.inputs["ZL"])
    path = [lossless(figures.inputs["Z0"], figures.inputs["length_wl"])]
    seen, line = input_impedance(path, load), exact.solve(station(path, load)).lines[0]
    gamma, admittance = complex(formulas.reflection(load, figures.inputs["Z0"])), 1e3 / load
    figures.check_all(
        {
            "rho": math.sqrt(line.reflected_out_w / line.forward_out_w),
            "Gamma_deg": degrees(gamma),
            "SWR": line.swr_in,
            "Zin_re": seen.real,
            "Zin_im": seen.imag,
            "YL_re": admittance.real,
            "YL_im": admittance.imag,
        }
    )


def test_b06_a_reactance_takes_no_power():
    figures = case("B06")
    scenario = station([lossless(figures.inputs["Z0"], figures.inputs["length_deg"] / 360)], number(figures.inputs["ZL"]))
    readings = exact.solve(scenario)
    seen = readings.transmitter.impedance_ohm
    figures.check_all({"Zin_re": seen.real, "Zin_im": seen.imag})
    assert readings.antenna.power_w == 0
    assert readings.antenna.swr == math.inf
    assert abs(readings.transmitter.power_w) < 1e-12 * scenario.transmitter.power_w


def test_b07_normalised_impedance():
    figures = case("B07")
    seen = input_impedance([lossless(figures.inputs["Z0"], figures.inputs["length_wl"])], number(figures.inputs["ZL"]))
    figures.check_all({"zin_re": seen.real / figures.inputs["Z0"], "zin_im": seen.imag / figures.inputs["Z0"]})


@pytest.mark.parametrize("name", ["B09", "B10"])
def test_b09_b10_secondary_constants(name: str):
    figures = case(name)
    given = figures.inputs
    constants = phasor.PerMetre(given["R"], given["L"], given["Gs"], given["C"])  # a kilometre in B09
    gamma, z0 = complex(phasor.propagation(constants, given["f"])), complex(phasor.characteristic(constants, given["f"]))
    values = {"alpha": gamma.real, "beta": gamma.imag}
    if name == "B09":
        figures.check_all({**values, "Z0_abs": abs(z0), "Z0_deg": degrees(z0)})
    else:
        figures.check_all({**values, "Z0_re": z0.real, "Z0_im": z0.imag})


def test_b11_reflection():
    figures = case("B11")
    line = exact.solve(station([lossless(figures.inputs["Z0"], 0.61)], number(figures.inputs["ZL"]))).lines[0]
    figures.check_all({"rho": math.sqrt(line.reflected_out_w / line.forward_out_w), "SWR": line.swr_out})


def test_b12_incident_and_reflected_waves():
    figures = case("B12")
    z0 = figures.inputs["Z0"]
    station_12 = solved(station([lossless(z0, 0.4)], figures.inputs["ZL"]))
    waves = station_12.waves("line")
    factor = figures.inputs["VR"] / complex(station_12.walk.voltage[-1])  # to the load voltage of the book
    incident = waves.forward * cmath.exp(-waves.gamma * waves.length) * factor
    reflected = waves.back * factor
    assert abs(incident.imag) < 1e-12
    figures.check_all({"Vi": incident.real, "Vr": reflected.real, "Ii": incident.real / z0, "Ir": -reflected.real / z0})


def test_b13_places_of_largest_and_smallest_voltage():
    """The smallest voltage stands where the current is largest."""
    figures = case("B13")
    wavelength = figures.inputs["wavelength_cm"]
    line = lossless(50, 2.0 / wavelength, frequency=VELOCITY / (wavelength / 100))  # 2 cm long: one place of each
    reading = exact.solve(station([line], 50 * number(figures.inputs["z"]), frequency=VELOCITY / (wavelength / 100))).lines[0]
    d_max, d_min = 2.0 - 100 * reading.largest_v_at_m, 2.0 - 100 * reading.largest_a_at_m
    figures.check_all({"d_max": d_max, "d_min": d_min, "SWR": reading.swr_out})


def test_b15_load_from_three_inputs():
    figures = case("B15")
    z0, load = formulas.load_from_three_inputs(*(number(figures.inputs[name]) for name in ("Zin", "Zsc", "Zoc")))
    figures.check_all({"Z0": z0.real, "ZL_re": load.real, "ZL_im": load.imag})
    length = cmath.atan(figures.inputs["Zsc"][1] / z0).real / (2 * math.pi)  # Zsc = j Z0 tan(beta l)
    assert input_impedance([lossless(z0.real, length)], load) == pytest.approx(number(figures.inputs["Zin"]), rel=1e-12)


def edge(line: Line, antenna: float, rho: float, centre: float) -> float:
    """Fractional bandwidth, measured: how far the carrier can go before the transmitter meets this reflection."""

    def excess(frequency: float) -> float:
        return exact.solve(station([line], antenna, frequency=frequency)).transmitter.swr - float(formulas.swr(rho))

    return 2 * (brentq(excess, centre, 1.4 * centre, xtol=centre * 1e-14, rtol=1e-14) / centre - 1)


def test_b16_quarter_wave_bandwidth():
    figures = case("B16")
    load, z0, swr = (figures.inputs[name] for name in ("ZL", "Z0", "SWR_max"))
    z1, rho = float(formulas.quarter_wave_impedance(load, z0)), float(formulas.rho(swr))
    figures.check_all({"Z1": z1, "fractional_bandwidth": edge(lossless(z1, 0.25), load, rho, FREQUENCY)})
    figures.check("fractional_bandwidth", formulas.quarter_wave_bandwidth(z0, load, rho))


def test_b17_quarter_wave_bandwidth():
    figures = case("B17")
    given = figures.inputs
    z1 = float(formulas.quarter_wave_impedance(given["ZL"], given["Z0"]))
    line = lossless(z1, 0.25, given["f"], given["c"])
    measured = edge(line, given["ZL"], given["Gamma_max"], given["f"])
    figures.check_all({"Z1": z1, "length": line.length_m, "fractional_bandwidth": measured})
    figures.check("fractional_bandwidth", formulas.quarter_wave_bandwidth(given["Z0"], given["ZL"], given["Gamma_max"]))


def test_b18_quarter_wave_match():
    """From memory: the source was not at hand."""
    figures = case("B18")
    given = figures.inputs
    z0 = float(formulas.quarter_wave_impedance(given["Z1"], given["Z2"]))
    line = lossless(z0, 0.25, given["f"], given["vf"] * SPEED_OF_LIGHT)
    figures.check_all({"Z0": z0, "length": 1e3 * line.length_m})
    assert input_impedance([line], given["Z1"], given["f"]) == pytest.approx(given["Z2"], rel=1e-12)


def test_b23_many_wavelengths():
    figures = case("B23")
    seen = input_impedance([lossless(figures.inputs["Z0"], figures.inputs["length_wl"])], number(figures.inputs["ZL"]))
    figures.check_all({"Zin_re": seen.real, "Zin_im": seen.imag})


def test_b24_power_for_a_wanted_power_at_the_antenna():
    figures = case("B24")
    given = figures.inputs
    line = real_impedance(50, given["length"] * given["dB_per_100m"] / 100, given["length"])
    readings = exact.solve(station([line], 50))
    figures.check_all({"P_tx": given["P_load"] * readings.transmitter.power_w / readings.antenna.power_w})


def test_b25_matched_loss():
    figures = case("B25")
    given = figures.inputs
    line = real_impedance(given["RL"], given["length"] * given["dB_per_m"], given["length"])
    readings = exact.solve(with_emf(station([line], given["RL"], source=given["Rs"]), given["Vrms"] * math.sqrt(2)))
    power = readings.antenna.power_w
    figures.check_all({"loss_ratio": readings.transmitter.power_w / power, "P_load": power})


def test_b26_two_lines_and_a_lossy_joint():
    """The joint is a matched T of resistors: series R0 (k - 1)/(k + 1) twice, shunt 2 R0 k/(k^2 - 1), k = 10^(dB/20)."""
    figures = case("B26")
    given = figures.inputs
    k = 10 ** (given["joint_dB"] / 20)
    arm = Element(position="series", kind="resistor", value=50 * (k - 1) / (k + 1))
    joint = Network(elements=(arm, Element(position="shunt", kind="resistor", value=100 * k / (k**2 - 1)), arm))
    first = real_impedance(50, given["l1"] * given["a1_dB"], given["l1"])
    second = real_impedance(50, given["l2"] * given["a2_dB"], given["l2"])
    readings = exact.solve(station([first, joint, second], 50))
    figures.check_all({"percent": 100 * readings.antenna.power_w / readings.transmitter.power_w})


def test_b27_load_voltage():
    figures = case("B27")
    given = figures.inputs
    wavelengths = given["length"] * given["f"] / given["v"]
    path = [lossless(given["Z0"], wavelengths, given["f"], given["v"])]
    scenario = with_emf(station(path, given["ZL"], source=given["Zs"], frequency=given["f"]), given["Vs_peak"])
    voltage, _ = exact.profile(scenario, "line", given["length"])
    figures.check_all({"VL_re": voltage.real, "VL_im": voltage.imag, "P_load": exact.solve(scenario).antenna.power_w})


def test_b28_half_waves_repeat():
    figures = case("B28")
    given = figures.inputs
    line = lossless(given["Z0"], given["length"] * given["f"] / given["v"], given["f"], given["v"])
    seen = input_impedance([line], number(given["ZL"]), given["f"])
    figures.check_all({"Zin_re": seen.real, "Zin_im": seen.imag})


def test_e08_additional_loss():
    """The rule takes a real Z0: half of the loss in the dielectric. At high and at low impedance alike."""
    figures = case("E08")
    from_rule, high, low = {}, {}, {}
    for matched in figures.inputs["matched_dB"]:
        for swr in figures.inputs["swr"]:
            name = f"extra@{matched:g}dB,SWR{swr}"
            from_rule[name] = float(formulas.additional_loss_db(matched, swr))
            for values, antenna in ((high, 50 * swr), (low, 50 / swr)):
                line = exact.solve(station([real_impedance(50, matched)], antenna)).lines[0]
                values[name] = line.loss_db - line.matched_loss_db
    for values in (from_rule, high, low):
        figures.check_all(values)


def test_e09_loss_of_a_loaded_cable():
    figures = case("E09")
    given = figures.inputs
    matched = given["length"] * given["dB_per_100m"] / 100
    line = real_impedance(given["Z0"], matched, given["length"], given["vf"])
    readings = exact.solve(station([line], number(given["ZL"]), frequency=given["f"]))
    reading = readings.lines[0]
    power = given["P_in"] * reading.power_out_w / reading.power_in_w
    figures.check_all({"matched_dB": reading.matched_loss_db, "total_dB": reading.loss_db, "P_load": power})
    assert reading.loss_db == pytest.approx(decibel(reading.power_in_w / reading.power_out_w), rel=1e-12)
