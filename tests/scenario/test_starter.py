"""The commented scenario that users start from: what is remarked out in it is read as it stands."""

import pytest

from bouncesim.errors import ScenarioError
from bouncesim.scenario import Dipole, Receiver, Scenario, Transmitter, parse_scenario
from tests.scenario.test_scenarios import STARTER


def lifted(*keys: str, drop: tuple[str, ...] = ()) -> Scenario:
    """The starter with the remark lifted from lines that begin so, and other lines dropped."""
    lines = [line.removeprefix("# ") if line.startswith(tuple(f"# {key}" for key in keys)) else line for line in STARTER.splitlines()]
    return parse_scenario("\n".join(line for line in lines if not line.startswith(drop)))


def test_both_ends_of_the_starter_work_when_their_remarks_are_lifted() -> None:
    def behaving(word: str, *keys: str) -> Transmitter:
        text = STARTER.replace('behaviour = "linear"', f'behaviour = "{word}"')
        for key in keys:
            text = text.replace(f"# {key} =", f"{key} =")
        return parse_scenario(text).transmitter

    assert behaving("isolated").behaviour == "isolated"
    folding = behaving("fold-back", "threshold", "floor", "attack", "release")
    assert (folding.held_w, folding.floor, folding.attack_s, folding.release_s) == (4.0, 0.1, 50e-6, 200e-6)
    holding = behaving("level-controlled", "holds", "level", "drive_limit", "attack", "release")
    assert (holding.holds, holding.level_w, holding.drive_limit_db) == ("forward", 35.0, 3.0)
    given = ('impedance = "75', "form = ")
    assert lifted("swr", drop=given).antenna.swr == 2.6
    elements = lifted("elements = [ { series", "loss_resistance", drop=given).antenna.elements
    assert [element.kind for element in elements] == ["inductor", "resistor"]
    assert lifted("dipole", "loss_resistance", drop=given).antenna.dipole == Dipole(length_m=10.4, wire_m=2e-3, gap_m=0.02)
    measured = lifted("measured_at", "measured_within", "loss_resistance").antenna
    assert (measured.measured_at, measured.measured_within, measured.loss_resistance_ohm) == ("transmitter end", 0.02, 3.0)
    with pytest.raises(ScenarioError, match="a text has no folder"):
        lifted("touchstone", drop=given)


def test_key_events_and_receiver_of_the_starter_work_when_their_remarks_are_lifted() -> None:
    shape = 'shape = "raised-cosine"'
    morse = STARTER.replace(shape, 'shape = "morse"').replace("# text", "text").replace("# words_per_minute", "words_per_minute")
    assert parse_scenario(morse.replace('rise = "0.2 us"', 'rise = "5 ms"')).keying.dot_length_s == 0.06
    pulse = STARTER.replace(shape, 'shape = "pulse"').replace('rise = "0.2 us"', "#").replace("# width", "width")
    assert parse_scenario(pulse).keying.width_s == 20e-9
    events = STARTER[STARTER.index("# [[event]]") : STARTER.index("# [receiver]")]
    with_events = STARTER.replace(events, "\n".join(line.removeprefix("# ") for line in events.splitlines()) + "\n")
    assert [event.happens for event in parse_scenario(with_events).events] == ["connector fails", "antenna changes"]
    receiver = STARTER[STARTER.index("# [receiver]") : STARTER.index("# Claims are judged")]
    listening = STARTER.replace(receiver, "\n".join(line.removeprefix("# ") for line in receiver.splitlines()) + "\n")
    listening = listening.replace('direction = "transmit"', 'direction = "receive"').replace("transmitter.swr", "antenna.swr")
    assert parse_scenario(listening).receiver == Receiver(signal_w=50e-12)
