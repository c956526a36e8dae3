"""A path turned round: the same two-port from its other side."""

import numpy as np
import pytest
from hypothesis import assume, given, settings

from bouncesim import exact
from bouncesim.exact import phasor
from bouncesim.exact.parts import path_chains
from bouncesim.scenario import Element, Line, Meter, Network, Part, Receiver, Scenario, Transformer
from bouncesim.scenario.mirror import mirrored
from tests.exact.stations import FREQUENCY, station
from tests.exact.strategies import stations

# Of the larger of the products that cancel in a chain matrix of several parts, and of the gain that follows from it.
ROUNDING = 1e-11


def chain(path: tuple[Part, ...]) -> np.ndarray:
    """A, B, C, D without their growth."""
    return phasor.cascade(path_chains(path, FREQUENCY)).matrix


@settings(max_examples=50)
@given(stations())
def test_from_the_other_side_a_two_port_is_d_b_c_a(scenario: Scenario) -> None:
    """The chain matrix of a reciprocal two-port that is turned round (G. L. Matthaei, L. Young and E. M. T. Jones, Microwave Filters,
    ch. 2, from memory)."""
    (a, b), (c, d) = chain(scenario.path)
    scale = np.array([[1.0, 100.0], [0.01, 1.0]]) * max(abs(a), abs(d), abs(b) / 100, abs(c) * 100)
    assert (abs(chain(mirrored(scenario.path)) - [[d, b], [c, a]]) <= ROUNDING * scale).all()
    assert (abs(chain(mirrored(mirrored(scenario.path))) - [[a, b], [c, d]]) <= ROUNDING * scale).all()


@settings(max_examples=25)
@given(stations())
def test_gain_is_the_same_both_ways(scenario: Scenario) -> None:
    """Of the power that one end could give, the same share reaches the other (reciprocity)."""
    source = scenario.transmitter.source_impedance_ohm
    assume(source > 0)
    out = exact.solve(scenario).antenna.power_w / (scenario.transmitter.emf_v_peak**2 / (8 * source))
    receiver = Receiver(impedance_ohm=source, signal_w=1e-9)
    listening = scenario.model_copy(update={"direction": "receive", "receiver": receiver}).driven()
    back = exact.solve(listening).antenna.power_w / 1e-9
    assert back == pytest.approx(out, rel=ROUNDING)


LINE = Line(name="line", length_m=9.0, impedance_ohm=50.0, velocity_factor=0.8)


def test_parts_turned_round_by_hand() -> None:
    first = Element(position="series", kind="inductor", value=1e-6, loss_ohm=0.2)
    second = Element(position="shunt", kind="capacitor", value=1e-10)
    balun = Transformer(
        name="balun", impedance_ratio=4.0, leakage_inductance_h=5e-8, magnetising_inductance_h=2e-5, winding_resistance_ohm=0.1,
        core_resistance_ohm=5e3,
    )  # fmt: skip
    path = (Meter(name="meter"), Network(name="network", elements=(first, second)), LINE, balun)
    turned = mirrored(path)
    assert [part.name for part in turned] == ["balun, ratio", "balun", "line", "network", "meter"]
    assert turned[0] == Transformer(name="balun, ratio", impedance_ratio=0.25)
    inside = [(element.position, element.kind, element.value) for element in turned[1].elements]
    shunts = [("shunt", "inductor", 2e-5), ("shunt", "resistor", 5e3)]
    assert inside == [*shunts, ("series", "inductor", 5e-8), ("series", "resistor", 0.1)]
    assert turned[3].elements == (second, first)
    assert mirrored((Transformer(name="ideal", impedance_ratio=9.0),)) == (Transformer(name="ideal", impedance_ratio=1 / 9),)


def test_a_station_is_turned_round_once_and_only_to_receive() -> None:
    sending = station((Meter(name="meter"), LINE), 30 - 5j)
    assert sending.driven() == sending
    assert (sending.source_name, sending.load_name) == ("transmitter", "antenna")
    listening = sending.model_copy(update={"direction": "receive", "receiver": Receiver(impedance_ohm=75.0, signal_w=6e-11)})
    turned = listening.driven()
    assert [part.name for part in turned.path] == ["line", "meter"]
    assert turned.driven() == turned
    assert (turned.source_name, turned.load_name) == ("antenna", "receiver")
    assert (turned.source_ohm, turned.load_ohm) == (30 - 5j, 75)
    assert turned.emf_v_peak == pytest.approx(1.2e-4, rel=1e-15)  # sqrt(8 x 30 ohm x 60 pW)
    assert Scenario.from_json(turned.to_json()) == turned
