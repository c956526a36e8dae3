"""The names that a story may use are those of the readings."""

import dataclasses

import pytest

from bouncesim.account.readings import AntennaReading, Echoes, LineReading, MeterReading, PartReading, TransmitterReading
from bouncesim.quantity import KINDS
from bouncesim.scenario.vocabulary import (
    READINGS,
    RESERVED,
    caption_fields,
    fill_caption,
    has_broken_field,
    kind_of,
    moment_rank,
    readings_of,
    unit_of,
)

CLASSES = {
    "transmitter": TransmitterReading,
    "network": PartReading,
    "meter": MeterReading,
    "line": LineReading,
    "antenna": AntennaReading,
}


def numbers_of(reading: type) -> list[str]:
    names = []
    for field in dataclasses.fields(reading):
        if field.type == "complex":
            names += [f"{field.name}.real", f"{field.name}.imag"]
        elif field.type == "float":
            names.append(field.name)
    return names


@pytest.mark.parametrize("kind", CLASSES)
def test_readings_are_those_of_the_account(kind: str) -> None:
    assert list(READINGS[kind]) == numbers_of(CLASSES[kind])


def test_every_kind_is_covered() -> None:
    assert set(READINGS) == {*CLASSES, "echoes"}
    assert list(READINGS["echoes"]) == list(Echoes("line", 0j, 0j, (1.0,)).numbers())
    assert {"transmitter", "antenna"} <= set(RESERVED)


def test_units_follow_from_the_names() -> None:
    assert (kind_of("feed line.largest_v_peak"), unit_of("feed line.largest_v_peak")) == ("voltage", "V")
    assert (kind_of("transmitter.impedance_ohm.imag"), unit_of("transmitter.impedance_ohm.imag")) == ("impedance", "ohm")
    assert (kind_of("meter.swr"), unit_of("meter.swr")) == ("", "")
    for name in readings_of([("a meter", "meter"), ("a line", "line"), ("tuner", "network")]):
        assert not kind_of(name) or KINDS[kind_of(name)].unit == unit_of(name)
        assert bool(kind_of(name)) != ("swr" in name or "share" in name or "drive" in name)  # only these are pure numbers


def test_readings_of_a_station() -> None:
    names = readings_of([("meter", "meter")])
    assert names[0] == "transmitter.power_w"
    assert "meter.forward_w" in names
    assert names[-1] == "antenna.power_share"


def test_moments() -> None:
    ranks = [moment_rank(name) for name in ("key down", "antenna reached", "first echo", "round trip 1", "round trip 2")]
    assert ranks == [0, 1, 2, 2, 3]
    assert moment_rank("settled") is None
    for wrong in ("", "round trip", "round trip 0", "round trip 01", "round trip -1", "Settled", "round trip 10000"):
        with pytest.raises(KeyError):
            moment_rank(wrong)


def test_captions() -> None:
    caption = "Costs $5: ${antenna.power_w} after ${time}"
    assert caption_fields(caption) == ["antenna.power_w", "time"]
    assert not has_broken_field(caption)
    assert fill_caption(caption, {"antenna.power_w": "${time}", "time": "1 µs"}.__getitem__) == "Costs $5: ${time} after 1 µs"
    for broken in ("${", "${a", "${a${time}}", "${time} ${"):
        assert has_broken_field(broken)
