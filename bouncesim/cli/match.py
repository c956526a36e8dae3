"""bouncesim match: what the tuners of a station have to match, every setting that would do, and the one that is taken."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bouncesim.cli.scenarios import scenario_argument

if TYPE_CHECKING:
    from rich.table import Table

    from bouncesim.exact.matching import StubSection, TunerSettings
    from bouncesim.scenario import Element, Scenario

# Of the parts of a tuner that a station does not have: usual values for air-wound coils and air capacitors, common practice, no source.
COIL_Q, CAPACITOR_Q = 200.0, 1000.0


@click.command("match")
@scenario_argument
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of tables.")
def command(scenario: Path, as_json: bool) -> None:
    """Show every way to match a station.

    SCENARIO is a file, or the name of one in the folder scenarios. For each tuner: the impedance that it has to match, every setting with
    its parts, heat, coil current and capacitor voltage, which one is taken, and why. For a station without a tuner: what an L, a pi, a T
    and a stub would do at the transmitter.
    """
    from bouncesim import perform
    from bouncesim.cli.cautions import cautions
    from bouncesim.exact import matching
    from bouncesim.exact.antenna import known_antenna
    from bouncesim.scenario import Tuner

    loaded = known_antenna(perform.load(scenario))
    has_tuner = any(isinstance(part, Tuner) for part in loaded.path)
    tuners = matching.settings(loaded) if has_tuner else matching.suggestions(loaded, COIL_Q, CAPACITOR_Q)
    stubs = [] if has_tuner else matching.stub_sections(matching.impedance_seen(loaded), loaded.transmitter.rated_load_ohm)
    warnings = cautions(loaded, perform.solve_exact(loaded))
    if as_json:
        from bouncesim.cli.json_output import print_json

        print_json({"title": loaded.title, "file": str(scenario), **_plain(tuners, stubs, has_tuner), "cautions": warnings})
        return
    from bouncesim.cli.terminal import stdout
    from bouncesim.cli.text import clean

    console = stdout()
    console.print(clean(loaded.title), style="bold")
    console.print(_introduction(loaded, has_tuner))
    for tuner in tuners:
        console.print(_settings_table(tuner))
    if not has_tuner:
        console.print(_stub_table(loaded, stubs) if stubs else "A stub: none is needed.\n")
    for caution in warnings:
        console.print("Caution:", caution)


def _introduction(scenario: Scenario, has_tuner: bool) -> str:
    from bouncesim.quantity import show

    told = f"At {show(scenario.transmitter.frequency_hz, 'Hz', 5)}, {show(scenario.transmitter.power_w, 'W')}"
    if has_tuner:
        return f"{told}. The loaded Q is the reactive power in the coils over the power that enters the tuner.\n"
    return (
        f"{told}. There is no tuner in the path; this is what one right behind the transmitter would do, with a Q of {COIL_Q:g} in its "
        f"coils and {CAPACITOR_Q:g} in its capacitors (usual values, an assumption). The loaded Q is the reactive power in the coils over "
        "the power that enters.\n"
    )


def _settings_table(tuner: TunerSettings) -> Table:
    """One tuner's settings, a row each, the one that is taken first."""
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    ends = f"sees {_ohm(tuner.load_ohm)}, presents {_ohm(tuner.target_ohm)}"
    made = table(f"{tuner.name} ({tuner.shape}): {ends}", "from the transmitter", "heat", "coil", "capacitor", "loaded Q", "")
    made.columns[-1].justify = "left"
    for setting in tuner.settings:
        coil = show(setting.coil_a_peak, "A") + " peak" if setting.coil_a_peak else "none"
        capacitor = show(setting.capacitor_v_peak, "V") + " peak" if setting.capacitor_v_peak else "none"
        why = f"taken: {setting.why}" if setting.chosen else setting.why
        parts = "\n".join(_part(element) for element in setting.elements) or "nothing"
        made.add_row(parts, show(setting.heat_w, "W"), coil, capacitor, f"{setting.loaded_q:.3g}", why)
        made.add_section()
    return made


def _stub_table(scenario: Scenario, stubs: list[StubSection]) -> Table:
    """Every stub that matches, with its lengths in wavelengths and in metres of the first line's kind of cable."""
    from bouncesim.cli.terminal import table
    from bouncesim.quantity import show

    frequency, rated = scenario.transmitter.frequency_hz, scenario.transmitter.rated_load_ohm
    wavelength = scenario.lines[0].constants(frequency).velocity / frequency
    title = f"A stub: both lines of {show(rated, 'ohm')}, without loss; metres at the velocity of {scenario.lines[0].name}"
    made = table(title, "end of the stub", "added line in front of the path", "then a stub across it, this long")
    for stub in stubs:
        lengths = (f"{part:.4f} wavelengths, {show(part * wavelength, 'm', 4)}" for part in (stub.distance, stub.length))
        made.add_row(stub.end, *lengths)
    return made


def _part(element: Element) -> str:
    from bouncesim.quantity import show

    unit = {"inductor": "H", "capacitor": "F", "resistor": "ohm"}[element.kind]
    return f"{element.position} {element.kind} {show(element.value, unit, 4)}"


def _ohm(impedance: complex) -> str:
    from bouncesim.exact.matching.choice import shown
    from bouncesim.quantity import show

    return shown(impedance) if abs(impedance.imag) > 1e-9 * abs(impedance) else show(impedance.real, "ohm", 4)


def _plain(tuners: tuple[TunerSettings, ...], stubs: list[StubSection], has_tuner: bool) -> dict[str, Any]:
    """What the tables say; keys are the names of the fields, units in their suffix; lengths of stubs in wavelengths."""
    from bouncesim.account.plain import to_plain

    return {
        "has_tuner": has_tuner,
        "tuners": [
            {
                "name": tuner.name,
                "shape": tuner.shape,
                "load_ohm": to_plain(tuner.load_ohm),
                "target_ohm": to_plain(complex(tuner.target_ohm)),
                "settings": [
                    {**vars(setting), "elements": [element.model_dump() for element in setting.elements]} for setting in tuner.settings
                ],
            }
            for tuner in tuners
        ],
        "stubs": to_plain(stubs),
    }
