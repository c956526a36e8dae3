"""The reader of scenario files: both ends, events, and whatever else may stand anywhere."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bouncesim.errors import ScenarioError
from bouncesim.perform import resolve
from bouncesim.scenario import Antenna, Dipole, Element, Event, Keying, Receiver, Scenario, parse_scenario
from bouncesim.scenario.reader import read_tables
from tests.scenario.test_reader import GOOD, STUB, problems


def test_both_ends_in_si() -> None:
    text = GOOD.replace(
        'power = "45 W"',
        'power = "45 W"\nbehaviour = "fold-back"\nthreshold = "4 W"\nfloor = 0.2\nattack = "30 us"\nrelease = "300 us"',
    ).replace('impedance = "25 - 60j ohm"', 'dipole = { length = "14.2 m", wire = "2 mm" }\nloss_resistance = "2 ohm"')
    station = parse_scenario(text)
    transmitter = station.transmitter
    assert (transmitter.behaviour, transmitter.threshold_w, transmitter.floor) == ("fold-back", 4.0, 0.2)
    assert (transmitter.attack_s, transmitter.release_s) == (30e-6, 300e-6)
    assert station.antenna == Antenna(dipole=Dipole(length_m=14.2, wire_m=2e-3, gap_m=0.02), loss_resistance_ohm=2.0)
    held = parse_scenario(
        GOOD.replace(
            'power = "45 W"', 'power = "45 W"\nbehaviour = "level-controlled"\nholds = "delivered"\nlevel = "30 W"\ndrive_limit = "2 dB"'
        )
    ).transmitter
    assert (held.holds, held.level_w, held.drive_limit_db) == ("delivered", 30.0, 2.0)
    rising = 'shape = "raised-cosine"\nrise = "1 us"'
    morse = parse_scenario(GOOD.replace(rising, 'shape = "morse"\nrise = "5 ms"\ntext = "Test, 73"\nwords_per_minute = 18'))
    assert morse.keying == Keying(shape="morse", rise_s=5e-3, text="Test, 73", words_per_minute=18.0)
    pulse = parse_scenario(GOOD.replace(rising, 'shape = "pulse"\nwidth = "20 ns"'))
    assert pulse.keying == Keying(shape="pulse", width_s=20e-9)


def test_elements_of_an_antenna_in_si() -> None:
    """The loss of a Q at the carrier, by hand: w 2 uH = 127.1717 ohm, /100."""
    elements = 'elements = [ { series = "inductor", value = "2 uH", q = 100 }, { shunt = "resistor", value = "36 ohm" } ]'
    antenna = parse_scenario(GOOD.replace('impedance = "25 - 60j ohm"', elements)).antenna
    coil, resistor = antenna.elements
    assert (coil.position, coil.kind, coil.value, coil.loss_ohm) == ("series", "inductor", 2e-6, pytest.approx(1.271717, rel=1e-6))
    assert resistor == Element(position="shunt", kind="resistor", value=36.0)


EVENTS = """
[[event]]
at = "2 us"
happens = "connector fails"
behind = "feed line"
resistance = "20 ohm"
[[event]]
at = "3.5 us"
happens = "antenna changes"
impedance = "80 + 5j ohm"
[[event]]
at = "5 us"
happens = "antenna opens"
[[event]]
at = "7 us"
happens = "key up"
"""
RECEIVER = 'direction = "receive"\n[receiver]\nimpedance = "75 ohm"\nsignal = "60 pW"\nnoise_figure = "8 dB"\nbandwidth = "2.4 kHz"\n'


def test_events_in_si() -> None:
    station = parse_scenario(GOOD.replace("[[claim]]", EVENTS + "[[claim]]").replace('"antenna.power_w"', '"bad connector.heat_w"'))
    assert [event.happens for event in station.events] == ["connector fails", "antenna changes", "antenna opens", "key up"]
    assert station.events[0] == Event(at_s=2e-6, happens="connector fails", behind="feed line", resistance_ohm=20.0)
    assert station.events[1].impedance_ohm == 80 + 5j
    assert Scenario.from_json(station.to_json()) == station


def test_a_receiver_in_si() -> None:
    text = GOOD.replace('title = "Invented station"', f'title = "t"\n{RECEIVER}surroundings = "quiet rural"')
    station = parse_scenario(text.replace('"antenna.power_w"', '"receiver.power_w"').replace("10 W", "10 pW"))
    assert station.direction == "receive"
    assert station.receiver == Receiver(
        impedance_ohm=75.0, signal_w=60e-12, noise_figure_db=8.0, bandwidth_hz=2400.0, surroundings="quiet rural"
    )
    assert Receiver().signal_w == pytest.approx(50.1e-12, rel=1e-3)  # -73 dBm
    assert Scenario.from_json(station.to_json()) == station
    (problem,) = problems(text.replace('"antenna.power_w"', '"transmitter.power_w"'))
    assert problem.endswith("Names here: antenna, meter, tuner, network, feed line, receiver")


LEAVES = st.one_of(
    st.text(max_size=12),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.builds(list),
    st.builds(dict),
    st.builds(lambda: [{}]),
    st.builds(lambda: [1]),
)


def places_in(data: object, path: tuple = ()) -> list[tuple]:
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [path, *(place for key, value in inner for place in places_in(value, (*path, key)))]


TRANSFORMER = '[[path]]\npart = "transformer"\nratio = "1:4"\n'
KEY, POWER, IMPEDANCE = 'shape = "raised-cosine"\nrise = "1 us"', 'power = "45 W"', 'impedance = "25 - 60j ohm"'
WHOLE = (
    GOOD.replace("[antenna]", STUB + TRANSFORMER + "[antenna]"),
    GOOD.replace("[[claim]]", EVENTS + "[[claim]]").replace(POWER, f'{POWER}\nbehaviour = "fold-back"\nthreshold = "4 W"\nfloor = 0.2'),
    GOOD.replace(KEY, 'shape = "morse"\nrise = "5 ms"\ntext = "test"\ndot = "60 ms"')
    .replace(POWER, f'{POWER}\nbehaviour = "level-controlled"\nholds = "delivered"\nlevel = "30 W"')
    .replace(IMPEDANCE, 'elements = [ { series = "inductor", value = "2 uH", q = 100 }, { shunt = "resistor", value = "36 ohm" } ]'),
    GOOD.replace(KEY, 'shape = "pulse"\nwidth = "20 ns"').replace(
        IMPEDANCE, 'dipole = { length = "14 m", wire = "2 mm", gap = "1 cm" }\nloss_resistance = "2 ohm"'
    ),
    GOOD.replace('title = "Invented station"\n', f'title = "t"\n{RECEIVER}'),
    GOOD.replace(IMPEDANCE, f'{IMPEDANCE}\nform = "series"\nmeasured_at = "transmitter end"\nmeasured_within = 0.05'),
    GOOD.replace(IMPEDANCE, "swr = 3.2"),
)


@pytest.mark.parametrize("text", WHOLE, ids=range(len(WHOLE)))
def test_whole_scenarios_come_back_from_json(text: str) -> None:
    """As they were read, as both engines take them, and as their last event leaves them."""
    station = parse_scenario(text)
    resolved = resolve(station)
    for one in (station, resolved, resolved.at_end()):
        assert Scenario.from_json(one.to_json()) == one


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_whatever_stands_anywhere_is_read_or_refused(data: st.DataObject) -> None:
    """Replace values all over a good scenario by others of any type: nothing but ScenarioError may come of it."""
    scenario = tomllib.loads(data.draw(st.sampled_from(WHOLE)))
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(places_in(scenario)[1:]))
        table = scenario
        for key in path[:-1]:
            table = table[key]
        table[path[-1]] = data.draw(LEAVES)
    try:
        station, found = read_tables(scenario), ()
    except ScenarioError as error:
        station, found = None, error.problems
    assert all(problem.field and problem.reason for problem in found)
    assert station is None or Scenario.from_json(station.to_json()) == station
