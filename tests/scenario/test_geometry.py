"""Lines from their dimensions: against textbooks, and against the exact fields of round wires."""

import math

import mpmath
import pytest

from bouncesim.scenario import Line
from bouncesim.scenario.geometry import (
    COPPER,
    ETA_0,
    coax,
    coax_impedance_ohm,
    open_wire,
    open_wire_impedance_ohm,
    skin_depth_m,
    surface_resistance_ohm,
)
from bouncesim.scenario.lines import SPEED_OF_LIGHT
from tests.reference import case

EPSILON_0 = 1 / (ETA_0 * SPEED_OF_LIGHT)
ROUNDING = 1e-12  # some ten operations, and a logarithm near 1
# The sources round their factors; scaled by these, the exact figures are those that the sources print.
LOG_138 = 138 / math.log(10) / (ETA_0 / (2 * math.pi))  # Z0 = 138 log10(D/d)/sqrt(er): 0.04 % low
LN_60 = 60 / (ETA_0 / (2 * math.pi))  # Z0 = 60 ln(D/d)/sqrt(er): 0.07 % high
C_24_13 = 24.13e-12 * math.log(10) / (2 * math.pi * EPSILON_0)  # C = 24.13 er/log10(D/d) pF/m: 0.13 % low
EPSILON_8_854 = math.sqrt(8.854e-12 / EPSILON_0)  # R/2 Z0 and G Z0/2 with eps0 = 8.854e-12 F/m: 0.001 % low


def test_the_impedance_of_space() -> None:
    assert pytest.approx(376.730, abs=0.0005) == ETA_0


def test_coax_impedance_from_dimensions() -> None:
    """E01."""
    source, exact = case("E01"), coax(0.3e-2, 1.02e-2, 2.25, 0.0, 1e6)
    source.check_all(
        {
            "Z0_a": coax_impedance_ohm(2e-3, 8e-3, 2.3) * LOG_138,
            "Z0_b": exact.impedance_ohm * LN_60,
            "Z0_c": coax_impedance_ohm(0.08, 0.285, 2.3),
            "L_b": exact.inductance * 1e9,
            "C_b": exact.capacitance * 1e12 * C_24_13,
        }
    )


def test_open_wire_impedance_from_dimensions() -> None:
    """E02: the exact formula, and by how much the logarithm that is often used instead is above it."""
    exact = open_wire_impedance_ohm(3e-3, 10e-3)
    source = case("E02")
    source.check("Z0_exact", exact)
    source.check("Z0_log", 276 * math.log10(2 * 10 / 3))
    assert 276 * math.log10(2 * 10 / 3) / exact - 1 == pytest.approx(0.012, abs=0.0005)
    assert open_wire_impedance_ohm(1.0, 74.47) == pytest.approx(600, abs=0.05)


def test_cable_from_capacitance_and_core() -> None:
    """E03: inductance from Z0^2 C, outer diameter from the impedance."""
    source = case("E03")
    z0, permittivity, inner = 75.0, source.inputs["er"], source.inputs["d_mm"]
    source.check("L", z0**2 * source.inputs["C_pF_m"] * 1e-6)
    outer = inner * math.exp(z0 * math.sqrt(permittivity) * 2 * math.pi / ETA_0)
    source.check("D", outer)
    assert coax_impedance_ohm(inner, outer, permittivity) == pytest.approx(75.0, rel=ROUNDING)


def test_cable_constants_in_feet() -> None:
    """E04, as a line of the scenario."""
    source, foot = case("E04"), 0.3048
    line = Line(length_m=1, inductance_h_per_m=source.inputs["L_ft"] / foot, capacitance_f_per_m=source.inputs["C_ft"] / foot)
    constants = line.constants(1e6)
    source.check("Z0", constants.impedance_ohm)
    source.check("delay", foot / constants.velocity * 1e9)
    source.check("v", constants.velocity / foot / 1e8)
    source.check("vf", constants.velocity / SPEED_OF_LIGHT)


def test_skin_depth() -> None:
    """E05 (four metals at 10 GHz) and E07 (copper at HF)."""
    source = case("E05")
    conductivities = dict(zip(("Al", "Cu", "Au", "Ag"), source.inputs["sigma"], strict=True))
    source.check_all({metal: skin_depth_m(1e10, 1 / sigma) for metal, sigma in conductivities.items()})
    source = case("E07")
    for quantity in source.expected:
        source.check(quantity, skin_depth_m(float(quantity.removesuffix("MHz")) * 1e6, source.inputs["rho"]) * 1e3)


def test_coax_loss_from_dimensions() -> None:
    """E06: conductor loss without and with dielectric, and dielectric loss, in Np/m."""
    source = case("E06")
    inner, outer, f = 2e-3 * source.inputs["a_mm"], 2e-3 * source.inputs["b_mm"], source.inputs["f"]
    rho, permittivity, tangent = 1 / source.inputs["sigma"], source.inputs["er"], source.inputs["tand"]
    air, filled = (coax(inner, outer, er, loss, f, rho) for er, loss in ((1.0, 0.0), (permittivity, tangent)))
    source.check("Rs", surface_resistance_ohm(f, rho))
    source.check("alpha_c_air", air.resistance / (2 * air.impedance_ohm) * EPSILON_8_854)
    source.check("alpha_c_ptfe", filled.resistance / (2 * filled.impedance_ohm) * EPSILON_8_854)
    source.check("alpha_d", filled.conductance * filled.impedance_ohm / 2 * EPSILON_8_854)


def test_crowding_of_the_current_follows_from_wheelers_rule() -> None:
    """R = (Rs/mu0) dL/dn, with L = (mu0/pi) acosh(D/d) and both wires d - 2n thick: differentiated numerically, with digits to spare."""
    with mpmath.workdps(40):
        for ratio in (1.05, 1.5, 3, 60):
            slope = mpmath.diff(lambda n, ratio=ratio: mpmath.acosh(ratio / (1 - 2 * n)) / mpmath.pi, 0)
            resistance = surface_resistance_ohm(7e6) * float(slope)
            assert open_wire(1.0, ratio, 7e6).resistance == pytest.approx(resistance, rel=ROUNDING)


@pytest.mark.parametrize(("depths", "least", "most"), [(8, 0.11, 0.13), (20, 0.04, 0.06), (100, 0.0, 0.015)])
def test_the_surface_resistance_is_a_little_below_that_of_a_round_wire(depths: float, least: float, most: float) -> None:
    """The exact resistance of a round wire, k/(2 pi a) J0(ka)/J1(ka) rho with k = (1 - j)/depth, by Bessel functions."""
    depth = skin_depth_m(7e6)
    radius = depths * depth / 2
    k = mpmath.mpc(1, -1) / depth
    exact = float((COPPER * k / (2 * mpmath.pi * radius) * mpmath.besselj(0, k * radius) / mpmath.besselj(1, k * radius)).real)
    shortfall = 1 - surface_resistance_ohm(7e6) / (math.pi * 2 * radius) / exact
    assert least < shortfall < most


def test_dry_open_wire_line_at_hf() -> None:
    """J04, common practice, no source: about 0.1 dB in 100 feet."""
    source = case("J04")
    line = Line(length_m=source.inputs["length_ft"] * 0.3048, wire_diameter_m=2e-3, spacing_m=0.15)
    f = source.inputs["f"]
    source.check("matched_loss_db", line.constants(f).loss_db_per_m(f) * line.length_m)


def test_lines_of_dimensions_say_what_they_leave_out() -> None:
    wires = Line(length_m=1, wire_diameter_m=2e-3, spacing_m=0.15)
    cable = Line(length_m=1, inner_diameter_m=0.9e-3, outer_diameter_m=2.95e-3, permittivity=2.26, loss_tangent=3e-4)
    assert [note[:35] for note in wires.notes(7e6)] == ["Loss is computed for clean copper w"]
    assert "smooth solid copper" in cable.notes(7e6)[0]
    assert "the true loss is well above" in cable.notes(2e5)[1]  # a skin depth of 0.15 mm
    assert Line(length_m=1, impedance_ohm=50, velocity_factor=0.66).notes(7e6) == ()
    constants = cable.constants(7e6)
    assert constants.impedance_ohm == pytest.approx(47.35, abs=0.005)  # by hand: 59.958 ln(2.95/0.9)/sqrt(2.26) = 59.958 * 1.18716/1.50333
    assert constants.velocity / SPEED_OF_LIGHT == pytest.approx(1 / math.sqrt(2.26), rel=ROUNDING)
    assert constants.conductance == pytest.approx(2 * math.pi * 7e6 * constants.capacitance * 3e-4, rel=ROUNDING)
