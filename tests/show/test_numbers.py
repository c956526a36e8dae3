"""Numbers as people read them."""

from __future__ import annotations

import math

import pytest

from bouncesim.show import numbers


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (57.912, "W", "57.9 W"),
        (1240.0, "W", "1.24 kW"),
        (0.0123, "W", "12.3 mW"),
        (999.96, "W", "1.00 kW"),
        (99.97, "W", "100 W"),
        (0.0, "J", "0 J"),
        (56.2e-9, "J", "56.2 nJ"),
        (-0.5, "W", "−500 mW"),
        (math.inf, "Ω", "∞ Ω"),
        (math.nan, "W", "—"),
        (3.2, "", "3.20"),
        (0.52, "dB", "0.52 dB"),
    ],
)
def test_reading(value: float, unit: str, words: str) -> None:
    assert numbers.reading(value, unit) == words


def test_reading_below_its_floor_is_nothing() -> None:
    assert numbers.reading(3e-5, "W", floor=6e-5) == "0 W"


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("antenna.power_w", "W"),
        ("feed line.largest_v_peak", "V"),
        ("antenna.voltage_v_rms", "V"),
        ("antenna.current_a_rms", "A"),
        ("transmitter.impedance_ohm.real", "Ω"),
        ("line.loss_db", "dB"),
        ("line.largest_v_at_m", "m"),
        ("line.swr_in", ""),
        ("meter.swr", ""),
    ],
)
def test_unit_of(name: str, unit: str) -> None:
    assert numbers.unit_of(name) == unit


@pytest.mark.parametrize(
    ("rate", "words"),
    [
        (1.49e-8, "slowed 67 million times"),
        (1 / 4500, "slowed 4,500 times"),
        (8e-10, "slowed 1.2 billion times"),
        (1.0, "in real time"),
        (0, "paused"),
    ],
)
def test_slowed(rate: float, words: str) -> None:
    assert numbers.slowed(rate) == words


@pytest.mark.parametrize(
    ("value", "bar", "words"),
    [
        (57.912345678912, 4e-9, ("57.912\u2009345\u2009679 W", "± 4·10⁻⁹ W")),
        (1250.0, 0.02, ("1.250\u200900 kW", "± 2·10⁻⁵ kW")),
        (0.0, 1e-12, ("0.000\u2009000\u2009000\u200900 W", "± 1·10⁻¹² W")),
        (math.inf, 0.0, ("∞ W", "")),
    ],
)
def test_with_error(value: float, bar: float, words: tuple[str, str]) -> None:
    assert numbers.with_error(value, bar, "W") == words


def test_ratio_impedance_and_plain() -> None:
    assert [numbers.ratio(swr) for swr in (1.0, 7.4, 12.34, 123.4, math.inf)] == ["1.00", "7.40", "12.3", "123", "∞"]
    assert numbers.impedance(370 + 0j) == "370 Ω"
    assert numbers.impedance(25.5 - 40j) == "25.5 − j40 Ω"
    assert [numbers.plain(x) for x in (31.0, 0.66, 12400.0, -2.5)] == ["31", "0.66", "12400", "−2.5"]
    assert numbers.rated(14.2e6, "Hz") == "14.2 MHz"


def test_large_impedances_take_a_prefix() -> None:
    found = [numbers.impedance(z) for z in (1e6 + 0j, 12_345 - 6_789j, 9_999 + 0j, 3 + 1j, 1e9 + 1e-3j, complex("inf"))]
    assert found == ["1 MΩ", "12.35 − j6.789 kΩ", "9999 Ω", "3 + j1 Ω", "1 GΩ", "∞ Ω"]
