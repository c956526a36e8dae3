"""Groups D and K of the reference cases, and the stubs of group B: by their parts, and by what the transmitter then sees."""

from __future__ import annotations

import math

import pytest

from bouncesim import exact
from bouncesim.exact import formulas
from bouncesim.exact.matching import LSection, l_sections, pi_section, set_tuner, stub_sections, t_section
from bouncesim.scenario import Element, Line, Network, Stub, Tuner
from tests.exact.stations import decibel, lossless, station
from tests.reference import case, number

# A reflection of a match by exact algebra: a few units in the last place.
MATCHED = 1e-14


def assert_matches(section: LSection, target: float, load: complex, frequency: float) -> None:
    """In a station: on a line of half a wave, the section's input is the target."""
    path = [Network(elements=section.elements(frequency)), lossless(target, 0.5, frequency)]
    seen = exact.solve(station(path, load, rated=target, frequency=frequency)).transmitter.impedance_ohm
    assert abs(formulas.reflection(seen, target)) < 10 * MATCHED  # the half wave adds the rounding of pi


def both_kinds(target: float, load: complex, at: str) -> list[LSection]:
    """The lossless sections with their shunt at one end: series coil, series capacitor."""
    sections = [section for section in l_sections(target, load) if section.shunt_at == at]
    assert len(sections) == 2
    return sorted(sections, key=lambda section: section.series_ohm < 0)  # series coil first


def values_of(section: LSection, frequency: float) -> dict[str, float]:
    return {element.position: element.value for element in section.elements(frequency)}


def test_d01_both_solutions():
    figures = case("D01")
    load, target, frequency = number(figures.inputs["ZL"]), figures.inputs["Z0"], figures.inputs["f"]
    coil, capacitor = both_kinds(target, load, "antenna")
    one, two = values_of(coil, frequency), values_of(capacitor, frequency)
    figures.check_all({"C1": 1e12 * one["shunt"], "L1": 1e9 * one["series"], "L2": 1e9 * two["shunt"], "C2": 1e12 * two["series"]})
    for section in (coil, capacitor):
        assert_matches(section, target, load, frequency)


def test_d02_600_ohm():
    figures = case("D02")
    high, low, frequency = figures.inputs["Rp"], figures.inputs["Rs"], figures.inputs["f"]
    coil, capacitor = both_kinds(low, high, "antenna")
    one, two = values_of(coil, frequency), values_of(capacitor, frequency)
    figures.check_all(
        {
            "Q": formulas.l_section_q(high, low),
            "Xs": coil.series_ohm,
            "Xp": -coil.shunt_ohm,
            "Cs": 1e12 * two["series"],
            "Lp": 1e9 * two["shunt"],
            "Ls": 1e9 * one["series"],
            "Cp": 1e12 * one["shunt"],
        }
    )
    for section in (coil, capacitor):
        assert_matches(section, low, high, frequency)


def test_d03_two_steps():
    """Two L sections in a chain, over a resistance between: 600 to 173.2 to 50 ohm; the source is the larger one."""
    figures = case("D03")
    high, between, low = figures.inputs["R"]
    values, elements = {}, ()
    for n, (above, below) in enumerate(((high, between), (between, low)), start=1):
        section = both_kinds(above, below, "transmitter")[0]
        q = formulas.l_section_q(above, below)
        values |= {f"Q{n}": q, f"Xs{n}": section.series_ohm, f"Xp{n}": -section.shunt_ohm}
        elements += section.elements(10e6)
    figures.check_all(values)
    seen = exact.solve(station([Network(elements=elements), lossless(low, 0.5)], low, rated=high)).transmitter.impedance_ohm
    assert abs(formulas.reflection(seen, high)) < 10 * MATCHED


@pytest.mark.parametrize("name", ["B19", "B20", "B21"])
def test_single_stubs(name):
    """The published places and lengths; and in a station with such a stub the line in front of it is flat, whatever its end."""
    figures = case(name)
    load, impedance = number(figures.inputs["ZL"]), figures.inputs["Z0"]
    one, two = stub_sections(load, impedance, end="short")
    values = {
        "B19": {"d1": one.distance, "l1": one.length, "d2": two.distance, "l2": two.length},
        "B20": {
            "dB": one.distance,
            "dA": two.distance,
            "stub_len_short": min(one.length, two.length),
            "stub_len_long": max(one.length, two.length),
            "Bstub": 1e3 * one.susceptance_s,
        },
        "B21": {"SWR": float(formulas.swr(abs(formulas.reflection(load, impedance)))), "distance": one.distance, "stub_length": one.length},
    }
    figures.check_all(values[name])
    for stub_impedance in (impedance, 1.7 * impedance):
        sections = stub_sections(load, impedance, stub_impedance)
        assert len(sections) == 4
        for section in sections:
            stub = Stub(path=(lossless(stub_impedance, section.length),), end=section.end)
            path = [lossless(impedance, 0.3), stub, lossless(impedance, section.distance)]
            readings = exact.solve(station(path, load, rated=impedance))
            assert readings.lines[0].swr_in == pytest.approx(1.0, abs=1e-12)
            assert readings.antenna.power_w == pytest.approx(40.0, rel=1e-12)


def test_d05_admittance():
    """A series capacitor and a shunt coil at the transmitter; Q is that of the resistances, 50 ohm and the load's 38 ohm."""
    figures = case("D05")
    load, frequency = 1e3 / number(figures.inputs["YL_mS"]), figures.inputs["f"]
    section = both_kinds(figures.inputs["Z0"], load, "transmitter")[1]
    values = values_of(section, frequency)
    q = formulas.l_section_q(figures.inputs["Z0"], load.real)
    parts = {"Cser": 1e12 * values["series"], "Lpar": 1e9 * values["shunt"]}
    figures.check_all({"ZL_re": load.real, "ZL_im": load.imag, "Q": q, **parts})
    assert_matches(section, figures.inputs["Z0"], load, frequency)


@pytest.mark.parametrize(("name", "rule"), [("D06", pi_section), ("D07", t_section)])
def test_d06_d07_pi_and_t(name, rule):
    """From memory. The book's network as a station: the shunts capacitors (pi) or coils (T), the series parts the opposite."""
    figures = case(name)
    source, load = figures.inputs["Rs"], figures.inputs["RL"]
    found = rule(source, load, figures.inputs["Q"])
    values = {"R_virtual": found.virtual_ohm, "Xp1": found.source_shunt_ohm, "Xs1": found.source_series_ohm}
    values |= {"Xp2": found.load_shunt_ohm, "Xs2": found.load_series_ohm}
    values |= {"Q1": found.source_q} if name == "D06" else {"Q2": found.load_q}
    figures.check_all(values)
    order = [("shunt", -found.source_shunt_ohm), ("series", found.source_series_ohm)]
    order += [("series", found.load_series_ohm), ("shunt", -found.load_shunt_ohm)]
    if name == "D07":
        order = [order[1], order[0], order[3], order[2]]
    elements = tuple(as_element(position, reactance) for position, reactance in order)
    seen = exact.solve(station([Network(elements=elements), lossless(load, 0.5)], load, rated=source)).transmitter.impedance_ohm
    assert abs(formulas.reflection(seen, source)) < 1e-13  # loaded Q of 15 multiplies rounding


def as_element(position: str, reactance: float, frequency: float = 10e6) -> Element:
    omega = 2 * math.pi * frequency
    kind, value = ("inductor", reactance / omega) if reactance > 0 else ("capacitor", -1 / (omega * reactance))
    return Element(position=position, kind=kind, value=value)


def test_d08_1000_ohm():
    """From memory."""
    figures = case("D08")
    source, load, frequency = figures.inputs["Rs"], figures.inputs["RL"], figures.inputs["f"]
    section = both_kinds(source, load, "antenna")[0]
    values = values_of(section, frequency)
    q = formulas.l_section_q(load, source)
    figures.check_all(
        {"Q": q, "Xs": section.series_ohm, "Xp": -section.shunt_ohm, "L": 1e9 * values["series"], "C": 1e12 * values["shunt"]}
    )
    assert_matches(section, source, load, frequency)


def test_d09_heat_in_the_tuners_coil():
    """The published rule takes Q without loss; set exactly for its own loss, the tuner's Q is X/Rlow of the coil that it then has."""
    figures = case("D09")
    high, low, coil_q = figures.inputs["Rhigh"], figures.inputs["Rlow"], figures.inputs["Q_coil"]
    lossless_coil = both_kinds(high, low, "transmitter")[0]
    coil = as_element("series", lossless_coil.series_ohm)
    coil = coil.model_copy(update={"loss_ohm": lossless_coil.series_ohm / coil_q})
    network = Network(elements=(as_element("shunt", lossless_coil.shunt_ohm), coil))
    line = lossless(low, 0.5)
    for scenario in (station([network, line], low, rated=high), station([Tuner(kind="series coil", coil_q=coil_q), line], low, rated=high)):
        readings = exact.solve(scenario)
        efficiency = readings.networks[0].power_out_w / readings.networks[0].power_in_w
        coil = scenario.path[0].elements[1]
        q = 2 * math.pi * 10e6 * coil.value / low
        assert efficiency == pytest.approx(formulas.l_section_efficiency(q, coil_q), rel=1e-12)
        if scenario.path[0].is_tuner:
            assert readings.transmitter.swr == pytest.approx(1.0, abs=10 * MATCHED)
        else:
            figures.check_all({"efficiency": efficiency, "loss_dB": -decibel(efficiency)})


def test_k01_full_chain():
    """The whole chain against an independent program's cascade (scikit-rf), the tuner's loss in its own coil included."""
    figures = case("K01")
    given = figures.inputs
    line = Line(
        length_m=given["length"],
        resistance_ohm_per_m=given["R"],
        inductance_h_per_m=given["L"],
        conductance_s_per_m=given["Gs"],
        capacitance_f_per_m=given["C"],
    )
    tuner = Tuner(kind="series coil", coil_q=given["Qcoil"])
    scenario = set_tuner(station([tuner, line], number(given["ZL"]), given["P_available"], frequency=given["f"]))
    bare = exact.solve(station([line], number(given["ZL"]), given["P_available"], frequency=given["f"]))
    readings = exact.solve(scenario)
    capacitor, coil = scenario.path[0].elements
    assert (capacitor.kind, coil.kind) == ("capacitor", "inductor")
    seen = readings.transmitter.impedance_ohm
    figures.check_all(
        {
            "Zline_in_re": bare.transmitter.impedance_ohm.real,
            "Zline_in_im": bare.transmitter.impedance_ohm.imag,
            "C_shunt": 1e12 * capacitor.value,
            "L_series": 1e6 * coil.value,
            "Gin_abs": abs(complex(formulas.reflection(seen, 50))),
            "P_in": readings.transmitter.power_w,
            "heat_coil": readings.networks[0].heat_w,
            "P_line_in": readings.lines[0].power_in_w,
            "heat_line": readings.lines[0].heat_w,
            "P_load": readings.antenna.power_w,
        }
    )
    assert abs(formulas.reflection(seen, 50)) < MATCHED
