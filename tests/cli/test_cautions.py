"""Notes on the lines of a station, as the account prints them."""

from __future__ import annotations

from bouncesim import perform
from bouncesim.cli.cautions import line_notes
from bouncesim.scenario import Antenna, Line, Scenario, Transmitter


def station(power: float, kind: str, antenna: complex) -> Scenario:
    line = Line(length_m=20.0, type=kind)
    return Scenario(
        title="x", transmitter=Transmitter(frequency_hz=14e6, power_w=power), path=(line,), antenna=Antenna(impedance_ohm=antenna)
    )


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
