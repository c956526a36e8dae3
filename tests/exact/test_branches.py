"""Stubs, transformers and lines with a wideband law: against scikit-rf, 40-digit arithmetic and hand-worked circuits."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
import skrf

from bouncesim import exact
from bouncesim.exact import phasor
from bouncesim.exact.parts import part_chains, path_chains, stub_admittance
from bouncesim.exact.station import station as solved
from bouncesim.scenario import Element, Line, LineConstants, Meter, Network, Stub, Transformer
from tests.exact.stations import FREQUENCY, lossless, real_impedance, station

OMEGA = 2 * math.pi * FREQUENCY
# Products of a few matrices of double numbers against another order of the same operations.
CASCADE = 1e-11
# Double arithmetic against 40 digits, times the radians of the line.
DOUBLE = 1e-13


def line_of(rng: np.random.Generator) -> Line:
    return Line(
        length_m=rng.uniform(0.5, 30),
        resistance_ohm_per_m=rng.uniform(0, 1),
        inductance_h_per_m=rng.uniform(1e-7, 1e-6),
        conductance_s_per_m=rng.uniform(0, 1e-4),
        capacitance_f_per_m=rng.uniform(2e-11, 2e-10),
    )


def media(line: Line, band: skrf.Frequency) -> skrf.media.DistributedCircuit:
    return skrf.media.DistributedCircuit(
        frequency=band,
        R=line.resistance_ohm_per_m,
        L=line.inductance_h_per_m,
        G=line.conductance_s_per_m,
        C=line.capacitance_f_per_m,
        z0_port=50,
    )


@pytest.mark.parametrize("end", ["open", "short", 30 - 70j])
def test_stubs_against_scikit_rf(end):
    """A line, a stub of two lines with a shunt capacitor between and any end, another line: cascaded and joined as scattering matrices."""
    rng = np.random.default_rng(11)
    band = skrf.Frequency.from_f(np.array([FREQUENCY]), unit="Hz")
    for _ in range(12):
        first, last, near, far = (line_of(rng) for _ in range(4))
        value = rng.uniform(1e-11, 1e-9)
        between = Network(elements=(Element(position="shunt", kind="capacitor", value=value),))
        stub = Stub(path=(near, between, far), end=end)
        of_first, of_last, of_near, of_far = (media(line, band) for line in (first, last, near, far))
        gamma = {"open": 1.0, "short": -1.0}[end] if isinstance(end, str) else (end - 50) / (end + 50)
        ended = of_far.line(far.length_m, "m") ** of_far.load(gamma)
        joined = of_near.line(near.length_m, "m") ** of_near.shunt_capacitor(value) ** ended
        theirs = of_first.line(first.length_m, "m") ** of_first.shunt(joined) ** of_last.line(last.length_m, "m")
        ours = phasor.cascade(path_chains((first, stub, last), FREQUENCY)).full()
        np.testing.assert_allclose(ours, skrf.network.s2a(theirs.s, theirs.z0)[0], rtol=CASCADE)


@pytest.mark.parametrize("ratio", [4.0, 0.25, 9.0])
def test_transformers_against_scikit_rf(ratio):
    """Series coil and resistor, shunt coil and resistor, and the ideal ratio as a change of the ports' reference."""
    rng = np.random.default_rng(12)
    band = skrf.Frequency.from_f(np.array([FREQUENCY]), unit="Hz")
    part = Transformer(
        impedance_ratio=ratio,
        leakage_inductance_h=2e-7,
        magnetising_inductance_h=9e-6,
        winding_resistance_ohm=0.7,
        core_resistance_ohm=2500.0,
    )
    free = skrf.media.DefinedGammaZ0(frequency=band, z0=50)
    losses = (
        free.resistor(0.7)
        ** free.inductor(2e-7)
        ** free.shunt(free.inductor(9e-6) ** free.short())
        ** free.shunt(free.resistor(2500.0) ** free.short())
    )
    for _ in range(5):
        line = line_of(rng)
        chain = phasor.cascade(path_chains((part, line), FREQUENCY)).full()
        behind = media(line, band).line(line.length_m, "m")
        a = skrf.network.s2a(losses.s, losses.z0)[0] @ ideal(ratio, behind, band)
        np.testing.assert_allclose(chain, a, rtol=CASCADE)


def ideal(ratio: float, behind: skrf.Network, band: skrf.Frequency) -> np.ndarray:
    """Chain matrix of an ideal transformer and a network behind it: its scattering matrix is that of a junction between 50 and
    50 `ratio` ohm seen on those references, [[0, 1], [1, 0]]."""
    through = skrf.Network(frequency=band, s=np.array([[[0, 1], [1, 0]]]), z0=[50, 50 * ratio])
    return np.asarray(skrf.network.s2a(through.s, through.z0)[0] @ skrf.network.s2a(behind.s, behind.z0)[0])


def test_an_ideal_transformer():
    """4 : 1 turns 200 ohm into 50 ohm, and has no heat; its losses are booked by hand where it has them."""
    bare = exact.solve(station([Transformer(impedance_ratio=4.0), lossless(200, 0.3)], 200.0))
    assert bare.transmitter.impedance_ohm == pytest.approx(50.0, rel=1e-14)
    assert bare.networks[0].heat_w == 0.0
    lossy = Transformer(impedance_ratio=4.0, winding_resistance_ohm=2.0, core_resistance_ohm=1000.0)
    readings = exact.solve(station([lossy, lossless(200, 0.3)], 200.0))
    seen = 2 + 1 / (1 / 50 + 1 / 1000)
    assert readings.transmitter.impedance_ohm == pytest.approx(seen, rel=1e-14)
    power = readings.transmitter.power_w
    heat = power * (2 / seen + (seen - 2) / seen * (1 / 1000) / (1 / 50 + 1 / 1000))
    assert readings.networks[0].heat_w == pytest.approx(heat, rel=1e-13)
    assert (readings.networks[0].coil_a_peak, readings.networks[0].capacitor_v_peak) == (0.0, 0.0)


@pytest.mark.parametrize("wavelengths", [0.07, 0.25, 0.31, 0.5, 0.8])
@pytest.mark.parametrize("end", ["open", "short"])
def test_a_lossless_stub_takes_nothing(wavelengths, end):
    """Exactly; its line has an infinite SWR, and a quarter wave that is open at its end shorts the path."""
    readings = exact.solve(station([lossless(50, 0.2), Stub(path=(lossless(75, wavelengths),), end=end), lossless(50, 0.3)], 30 - 20j))
    stub, (_, of_stub, _) = readings.networks[0], readings.lines
    assert stub.heat_w == of_stub.heat_w == of_stub.loss_db == 0.0
    assert of_stub.swr_in == of_stub.swr_out == math.inf
    if (end, wavelengths) in (("open", 0.25), ("short", 0.5)):
        assert readings.antenna.power_w < 1e-25
        return
    tangent = math.tan(2 * math.pi * wavelengths)
    expected = 1j * tangent / 75 if end == "open" else -1j / tangent / 75
    found = stub_admittance(Stub(path=(lossless(75, wavelengths),), end=end), FREQUENCY)
    assert found == pytest.approx(expected, rel=1e-11, abs=1e-15)


def test_a_stub_that_is_a_short_to_the_last_digit():
    """An empty network and a short end: the antenna gets nothing, the whole current goes through the stub."""
    stub = Stub(path=(Network(elements=()), Meter()), end="short")
    found = solved(station([stub, lossless(50, 0.3)], 50.0))
    emf = found.scenario.transmitter.emf_v_peak
    assert abs(found.span(stub.path[0].name or "stub network").first.i) == pytest.approx(emf / 50, rel=1e-12)
    assert exact.solve(found.scenario).antenna.power_w < 1e-30


def test_inside_a_stub_everything_is_read():
    """A stub with a meter, a line, a network and a stub of its own: net powers add up on the way, all of them toward its end."""
    inner = Stub(path=(real_impedance(75, 0.3, 4.0),), end="open")
    coil = Element(position="series", kind="inductor", value=3e-7, loss_ohm=1.5)
    stub = Stub(path=(Meter(reference_ohm=75), real_impedance(75, 0.8, 9.0), inner, Network(elements=(coil,))), end=40 + 25j)
    readings = exact.solve(station([lossless(50, 0.4), stub, lossless(50, 0.2)], 60.0))
    assert [line.name for line in readings.lines] == ["line", "stub line", "stub stub line", "line 2"]
    (meter,) = readings.meters
    taken = readings.networks[0]
    assert [part.name for part in readings.networks] == ["stub"]
    assert meter.forward_w - meter.reflected_w == pytest.approx(taken.heat_w, rel=1e-12)
    assert taken.power_in_w - taken.power_out_w == pytest.approx(taken.heat_w, rel=1e-12)
    _, root, twig, behind = readings.lines
    assert root.power_in_w == pytest.approx(taken.heat_w, rel=1e-12)
    assert twig.power_out_w == 0.0
    assert twig.heat_w == pytest.approx(twig.power_in_w, rel=1e-12)
    end = taken.heat_w - root.heat_w - twig.heat_w
    found = solved(station([lossless(50, 0.4), stub, lossless(50, 0.2)], 60.0))
    current = abs(found.span("stub network").last.i) ** 2 / 2
    assert end == pytest.approx(current * (1.5 + 40), rel=1e-11)
    assert behind.power_in_w == pytest.approx(taken.power_out_w, rel=1e-12)
    voltage, _ = exact.profile(found.scenario, "stub line", 0.0)
    assert abs(voltage) == pytest.approx(abs(found.span("stub").first.v), rel=1e-12)


def test_coil_current_and_capacitor_voltage_by_hand():
    """A shunt capacitor with loss and a series coil in front of 30 ohm, on a line of half a wave: Ohm's law."""
    capacitor = Element(position="shunt", kind="capacitor", value=4e-10, loss_ohm=3.0)
    small = Element(position="series", kind="inductor", value=2e-7)
    large = Element(position="shunt", kind="inductor", value=5e-6, loss_ohm=2.0)
    scenario = station([Network(elements=(capacitor, small, large)), lossless(50, 0.5)], 30.0)
    reading = exact.solve(scenario).networks[0]
    reactance = 1 / (OMEGA * 4e-10)
    of_coil = 2 + 1j * OMEGA * 5e-6
    behind = 1j * OMEGA * 2e-7 + 1 / (1 / 30 + 1 / of_coil)
    parallel = 1 / (1 / behind + 1 / (3 - 1j * reactance))
    volts = scenario.transmitter.emf_v_peak * parallel / (50 + parallel)
    series_current = abs(volts / behind)
    shunt_current = series_current * abs(30 / (30 + of_coil))
    assert reading.coil_a_peak == pytest.approx(max(series_current, shunt_current), rel=1e-12)
    assert reading.capacitor_v_peak == pytest.approx(abs(volts / (3 - 1j * reactance)) * reactance, rel=1e-12)


WIDE = LineConstants(0.02, 2.5e-7, 1e-6, 1e-10, ((0.3, 4e-9), (2.0, 3e-9)), ((4e-5, 6e-13), (3e-3, 2e-12)))


def by_forty_digits(k: LineConstants) -> tuple[complex, complex, complex, complex]:
    """Z, Y, gamma, Z0 of the wideband law from its definition."""
    with mpmath.workdps(40):
        s = 2j * mpmath.pi * mpmath.mpf(FREQUENCY)
        z = k.resistance + s * mpmath.mpf(k.inductance)
        y = k.conductance + s * mpmath.mpf(k.capacitance)
        z += sum(s * mpmath.mpf(x) * r / (r + s * mpmath.mpf(x)) for r, x in k.series_branches)
        y += sum(s * mpmath.mpf(c) * g / (g + s * mpmath.mpf(c)) for g, c in k.shunt_branches)
        return complex(z), complex(y), complex(mpmath.sqrt(z) * mpmath.sqrt(y)), complex(mpmath.sqrt(z) / mpmath.sqrt(y))


def assert_same(ours: complex, theirs: complex) -> None:
    assert complex(ours).real == pytest.approx(theirs.real, rel=DOUBLE)
    assert complex(ours).imag == pytest.approx(theirs.imag, rel=10 * DOUBLE)


def test_wideband_law_against_forty_digits():
    z, y, gamma, z0 = by_forty_digits(WIDE)
    assert_same(phasor.series_impedance(WIDE, FREQUENCY), z)
    assert_same(phasor.shunt_admittance(WIDE, FREQUENCY), y)
    assert_same(phasor.propagation(WIDE, FREQUENCY), gamma)
    assert complex(phasor.characteristic(WIDE, FREQUENCY)) == pytest.approx(z0, rel=DOUBLE)
    length = 37.0
    chain = phasor.line(WIDE, length, FREQUENCY).full()
    with mpmath.workdps(40):
        gl = mpmath.mpc(gamma) * length
        expected = [[mpmath.cosh(gl), z0 * mpmath.sinh(gl)], [mpmath.sinh(gl) / z0, mpmath.cosh(gl)]]
        expected = np.array([[complex(entry) for entry in row] for row in expected])
    np.testing.assert_allclose(chain, expected, rtol=1e-12)


def test_branches_at_the_ends_of_the_spectrum():
    """At direct current a branch is a piece of wire or an open end; far above its corner it is its resistor."""
    assert complex(phasor.series_impedance(WIDE, 0.0)) == WIDE.resistance
    assert complex(phasor.shunt_admittance(WIDE, 0.0)) == WIDE.conductance
    high = 1e13
    assert complex(phasor.series_impedance(WIDE, high)).real == pytest.approx(0.02 + 0.3 + 2.0, rel=1e-6)
    assert complex(phasor.shunt_admittance(WIDE, high)).real == pytest.approx(1e-6 + 4e-5 + 3e-3, rel=1e-6)


def test_heat_on_a_wideband_line(monkeypatch):
    """Power in less power out is the heat by the real parts of Z and Y; the waves refer to sqrt(L/C), without the branches."""
    monkeypatch.setattr(Line, "constants", lambda self, frequency_hz: WIDE)
    readings = exact.solve(station([lossless(50, 0.9)], 17 - 40j))
    (line,) = readings.lines
    assert line.heat_w == pytest.approx(line.power_in_w - line.power_out_w, rel=1e-12)
    assert line.heat_w > 1.0
    assert line.reference_ohm == 50.0
    gamma = by_forty_digits(WIDE)[2]
    length = 0.9 * 2e8 / FREQUENCY
    assert line.matched_loss_db == pytest.approx(20 / math.log(10) * gamma.real * length, rel=1e-12)


def test_echoes_with_stub_and_transformer_beside_the_one_line():
    """They count as what they are at the carrier: steady forward power, and reflections worked by hand."""
    stub = Stub(path=(real_impedance(75, 0.4, 3.0),), end="short")
    balun = Transformer(impedance_ratio=4.0, leakage_inductance_h=1e-7)
    readings = exact.solve(station([stub, lossless(50, 0.7), balun], 90 + 60j, source=20.0))
    assert readings.echoes is not None
    assert readings.echoes.line == "line"
    line = next(each for each in readings.lines if each.name == "line")
    assert readings.echoes.forward_after_round_trips_w[-1] == pytest.approx(line.forward_in_w, rel=2e-6)
    behind = 1j * OMEGA * 1e-7 + (90 + 60j) / 4
    gamma = (behind - 50) / (behind + 50) * np.exp(-4j * np.pi * 0.7)
    assert readings.echoes.reflection_at_input == pytest.approx(gamma, rel=1e-11)
    back = 1 / (1 / 20 + stub_admittance(stub, FREQUENCY))
    assert readings.echoes.reflection_looking_back == pytest.approx((back - 50) / (back + 50), rel=1e-11)
    assert len(part_chains(stub, FREQUENCY)) == 1
