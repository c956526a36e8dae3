"""Keys: their envelopes by hand, what a text takes on the average, and what a real key leaves of the bounce."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.exact.oneport import impedance
from bouncesim.exact.solve import solve
from bouncesim.exact.station import station as solved_station
from bouncesim.march.simulation import build
from bouncesim.march.transmitter import Carrier, envelope, pulse
from bouncesim.scenario import Antenna, Keying, Line, Scenario, Transmitter, Tuner
from tests.march.grids import FREQUENCY, LENGTH, element, line, network, on_grid, station
from tests.reference import case

ROUNDING = 1e-14


def values(key: Keying, *times: float, up: float = math.inf) -> list[float]:
    return envelope(key, np.array(times), up).tolist()


def test_edges_by_hand() -> None:
    """A fifth, a half, all of a rise of 4 us: 1/2 (1 - cos 36 deg) = 0.0954915, and 1/5 of a straight line. A step is there at once."""
    raised, straight, step = Keying(shape="raised-cosine", rise_s=4e-6), Keying(shape="linear", rise_s=4e-6), Keying(shape="step")
    assert values(raised, -1e-6, 0, 0.8e-6, 2e-6, 4e-6, 1.0) == pytest.approx([0, 0, 0.09549150281252627, 0.5, 1, 1], abs=ROUNDING)
    assert values(straight, -1e-6, 0, 0.8e-6, 2e-6, 4e-6, 1.0) == pytest.approx([0, 0, 0.2, 0.5, 1, 1], abs=ROUNDING)
    assert values(step, -1e-9, 0, 1e-9) == [0, 1, 1]


def test_key_up_by_hand() -> None:
    """It falls as it rose; a step at once; and where it goes up half way through its rise, it falls from there."""
    raised, straight, step = Keying(shape="raised-cosine", rise_s=4e-6), Keying(shape="linear", rise_s=4e-6), Keying(shape="step")
    assert values(raised, 9e-6, 10.8e-6, 12e-6, 14e-6, up=10e-6) == pytest.approx([1, 0.9045084971874737, 0.5, 0], abs=ROUNDING)
    assert values(straight, 9e-6, 10.8e-6, 12e-6, 14e-6, up=10e-6) == pytest.approx([1, 0.8, 0.5, 0], abs=ROUNDING)
    assert values(step, 9e-6, 10e-6, 11e-6, up=10e-6) == [1, 0, 0]
    assert values(straight, 2e-6, 3e-6, 6e-6, up=2e-6) == pytest.approx([0.5, 0.75 * 0.75, 0], abs=ROUNDING)


def test_a_pulse_by_hand() -> None:
    """Foot to foot 20 ns; a quarter of the way it is half of its peak."""
    volts = pulse(Keying(shape="pulse", width_s=20e-9), 12.0)
    found = volts(np.array([-1e-9, 0, 5e-9, 10e-9, 15e-9, 20e-9, 30e-9]))
    np.testing.assert_allclose(found, [0, 0, 6, 12, 6, 0, 0], rtol=0, atol=12 * ROUNDING)


TEXT = Keying(shape="morse", text="an e", rise_s=5e-3, dot_s=60e-3)


def test_marks_by_hand() -> None:
    """a = dot dash at 0 and 2 dots, n = dash dot at 8 and 12 from 3 behind; the word space of 7; e. Each mark rises at its beginning,
    falls at its end, and is half way up for just its length."""
    marks = [(0, 1), (2, 3), (8, 3), (12, 1), (20, 1)]
    for start, length in marks:
        rises, falls = 0.06 * start + 2.5e-3, 0.06 * (start + length) + 2.5e-3
        assert values(TEXT, rises, falls) == pytest.approx([0.5, 0.5], abs=1e-10)
        assert values(TEXT, rises - 2.5e-3, rises + 2.5e-3, falls - 2.5e-3, falls + 2.5e-3) == pytest.approx([0, 1, 1, 0], abs=1e-10)
        assert values(TEXT, rises - 1.5e-3) == pytest.approx([0.09549150281252627], abs=1e-9)
    assert values(TEXT, -1e-3, 2.0) == [0, 0]


def test_samples_are_a_sine_under_the_envelope() -> None:
    """At half and at whole steps, over the end of the rise and past a key that goes up; the full carrier to the last bit between them."""
    points, dt = 24, 1 / (24 * FREQUENCY)
    key = Keying(shape="raised-cosine", rise_s=40 * dt)
    carrier = Carrier(7.0, key, points, dt, 150 * dt)
    for half in (True, False):
        t = (np.arange(240) + 0.5 * half) * dt
        whole = np.concatenate([carrier.samples(first, 20, half) for first in range(0, 240, 20)])
        np.testing.assert_allclose(whole, 7 * np.sin(2 * np.pi * FREQUENCY * t) * envelope(key, t, 150 * dt), rtol=0, atol=1e-12)
        assert np.all(whole[int(190 - half) + 1 :] == 0)
    slow = Keying(shape="raised-cosine", rise_s=1e6 * dt)
    carrier = Carrier(1.0, slow, points, dt)
    for first, count in ((0, 4096), (4096, 8192), (613_123, 8192), (990_000, 9_999), (995_000, 8192)):
        t = (first + 0.5 + np.arange(count)) * dt
        np.testing.assert_allclose(carrier.envelope(first, count, True), envelope(slow, t), rtol=0, atol=1e-13)
    up = [Carrier(7.0, key, points, dt, 150 * dt).is_up(first, 20) for first in range(0, 240, 20)]
    assert up == [False, False, True, True, True, True, True, False, False, False, False, False]
    carrier = Carrier(7.0, key, points, dt, 150 * dt)
    np.testing.assert_array_equal(carrier.samples(48, 24, True), carrier.samples(72, 24, True))


def test_duty_by_hand() -> None:
    """The mean of the envelope squared: an edge in raised cosine has 3/8 of its length in it, so a mark of length L with edges of length r
    has L - r + 2 (3/8) r = L - r/4. Of "an e": marks of 1 + 3 + 3 + 1 + 1 dots in 21 + 7; and PARIS, 22 marks' dots of 50, 14 marks."""
    assert TEXT.duty == pytest.approx((9 * 60 - 5 * 5 / 4) / (28 * 60), rel=ROUNDING)
    fast = Keying(shape="morse", text="paris", rise_s=5e-3, words_per_minute=20)
    assert fast.duty == pytest.approx((22 * 60 - 14 * 5 / 4) / (50 * 60), rel=ROUNDING)
    t = (np.arange(400_000) + 0.5) / 400_000 * 28 * 60e-3
    assert TEXT.duty == pytest.approx(np.mean(envelope(TEXT, t) ** 2), rel=1e-8)  # the midpoint rule over smooth edges
    for key in (Keying(shape="step"), Keying(rise_s=1e-3), Keying(shape="pulse", width_s=1e-8)):
        assert key.duty == 1.0


ECHOES_S = 0.5e-6  # three round trips of a line on which each leaves less than a fifth of its power
NET = network(element("series", "inductor", 6e-7, 0.4), element("shunt", "capacitor", 2e-10))


def test_energy_of_a_text() -> None:
    """What goes into the antenna, and into heat, over a text is its average power times its time, where the edges are slow beside the
    echoes: with D the time in which these die away, an edge of length r is off by D^2 times the integral of its slope squared,
    pi^2/(8 r)."""
    dot, rise = 40e-6, 16e-6
    key = Keying(shape="morse", text="en", rise_s=rise, dot_s=dot)
    run = perform.simulate(station([NET, line(length=0.8 * LENGTH, resistance=0.6)], 25 - 60j, 30.0, keying=key))
    whole = 16 * dot  # e, 3, n of 3 + 1 + 1, 7
    off = 6 * (math.pi * ECHOES_S) ** 2 / (8 * rise) / (key.duty * whole)
    into = {"antenna": run.ledger.into_antenna_j, **run.ledger.heat_j}
    steady = {"antenna": run.readings.antenna.power_w} | {part.name: part.heat_w for part in (*run.readings.networks, *run.readings.lines)}
    assert set(into) == set(steady)
    for name, joule in into.items():
        assert joule == pytest.approx(steady[name] * key.duty * whole, rel=off), name
    assert run.moments["settled"] < 3 * dot


def test_peak_envelope_power() -> None:
    """G02: the mean power of the carrier at the crest of the envelope, which is what its key-down power is called. 100 V across 50 ohm, at
    the crest of every mark of a text, over one period of the carrier."""
    figures = case("G02")
    peak, ohm = figures.inputs["PEV"], figures.inputs["R"]
    key = Keying(shape="morse", text="e", rise_s=4e-6, dot_s=20e-6)
    scenario = station([line()], complex(ohm), float(ohm), keying=key, power=peak**2 / (2 * ohm))
    march = on_grid(scenario, [40], 1.0)  # where resistive ends are exact
    v = np.empty(40 * 300)
    for n in range(v.size):
        march.advance(1)
        v[n] = march.waves_now()[0][-1]
    mean = np.convolve(v**2, np.full(40, 1 / 40), "valid") / ohm
    figures.check("PEP", float(mean.max()))
    exact = solve(scenario)
    assert exact.transmitter.power_w == pytest.approx(float(mean.max()), rel=1e-3)
    assert mean.mean() < 0.9 * mean.max()


REAL_S = 5e-3  # rise of a real key (common practice, no source)
BLOCK = 16  # carrier periods over which a reading is averaged
A_MINUTE = 60.0  # many times what 3e7 steps of 600 cells take on a machine of its own
EVEN = 1e-9  # of the power: what the last digits of a reading over 1e7 steps may do


def mismatched(frequency: float, with_tuner: bool, key: Keying) -> Scenario:
    feed = Line(name="line", length_m=23.0, impedance_ohm=50.0, velocity_factor=0.82, loss_db_per_m=0.012)
    told = Scenario(
        title="test",
        transmitter=Transmitter(frequency_hz=frequency, power_w=35.0, source_impedance_ohm=30.0),
        keying=key,
        path=(*((Tuner(coil_q=150),) if with_tuner else ()), feed),
        antenna=Antenna(impedance_ohm=22 - 55j),
    )
    return perform.resolve(told)


def reflected_wave(scenario: Scenario, hertz: float) -> complex:
    """Root of reflected power at the transmitter, with phase, for a carrier of so many hertz of the same EMF."""
    port = scenario.antenna.port(scenario.omega)
    moved = scenario.model_copy(
        update={
            "transmitter": scenario.transmitter.model_copy(update={"frequency_hz": hertz}),
            "antenna": Antenna(impedance_ohm=complex(impedance(port, 2 * math.pi * hertz))),
        }
    )
    at = solved_station(moved).spans[0].first
    return (at.v - 50 * at.i) / math.sqrt(8 * 50)


def most_above_steady(scenario: Scenario) -> float:
    """W: with T the reflected wave for a steady carrier, it is T E - j T' E' - 1/2 T'' E'' + ... under an envelope E that is slow beside
    the echoes (the series of T about the carrier, term by term in the time domain). At worst all terms add up."""
    f, d = scenario.transmitter.frequency_hz, 500.0
    below, t, above = (reflected_wave(scenario, f + k * d) for k in (-1, 0, 1))
    first, second = (above - below) / (4 * math.pi * d), (above - 2 * t + below) / (2 * math.pi * d) ** 2
    phase = np.linspace(0, math.pi, 721)
    e, slope, bend = 0.5 - 0.5 * np.cos(phase), math.pi / 2 / REAL_S * np.sin(phase), (math.pi / REAL_S) ** 2 / 2
    return float(np.max((abs(t) * e + abs(first) * slope + abs(second) / 2 * bend) ** 2) - abs(t) ** 2)


def readings_in_time(scenario: Scenario, seconds: float, block: int) -> np.ndarray:
    """Reflected reading at the transmitter, W, block by block of so many carrier periods."""
    march = build(scenario, 200)
    row, blocks = march.rows.gauges["transmitter"] + 1, math.ceil(seconds * scenario.transmitter.frequency_hz / block)
    for _ in range(blocks):
        march.advance(200 * block)
    assert march.worst_residual <= 1e-12
    return np.array([books[row] for books in march.row_j]) / (200 * block * march.dt)


@pytest.mark.slow
@pytest.mark.parametrize(("frequency", "with_tuner"), [(3.5e6, True), (3.5e6, False), (30e6, True)])
def test_with_a_real_key_there_is_practically_no_bounce(frequency, with_tuner):
    """With a rise of 5 ms the reflected reading never exceeds what it comes to by more than the slow envelope lets it: some 1e-7 of the
    power. A step on the same station, tuned, shows a thousand times as much and more; and all of this takes seconds."""
    begun = time.process_time()
    scenario = mismatched(frequency, with_tuner, Keying(shape="raised-cosine", rise_s=REAL_S))
    readings = readings_in_time(scenario, 1.1 * REAL_S, BLOCK)
    assert time.process_time() - begun < A_MINUTE
    above = most_above_steady(scenario)
    assert 0 < above < 1e-5 * 35
    assert readings.max() - readings[-1] <= above + EVEN * 35
    if with_tuner:
        step = readings_in_time(mismatched(frequency, True, Keying(shape="step")), 2e-6, 1)
        assert step.max() - readings[-1] > 1000 * above


def test_a_line_settles_long_before_a_real_key_is_down():
    """J05."""
    figures = case("J05")
    scenario = mismatched(7.05e6, True, Keying(shape="step"))
    settled = perform.simulate(scenario).settling.settled_s
    figures.check("settling_time_us", settled * 1e6)
    assert figures.inputs["rise_s"] / settled > 100
