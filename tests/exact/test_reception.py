"""What a station that receives hears, by hand and by reciprocity."""

import math

import pytest

from bouncesim import perform
from bouncesim.errors import ScenarioError
from bouncesim.exact.antenna import possible
from bouncesim.exact.reception import available_gain, reception
from bouncesim.scenario import Antenna, Element, Keying, Line, Network, Receiver, Scenario, Transformer, Transmitter, Tuner
from bouncesim.scenario.model import Stub
from bouncesim.scenario.sweep import Sweep

ROUNDING = 1e-11  # of products of a few dozen two-ports
CANCELS = 1e-8  # rounding, over a resistance of 1.4e-7 of the 7 microohm of reactance that it is the real part of
FREQUENCY = 7.1e6


def receiving(path, antenna=50 + 0j, **receiver) -> Scenario:
    return Scenario(
        title="a station that receives",
        direction="receive",
        transmitter=Transmitter(frequency_hz=FREQUENCY, power_w=30.0),
        keying=Keying(shape="step"),
        path=path,
        antenna=Antenna(impedance_ohm=antenna),
        receiver=Receiver(**receiver),
    )


def cable(loss_db: float, length_m: float = 200.0) -> Line:
    return Line(length_m=length_m, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=loss_db / length_m)


def test_an_antenna_of_capacitors_alone_receives_nothing():
    """|V|^2 = 8 R P: without a resistance there is no EMF, and no wave whose parts could be told."""
    made = receiving((cable(0.3),)).model_copy(
        update={"antenna": Antenna(elements=(Element(position="shunt", kind="capacitor", value=1e-9),))}
    )
    with pytest.raises(ScenarioError, match="without resistance it receives nothing"):
        perform.solve_exact(made)


def test_a_matched_cable_by_hand():
    """3 dB of matched cable: half the signal, half an S-unit, and nearly nothing of the signal-to-noise ratio: the noise is halved too."""
    heard = reception(perform.resolve(receiving((cable(3.0),), surroundings="city", noise_figure_db=10.0)))
    # a line with all its loss in the conductor has not quite 50 ohm: the gain is 3 dB but for the square of that mismatch
    assert heard.gain_db == pytest.approx(-3.0, abs=0.001)
    assert heard.s_units_lost == pytest.approx(0.5, abs=0.002)
    # external F = 76.8 - 27.7 log10 7.1 = 53.2 dB: by hand (1/2 (f + 1) + 9)/(1/2)/(f + 9) with f = 2.09e5
    f = 10 ** ((76.8 - 27.7 * math.log10(7.1)) / 10)
    by_hand = 10 * math.log10((f / 2 + 1 / 2 + 9) / (1 / 2) / (f + 9))
    assert heard.noise_cost_db == pytest.approx(by_hand, rel=0.01)
    assert heard.noise_cost_db < 1e-3


def test_without_external_noise_the_loss_is_all_heard():
    """A noisy receiver in a quiet place loses what the cable loses."""
    heard = reception(perform.resolve(receiving((cable(3.0),), surroundings="quiet rural", noise_figure_db=60.0)))
    assert heard.noise_cost_db == pytest.approx(-heard.gain_db, abs=0.01)


@pytest.mark.parametrize("ohm", [50.0, 180.0])
def test_the_path_is_reciprocal(ohm):
    """The transducer gain is the same both ways, through a tuner with loss, a transformer, a network and lines (reciprocity)."""
    elements = (
        Element(position="shunt", kind="capacitor", value=90e-12, loss_ohm=0.4),
        Element(position="series", kind="inductor", value=1.1e-6, loss_ohm=0.7),
        Element(position="shunt", kind="resistor", value=900.0),
    )
    transformer = Transformer(
        name="balun", impedance_ratio=4.0, leakage_inductance_h=80e-9, magnetising_inductance_h=18e-6, core_resistance_ohm=4e3
    )
    path = (
        Tuner(coil_q=120.0),
        cable(1.3),
        Network(name="trap", elements=elements),
        transformer,
        cable(0.2, 7.0).model_copy(update={"name": "ladder"}),
    )
    heard = reception(perform.resolve(receiving(path, antenna=130 - 75j, impedance_ohm=ohm)))
    assert heard.gain_db == pytest.approx(heard.gain_other_way_db, abs=ROUNDING)
    assert -30 < heard.gain_db < -1


def test_gain_is_available_gain_times_match():
    """Available gain bounds transducer gain, and equals it where the receiver is the conjugate of what it sees."""
    scenario = perform.resolve(receiving((cable(2.0),), antenna=50 + 0j))
    heard = reception(scenario)
    assert 10 ** (heard.gain_db / 10) <= available_gain(scenario) * (1 + ROUNDING)
    assert available_gain(scenario) == pytest.approx(10 ** (heard.gain_db / 10), rel=1e-3)  # very nearly matched


def test_a_path_without_loss_hands_on_all_that_is_available():
    """Whatever stands between: also beside reactances so large that the resistance behind them is lost in rounding."""
    nearly_short = Stub(path=(Line(length_m=1e-6, impedance_ohm=50.0, velocity_factor=0.66),), end="short")
    path = (Line(length_m=31.0, impedance_ohm=50.0, velocity_factor=0.66), nearly_short)
    for antenna in (50 + 0j, 1e-20 + 1e9j, 1e-15 - 1e6j):
        assert available_gain(perform.resolve(receiving(path, antenna=antenna))) == pytest.approx(1.0, rel=CANCELS)


def test_a_line_that_lets_nothing_through():
    """10 000 dB: no signal, not a number too small to divide by."""
    heard = reception(perform.resolve(receiving((cable(1e4),))))
    assert heard.received_w == 0.0
    assert heard.gain_db == -math.inf
    assert heard.signal_to_noise_db == -math.inf


def test_an_antenna_that_may_be_without_resistance_is_none_that_receives():
    """Measured within a tenth, 30 ohm of reactance may come with resistance; those without are left out."""
    sweep = Sweep(frequency_hz=(7.0e6, 7.2e6), impedance_ohm=(30j, 30j))
    antenna = Antenna(touchstone="antenna.s1p", measurement=sweep, measured_within=0.1)
    scenario = receiving((cable(1.0),)).model_copy(update={"antenna": antenna})
    found = possible(scenario)
    assert found
    assert all(one.antenna.at_carrier_ohm.real > 0 for one in found)
    everything = possible(scenario.model_copy(update={"direction": "transmit"}))
    assert len(found) < len(everything)  # those without resistance are loads all the same


def test_no_word_on_noise_where_none_is_tabulated():
    """P.372's man-made noise ends at 250 MHz, and this tool's use of it at 100 MHz."""
    scenario = receiving((cable(1.0),))
    high = scenario.model_copy(update={"transmitter": Transmitter(frequency_hz=432e6, power_w=10.0)})
    heard = reception(perform.resolve(high))
    assert heard.external_noise_db is None
    assert heard.noise_cost_db is None
