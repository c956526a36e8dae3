"""What is drawn is what the run holds: widths of bands, heights of curves and areas, figures written beside them."""

from __future__ import annotations

import math
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import same_color
from matplotlib.patches import Polygon, Rectangle

from bouncesim.account.run import LineTrace
from bouncesim.show.charts import bounces, energy, flow, meters, standing, stress
from bouncesim.show.charts.answer import figure
from bouncesim.show.charts.plot import ticks
from bouncesim.show.charts.sheet import Sheet
from bouncesim.show.charts.steady import reading_of, reflection, waves
from bouncesim.show.numbers import reading
from bouncesim.show.theme import DARK
from tests.show.charts.stations import run_of
from tests.show.charts.test_sheets import answer_for, chart

PX = 0.6  # half the joint of two boxes, which overlap so that no seam shows
BETWEEN = 2e-3  # of the largest: what may lie between two places along a line that keeps 800 of them
SETTLED = 0.011  # of the largest power: the traces end within 1 % of the steady state
RIPPLE = 2e-3  # of a power: what a mean over snapshots that are no whole part of a period leaves of its ripple
STATIONS = {"two": (1080, 1920), "five": (1920, 1080)}  # at sizes at which their words are looked at too, so that each is drawn once


def boxes(sheet: Sheet, color: str) -> list[Rectangle]:
    found = [patch for patch in sheet.axes.patches if isinstance(patch, Rectangle) and same_color(patch.get_facecolor(), color)]
    return sorted(found, key=lambda box: box.get_x())


def polygons(sheet: Sheet, color: str) -> list[Polygon]:
    found = [patch for patch in sheet.axes.patches if isinstance(patch, Polygon) and same_color(patch.get_facecolor(), color)]
    return sorted(found, key=lambda shape: float(shape.get_xy()[:, 0].min()))


def words(sheet: Sheet) -> list[str]:
    return [text.get_text() for text in sheet.axes.texts]


@pytest.mark.parametrize("name", STATIONS)
def test_bands_are_as_wide_as_the_power_is_large(name: str) -> None:
    """One scale for net power, forward and reflected power, and heat."""
    run, sheet = run_of(name), chart("flow", name, STATIONS[name])
    steps = flow.steps(run)
    net = [box for box in boxes(sheet, DARK.conductor) if box.get_height() > 0]
    source = run.readings.transmitter.power_w
    scale = net[0].get_height() / source
    powers = [source, *(step.out_w for step in steps)]
    assert [box.get_height() for box in net] == pytest.approx([scale * power for power in powers], abs=PX)
    assert net[-1].get_height() == pytest.approx(scale * run.readings.antenna.power_w, abs=PX)
    lines = [step.line for step in steps if step.line is not None]
    for arrow, line in zip(polygons(sheet, DARK.forward), lines, strict=True):
        corners = arrow.get_xy()
        assert corners[4, 1] - corners[0, 1] == pytest.approx(scale * line.forward_in_w)
        assert corners[3, 1] - corners[1, 1] == pytest.approx(scale * line.forward_out_w)
    kept = [step.kept_w for step in steps if step.kept_w > flow.NOTHING * source]
    for branch, power in zip(polygons(sheet, DARK.heat), kept, strict=True):
        corners = branch.get_xy()
        assert corners[30, 1] - corners[0, 1] == pytest.approx(max(scale * power, flow.HAIR))  # where it leaves the band
    assert f"{reading(run.readings.antenna.power_w, 'W')}" in words(sheet)


@pytest.mark.parametrize("name", STATIONS)
def test_nothing_is_lost_from_step_to_step(name: str) -> None:
    run = run_of(name)
    for most in (100, 3, 2):
        found = flow.merged(flow.steps(run), most)
        assert len(found) <= most
        source, into = run.readings.transmitter.power_w, run.readings.antenna.power_w
        assert source - sum(step.kept_w for step in found) == pytest.approx(into, abs=1e-6 * source)
        for step in found:
            assert step.in_w - step.out_w == pytest.approx(step.kept_w, abs=1e-6 * source)


@pytest.mark.parametrize("name", STATIONS)
def test_the_envelope_is_that_of_the_readings(name: str) -> None:
    run, sheet = run_of(name), chart("standing-wave", name, STATIONS[name])
    for quantity, unit in (("voltage", "V"), ("current", "A")):
        held = standing.envelopes(run, quantity)
        for one in held:
            assert one.total.max() == pytest.approx(one.largest, rel=BETWEEN)
            assert np.all(one.total <= (one.forward + one.reflected) * (1 + 1e-9))
            assert np.all(one.total >= np.abs(one.forward - one.reflected) * (1 - 1e-9))
        most = max(one.largest for one in held)
        assert f"largest {reading(most, unit)}" in words(sheet)
    dots = [patch for patch in sheet.axes.patches if type(patch).__name__ == "Circle" and patch.get_radius() == 9]
    curves = [
        line
        for line in sheet.axes.lines
        if same_color(line.get_color(), DARK.total) and line.get_linewidth() == sheet.stroke * standing.THICK
    ]
    for dot in dots:  # each lies on the top of its curve
        x, y = dot.get_center()
        near = [float(np.min(c.get_ydata())) for c in curves if np.min(c.get_xdata()) - 1 <= x <= np.max(c.get_xdata()) + 1]
        assert min(abs(y - top) for top in near) < 1


@pytest.mark.parametrize("name", [*STATIONS, "short", "long"])
def test_waves_and_reflections_are_those_of_the_readings(name: str) -> None:
    run = run_of(name)
    for trace in run.traces.lines:
        line, (ahead, back) = reading_of(run, trace.name), waves(trace)
        powers = [abs(wave[k]) ** 2 / (2 * trace.reference_ohm) for wave in (ahead, back) for k in (0, -1)]
        expected = [line.forward_in_w, line.forward_out_w, line.reflected_in_w, line.reflected_out_w]
        assert powers == pytest.approx(expected, rel=1e-6)
        rho = [(swr - 1) / (swr + 1) for swr in (line.swr_in, line.swr_out)]
        assert np.abs(reflection(trace))[[0, -1]] == pytest.approx(rho, rel=1e-6)


@pytest.mark.parametrize("name", STATIONS)
def test_the_areas_add_up_to_what_has_left_the_transmitter(name: str) -> None:
    run = run_of(name)
    held = energy.shares(run)
    left = run.traces.left_transmitter_j[energy.kept(run)]
    assert sum(share.energy_j for share in held) == pytest.approx(left, abs=1e-9 * left.max())
    sheet = chart("energy", name, STATIONS[name])
    areas = [patch for patch in sheet.axes.patches if isinstance(patch, Polygon) and len(patch.get_xy()) > 100]
    assert len(areas) == len(held)
    heights = []
    for area in areas:
        corners = area.get_xy()
        right = corners[np.isclose(corners[:, 0], corners[:, 0].max()), 1]
        heights.append(float(right.max() - right.min()))
    step = max(len(left) // 2000, 1)
    ends = [float(share.energy_j[::step][-1]) for share in held]
    assert np.array(heights) / sum(heights) == pytest.approx(np.array(ends) / sum(ends), abs=1e-6)


@pytest.mark.parametrize("name", STATIONS)
def test_meters_end_at_their_readings(name: str) -> None:
    run = run_of(name)
    shown, sheet = meters.chosen(run, 4), chart("meters", name, STATIONS[name])
    largest = max(place.final[0] for place in shown)
    for place in shown:
        forward, reflected = place.final
        assert place.forward[-1] == pytest.approx(forward, abs=SETTLED * largest)
        assert place.reflected[-1] == pytest.approx(reflected, abs=SETTLED * largest)
        assert reading(forward, "W") in words(sheet)
        assert reading(forward - reflected, "W") in words(sheet)
    assert len({place.words for place in shown}) == len(shown)


@pytest.mark.parametrize("name", [*STATIONS, "long"])  # of the last one, snapshots lie two periods apart
def test_the_map_of_bounces_ends_at_the_readings_and_starts_with_nothing(name: str) -> None:
    run = run_of(name)
    period, times = 1 / run.scenario.transmitter.frequency_hz, np.asarray(run.traces.time_s)
    trip = run.moments["first echo"]
    when = np.array([0.9 * run.moments["antenna reached"], times[-1]])
    for trace, line in zip(run.traces.lines, run.scenario.lines, strict=True):
        of = reading_of(run, trace.name)
        for way, ends in ((1, (of.forward_in_w, of.forward_out_w)), (-1, (of.reflected_in_w, of.reflected_out_w))):
            power = bounces.wave_power(trace, times, period, when, way, line.constants(1 / period).velocity)
            slack = SETTLED * max(of.forward_in_w, of.forward_out_w) + 0.02 * max(ends)
            assert power[1, [0, -1]] == pytest.approx(ends, abs=slack)
            if line is run.scenario.lines[-1] and trip > 3 * period:
                assert power[0, -1] < 1e-6 * of.forward_in_w


@pytest.mark.parametrize("step", [1 / 32, 1 / 35.2, 1 + 1 / 32, 7 + 1 / 32])
@pytest.mark.parametrize("length", [0.2, 0.9, 6.0])  # wavelengths
def test_power_of_a_plain_wave(step: float, length: float) -> None:
    """A wave of 1 V peak on 50 ohm carries 10 mW, however far apart its snapshots are."""
    times, x = np.arange(1, 400) * step, np.linspace(0, length, 240)
    volts = np.cos(2 * np.pi * (times[:, None] - x)).astype(np.float32)
    nothing = np.zeros_like(volts)
    trace = LineTrace("line", 50.0, x, volts, volts / 50, nothing, nothing[0] + 0j, nothing[0] + 0j)
    power = bounces.wave_power(trace, times, 1.0, times[-3:], 1, 1.0)
    assert power == pytest.approx(0.01, rel=RIPPLE)
    assert bounces.wave_power(trace, times, 1.0, times[-3:], -1, 1.0) == pytest.approx(0, abs=1e-12)


def test_the_echoes_of_a_long_run_take_less_than_the_run() -> None:
    """A wave that runs forward, 1 V and 50 ohm: a mean of 10 mW wherever it is, worked out in less memory than its snapshots stand in."""
    times, places = np.arange(1, 20_000) / 40, np.linspace(0, 5, 401)
    volts = np.sin(2 * np.pi * (times[:, None] - places)).astype(np.float32)
    nothing = np.zeros(len(places), dtype=complex)
    trace = LineTrace("line", 50.0, places, volts, volts / 50, volts, nothing, nothing)
    tracemalloc.start()
    try:
        power = bounces.wave_power(trace, times, 1.0, times[100::100], 1, 1.0)
        assert tracemalloc.get_traced_memory()[1] < volts.nbytes + trace.current_a.nbytes
    finally:
        tracemalloc.stop()
    assert power == pytest.approx(0.01, rel=RIPPLE)


@pytest.mark.parametrize("name", STATIONS)
def test_stress_bars_are_as_long_as_the_stress_is_large(name: str) -> None:
    run, sheet = run_of(name), chart("stress", name, STATIONS[name])
    held = stress.rows(run)
    assert sum(map(len, held.values())) == len(run.stresses)
    for quantity, unit in (("voltage", "V"), ("current", "A")):
        assert reading(max(row.largest for row in held[quantity]), unit) in words(sheet)
        for row in held[quantity]:
            assert row.largest >= row.steady * (1 - BETWEEN)
    shares = [min(row.steady / row.largest, 1.0) for family in held.values() for row in family]
    outlined = [patch for patch in sheet.axes.patches if isinstance(patch, Rectangle) and patch.get_facecolor()[3] == 0]
    filled = [bar for bar in boxes(sheet, DARK.stored) if bar.get_width() > 0]
    compared = 0
    for bar in filled:
        for frame in outlined:
            if (bar.get_x(), bar.get_y(), bar.get_height()) == (frame.get_x(), frame.get_y(), frame.get_height()):
                compared += 1
                assert min(abs(bar.get_width() / frame.get_width() - share) for share in shares) < 1e-9
    assert compared >= 4


def test_the_answer_is_the_reading() -> None:
    sheet, answer = chart("answer", "two", STATIONS["two"]), answer_for("two")
    assert f"{figure(answer.least or 0, answer.quantity)} to {figure(answer.most or 0, answer.quantity)}" in words(sheet)
    assert any("they agree" in line for line in words(sheet))
    assert any(line.startswith("Made by: bouncesim chart") for line in words(sheet))
    assert figure(1.234, "transmitter.swr") == "1.23"
    assert figure(math.inf, "feed line.swr_in") == "∞"
    assert figure(12.34, "feed line.loss_db") == "12.3 dB"


def test_ticks_are_round_and_few() -> None:
    assert ticks(0, 157, 4) == [(0, "0"), (50, "50"), (100, "100"), (150, "150")]
    assert [words for _, words in ticks(-0.3, 0.3, 3)] == ["−0.2", "0.0", "0.2"]
    assert len(ticks(0, 9.9e-9, 7)) <= 8
    for most in range(12):
        assert 1 <= len(ticks(0.0, 31.7, most)) <= max(most, 1) + 1


@pytest.mark.filterwarnings("error")
def test_where_a_wave_has_died_out_nothing_is_divided_by_it() -> None:
    """Below the smallest normal number of double precision, 2.2e-308, no digits are left, and dividing by it overflows."""
    trace = run_of("two").traces.lines[0]
    faint = np.array([1.0, 1e-313, 0.0])
    dead = replace(trace, reference_ohm=50.0, steady_v=1.4 * faint, steady_a=0.6 / 50 * faint)  # forward 1, reflected 0.4 of it
    assert reflection(dead).tolist() == pytest.approx([0.4, 0.0, 0.0])
