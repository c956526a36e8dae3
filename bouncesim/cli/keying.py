"""What the key makes of the readings, which are those of the key held down: the averages of a text, and a rise that was shortened."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.table import Table

from bouncesim.account.readings import Readings
from bouncesim.cli.terminal import table
from bouncesim.cli.text import clean, number
from bouncesim.quantity import show
from bouncesim.scenario import Scenario


def key_story(scenario: Scenario, readings: Readings, account: Sequence[tuple[str, str]]) -> Iterator[Table | str]:
    """`account`: label and reading of each line of the account. Nothing where the key stays down and is as slow as a real one."""
    keying = scenario.keying
    if keying.is_shortened and scenario.direction == "transmit":
        rise = f"rises in {show(keying.rise_s, 's')}" if keying.rise_s else "closes at once"
        yield f"The key {rise}: shortened, so that you can see what happens. A real key takes about 5 ms and hides it.\n"
    if keying.shape != "morse":
        return
    flat = readings.flatten()
    made = table(f'Morse: "{clean(keying.text)}", a dot of {show(keying.dot_length_s, "s")} (net, in watts)', "", "key down", "average")
    for label, quantity in account:
        made.add_row(label, number(flat[quantity]), number(flat[quantity] * keying.duty))
    yield made
    yield (
        f"Over the text and the space behind its last word the average power is {100 * keying.duty:.3g} % of that with the key down. Heat "
        "follows the average; voltage, current and what breaks down under them follow the peak: key-down power is peak envelope power.\n"
    )


def plain_key(scenario: Scenario, readings: Readings) -> dict[str, Any]:
    """The same for --json: `average_w` of every net power and heat over a text, nothing for other keys."""
    keying = scenario.keying
    averages = {
        quantity: power * keying.duty
        for quantity, power in readings.flatten().items()
        if quantity.rsplit(".", 1)[1] in ("power_w", "power_in_w", "power_out_w", "heat_w", "radiated_w", "dump_load_w")
    }
    return {
        "shape": keying.shape,
        "rise_s": keying.rise_s,
        "is_shortened": keying.is_shortened,
        "duty": keying.duty,
        "average_w": averages if keying.shape == "morse" else {},
    }
