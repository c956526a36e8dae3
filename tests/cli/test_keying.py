"""What `bouncesim run` says of the key: a short one is said to be shortened, a text has its averages beside the powers of key-down."""

from __future__ import annotations

import pytest
from rich.console import Console

from bouncesim.cli.keying import key_story, plain_key
from bouncesim.cli.tables import account_lines
from bouncesim.scenario import Keying
from tests import samples


def told(keying: Keying) -> str:
    scenario = samples.scenario().model_copy(update={"keying": keying})
    console = Console(width=200)
    with console.capture() as heard:
        for piece in key_story(scenario, samples.readings(), account_lines(scenario)):
            console.print(piece)
    return heard.get()


def test_a_short_key_is_labelled() -> None:
    assert "The key rises in 400 ns: shortened" in told(Keying(rise_s=4e-7))
    assert "The key closes at once: shortened" in told(Keying(shape="step"))
    assert "A real key takes about 5 ms" in told(Keying(shape="step"))
    assert told(Keying(rise_s=5e-3)) == ""
    assert told(Keying(shape="pulse", width_s=1e-8)) == ""


def test_averages_of_a_text() -> None:
    """PARIS at 20 words a minute with edges of 5 ms: 22 dots of 50, less a quarter of an edge for each of 14 marks."""
    keying = Keying(shape="morse", text="PARIS", rise_s=5e-3, words_per_minute=20)
    duty = (22 * 60 - 14 * 5 / 4) / 3000
    text = told(keying)
    assert "shortened" not in text
    assert 'Morse: "PARIS", a dot of 60 ms' in text
    assert f"{40 * duty:.4f}"[:5] in text  # of the 40 W that leave the transmitter
    assert f"is {100 * duty:.3g} % of that with the key down" in text
    plain = plain_key(samples.scenario().model_copy(update={"keying": keying}), samples.readings())
    assert plain["duty"] == pytest.approx(duty)
    assert plain["average_w"]["antenna.power_w"] == pytest.approx(26.5 * duty)
    assert plain["average_w"]["tuner.heat_w"] == pytest.approx(1.0 * duty)
    assert not plain["is_shortened"]
    assert plain_key(samples.scenario(), samples.readings())["average_w"] == {}
