"""The catalogue: its laws against its figures, published tables, and the laws of lines."""

import numpy as np
import pytest
from scipy.optimize import nnls

from bouncesim.scenario import Line, Scenario, parse_scenario
from bouncesim.scenario.catalogue import LineType, catalogue
from bouncesim.scenario.geometry import open_wire
from tests.reference import case

ROUNDING = 1e-12
FIT = 0.006  # the catalogue's coefficients come from figures with a digit more than those kept here; law against law, 1 to 400 MHz
COMPUTED = ("twin-lead", "window-line", "open-wire-2mm", "open-wire-1.6mm")  # conductor loss of copper, not fitted
TYPES = tuple(catalogue().values())
FITTED = tuple(kind for kind in TYPES if kind.name not in COMPUTED)


def named(kind: LineType) -> str:
    return kind.name


def law(coefficients: np.ndarray, mhz: np.ndarray) -> np.ndarray:
    constant, conductor, dielectric = coefficients
    return constant + conductor * np.sqrt(mhz) + dielectric * mhz


@pytest.mark.parametrize("kind", FITTED, ids=named)
def test_the_law_is_the_fit_to_its_figures(kind: LineType) -> None:
    """Fitted again, with scipy: least squares of the relative error, no negative term."""
    fitted = [figure for figure in kind.figures if figure.fitted]
    mhz = np.array([figure.frequency_hz / 1e6 for figure in fitted])
    loss = np.array([figure.loss_db_per_m * 100 for figure in fitted])
    terms = np.stack([np.full_like(mhz, kind.constant_db_per_100m > 0), np.sqrt(mhz), mhz], axis=1)
    coefficients, _ = nnls(terms / loss[:, None], np.ones_like(loss))
    band = np.geomspace(1, 400, 9)
    ours = law(np.array([kind.constant_db_per_100m, kind.conductor_db_per_100m, kind.dielectric_db_per_100m]), band)
    assert np.max(np.abs(law(coefficients, band) / ours - 1)) < FIT


@pytest.mark.parametrize("kind", TYPES, ids=named)
def test_every_type_is_whole(kind: LineType) -> None:
    assert min(kind.constant_db_per_100m, kind.conductor_db_per_100m, kind.dielectric_db_per_100m) >= 0
    assert 0 < kind.velocity_factor <= 1
    assert 0 < kind.impedance_tolerance_ohm < kind.impedance_ohm / 10
    assert 0 < kind.uncertainty_percent <= 60
    assert kind.valid_from_hz < kind.valid_to_hz
    assert (kind.working_voltage_v_rms is None) == (not kind.working_voltage_seen)
    for figure in kind.figures:
        assert figure.source
        assert figure.seen
        assert figure.kind in ("nominal", "maximum", "measured")
    for note in (kind.description, *kind.notes):
        assert not note.endswith(".")
    for figure in (figure for figure in kind.figures if figure.fitted):
        assert abs(kind.departure_percent(figure)) < kind.uncertainty_percent


@pytest.mark.parametrize("kind", TYPES, ids=named)
@pytest.mark.parametrize("law_name", ["carrier", "wideband"])
def test_a_line_of_a_type_has_its_loss_at_the_carrier(kind: LineType, law_name: str) -> None:
    line = Line(length_m=1, type=kind.name, loss_law=law_name)
    for frequency in (kind.valid_from_hz, 14.2e6, kind.valid_to_hz):
        constants = line.constants(frequency)
        assert constants.loss_db_per_m(frequency) == pytest.approx(kind.loss_db_per_m(frequency), rel=ROUNDING)
        assert constants.impedance_ohm == pytest.approx(kind.impedance_ohm, rel=ROUNDING)
        assert constants.velocity == pytest.approx(kind.velocity_factor * 299_792_458, rel=ROUNDING)


def test_a_law_by_hand() -> None:
    """RG-174 at 4 MHz: 4.5172 + 1.71122 * 2 + 0.059146 * 4 = 8.17622 dB/100 m, the constant term counted to the conductors."""
    conductor, dielectric = catalogue()["rg174"].loss_parts_db_per_m(4e6)
    assert conductor * 100 == pytest.approx(7.93964, rel=ROUNDING)
    assert dielectric * 100 == pytest.approx(0.236584, rel=ROUNDING)
    line = Line(length_m=1, type="rg174").constants(4e6)
    assert line.conductance * line.impedance_ohm / (line.resistance / line.impedance_ohm) == pytest.approx(0.236584 / 7.93964, rel=1e-12)


def test_a_published_table_of_cables() -> None:
    """E12: impedance from velocity factor and pF/ft; velocity and attenuation at 10 MHz beside the catalogue's."""
    source = case("E12")
    inputs = source.inputs
    rows = zip(inputs["types"], inputs["vf"], inputs["pF_per_ft"], inputs["dB_per_100ft_10MHz"], strict=True)
    found = {}
    for name, factor, capacitance, attenuation in rows:
        found[f"Z0 from vf and pF/ft, {name}"] = 0.3048 / (factor * 299_792_458 * capacitance * 1e-12)
        key = {"RG-8A": "rg8"}.get(name, name.lower().replace("-", ""))
        if key == "rg141":  # not in the catalogue
            continue
        kind = catalogue()[key]
        assert abs(kind.velocity_factor - factor) < 0.01
        assert abs(kind.impedance_ohm - source.expected[f"Z0 from vf and pF/ft, {name}"].value) < 3
        rounding = 0.05 / attenuation * 100  # printed to 0.1 dB/100 ft
        departure = abs(kind.loss_db_per_m(10e6) / (attenuation / 30.48) - 1) * 100
        assert departure < max(kind.uncertainty_percent, rounding)
    source.check_all(found)


def test_open_wire_types_are_those_of_their_dimensions() -> None:
    """Conductor loss of copper at 600 ohm and 0.98 c: spreaders slow the wave a little, so dimensions give 600 ohm in air."""
    for name, wire, spacing in (("open-wire-2mm", 2.053e-3, 152.88e-3), ("open-wire-1.6mm", 1.628e-3, 121.23e-3)):
        constants = open_wire(wire, spacing, 1e6)
        assert constants.impedance_ohm == pytest.approx(600, abs=0.05)
        assert constants.loss_db_per_m(1e6) == pytest.approx(catalogue()[name].loss_db_per_m(1e6), rel=2e-3)  # the complex impedance


def test_sources_differ_and_say_so() -> None:
    assert catalogue()["rg8x"].sources_differ_percent == pytest.approx(19.7, abs=0.05)
    assert catalogue()["window-line"].sources_differ_percent == pytest.approx(170, abs=0.5)
    assert catalogue()["open-wire-1.6mm"].sources_differ_percent is None
    assert catalogue()["rg142b"].all_from_memory
    assert not catalogue()["rg58c"].all_from_memory


def test_notes_of_a_line() -> None:
    thin = Line(length_m=1, type="rg58c")
    assert thin.working_voltage_v_rms == 1400
    assert thin.notes(14e6)[0] == "The loss of an unknown sample is uncertain by 13 %"
    assert not any("outside" in note for note in thin.notes(14e6))
    assert any(note.startswith("470 MHz is outside the range") for note in thin.notes(470e6))
    assert any("Working voltage 1.4 kV rms" in note for note in thin.notes(14e6))
    window = Line(length_m=1, type="window-line")
    assert any(note.startswith("Wet or dirty line loses more, by how much is not known") for note in window.notes(7e6))
    assert 360 <= catalogue()["window-line"].impedance_ohm <= 410


def test_a_type_in_a_file() -> None:
    text = """
        title = "A type"
        transmitter = { frequency = "28 MHz", power = "12 W" }
        antenna = { impedance = "50 ohm" }
        [[path]]
        part = "line"
        length = "40 m"
        type = "rg58c"
        loss_law = "wideband" """
    station = parse_scenario(text)
    assert station.lines[0] == Line(name="line", length_m=40, type="rg58c", loss_law="wideband")
    assert station.lines[0].constants(28e6).series_branches
    assert Scenario.from_json(station.to_json()) == station
    with pytest.raises(ValueError, match='"rg5" is not a type of line'):
        Line(length_m=1, type="rg5")
    dimensions = text.replace('type = "rg58c"', 'wire_diameter = "2 mm"\nspacing = "75 mm"').replace("wideband", "carrier")
    assert parse_scenario(dimensions).lines[0].spacing_m == 0.075
    cable = 'inner_diameter = "0.9 mm"\nouter_diameter = "2.95 mm"\npermittivity = 2.26\nloss_tangent = 0.0003'
    line = parse_scenario(text.replace('type = "rg58c"', cable)).lines[0]
    assert (line.permittivity, line.loss_tangent) == (2.26, 0.0003)
    assert line.constants(28e6).shunt_branches
