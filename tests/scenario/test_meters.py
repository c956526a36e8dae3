"""Meters: what directivity lets a real one show, and how loss hides a mismatch from the near end."""

import math

import pytest
from scipy.optimize import brentq

from bouncesim.account.meters import meter_reading
from bouncesim.exact.solve import solve
from bouncesim.scenario import Antenna, Line, Meter, Scenario, Transmitter
from bouncesim.scenario.lines import DB_PER_NEPER
from tests.reference import case


def test_the_range_that_directivity_leaves() -> None:
    """F01: a perfect load, and SWR 1.5 and 3, as meters of 20 to 40 dB may show them."""
    source = case("F01")
    found = {}
    for name in source.expected:
        what, _, of = name.partition("@")
        decibels, _, swr = of.partition(",")
        rho = (float(swr or 1) - 1) / (float(swr or 1) + 1)
        reading = meter_reading("meter", 20.0, 20.0 * rho**2, float(decibels.removesuffix("dB")))
        found[name] = reading.swr_least if what == "low" else reading.swr_most
        assert reading.swr == pytest.approx(float(swr or 1), rel=1e-12)
    source.check_all(found)


def test_loss_hides_a_mismatch() -> None:
    """F02: an SWR of 4 at the antenna reads 3 after 24 cm; the attenuation that does it. Half of it in the dielectric: a real Z0."""
    source = case("F02")

    def swr_in(alpha: float) -> float:
        line = Line(
            length_m=source.inputs["length"],
            impedance_ohm=50,
            velocity_factor=0.66,
            loss_db_per_m=alpha * DB_PER_NEPER,
            dielectric_share=0.5,
        )
        station = Scenario(
            title="t",
            transmitter=Transmitter(frequency_hz=1e9, power_w=1.0),
            path=(Meter(), line),
            antenna=Antenna(impedance_ohm=complex(50 * source.inputs["SWR_load"])),
        )
        return solve(station).meters[0].swr

    alpha = brentq(lambda alpha: swr_in(alpha) - source.inputs["SWR_in"], 0.01, 2.0, xtol=1e-12)
    source.check("alpha", alpha)
    assert alpha == pytest.approx(math.log(0.6 / 0.5) / (2 * 0.24), rel=1e-9)  # by hand: rho 3/5 shrinks to 1/2, out and back
