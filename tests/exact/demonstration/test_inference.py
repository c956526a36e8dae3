"""What readings say: the simulated truth lies inside, whatever errors the instruments were allowed to make."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from bouncesim import exact
from bouncesim.account.readings import swr_of
from bouncesim.exact.demonstration.inference import Evidence, Reading, finding
from bouncesim.exact.demonstration.instruments import Instrument, Interval
from bouncesim.exact.matching import set_tuner
from bouncesim.exact.phasor import characteristic
from bouncesim.exact.station import station as solved
from bouncesim.scenario import Antenna, Keying, Line, Meter, Scenario, Transmitter, Tuner
from tests.exact.stations import FREQUENCY

STATIONS, MANY = 14, 120
# The error of reckoning itself, where an instrument is told to make none: cells of a three-hundredth of what is left.
TIGHT = 0.02
ROUNDING = 1e-9
# An end of an interval is a cell too far out at most: a sixteen-hundredth of rho's width.
NEAR = 1e-3


def random_station(rng: np.random.Generator) -> Scenario:
    """A transmitter, a tuner with loss, a line with loss between meters, an antenna."""
    line = Line(
        name="cable",
        length_m=rng.uniform(3.0, 60.0),
        impedance_ohm=50.0,
        velocity_factor=rng.uniform(0.6, 0.95),
        loss_db_per_m=rng.choice([0.0, rng.uniform(0.001, 0.08)]),
        dielectric_share=rng.uniform(0.0, 1.0),
    )
    path = (Meter(name="first"), Tuner(coil_q=rng.uniform(40, 300)), Meter(name="second"), line, Meter(name="third"))
    antenna = Antenna(impedance_ohm=complex(rng.uniform(8, 300), rng.uniform(-150, 150)))
    transmitter = Transmitter(frequency_hz=FREQUENCY, power_w=rng.uniform(5, 80))
    return set_tuner(Scenario(title="test", transmitter=transmitter, keying=Keying(shape="step"), path=path, antenna=antenna))


def read(rng: np.random.Generator, scenario: Scenario, name: str, instrument: Instrument, extreme: bool) -> Reading:
    """What an instrument shows that makes any error that it is allowed to make; the largest ones, if `extreme`."""
    at = solved(scenario).span(name).first
    plus, minus = (at.v + 50 * at.i) / math.sqrt(400), (at.v - 50 * at.i) / math.sqrt(400)

    def leak() -> complex:
        size = instrument.leak * (1.0 if extreme else rng.uniform(0, 1))
        return size * cmath.exp(2j * math.pi * rng.choice([0, 0.25, 0.5, 0.75]) if extreme else 2j * math.pi * rng.uniform())

    def scale() -> float:
        return rng.choice([-1.0, 1.0]) if extreme else rng.uniform(-1, 1)

    forward = abs(plus + leak() * minus) ** 2 + scale() * instrument.forward_error_w
    reflected = abs(minus + leak() * plus) ** 2 + scale() * instrument.reflected_error_w
    return Reading(max(0.0, forward), max(0.0, reflected), instrument)


def truth(scenario: Scenario) -> dict[str, float]:
    readings = exact.solve(scenario)
    line, tuner = readings.lines[0], readings.networks[0]
    return {
        "transmitter.power_w": readings.transmitter.power_w,
        "transmitter.swr": readings.transmitter.swr,
        "transmitter.net_w": readings.transmitter.power_w,
        "line.swr": line.swr_in,
        "line.forward_w": line.forward_in_w,
        "line.net_w": line.power_in_w,
        "line.heat_w": line.heat_w,
        "line.loss_db": line.loss_db,
        "line.matched_loss_db": line.matched_loss_db,
        "antenna.swr": line.swr_out,
        "antenna.power_w": line.power_out_w,
        "tuner.heat_w": tuner.heat_w,
        "tuner.heat_share": tuner.heat_w / readings.transmitter.power_w,
    }


def skew_of(scenario: Scenario) -> float:
    z0 = complex(characteristic(scenario.lines[0].constants(FREQUENCY), FREQUENCY))
    return abs((z0 - 50) / (z0 + 50))


def assert_inside(found: dict[str, Interval], true: dict[str, float]) -> None:
    for name, interval in found.items():
        if name != "transmitter.forward_w":
            slack = ROUNDING * (1 + abs(true[name]))
            assert interval.least - slack <= true[name] <= interval.most + slack, name


@pytest.mark.parametrize("extreme", [False, True], ids=["any errors", "the largest errors"])
def test_the_truth_is_inside(extreme):
    errors_stay_inside(np.random.default_rng(17 + extreme), STATIONS, extreme)


@pytest.mark.slow
@pytest.mark.parametrize("extreme", [False, True], ids=["any errors", "the largest errors"])
def test_the_truth_is_inside_of_many(extreme):
    errors_stay_inside(np.random.default_rng(170 + extreme), MANY, extreme)


def errors_stay_inside(rng, stations, extreme):
    """Every subset of three meters, power known within some per cent, the matched loss known or not."""
    for k in range(stations):
        scenario = random_station(rng)
        true = truth(scenario)
        scale = float(rng.choice([100.0, 200.0, 400.0]))
        instrument = Instrument(rng.uniform(0.002, 0.05), scale, scale, rng.uniform(20, 40))
        names = {"transmitter": "first", "line": "second", "antenna": "third"}
        chosen = [place for bit, place in enumerate(names) if (k % 7 + 1) >> bit & 1]
        readings = {place: read(rng, scenario, names[place], instrument, extreme) for place in chosen}
        within = rng.uniform(0.01, 0.1)
        told = true["transmitter.power_w"] * (1 + within * rng.uniform(-1, 1))
        power = Interval(told / (1 + within), told / (1 - within)) if rng.random() < 0.6 else None
        loss = true["line.matched_loss_db"]
        matched = Interval(loss * rng.uniform(0.8, 1), loss * rng.uniform(1, 1.2)) if rng.random() < 0.4 else None
        result = finding(Evidence(readings, power, matched, skew_of(scenario)))
        assert result.consistent
        assert result.loosened <= 1
        assert_inside(result.values, true)


def test_with_perfect_instruments_nothing_is_left_open():
    """Readings without error of a line of real impedance: every interval closes in on the truth."""
    line = Line(name="cable", length_m=20.0, impedance_ohm=50, velocity_factor=0.7, loss_db_per_m=0.06, dielectric_share=0.5)
    path = (Meter(name="first"), Tuner(coil_q=80), Meter(name="second"), line, Meter(name="third"))
    plain = Scenario(
        title="test",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=25.0),
        keying=Keying(shape="step"),
        path=path,
        antenna=Antenna(impedance_ohm=20 - 60j),
    )
    scenario, perfect = set_tuner(plain), Instrument(1e-9, 1.0, 1.0)
    rng = np.random.default_rng(1)
    readings = {place: read(rng, scenario, name, perfect, False) for place, name in (("line", "second"), ("antenna", "third"))}
    found, true = finding(Evidence(readings, Interval(25.0, 25.0))).values, truth(scenario)
    assert_inside(found, true)
    for name, interval in found.items():
        assert interval.width <= TIGHT * max(1.0, abs(true[name])), name


def test_by_hand():
    """One meter of class 5 at 100 W, a leak of one twentieth, 60 W and 20 W: both needles must stand for one forward power."""
    reading = Reading(60.0, 20.0, Instrument(0.05, 100.0, 100.0, 20 * math.log10(20)))
    found = finding(Evidence({"line": reading})).values
    d = 0.05
    most = (math.sqrt(25 / 55) + d) / (1 - d * math.sqrt(25 / 55))  # sqrt(55)/(1 + d rho) = sqrt(25)/(rho - d)
    least = (math.sqrt(15 / 65) - d) / (1 + d * math.sqrt(15 / 65))  # sqrt(65)/(1 - d rho) = sqrt(15)/(rho + d)
    assert found["line.swr"].most == pytest.approx(swr_of(most), rel=NEAR)
    assert found["line.swr"].least == pytest.approx(swr_of(least), rel=NEAR)
    assert found["line.swr"].least <= swr_of(least)
    assert found["line.swr"].most >= swr_of(most)


def test_readings_that_cannot_all_be_true():
    """More power on the line than the transmitter gives: by how much the uncertainties would have to grow, and what to doubt."""
    instrument = Instrument(0.02, 100.0, 100.0)
    evidence = Evidence({"line": Reading(70.0, 10.0, instrument)}, Interval(48.0, 52.0))
    result = finding(evidence)
    assert not result.consistent
    assert result.values == {}
    # net 60 W: with k times the errors, 70 - 2k less 10 + 2k is at most 50 + 2k: k = 10/6
    assert result.loosened == pytest.approx(10 / 6, rel=5e-3)
    assert set(result.culprits) == {"line", "power"}
    assert finding(evidence.loosened(result.loosened * 1.001)).consistent
    assert math.isinf(finding(Evidence({"line": Reading(70.0, 10.0, Instrument(0.0, 1.0, 1.0))}, Interval(50.0, 50.0))).loosened)


def test_a_meter_made_for_another_line_still_tells_net_power():
    """50 ohm meters on a line of 75 ohm: no SWR of the line, but both net powers, and the heat between them."""
    path = (
        Meter(name="second"),
        Line(name="cable", length_m=23.0, impedance_ohm=75, velocity_factor=0.7, loss_db_per_m=0.08),
        Meter(name="third"),
    )
    scenario = Scenario(
        title="test",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=25.0),
        keying=Keying(shape="step"),
        path=path,
        antenna=Antenna(impedance_ohm=75 + 40j),
    )
    rng, instrument = np.random.default_rng(3), Instrument(0.01, 40.0, 10.0, 35.0)
    readings = {place: read(rng, scenario, name, instrument, False) for place, name in (("line", "second"), ("antenna", "third"))}
    found, line = finding(Evidence(readings, skew=skew_of(scenario))).values, exact.solve(scenario).lines[0]
    assert line.heat_w in found["line.heat_w"]
    assert line.power_in_w in found["line.net_w"]
    assert line.power_out_w in found["antenna.power_w"]
    assert "line.swr" not in found


def test_no_reading_is_no_evidence():
    with pytest.raises(ValueError, match="no reading"):
        finding(Evidence(power_w=Interval(10.0, 11.0)))


@pytest.mark.filterwarnings("error")
def test_nothing_of_a_power_without_bound_is_nothing():
    """More comes back than goes forward, from twenty thousand times less power: the errors that would explain it leave the forward power
    without bound where no share of it can be net."""
    reading = Reading(773.0, 823.0, Instrument(0.05, 2000.0, 2000.0, 4.524))
    told = finding(Evidence({"line": reading}, Interval(0.03726304, 0.03791696), Interval(0.5184, 0.6336), skew=0.0038065))
    assert not told.consistent
    assert told.loosened > 1
