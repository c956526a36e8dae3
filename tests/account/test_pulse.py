"""Echoes of a pulse: the returned wave against closed forms, and what is read from it against what stands there."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.integrate import quad

from bouncesim import perform
from bouncesim.account.faults import AS_DRAWN, fault_of
from bouncesim.account.probing import Probing
from bouncesim.account.pulse import Echo, PulseReport, pulse_report
from bouncesim.account.run import Run
from bouncesim.account.shapes import Shape, shape_of
from bouncesim.errors import BouncesimError
from bouncesim.scenario import parse_scenario

WIDTH_S, Z0, FIRST_M, SECOND_M = 30e-9, 50.0, 12.0, 20.0
# 60 steps a pulse: of its highest harmonic that counts (the second, w = 4 pi/width) the midpoint rule in a network is off by
# (w dt/2)^2/3 = 0.4 % in frequency, which moves the echo of a coil or capacitor by as much of its height at most
GRID = 0.004
# A plain fault is a few numbers; what is left is the line's own impedance, which loss bends (0.6 % of the resistance) and that grid
RESISTANCE = 0.012
# A pole's value: the loss of the line bends its tail (R/L of 1e6/s against 1/tau of 3e7/s: 3 %)
REACTANCE = 0.035


def station(*pieces: str, end: str = "1 Mohm", loss: float = 2.2, source: str = "50 ohm", width: str = "30 ns") -> Run:
    """Lines ("12 m", "20 m 75 ohm", "40 m wideband") and elements ("series resistor 25 ohm") in order."""
    path = ""
    for k, piece in enumerate(pieces):
        words = piece.split()
        if words[0] in ("series", "shunt"):
            path += f'[[path]]\npart = "network"\nname = "joint {k}"\n'
            path += f'elements = [ {{ {words[0]} = "{words[1]}", value = "{" ".join(words[2:])}" }} ]\n'
            continue
        ohm = words[2] if len(words) > 3 else "50"
        path += f'[[path]]\npart = "line"\nname = "line {k}"\nlength = "{words[0]} m"\nimpedance = "{ohm} ohm"\nvelocity_factor = 0.66\n'
        path += f'loss = "{loss} dB/100 m"\n' + ('loss_law = "wideband"\n' if words[-1] == "wideband" else "")
    head = f'title = "trial"\n[transmitter]\nfrequency = "10.1 MHz"\npower = "12 W"\nsource_impedance = "{source}"\n'
    text = f'{head}[keying]\nshape = "pulse"\nwidth = "{width}"\n{path}[antenna]\nimpedance = "{end}"\n'
    return perform.simulate(parse_scenario(text))


@cache
def report(*pieces: str, **options: str) -> PulseReport:
    return pulse_report(station(*pieces, **options))


def first(told: PulseReport) -> list[Echo]:
    return [echo for echo in told.echoes if not echo.is_second]


def pulse(t: float) -> float:
    """The outgoing pulse over its height."""
    return 0.5 - 0.5 * np.cos(2 * np.pi * t / WIDTH_S) if 0 < t < WIDTH_S else 0.0


def through_a_pole(t: float, tau: float) -> float:
    """The pulse behind 1/(1 + s tau): its integral with exp(-(t - u)/tau)/tau."""
    if t <= 0:
        return 0.0
    value, _ = quad(lambda u: pulse(u) * np.exp(-(t - u) / tau) / tau, 0, min(t, WIDTH_S), epsabs=1e-12, limit=200)
    return float(value)


@pytest.mark.parametrize(
    ("element", "tau", "direct", "slow"),
    [  # rho = direct + slow/(1 + s tau), from Zs/(Zs + 2 Z0) in series and -Z0/(Z0 + 2 Zp) across
        ("series inductor 0.3 uH", 3e-7 / (2 * Z0), 1.0, -1.0),
        pytest.param("series inductor 2 uH", 2e-6 / (2 * Z0), 1.0, -1.0, marks=pytest.mark.slow),
        ("shunt capacitor 300 pF", 3e-10 * Z0 / 2, -1.0, 1.0),
        pytest.param("series capacitor 300 pF", 3e-10 * 2 * Z0, 0.0, 1.0, marks=pytest.mark.slow),
        ("shunt inductor 1 uH", 1e-6 * 2 / Z0, 0.0, -1.0),
        ("series resistor 25 ohm", 1e-9, 25 / 125, 0.0),
        pytest.param("shunt resistor 60 ohm", 1e-9, -50 / 170, 0.0, marks=pytest.mark.slow),
    ],
)
def test_the_returned_wave_is_that_of_the_closed_form(element: str, tau: float, direct: float, slow: float) -> None:
    """On a line without loss, raw traces, nothing of the account's own mathematics."""
    run = station("12 m", element, "20 m", end="50 ohm", loss=0.0)
    trace, time = run.traces.lines[0], run.traces.time_s
    sent, back = ((trace.voltage_v[:, 0] + way * Z0 * trace.current_a[:, 0]) / 2 for way in (1, -1))
    delay = 2 * FIRST_M / (0.66 * 299_792_458.0)
    expected = [direct * pulse(t - delay) + slow * through_a_pole(t - delay, tau) for t in time]
    assert np.abs(back / np.abs(sent).max() - expected).max() < GRID


@pytest.mark.parametrize(
    ("element", "kind", "value", "rho"),
    [
        ("series resistor 25 ohm", "resistance in series", 25.0, 25 / 125),
        ("shunt resistor 60 ohm", "resistance across", 60.0, -50 / 170),
        ("series inductor 0.3 uH", "coil in series", 3e-7, 1.0),
        pytest.param("series inductor 2 uH", "coil in series", 2e-6, 1.0, marks=pytest.mark.slow),
        ("shunt capacitor 60 pF", "capacitor across line", 6e-11, -1.0),
        pytest.param("series capacitor 100 pF", "capacitor in series", 1e-10, 1.0, marks=pytest.mark.slow),
        pytest.param("shunt inductor 3 uH", "coil across line", 3e-6, -1.0, marks=pytest.mark.slow),
    ],
)
def test_a_fault_on_the_way_and_an_open_end(element: str, kind: str, value: float, rho: float) -> None:
    told = report("12 m", element, "20 m")
    fault, end = first(told)
    assert (fault.kind, fault.place) == (kind, "between line 0 and line 2")
    assert fault.value == pytest.approx(value, rel=RESISTANCE if "resist" in kind else REACTANCE)
    assert fault.size == pytest.approx(rho, abs=0.01)
    assert fault.distance_m == pytest.approx(FIRST_M, abs=fault.within_m)
    assert end.kind == "open end"
    assert end.distance_m == pytest.approx(FIRST_M + SECOND_M, abs=end.within_m)
    assert all(echo.is_second for echo in told.echoes[2:])
    assert all(echo.at_s > end.at_s for echo in told.echoes[2:])


@pytest.mark.parametrize(
    ("end", "kind", "value"),
    [
        ("1 Mohm", "open end", None),
        ("0 ohm", "short", None),
        ("120 ohm", "resistance at the end", 120.0),
        pytest.param("20 + 80j ohm", "resistance with a coil in series", 80 / (2 * np.pi * 10.1e6), marks=pytest.mark.slow),
        ("25 - 60j ohm", "resistance with a capacitor in series", 1 / (60 * 2 * np.pi * 10.1e6)),
        ("0 - 60j ohm", "capacitor at the end", 1 / (60 * 2 * np.pi * 10.1e6)),
        pytest.param("0 + 90j ohm", "coil at the end", 90 / (2 * np.pi * 10.1e6), marks=pytest.mark.slow),
    ],
)
def test_an_end(end: str, kind: str, value: float | None) -> None:
    (echo,) = report("30 m", end=end).echoes
    assert (echo.kind, echo.place) == (kind, "at the end of the line 0")
    assert echo.distance_m == pytest.approx(30.0, abs=echo.within_m)
    if value is not None:
        assert echo.value == pytest.approx(value, rel=REACTANCE)


def test_a_matched_end_sends_nothing_back() -> None:
    told = report("30 m", end="50 ohm")
    assert told.echoes == ()
    assert told.left_over < 0.005


def test_lines_of_other_impedance_are_no_fault_but_one_between_them_is() -> None:
    """50 to 75 ohm reflects a fifth; with 20 ohm between, (20 + 75 - 50)/(20 + 75 + 50)."""
    change, end = first(report("12 m", "20 m 75 ohm", end="200 ohm"))
    assert (change.kind, change.value) == ("change of impedance", pytest.approx(75.0))
    assert change.size == pytest.approx(0.2, abs=AS_DRAWN / 2)
    assert end.value == pytest.approx(200.0, rel=RESISTANCE)
    bad, end = first(report("12 m", "series resistor 20 ohm", "20 m 75 ohm", end="200 ohm"))
    assert (bad.kind, bad.size) == ("resistance in series", pytest.approx(45 / 145, abs=0.004))
    assert bad.value == pytest.approx(20.0, rel=0.03)  # a difference of two impedances, 70 and 50 ohm on the way
    assert end.value == pytest.approx(200.0, rel=RESISTANCE)


def test_what_comes_back_of_what_came_back_is_a_second_round() -> None:
    """A source of 150 ohm sends half of each echo out again; it arrives when the sum of two ways has passed."""
    told = report("12 m", "series resistor 25 ohm", "20 m", source="150 ohm")
    fault, end = first(told)
    assert (fault.kind, end.kind) == ("resistance in series", "open end")
    ways = [echo.at_s for echo in told.echoes if echo.is_second]
    for at in (2 * fault.at_s, fault.at_s + end.at_s, 2 * end.at_s, 2 * end.at_s - fault.at_s):
        assert min(abs(way - at) for way in ways) < 0.3 * WIDTH_S


def test_a_pulse_longer_than_the_way() -> None:
    """It is still going out when it comes back: what the source sends out again belongs to the same echo."""
    told = report("2 m", width="60 ns", source="20 ohm")
    (echo,) = told.echoes
    assert told.overlaps
    assert echo.kind == "open end"
    assert echo.distance_m == pytest.approx(2.0, abs=echo.within_m)


@pytest.mark.slow
def test_a_cable_that_smears_the_pulse() -> None:
    """The peak of the end's echo comes 9 ns late, 0.9 m too far away; with the cable's law taken out it is where it should be."""
    told = report("40 m wideband", "shunt resistor 80 ohm", "30 m wideband", end="0 ohm", loss=6.0)
    fault, end = first(told)
    assert told.smear_s > 8e-9
    assert fault.kind == "resistance across"
    assert fault.value == pytest.approx(80.0, rel=0.03)
    assert end.kind == "short"
    assert end.within_m > fault.within_m > 0.12
    for echo, metres in ((fault, 40.0), (end, 70.0)):
        assert echo.distance_m == pytest.approx(metres, abs=echo.within_m)


def test_distances_are_better_known_than_told() -> None:
    """Every distance of this file on lines of constant loss lies well within its bar."""
    for element in ("series resistor 25 ohm", "shunt resistor 60 ohm", "shunt capacitor 60 pF"):
        for echo, metres in zip(first(report("12 m", element, "20 m")), (FIRST_M, FIRST_M + SECOND_M), strict=True):
            assert abs(echo.distance_m - metres) < 0.1 * echo.within_m


def test_no_pulse_no_echo() -> None:
    text = 'title = "t"\n[transmitter]\nfrequency = "7.1 MHz"\npower = "5 W"\n[keying]\nshape = "step"\n[[path]]\npart = "line"\n'
    run = perform.simulate(
        parse_scenario(f'{text}length = "20 m"\nimpedance = "50 ohm"\nvelocity_factor = 0.7\n[antenna]\nimpedance = "80 ohm"')
    )
    with pytest.raises(BouncesimError, match="sends no pulse"):
        Probing(run)


@pytest.mark.parametrize("family", ["coil in series", "capacitor across", "capacitor in series", "coil across"])
def test_a_shape_with_what_stands_there(family: str) -> None:
    """Zin of each family, put together from its value, reflects what the family says: worked backward, at one frequency."""
    shape = Shape(family, 0.0, *(lambda s: (s.slow, s.fast))(shape_of(family, 0.0, 0.3, 5e-9)), 5e-9, 0.0)
    told = fault_of(shape, Z0, None)
    s, rho = 2e8j, complex(shape.reflection(np.array([2e8j]))[0])
    ohm = Z0 * 1.3 / 0.7  # the resistance of a reflection of 0.3
    assert told.value is not None
    reactance = s * told.value if told.unit == "H" else 1 / (s * told.value)
    impedance = ohm + reactance if family.endswith("in series") else 1 / (1 / ohm + 1 / reactance)
    assert (impedance - Z0) / (impedance + Z0) == pytest.approx(rho, abs=1e-12)


def test_a_shape_that_fits_nothing_is_called_so() -> None:
    assert fault_of(Shape("plain", 0.0, 0.2, 0.2, 1e-9, 0.5), Z0, Z0).kind == "not clear"
