"""Where an effect shows best: against hand-worked stations, and against every other place that was tried."""

from __future__ import annotations

import math

import pytest

from bouncesim import exact
from bouncesim.exact.demonstration.effects import (
    ENOUGH,
    FULL,
    Meters,
    best_by_band,
    effects,
    fitting_powers,
    is_made_for,
    something_in_front,
    stage,
    tuner_in_front,
)
from bouncesim.exact.demonstration.sheet import sheet
from bouncesim.exact.matching import set_tuner
from bouncesim.scenario import Antenna, Dipole, Keying, Line, Meter, Scenario, Transformer, Transmitter, Tuner
from bouncesim.scenario.bands import SHORT_WAVES, edges
from tests.exact.stations import FREQUENCY, lossless

METERS = Meters(0.05, (20.0, 200.0), 25.0, 50.0)
PERFECT = Meters(0.0, (20.0, 200.0), None, 50.0)


def plain(path, antenna: Antenna | complex, power: float = 40.0) -> Scenario:
    antenna = antenna if isinstance(antenna, Antenna) else Antenna(impedance_ohm=antenna)
    transmitter = Transmitter(frequency_hz=FREQUENCY, power_w=power)
    return Scenario(title="test", transmitter=transmitter, keying=Keying(shape="step"), path=tuple(path), antenna=antenna)


def test_readings_by_hand():
    """150 ohm at the end of a lossless line of 50 ohm, tuned: rho = 1/2, so forward is 40/(1 - 1/4) W, reflected a quarter of that, at both
    ends; the transmitter sees none."""
    staged = stage(plain([Tuner(), lossless(50, 0.37)], 150 + 0j), FREQUENCY, METERS)
    for meter in (staged.near, staged.far):
        assert meter.forward_w == pytest.approx(160 / 3)
        assert meter.reflected_w == pytest.approx(40 / 3)
    assert staged.at_transmitter.swr == pytest.approx(1.0)
    assert staged.skew == pytest.approx(0.0, abs=1e-12)
    found = {effect.name: effect for effect in effects(staged, METERS, 30.0)}
    assert (found["above"].first_w, found["above"].second_w) == pytest.approx((30, 40))
    assert (found["flat"].first_w, found["flat"].second_w) == pytest.approx((0, 10), abs=1e-9)
    assert found["place"].contrast == pytest.approx(0.0, abs=1e-9)
    # above, at 30 W, both on the 200 W scale: 10 W apart; 10 W each by class, and what leaks of rho = 1/2 from 40 W
    leak = 10 ** (-25 / 20)
    assert found["above"].contrast == pytest.approx(10 / (10 + 10 + 40 * (1 - (1 - leak / 2) ** 2)))
    assert math.isinf({effect.name: effect for effect in effects(staged, PERFECT, 30.0)}["above"].contrast)


def test_the_power_that_fits():
    """Forward is 4/3 of the power: 12 W brings it to 80 per cent of 20 W, and that is enough; a small transmitter takes what it has."""
    staged = stage(plain([Tuner(), lossless(50, 0.37)], 150 + 0j), FREQUENCY, METERS)
    low, high = fitting_powers(staged, METERS)
    assert (low, high) == (5.0, 12.0)
    assert staged.near.forward_w / 40 * high == pytest.approx(FULL * 20)
    weak = stage(plain([Tuner(), lossless(50, 0.37)], 150 + 0j, power=3.3), FREQUENCY, METERS)
    assert fitting_powers(weak, METERS) == pytest.approx((1.6, 3.3))


def test_the_best_place_of_every_band_is_the_best_that_was_tried():
    """And bands are in order, up to what leaves nobody in doubt; then by what arrives."""
    cable = Line(length_m=22.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.02)
    scenario = plain([Tuner(coil_q=200, capacitor_q=1000), cable], Antenna(dipole=Dipole(length_m=20.4, wire_m=0.002)))
    effect, found = best_by_band(scenario, ("40 m", "30 m", "20 m"), 2, METERS, "flat")
    assert effect == "flat"
    for each in found:
        low, high = edges(each.band, 2)
        tried = [low + (high - low) * (k + 0.5) / 5 for k in range(5)]
        assert each.frequency_hz in tried
        for frequency in tried:
            staged = stage(scenario, frequency, METERS)
            (other,) = [e for e in effects(staged, METERS, fitting_powers(staged, METERS)[1]) if e.name == "flat"]
            assert min(other.contrast, ENOUGH) <= min(each.contrast("flat"), ENOUGH) + 1e-12 or each.unfit
    merits = [(not each.unfit, min(each.contrast("flat"), ENOUGH), each.arriving) for each in found]
    assert merits == sorted(merits, reverse=True)


def test_what_should_not_be_used_comes_last():
    """A cable that eats most of the power, and one above its working voltage, are told and put behind; a tuner that cannot be set too."""
    lossy = Line(length_m=60.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.15, loss_at_hz=14e6)
    _, found = best_by_band(plain([Tuner(), lossy], 10 + 100j), SHORT_WAVES, 1, METERS)
    assert any(each.unfit == "most of it is heat" for each in found)
    assert [bool(each.unfit) for each in found] == sorted(bool(each.unfit) for each in found)
    cable = Line(name="cable", length_m=20.0, type="rg58c")
    _, found = best_by_band(plain([Tuner(), cable], 5 + 20j, power=40e3), ("40 m",), 1, METERS)
    assert "above its working voltage" in found[0].unfit
    narrow = Tuner(largest_coil_h=1e-9, largest_capacitor_f=1e-12)
    _, found = best_by_band(plain([narrow, cable], 5 + 20j), ("40 m",), 1, METERS)
    assert (found[0].staged, found[0].effects) == (None, ())
    assert "no L setting is within its range" in found[0].unfit


def test_the_meters_change_nothing_and_take_no_name():
    """Whatever the path holds already; and the line that is watched is the one with the highest SWR."""
    path = [Meter(name="first 1"), Tuner(), Line(name="near 1", length_m=5.0, impedance_ohm=50, velocity_factor=0.8), Tuner(name="far 1")]
    path.append(Line(name="wire", length_m=20.0, impedance_ohm=450, velocity_factor=0.95))
    scenario = plain(path, 60 - 200j)
    staged = stage(scenario, FREQUENCY, METERS)
    bare = exact.solve(set_tuner(scenario))
    assert staged.line.name == "wire"
    assert staged.readings.antenna.power_w == pytest.approx(bare.antenna.power_w, rel=1e-12)
    Scenario.model_validate(staged.scenario.model_dump())
    assert not is_made_for(METERS, scenario.lines[1], FREQUENCY)
    assert staged.skew == pytest.approx(0.8)
    assert tuner_in_front(staged.scenario, "near 1")
    assert something_in_front(staged.scenario, "wire")
    balun = [Meter(), Transformer(impedance_ratio=4.0), Line(name="wire", length_m=9.0, impedance_ohm=450, velocity_factor=0.95)]
    assert something_in_front(plain(balun, 60 - 200j), "wire")
    assert not something_in_front(plain([balun[0], balun[2]], 60 - 200j), "wire")


def test_a_sheet_takes_in_every_antenna_that_is_possible():
    """Of an antenna told by its SWR each phase lies inside the spans, and two of them reach their ends."""
    scenario = plain([Tuner(), Line(length_m=15.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.03)], Antenna(swr=3.0))
    made = sheet(scenario, FREQUENCY, METERS, (10.0,))
    assert made.antennas == 24
    (single,) = made.rounds
    near = next(meter for meter in single.meters if meter.place == "line")
    seen = []
    for phase in range(24):
        rho = 0.5 * complex(math.cos(phase * math.pi / 12), math.sin(phase * math.pi / 12))
        each = stage(scenario.model_copy(update={"antenna": Antenna(impedance_ohm=50 * (1 + rho) / (1 - rho))}), FREQUENCY, METERS)
        shown = METERS.shows(each.near, 10 / 40)
        assert near.shown.forward_w.least <= shown.forward_w.least * (1 + 1e-9)
        assert near.shown.forward_w.most >= shown.forward_w.most * (1 - 1e-9)
        seen.append(shown.forward_w.most)
    assert near.shown.forward_w.most == pytest.approx(max(seen))
