"""Options that describe the meters at hand, shared by the commands about demonstrations."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.quantities import POWER, Quantity

if TYPE_CHECKING:
    from bouncesim.exact.demonstration.effects import Meters
    from bouncesim.scenario import Scenario

# Of a meter of which nothing is told: usual figures, common practice, no source.
CLASS_PERCENT, DIRECTIVITY_DB = 5.0, 25.0
DIRECTIVITY = Quantity("ratio", above=0.0, most=100.0)
_OPTIONS = (
    click.option("--full-scale", "scales", multiple=True, type=POWER, metavar="POWER", help="Of a meter; several if it can be switched."),
    click.option("--class", "percent", type=click.FloatRange(0, 100), metavar="PERCENT", help="Error of a meter, per cent of full scale."),
    click.option("--directivity", type=DIRECTIVITY, metavar="DB", help='Of the meters, such as "28 dB".'),
)


def meter_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add them to a command, which takes `scales`, `percent` and `directivity`."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def meters_of(scenario: Scenario | None, scales: tuple[float, ...], percent: float | None, directivity: float | None) -> tuple[Meters, str]:
    """The meters as told, by options or by the scenario's own, and a sentence on what was taken for want of anything better."""
    from bouncesim.exact.demonstration.effects import Meters
    from bouncesim.exact.demonstration.instruments import COMMON_SCALES_W
    from bouncesim.quantity import show
    from bouncesim.scenario import Meter

    own = [part for part in scenario.path if isinstance(part, Meter)] if scenario else []
    told = next((part.directivity_db for part in own if part.directivity_db is not None), None)
    reference = own[0].reference_ohm if own else scenario.transmitter.rated_load_ohm if scenario else 50.0
    taken = [] if scales else [f"full scales of {', '.join(show(scale, 'W') for scale in COMMON_SCALES_W)}"]
    taken += [] if percent is not None else [f"class {CLASS_PERCENT:g} (per cent of full scale)"]
    if directivity is None and told is None:
        taken.append(f"a directivity of {DIRECTIVITY_DB:g} dB")
    share = (CLASS_PERCENT if percent is None else percent) / 100
    decibels = directivity if directivity is not None else told if told is not None else DIRECTIVITY_DB
    meters = Meters(share, tuple(sorted(scales or COMMON_SCALES_W)), decibels, reference)
    return meters, f"Not told, so taken as is usual (common practice, no source): {', '.join(taken)}." if taken else ""


def meters_told(meters: Meters) -> str:
    """The meters in words."""
    from bouncesim.quantity import show

    scales = ", ".join(show(scale, "W") for scale in meters.scales_w)
    return (
        f"Meters for {show(meters.reference_ohm, 'ohm')}, class {100 * meters.accuracy:g} per cent of full scale, full scales {scales}, "
        f"directivity {meters.directivity_db or 0:g} dB."
    )
