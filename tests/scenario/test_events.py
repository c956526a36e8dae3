"""Events: what they leave of a station."""

import pytest

from bouncesim.scenario import Antenna, Element, Event, Line, Meter, Network, Scenario, Transmitter
from bouncesim.scenario.events import CLOSED_OHM, OPEN_OHM, connectors, with_connectors

LINE = Line(name="line", length_m=9.0, impedance_ohm=50.0, velocity_factor=0.8)
PATH = (Meter(name="meter"), LINE, Meter(name="far meter"))
ANTENNA = Antenna(impedance_ohm=25 - 60j)


def event(at_us: float, happens: str, **particulars: object) -> Event:
    return Event(at_s=at_us * 1e-6, happens=happens, **particulars)


def fails(at_us: float, behind: str, ohm: float) -> Event:
    return event(at_us, "connector fails", behind=behind, resistance_ohm=ohm)


def station(*events: Event) -> Scenario:
    transmitter = Transmitter(frequency_hz=10e6, power_w=40.0)
    return Scenario(title="t", transmitter=transmitter, path=PATH, antenna=ANTENNA, events=events)


@pytest.mark.parametrize(
    ("events", "ohm"),
    [
        ([event(1, "antenna opens")], OPEN_OHM),
        ([event(1, "antenna shorts")], 0),
        ([event(1, "antenna changes", impedance_ohm=80 + 5j)], 80 + 5j),
        ([event(2, "antenna opens"), event(1, "antenna shorts")], OPEN_OHM),  # the last in time, not in the file
        ([event(1, "antenna opens"), event(2, "antenna changes", impedance_ohm=40)], 40),
        ([event(1, "key up")], 25 - 60j),
        ([fails(1, "line", 20.0)], 25 - 60j),
        ([], 25 - 60j),
    ],
)
def test_the_antenna_at_the_end(events: list[Event], ohm: complex) -> None:
    end = station(*events).at_end()
    assert end.antenna.impedance_ohm == ohm
    assert end.events == ()


def test_connectors_that_fail() -> None:
    events = (fails(5, "line", 20.0), event(1, "antenna opens"), fails(2, "meter", 3.0))
    assert [(name, one.behind) for name, one in connectors(events)] == [("bad connector", "line"), ("bad connector 2", "meter")]

    def contact(name: str, ohm: float) -> Network:
        return Network(name=name, elements=(Element(position="series", kind="resistor", value=ohm),))

    end = station(*events).at_end()
    assert end.path == (PATH[0], contact("bad connector 2", 3.0), LINE, contact("bad connector", 20.0), PATH[2])
    before = with_connectors(PATH, events, before=True)
    assert before == (PATH[0], contact("bad connector 2", CLOSED_OHM), LINE, contact("bad connector", CLOSED_OHM), PATH[2])


def test_two_connectors_behind_one_part() -> None:
    end = station(fails(1, "line", 5.0), fails(2, "line", 7.0)).at_end()
    assert [part.name for part in end.path] == ["meter", "line", "bad connector 2", "bad connector", "far meter"]


def test_an_end_is_a_scenario_of_its_own() -> None:
    end = station(fails(1, "far meter", 20.0), event(2, "antenna shorts")).at_end()
    assert Scenario.from_json(end.to_json()) == end
