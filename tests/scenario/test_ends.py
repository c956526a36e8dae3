"""Transmitter, antenna and receiver: hand-worked numbers, and what is refused in Python."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from bouncesim.exact.oneport import impedance, split
from bouncesim.scenario import Antenna, Dipole, Element, Event, Keying, Line, Receiver, Scenario, Transmitter
from bouncesim.scenario.ends import port_of
from bouncesim.scenario.oneport import Joined, Lumped
from bouncesim.scenario.sweep import Sweep
from tests.exact.strategies import sizes

ROUNDING = 1e-13
OMEGA = 2 * math.pi * 10.12e6

FOLDING = Transmitter(frequency_hz=10.12e6, power_w=45.0, behaviour="fold-back")
HOLDING = Transmitter(frequency_hz=10.12e6, power_w=45.0, behaviour="level-controlled", level_w=30.0)


def test_a_fold_back_by_hand() -> None:
    """SWR 2 returns a ninth: of 45 W that is 5 W."""
    assert FOLDING.is_controlled
    assert FOLDING.held_w == pytest.approx(5.0, rel=ROUNDING)
    assert FOLDING.model_copy(update={"threshold_w": 3.0}).held_w == 3.0
    assert FOLDING.drive_range == (0.1, 1.0)
    assert FOLDING.held_weights == (0.0, 1.0)
    readings = {
        (45.0, 4.0): 1.0,
        (45.0, 20.0): 0.25,
        (90.0, 100.0): 0.1,
        (45.0, 0.0): 1.0,
    }  # 5/4 is no drive; 5/20; 5/100 is below the floor
    for (forward, reflected), drive in readings.items():
        assert FOLDING.drive_at_rest(forward, reflected) == pytest.approx(drive, rel=ROUNDING)


def test_a_level_control_by_hand() -> None:
    """3 dB are a factor of 1.99526. It may go down by 60 dB, not to nothing."""
    most = 1.9952623149688795
    assert HOLDING.held_w == 30.0
    assert HOLDING.model_copy(update={"level_w": None}).held_w == 45.0
    assert HOLDING.drive_range == pytest.approx((1e-6, most), rel=ROUNDING)
    assert HOLDING.model_copy(update={"drive_limit_db": 0.0}).drive_range == (1e-6, 1.0)
    for (forward, reflected), drive in {(60.0, 50.0): 0.5, (20.0, 0.0): 1.5, (10.0, 5.0): most, (0.0, 0.0): most}.items():
        assert HOLDING.drive_at_rest(forward, reflected) == pytest.approx(drive, rel=ROUNDING)
    delivering = HOLDING.model_copy(update={"holds": "delivered"})
    assert delivering.held_weights == (1.0, -1.0)
    for (forward, reflected), drive in {(60.0, 20.0): 0.75, (50.0, 30.0): 1.5, (50.0, 50.0): most}.items():
        assert delivering.drive_at_rest(forward, reflected) == pytest.approx(drive, rel=ROUNDING)


@given(sizes(1e-3, 1e5), st.floats(0.0, 0.999), st.sampled_from([FOLDING, HOLDING, HOLDING.model_copy(update={"holds": "delivered"})]))
def test_a_control_at_rest_holds_its_reading_or_is_at_its_stop(forward: float, share: float, transmitter: Transmitter) -> None:
    drive = transmitter.drive_at_rest(forward, share * forward)
    least, most = transmitter.drive_range
    reading = drive * (transmitter.held_weights[0] * forward + transmitter.held_weights[1] * share * forward)
    assert least <= drive <= most
    at_rest = reading == pytest.approx(transmitter.held_w, rel=ROUNDING)
    assert at_rest or (drive == most and reading < transmitter.held_w) or (drive == least and reading > transmitter.held_w)


@pytest.mark.parametrize("behaviour", ["linear", "isolated"])
def test_without_a_control_the_drive_is_full(behaviour: str) -> None:
    transmitter = Transmitter(frequency_hz=10e6, power_w=45.0, behaviour=behaviour)
    assert not transmitter.is_controlled
    assert transmitter.drive_range == (1.0, 1.0)


def test_parts_of_an_impedance_by_hand() -> None:
    """60 ohm of capacitive reactance at 10.12 MHz are 262.11 pF. 1/(25 - 60j) = (25 + 60j)/4225: 169 ohm and 223.34 pF in parallel."""
    resistor, capacitor = port_of(25 - 60j, "series", OMEGA).members
    assert (resistor.kind, resistor.value) == ("resistor", 25.0)
    assert (capacitor.kind, capacitor.value) == ("capacitor", pytest.approx(262.112e-12, rel=1e-5))
    resistor, capacitor = port_of(25 - 60j, "parallel", OMEGA).members
    assert (resistor.kind, resistor.value) == ("resistor", pytest.approx(169, rel=ROUNDING))
    assert (capacitor.kind, capacitor.value) == ("capacitor", pytest.approx(223.338e-12, rel=1e-5))
    radiating, heating, inductor = port_of(25 + 60j, "series", OMEGA, loss_ohm=4.0).members
    assert [(part.value, part.radiates) for part in (radiating, heating)] == [(21.0, True), (4.0, False)]
    assert (inductor.kind, inductor.value) == ("inductor", pytest.approx(0.943611e-6, rel=1e-5))
    assert port_of(50 + 0j, "parallel", OMEGA) == Lumped(kind="resistor", value=50.0)
    assert port_of(0j, "series", OMEGA) == port_of(0j, "parallel", OMEGA) == Joined(how="series")


@given(sizes(1e-3, 1e5), st.floats(-1e5, 1e5), st.sampled_from(["series", "parallel"]), st.floats(0, 1))
def test_the_parts_make_the_impedance_again(resistance: float, reactance: float, form: str, share: float) -> None:
    z = complex(resistance, reactance)
    loss = share * resistance if form == "series" else 0.0
    port = port_of(z, form, OMEGA, loss)
    assert complex(impedance(port, OMEGA)) == pytest.approx(z, rel=ROUNDING)
    radiated, heat = split(port, OMEGA, z, 1.0)
    assert float(radiated + heat) == pytest.approx(resistance / 2, rel=max(ROUNDING, ROUNDING * abs(z) / resistance))
    assert float(heat) == pytest.approx(loss / 2, rel=ROUNDING)


def test_an_antenna_says_what_makes_heat() -> None:
    assert Antenna(impedance_ohm=25 - 60j, loss_resistance_ohm=5.0).heat_share == pytest.approx(0.2, rel=ROUNDING)
    assert Antenna(impedance_ohm=25 - 60j).heat_share == 0.0
    with pytest.raises(ValueError, match="resolved"):
        _ = Antenna(swr=2.0).at_carrier_ohm


SWEEP = Sweep(frequency_hz=(7e6, 7.1e6, 7.2e6), impedance_ohm=(40 - 20j, 45 + 1j, 50 + 20j))
LINE = Line(name="line", length_m=20.0, impedance_ohm=50.0, velocity_factor=0.8)
SHUNT = Element(position="shunt", kind="resistor", value=70.0)
REFUSED = {
    "threshold": (Transmitter, {"threshold_w": 3.0}, "threshold: belongs to behaviour = "),
    "holds": (Transmitter, {"behaviour": "fold-back", "holds": "delivered"}, 'holds: belongs to behaviour = "level-controlled", and here'),
    "ideal": (Transmitter, {"behaviour": "fold-back", "source_impedance_ohm": 0.0}, "cannot be an ideal source"),
    "isolated": (Transmitter, {"behaviour": "isolated", "source_impedance_ohm": 25.0}, "an isolated transmitter looks like its rated load"),
    "floor": (Transmitter, {"behaviour": "fold-back", "floor": 0.0}, "0 is too small. Allowed: more than 0, at most 1"),
    "behaviour": (Transmitter, {"behaviour": "folded"}, "Input should be 'linear', 'fold-back', 'level-controlled' or 'isolated'"),
    "no text": (Keying, {"shape": "morse", "rise_s": 1e-3, "text": " ", "dot_s": 0.06}, "text: is missing"),
    "no rise": (Keying, {"shape": "morse", "text": "test", "dot_s": 0.06}, "rise: is missing"),
    "no Morse": (Keying, {"shape": "morse", "rise_s": 1e-3, "text": "a#", "dot_s": 0.06}, "text: has no Morse for #"),
    "slow rise": (Keying, {"shape": "morse", "rise_s": 31e-3, "text": "a", "words_per_minute": 20.0}, "31 ms is more than half of a dot"),
    "width": (Keying, {"shape": "step", "width_s": 1e-8}, 'width: belongs to shape = "pulse", and here it is "step"'),
    "no way": (Antenna, {}, "impedance: says nothing about the antenna"),
    "two ways": (Antenna, {"swr": 2.0, "impedance_ohm": 50 + 0j}, "swr: the antenna is given in 2 ways: impedance, swr"),
    "form": (Antenna, {"swr": 2.0, "form": "parallel"}, "form: goes with impedance, and here the antenna is given by swr"),
    "last in series": (Antenna, {"elements": (SHUNT, Element(position="series", kind="resistor", value=70.0))}, "leads nowhere"),
    "not read": (Antenna, {"touchstone": "beam.s1p"}, "touchstone: the file has not been read"),
    "sweep alone": (Antenna, {"impedance_ohm": 50 + 0j, "measurement": SWEEP}, "measurement: goes with touchstone"),
    "loss": (Antenna, {"impedance_ohm": 50 + 0j, "loss_resistance_ohm": 51.0}, "51 ohm is more than the resistance of the antenna"),
    "thick": (Dipole, {"length_m": 20.0, "wire_m": 0.5}, "500 mm is no thin wire"),
    "unsorted": (Sweep, {"frequency_hz": (2e6, 1e6), "impedance_ohm": (50, 50)}, "the frequencies do not rise"),
    "uneven": (Sweep, {"frequency_hz": (1e6, 2e6), "impedance_ohm": (50,)}, "1 impedances at 2 frequencies"),
    "changes": (Event, {"at_s": 1e-6, "happens": "antenna changes"}, "impedance: is missing"),
    "key up": (Event, {"at_s": 1e-6, "happens": "key up", "behind": "line"}, 'behind: belongs to happens = "connector fails"'),
    "receiver": (Receiver, {"signal_w": 0.0}, "0 W is too small"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_refused_in_a_file_is_refused_in_python(case: str) -> None:
    model, fields, message = REFUSED[case]
    if model is Transmitter:
        fields = {"frequency_hz": 7.1e6, "power_w": 45.0} | fields
    with pytest.raises(ValidationError) as caught:
        model(**fields)
    assert message in str(caught.value)


BETWEEN = {
    "receiver": ({"receiver": Receiver()}, "receiver: a station that transmits has no receiver"),
    "nothing controls": ({"direction": "receive", "transmitter": FOLDING}, "transmitter.behaviour: nothing controls the drive"),
    "no resistance": ({"direction": "receive", "antenna": Antenna(impedance_ohm=60j)}, "an antenna without resistance receives nothing"),
    "events": ({"direction": "receive", "events": (Event(at_s=1e-6, happens="key up"),)}, "event: a station that receives has no events"),
    "no part": (
        {"events": (Event(at_s=1e-6, happens="connector fails", behind="cable", resistance_ohm=20.0),)},
        'event[1].behind: there is no part "cable" on the path',
    ),
    "reserved": ({"path": (LINE.model_copy(update={"name": "antenna"}),)}, 'path: the name "antenna" means something else already'),
    "out of band": (
        {"antenna": Antenna(touchstone="beam.s1p", measurement=SWEEP)},
        'antenna.touchstone: "beam.s1p" tells of 7 MHz to 7.2 MHz, and the carrier is at 10.12 MHz',
    ),
}


@pytest.mark.parametrize("case", BETWEEN)
def test_what_is_refused_between_tables(case: str) -> None:
    update, message = BETWEEN[case]
    fields = {
        "title": "t",
        "transmitter": Transmitter(frequency_hz=10.12e6, power_w=45.0),
        "path": (LINE,),
        "antenna": Antenna(impedance_ohm=25 - 60j),
    }
    Scenario(**fields)
    with pytest.raises(ValidationError) as caught:
        Scenario(**fields | update)
    assert message in str(caught.value)
