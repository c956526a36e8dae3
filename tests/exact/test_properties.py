"""What holds for any passive station, on random ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bouncesim import exact
from bouncesim.exact import phasor
from bouncesim.exact.parts import part_chains
from bouncesim.exact.station import station as solved
from bouncesim.scenario import Line, Scenario
from bouncesim.scenario.model import Stub, flat_parts
from tests.exact.strategies import antennas, lines, sizes, sources, stations

# Of the largest apparent power in the station, that is the rounding of V I*: net power may be as small a part of it as it likes.
BALANCE = 1e-12
# An ideal source on nearly a short circuit gives any power at all; these are rounding, of powers up to what is available.
AVAILABLE = 1e-12
# Of AD and BC, which both grow with the mismatch and cancel to 1.
RECIPROCAL = 1e-12
# The same station in an array and alone: the same operations on the same numbers, but for vectorised exp, sin and cos.
SAME = 1e-12


def apparent(scenario: Scenario) -> float:
    """Largest apparent power at any place, W."""
    return max(abs(place.v) * abs(place.i) / 2 for span in solved(scenario).spans for place in span.places)


@given(stations())
def test_net_power_balances(scenario):
    """What leaves the transmitter is the heat in every part, each summed from its own losses, and what enters the antenna; what a stub
    takes is the heat inside it and in its end."""
    readings, scale = exact.solve(scenario), apparent(scenario)
    names = {part.name for part in scenario.path}
    parts = readings.networks + tuple(line for line in readings.lines if line.name in names)
    spent = readings.antenna.power_w + sum(part.heat_w for part in parts)
    assert abs(readings.transmitter.power_w - spent) <= BALANCE * scale
    for part in parts:
        assert abs(part.power_in_w - part.power_out_w - part.heat_w) <= BALANCE * scale
        assert part.heat_w >= -BALANCE * scale
    for meter in readings.meters:
        assert meter.forward_w - meter.reflected_w == pytest.approx(readings_at(scenario, meter.name), abs=BALANCE * scale)
    for stub in (part for part in flat_parts(scenario.path) if isinstance(part, Stub)):
        spans = [solved(scenario).span(part.name) for part in stub.path]
        entry = solved(scenario).span(stub.name).entry
        assert spans[0].first.power_w == pytest.approx(entry.power_w, abs=BALANCE * scale)
        inside = sum(span.first.power_w - span.last.power_w for span in spans)
        end = 0.0 if isinstance(stub.end, str) else abs(spans[-1].last.i) ** 2 * stub.end.real / 2
        assert inside + end == pytest.approx(entry.power_w, abs=BALANCE * scale)
        for line in (part for part in stub.path if isinstance(part, Line)):
            reading = next(each for each in readings.lines if each.name == line.name)
            assert abs(reading.power_in_w - reading.power_out_w - reading.heat_w) <= BALANCE * scale


def readings_at(scenario: Scenario, name: str) -> float:
    """Net power at a part's place."""
    return solved(scenario).span(name).first.power_w


@given(stations())
def test_no_more_than_is_available(scenario):
    transmitter = scenario.transmitter
    assume(transmitter.source_impedance_ohm > 0)
    available = transmitter.emf_v_peak**2 / (8 * transmitter.source_impedance_ohm)
    power = exact.solve(scenario).transmitter.power_w
    assert -AVAILABLE * apparent(scenario) <= power <= available * (1 + AVAILABLE)


@given(stations())
def test_reciprocity(scenario):
    """AD - BC = 1, on the matrices without their growth: exp(-2 nepers)."""
    chains = [chain for part in scenario.path for chain in part_chains(part, scenario.transmitter.frequency_hz)]
    total = phasor.cascade(chains)
    m = total.matrix
    determinant = m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0]
    assert abs(determinant - np.exp(-2 * total.nepers)) <= RECIPROCAL * (abs(m[0, 0] * m[1, 1]) + abs(m[0, 1] * m[1, 0]))


@settings(max_examples=30)
@given(st.lists(st.tuples(lines(), sizes(1.0, 3000.0), antennas, sources), min_size=2, max_size=6))
def test_an_array_of_stations_equals_each_alone(rows):
    """Line, series reactance, antenna and source all differ from station to station; frequency on a second axis."""
    frequency = np.array([[1.8e6], [10e6], [28.4e6]])
    constants = [line.constants(10e6) for line, *_ in rows]
    names = ("resistance", "inductance", "conductance", "capacitance")
    many = phasor.PerMetre(*(np.array([getattr(k, name) for k in constants]) for name in names))
    length = np.array([line.length_m for line, *_ in rows])
    reactance, antenna, source = (np.array(column) for column in list(zip(*rows, strict=True))[1:])
    chains = [phasor.shunt(1 / (1j * reactance)), phasor.line(many, length, frequency), phasor.series(1j * reactance)]
    together = phasor.walk(chains, 30.0, source, antenna)
    assert together.voltage.shape == (4, 3, len(rows))
    for f, row in enumerate(frequency[:, 0]):
        for n, constant in enumerate(constants):
            x = 1j * rows[n][1]
            alone = [phasor.shunt(1 / x), phasor.line(constant, length[n], row), phasor.series(x)]
            walk = phasor.walk(alone, 30.0, source[n], antenna[n])
            for all_of_them, one in zip(together, walk, strict=True):
                np.testing.assert_allclose(all_of_them[:, f, n], one, rtol=0, atol=SAME * np.max(np.abs(one)))
