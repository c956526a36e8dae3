"""What a survey varies: each key of [survey] stands in the place of one value of the station, and every combination is a station."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from bouncesim.scenario.bands import places
from bouncesim.scenario.base import Conflict, Frozen
from bouncesim.scenario.components import Tuner
from bouncesim.scenario.feedline import Line
from bouncesim.scenario.keying import Keying
from bouncesim.scenario.measured import Measured

MOST_VALUES = 100_000  # of one range
PHASES = 24  # of an SWR, unless told otherwise


class Ratings(Frozen):
    """What parts are made for, as their maker says; peak values, 1.414 times the rms ones."""

    line_v_peak: Annotated[float, Measured("voltage", above=0, most=1e9, example="1.2 kV")] | None = Field(
        default=None, validation_alias="line_voltage_peak"
    )
    line_a_peak: Annotated[float, Measured("current", above=0, most=1e9, example="8 A")] | None = Field(
        default=None, validation_alias="line_current_peak"
    )
    coil_a_peak: Annotated[float, Measured("current", above=0, most=1e9, example="6 A")] | None = Field(
        default=None, validation_alias="coil_current_peak"
    )
    capacitor_v_peak: Annotated[float, Measured("voltage", above=0, most=1e9, example="1 kV")] | None = Field(
        default=None, validation_alias="capacitor_voltage_peak"
    )


class Survey(Frozen):
    """The values that a survey takes, range by range; what is left empty stays as the station has it."""

    frequencies_hz: tuple[Annotated[float, Measured("frequency", least=100.0, most=1e11)], ...] = Field(
        default=(), validation_alias="frequency"
    )
    bands: tuple[str, ...] = ()  # names of scenario.bands
    region: Literal[1, 2, 3] = 1
    per_band: Annotated[int, Field(ge=1, le=1000)] = 1  # frequencies in each band: its middle, or both edges and more between them
    line: str | None = None  # the line whose type and length are varied
    types: tuple[str, ...] = Field(default=(), validation_alias="type")
    lengths_m: tuple[Annotated[float, Measured("length", above=0, most=1e6)], ...] = Field(default=(), validation_alias="length")
    impedances_ohm: tuple[Annotated[complex, Measured("impedance", is_complex=True, example="25 - 60j ohm")], ...] = Field(
        default=(), validation_alias="antenna"
    )
    # of the antenna, on the line that feeds it
    swrs: tuple[Annotated[float, Measured(least=1, most=1000, example="3.2")], ...] = Field(default=(), validation_alias="swr")
    phases: Annotated[int, Field(ge=1, le=10_000)] = PHASES  # of its reflection that each SWR is taken with, evenly around the circle
    tuners: tuple[Literal["none", "L", "pi", "T"], ...] = Field(default=(), validation_alias="tuner")
    powers_w: tuple[Annotated[float, Measured("power", above=0, most=1e9)], ...] = Field(default=(), validation_alias="power")
    ratings: Ratings = Ratings()

    @classmethod
    def conflicts(cls, given: Mapping[str, Any]) -> Iterator[Conflict]:
        """One way to say each thing."""
        if given.get("frequencies_hz") and given.get("bands"):
            yield "bands", "the frequency is varied in two ways (frequency and bands)", "Give one of them"
        if given.get("impedances_ohm") and given.get("swrs"):
            yield "swr", "the antenna is varied in two ways (antenna and swr)", "Give one of them"
        for name, key, needs in (("per_band", "per_band", "bands"), ("region", "region", "bands")):
            if name in given and given[name] != cls.model_fields[name].default and not given.get(needs):
                yield key, f"goes with {needs}, and there are none", 'Add bands = ["40 m"], or leave it out'
        if given.get("line") and not (given.get("types") or given.get("lengths_m")):
            yield "line", "is named, and neither its type nor its length is varied", "Add type or length, or leave it out"
        if any(impedance.real < 0 for impedance in given.get("impedances_ohm", ()) if impedance == impedance):
            yield "antenna", "an antenna with a negative resistance would be a source of power", "Allowed: a resistance of 0 ohm or more"

    def frequencies(self) -> tuple[float, ...]:
        """Every frequency, Hz; none if it is not varied."""
        return self.frequencies_hz or tuple(f for band in self.bands for f in places(band, self.region, self.per_band))


def survey_conflicts(given: Mapping[str, Any]) -> Iterator[Conflict]:
    """Of a scenario: a survey varies what is there, and needs a carrier."""
    survey, path, antenna, keying = (given.get(name) for name in ("survey", "path", "antenna", "keying"))
    if not isinstance(survey, Survey):
        return
    if given.get("direction") == "receive" or given.get("events") or (isinstance(keying, Keying) and keying.shape in ("morse", "pulse")):
        yield "survey", "a survey is one of stations that transmit a steady carrier, without events", "Leave [survey] out, or these"
    if path is not None:
        lines, tuners = [part.name for part in path if isinstance(part, Line)], sum(isinstance(part, Tuner) for part in path)
        yield from _misfits(survey, lines, tuners)
    out = getattr(antenna, "measured_at", "antenna") == "transmitter end"
    if out and (survey.types or survey.lengths_m) and not (survey.impedances_ohm or survey.swrs):
        reason = "the antenna was measured through the line, which is taken out again, so the line cannot be varied"
        yield "survey", reason, "Give what stands at the antenna, or vary something else"


def _misfits(survey: Survey, lines: list[str], tuners: int) -> Iterator[Conflict]:
    """What is varied, and is not on a path with these lines and so many tuners."""
    if survey.line is not None and survey.line not in lines:
        yield "survey.line", f'there is no line "{survey.line}" on the path', f"Allowed: {', '.join(lines)}"
    elif (survey.types or survey.lengths_m) and survey.line is None and len(lines) > 1:
        yield "survey.line", "is missing: there is more than one line on the path", f"Say which one is varied: {', '.join(lines)}"
    if survey.tuners and tuners != 1:
        reason = f"there {'is no tuner' if tuners == 0 else f'are {tuners} tuners'} on the path whose shape could be varied"
        yield "survey.tuner", reason, 'Have one part = "tuner" that is set for the carrier, or leave it out'
