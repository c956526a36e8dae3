"""Cautions, and notes on the lines of a station, as the account prints them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bouncesim import perform
from bouncesim.cli.cautions import cautions, line_notes
from bouncesim.scenario import Antenna, Line, Meter, Scenario, Transformer, Transmitter
from bouncesim.scenario.survey import Ratings, Survey
from tests import samples


def station(power: float, kind: str, antenna: complex, path: tuple = (), **others) -> Scenario:
    line = Line(length_m=20.0, type=kind)
    return Scenario(
        title="x",
        transmitter=Transmitter(frequency_hz=14e6, power_w=power),
        path=(*path, line),
        antenna=Antenna(impedance_ohm=antenna),
        **others,
    )


def told(scenario: Scenario, stresses: tuple = ()) -> str:
    return "\n".join(cautions(scenario, perform.solve_exact(scenario), stresses))


def test_a_type_of_cable_says_how_sure_its_loss_is() -> None:
    scenario = station(10.0, "rg58c", 50.0)
    notes = line_notes(scenario, perform.solve_exact(scenario))
    assert notes
    assert all(note.startswith("line: ") for note in notes)
    assert not any("above its working voltage" in note for note in notes)


def test_a_voltage_above_the_rating_is_told() -> None:
    """15 kW toward 2000 ohm on a cable that stands 1400 V rms: it carries more."""
    scenario = station(15e3, "rg58c", 2000.0)
    exact = perform.solve_exact(scenario)
    assert exact.lines[0].largest_v_peak / 2**0.5 > scenario.all_lines[0].working_voltage_v_rms
    told = [note for note in line_notes(scenario, exact) if "above its working voltage of 1.4 kV" in note]
    assert len(told) == 1


def test_a_milliwatt_harms_nobody_and_five_watts_burn() -> None:
    assert told(station(1e-3, "rg58c", 50.0)) == ""
    for words in ("can burn at a few watts", "No figure here is a safe limit", "with a licence", "rules of your country", "certifies"):
        assert words in told(station(5.0, "rg58c", 50.0))


def test_a_low_power_may_still_make_a_high_voltage() -> None:
    """Toward an end that takes next to nothing: above the threshold in voltage, below that in net power."""
    words = told(station(12.0, "corrugated-half-inch", 50e3))
    assert "peak stands on the line or in its tuner" in words
    assert "can burn" in words
    assert "Field exposure" not in words


def test_limits_of_exposure_are_told_as_context_and_where_they_come_from() -> None:
    """14 MHz: 824/14 and 1842/14 V/m (47 CFR 1.1310), 300/14^0.7 V/m (ICNIRP 2020)."""
    words = told(station(25.0, "rg58c", 50.0))
    assert "For context only" in words
    for part in ("58.9 V/m", "132 V/m", "47.3 V/m", "47 CFR 1.1310", "ICNIRP 2020", "from memory"):
        assert part in words
    low = station(25.0, "rg58c", 50.0).model_copy(update={"transmitter": Transmitter(frequency_hz=50e3, power_w=25.0)})
    assert "For context" not in told(low), "outside of both tables"
    assert "Field exposure" in told(low)


def test_the_start_counts_as_well_as_the_steady_state() -> None:
    stress = replace(samples.run().stresses[0], largest=1234.0)
    assert "Up to 1.23 kV peak" in told(station(25.0, "rg58c", 50.0), (stress,))


def test_what_goes_beyond_a_rating_of_the_survey_is_told() -> None:
    strained = station(400.0, "rg58c", 400.0, survey=Survey(bands=("20 m",), ratings=Ratings(line_v_peak=300.0, line_a_peak=20.0)))
    assert "is above its rating of 300 V peak" in told(strained)
    assert "A peak is above" not in told(strained)


@pytest.mark.parametrize(
    ("kind", "path", "common_mode", "meter"),
    [
        ("rg58c", (Meter(),), False, False),
        ("open-wire-2mm", (), True, False),
        ("window-line", (Meter(),), True, True),
        ("window-line", (Meter(), Transformer(impedance_ratio=4.0)), True, False),
    ],
)
def test_what_the_model_leaves_out_of_a_balanced_line_is_told(kind: str, path: tuple, common_mode: bool, meter: bool) -> None:
    words = told(station(25.0, kind, 300.0, path))
    assert ("common-mode current" in words) == common_mode
    assert ("reads right only between baluns" in words) == meter
