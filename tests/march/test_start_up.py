"""Start-up under several keys, against lattices worked by hand."""

from __future__ import annotations

import math

import pytest

from bouncesim import perform
from bouncesim.account.run import Stress
from bouncesim.account.startup import OVER, KeyStart
from bouncesim.errors import BouncesimError
from bouncesim.march import grid
from bouncesim.perform import start_up as module
from bouncesim.scenario import Antenna, Element, Keying, Line, Network, Scenario, Transmitter

CARRIER_HZ, POWER_W, SPEED = 10e6, 20.0, 299_792_458.0
STEP, SHORT = Keying(shape="step"), Keying(shape="raised-cosine", rise_s=1e-6)
# The largest of a sine sampled 200 to 400 times a period, at its worst place: (pi/200)^2/2; the steady state is within 1e-5
SAMPLED = 2e-4
OPEN = 1e9  # ohm


def station(turns: float, load: complex = OPEN, source: float = 50.0, *more: float) -> Scenario:
    """Lines without loss, `turns` (and more) wavelengths long, from a source straight to a load."""
    lines = tuple(
        Line(name=f"line {k}", length_m=length * SPEED / CARRIER_HZ, impedance_ohm=50.0, velocity_factor=1.0)
        for k, length in enumerate((turns, *more))
    )
    transmitter = Transmitter(frequency_hz=CARRIER_HZ, power_w=POWER_W, source_impedance_ohm=source)
    return Scenario(title="t", transmitter=transmitter, keying=STEP, path=lines, antenna=Antenna(impedance_ohm=load))


def started(scenario: Scenario, keying: Keying = STEP) -> KeyStart:
    return module.start_under(perform.resolve(scenario).model_copy(update={"keying": keying}), "x", lambda done, total: None)


def stress(start: KeyStart, line: str, quantity: str = "voltage") -> Stress:
    return next(one for one in start.stresses if (one.line, one.quantity) == (line, quantity))


def test_a_matched_source_doubles_the_voltage_at_an_open_end_once_and_for_all() -> None:
    """Half the EMF sets out, doubles at the open end, and comes home into a matched source: nothing there is ever more than the EMF. At the
    source, where a line of 75 degrees leaves E cos 75 in the end, the first wave alone is E/2."""
    scenario = station(75 / 360)
    emf, start = scenario.emf_v_peak, started(scenario)
    end, near = stress(start, "antenna"), stress(start, "transmitter")
    assert start.is_exact
    assert (end.largest, end.steady) == (pytest.approx(emf, rel=SAMPLED), pytest.approx(emf, rel=1e-4))
    assert abs(end.overshoot) < SAMPLED
    assert near.largest == pytest.approx(emf / 2, rel=SAMPLED)
    assert near.steady == pytest.approx(emf * math.cos(math.radians(75)), rel=1e-3)
    assert near.at_s == pytest.approx(0.25 / CARRIER_HZ, abs=1 / (100 * CARRIER_HZ))  # at its first crest


def test_half_a_wavelength_behind_a_source_of_5_ohm_swings_over_by_nine_elevenths() -> None:
    """Each round trip lasts one period and is multiplied by (5 - 50)/(5 + 50) = -9/11: at the open end the first crest is 2 V, the last
    ones 2 V/(1 + 9/11). So the overshoot is 9/11, and it comes at one of the
    two crests of the first wave, before the second one is there."""
    scenario = station(0.5, source=5.0)
    end = stress(started(scenario), "antenna")
    assert end.overshoot == pytest.approx(9 / 11, abs=2e-3)
    assert end.largest == pytest.approx(2 * scenario.emf_v_peak * 50 / 55, rel=SAMPLED)
    assert min(abs(end.at_s * CARRIER_HZ - crest) for crest in (0.75, 1.25)) < 0.01


def test_a_quarter_wavelength_behind_5_ohm_rises_without_swinging_over() -> None:
    """There the round trip is half a period, and two signs cancel: the sum of (9/11)^n only grows."""
    end = stress(started(station(0.25, source=5.0)), "antenna")
    assert end.overshoot <= SAMPLED
    assert end.steady == pytest.approx(2 * station(0.25, source=5.0).emf_v_peak * 50 / 55 * 11 / 2, rel=1e-3)


def test_what_the_transmitter_sees_of_a_mismatched_end() -> None:
    """150 ohm send back half of the wave, a quarter of its power, once and for all from the first echo on: 4 periods after key-down, on a
    line of 2 wavelengths. A reading is a mean over a period, so that it is there one period later."""
    start = started(station(2.0, load=150.0))
    seen = start.seen
    assert seen.steady_reflected_w == pytest.approx(POWER_W / 4, rel=1e-4)
    assert seen.reflected_w == pytest.approx(POWER_W / 4, rel=2e-3)
    assert seen.share == pytest.approx(0.25, rel=2e-3)
    assert (seen.swr_least, seen.swr_most) == (pytest.approx(1.0, abs=1e-6), pytest.approx(3.0, rel=3e-3))
    assert start.settled_s == pytest.approx(5 / CARRIER_HZ, abs=1.01 / CARRIER_HZ)
    assert start.round_trips == pytest.approx(start.settled_s * CARRIER_HZ / 4, rel=1e-3)


def test_a_tuned_transmitter_sees_a_mismatch_at_first_and_a_match_later() -> None:
    scenario = station(0.7, load=25 - 40j)
    scenario = scenario.model_copy(update={"path": (perform.resolve(_with_tuner(scenario)).path[0], *scenario.path)})
    step, short = started(scenario), started(scenario, SHORT)
    assert step.seen.steady_swr < 1.01 < 1.5 < short.seen.swr_most < step.seen.swr_most
    names = {(one.line, one.quantity) for one in step.stresses}
    assert {("tuner", "coil current"), ("tuner", "capacitor voltage"), ("line 0", "current"), ("antenna", "voltage")} <= names


def _with_tuner(scenario: Scenario) -> Scenario:
    from bouncesim.scenario import Tuner

    return scenario.model_copy(update={"path": (Tuner(name="tuner"), *scenario.path)})


@pytest.mark.parametrize("turns", [(0.7231,), (1.913, 0.377), (0.31, 0.77, 1.4142)])
def test_a_step_runs_at_courant_number_one(turns: tuple[float, ...]) -> None:
    scenario = station(turns[0], OPEN, 50.0, *turns[1:])
    held = module.sharp_grid(scenario)
    assert held.is_exact
    assert held.trimmed < (5e-5 if len(turns) == 1 else 5e-4)
    for line, asked in zip(held.scenario.lines, scenario.lines, strict=True):
        assert grid.section(line, CARRIER_HZ, held.points).nu == pytest.approx(1.0, abs=1e-12)
        assert abs(line.length_m - asked.length_m) <= held.trimmed * SPEED / CARRIER_HZ * (1 + 1e-9)


def test_lines_that_no_grid_holds_are_told() -> None:
    """A hundredth, a thirtieth and so on of a wavelength: whichever grid, one of them would be bent too far."""
    scenario = station(0.0123, OPEN, 50.0, *(0.0123 * math.sqrt(prime) for prime in (2, 3, 5, 7, 11, 13, 17, 19, 23, 29)))
    limit = module.TRIMMED
    try:
        module.TRIMMED = 5e-4
        held = module.sharp_grid(scenario)
    finally:
        module.TRIMMED = limit
    assert not held.is_exact
    assert held.trimmed == 0.0
    assert held.scenario is scenario


def test_a_key_that_would_take_all_day_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of a ten-thousandth of a wavelength takes 10,000 steps a period: a step is quick all the same, 5 ms are not."""
    ran: list[float] = []
    monkeypatch.setattr(module, "start_under", lambda scenario, words, tick: ran.append(scenario.keying.rise_s))
    assert module.start_up(station(0.5, 80.0, 50.0, 1e-4)).left_out == ("5 ms",)
    assert ran == [0.0, 1e-6]
    assert module.start_up(station(0.5, 80.0)).left_out == ()


def test_a_station_without_a_key_is_refused() -> None:
    pulse = station(0.5).model_copy(update={"keying": Keying(shape="pulse", width_s=2e-8)})
    with pytest.raises(BouncesimError, match="does not start up under a key"):
        module.start_up(pulse)


@pytest.mark.slow
def test_under_a_real_key_nothing_bounces() -> None:
    """5 ms at 3.5 MHz: by linearity the response lags the envelope by its settling time s at most, which at the top of a raised cosine is
    (pi s/2 T)^2 of it: 1e-6 here. No part bears more than in steady state, and the reflected reading is never above its own."""
    scenario = station(0.7, load=25 - 40j)
    coil = Network(name="choke", elements=(Element(position="series", kind="inductor", value=1e-6),))
    scenario = scenario.model_copy(
        update={"path": (coil, *scenario.path), "transmitter": scenario.transmitter.model_copy(update={"frequency_hz": 3.5e6})}
    )
    start = module.start_up(scenario)
    assert [key.key for key in start.keys] == ["step", "1 µs", "5 ms"]
    step, _, real = start.keys
    assert real.seen.reflected_w == pytest.approx(real.seen.steady_reflected_w, rel=1e-3)
    assert real.seen.swr_most == pytest.approx(real.seen.steady_swr, rel=5e-3)
    assert all(one.overshoot < OVER for one in real.stresses)
    assert max(one.overshoot for one in step.stresses) > 0.05
    assert real.settled_s == pytest.approx(2 / math.pi * 5e-3 * math.asin(0.99**0.25), rel=5e-3)  # where its power is up to 99 %
    assert start.worst is not None
    for one, other in zip(step.stresses, real.stresses, strict=True):
        assert one.steady == pytest.approx(other.steady, rel=0.01)  # the coarse grid's
