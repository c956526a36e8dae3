"""The waves at a tuner: what they are made of adds up, and what is known of a match holds."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim import perform
from bouncesim.errors import OptionError
from bouncesim.exact import phasor
from bouncesim.exact.tuner_waves import scattering
from bouncesim.perform.turning import SETTINGS, TIMES, part_names, turn
from bouncesim.scenario import parse_scenario

ROUNDING = 1e-12
SET = SETTINGS // 2
STATION = """
title = "A tuner to turn"
transmitter = {{ frequency = "7.05 MHz", power = "45 W", source_impedance = "{source}" }}
keying = {{ shape = "raised-cosine", rise = "0.2 us" }}
path = [
  {before}
  {{ part = "tuner", shape = "{shape}"{q} }},
  {{ part = "line", name = "feed line", length = "62 m", impedance = "75 ohm", velocity_factor = 0.88, loss = "0.4 dB/100 m" }},
]
antenna = {{ impedance = "24 - 62j ohm" }}
"""


def station(shape: str = "L", q: str = "", source: str = "50 ohm", before: str = ""):
    return parse_scenario(STATION.format(shape=shape, q=q, source=source, before=before))


def test_scattering_of_a_series_and_a_shunt_element() -> None:
    """Worked by hand: of Z in series between R1 and R2, S11 = (Z + R2 - R1)/(Z + R1 + R2), S21 = 2 sqrt(R1 R2)/(Z + R1 + R2)."""
    z, r1, r2 = 30 + 40j, 50.0, 75.0
    s11, s21, s22 = scattering(phasor.series(z), r1, r2)
    assert s11 == pytest.approx((z + r2 - r1) / (z + r1 + r2), rel=ROUNDING)
    assert s21 == pytest.approx(2 * np.sqrt(r1 * r2) / (z + r1 + r2), rel=ROUNDING)
    assert s22 == pytest.approx((z + r1 - r2) / (z + r1 + r2), rel=ROUNDING)
    s11, s21, s22 = scattering(phasor.shunt(1 / z), r1, r1)
    assert s11 == s22 == pytest.approx(-r1 / (2 * z + r1), rel=ROUNDING)
    assert s21 == pytest.approx(2 * z / (2 * z + r1), rel=ROUNDING)


@pytest.mark.parametrize("source", ["50 ohm", "20 ohm"])
@pytest.mark.parametrize("part", ["coil", "capacitor"])
def test_against_the_readings_of_every_setting(source: str, part: str) -> None:
    turning = turn(station(source=source), part)
    for k in (0, 100, SET, 400):
        path = turning.scenario.path
        at = part_names(path[0])[part]
        elements = [e.model_copy(update={"value": float(turning.values[k])}) if i == at else e for i, e in enumerate(path[0].elements)]
        tuner = path[0].model_copy(update={"elements": tuple(elements)})
        readings = perform.solve_exact(turning.scenario.model_copy(update={"path": (tuner, *path[1:])}))
        assert turning.forward_w[k] == pytest.approx(readings.lines[0].forward_in_w, rel=1e-10)
        assert turning.echo_w[k] == pytest.approx(readings.lines[0].reflected_in_w, rel=1e-10)
        assert turning.antenna_w[k] == pytest.approx(readings.antenna.power_w, rel=1e-10)
        assert turning.accepted_w[k] == pytest.approx(readings.transmitter.power_w, rel=1e-10)
        rho = (readings.transmitter.swr - 1) / (readings.transmitter.swr + 1)
        assert turning.back_w[k] == pytest.approx(readings.transmitter.power_w * rho**2 / (1 - rho**2), rel=1e-8, abs=1e-12)


@pytest.mark.parametrize("part", ["coil", "capacitor"])
def test_where_it_is_set_the_waves_are_in_phase(part: str) -> None:
    """Common practice, no source: a lossless tuner at a match. Onto the line both waves are in phase, toward the transmitter they cancel,
    and the forward power on the line is the largest of all."""
    turning = turn(station(), part)
    assert turning.values[SET] == pytest.approx(turning.set_at, rel=ROUNDING)
    assert turning.values[[0, -1]] == pytest.approx([turning.set_at / TIMES, turning.set_at * TIMES])
    assert np.angle(turning.sent_again[SET] / turning.through[SET]) == pytest.approx(0, abs=1e-9)
    assert abs(turning.turned_back[SET] + turning.let_through[SET]) == pytest.approx(0, abs=1e-9 * abs(turning.turned_back[SET]))
    assert np.argmax(turning.forward_w) == np.argmin(turning.back_w) == np.argmax(turning.accepted_w) == SET
    assert turning.accepted_w[SET] == pytest.approx(45.0, rel=1e-10)


def test_no_power_appears_or_is_lost_at_a_lossless_tuner() -> None:
    turning = turn(station(), "coil")
    assert turning.accepted_w == pytest.approx(turning.forward_w - turning.echo_w, rel=1e-10)
    incident = turning.accepted_w + turning.back_w
    assert incident == pytest.approx(np.full(SETTINGS, 45.0), rel=1e-10)  # a matched source sends the same whatever comes back


def test_losses_keep_their_q() -> None:
    turning = turn(station(q=", coil_q = 100"), "coil")
    lossless = turn(station(), "coil")
    assert turning.antenna_w[SET] < lossless.antenna_w[SET]
    assert (turning.accepted_w - (turning.forward_w - turning.echo_w) > 0).all()


def test_references_are_those_of_the_lines() -> None:
    line = '{ part = "line", name = "jumper", length = "3 m", impedance = "60 ohm", velocity_factor = 0.8 },'
    turning = turn(station(before=line), "coil")
    assert (turning.transmitter_ohm, turning.line_ohm) == pytest.approx((60.0, 75.0), rel=1e-3)
    assert turn(station(), "coil").transmitter_ohm == 50.0


def test_what_cannot_be_turned() -> None:
    assert list(part_names(perform.resolve(station("pi")).path[0])) == ["coil", "capacitor 1", "capacitor 2"]
    with pytest.raises(OptionError, match=r"no part 'capacitor 3'\. Did you mean 'capacitor"):
        turn(station("pi"), "capacitor 3")
    with pytest.raises(OptionError, match="Its parts are coil, capacitor"):
        turn(station(), "knob")
    bare = station().model_copy(update={"path": station().path[1:]})
    with pytest.raises(OptionError, match="no tuner with a line behind it"):
        turn(bare, "coil")
    held = station().transmitter.model_copy(update={"behaviour": "fold-back"})
    with pytest.raises(OptionError, match="does not change its drive"):
        turn(station().model_copy(update={"transmitter": held}), "coil")
