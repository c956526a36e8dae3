"""Where the figures and formulas of a station come from."""

from __future__ import annotations

from collections.abc import Iterator

from bouncesim.account.exposure import CFR, ICNIRP, limits
from bouncesim.quantity import show
from bouncesim.scenario import Line, Scenario

ALWAYS = (
    (
        "lines in time and in closed form",
        "the telegrapher's equations (Pozar, Microwave Engineering, section 2.1); chain matrices (section 4.4)",
    ),
    ("error bars", "L. F. Richardson, Phil. Trans. R. Soc. A 210 (1911), from memory: extrapolation from three grids"),
    ("powers", "P = 1/2 Re(V I*), net; forward and reflected against a real reference impedance"),
    ("behaviour of transmitters", "models with usual settings: common practice, no source"),
)


def source_rows(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """What, and where it is from: the figures of this station first, then the formulas."""
    for line in scenario.all_lines:
        yield from _line(line, scenario.transmitter.frequency_hz)
    yield _antenna(scenario)
    yield from ALWAYS
    if any(not line.type and line.wire_diameter_m is None and line.inner_diameter_m is None for line in scenario.all_lines):
        yield "R and G of a line from its loss", "solved so that the loss is exact at the carrier; its split as the scenario says"
    if any(getattr(part, "is_tuner", False) for part in scenario.path):
        yield "setting of the tuner", "L, pi and T sections after C. Bowick, RF Circuit Design, chapter 4 (from memory), least heat of them"
    if scenario.direction == "receive":
        yield "S-units", "IARU Region 1 Technical Recommendation R.1 (1981): S9 is -73 dBm below 30 MHz, 6 dB a unit"
        yield "external noise", "Recommendation ITU-R P.372, medians by surroundings"
    else:
        named = dict.fromkeys(limit.source for limit in limits(scenario.transmitter.frequency_hz))
        seen = {CFR: "read in two transcriptions", ICNIRP: "Health Physics 118, 483 (2020)"}
        for source in named:
            yield "limits of exposure, as context", f"{source}: {seen[source]}"


def _line(line: Line, frequency_hz: float) -> Iterator[tuple[str, str]]:
    if line.line_type is not None:
        yield f"{line.name}: {line.type}", line.line_type.description
        for figure in line.line_type.figures:
            loss = f"{figure.loss_db_per_m * 100:.4g} dB/100 m at {show(figure.frequency_hz, 'Hz')}, {figure.kind}"
            yield f"{line.name}: {loss}{', fitted' if figure.fitted else ''}", f"{figure.source} ({figure.seen})"
    elif line.wire_diameter_m is not None:
        yield line.name, "computed from its dimensions: two round copper wires in air, skin effect of smooth solid copper"
    elif line.inner_diameter_m is not None:
        yield line.name, "computed from its dimensions: smooth solid copper coax, skin effect and loss tangent"
    else:
        yield line.name, "as given in the scenario"


def _antenna(scenario: Scenario) -> tuple[str, str]:
    own = scenario.antenna
    if own.dipole is not None:
        return "antenna", "a doublet in free space by Hallén's equation (1938) with the exact kernel (Schelkunoff 1952, from memory)"
    if own.touchstone is not None:
        return "antenna", f"measured, in the file {own.touchstone} (Touchstone File Format Specification 2.0, 2009)"
    if own.swr is not None:
        return "antenna", "nothing but its SWR: one of its impedances is shown, and the range over all of them told"
    return "antenna", "as given in the scenario"
