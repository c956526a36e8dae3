"""One station on many bands: where its power goes on each, and what its parts bear against their ratings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from bouncesim.account.choices import OnBand
from bouncesim.errors import Problem, ScenarioError
from bouncesim.exact.phasor import Real
from bouncesim.quantity import show
from bouncesim.scenario import Line, Part, Scenario, Tuner
from bouncesim.scenario.bands import band_of
from bouncesim.scenario.catalogue import catalogue
from bouncesim.scenario.survey import Ratings, Survey
from bouncesim.survey.path import OUTCOMES, Solver
from bouncesim.survey.stations import Stations
from bouncesim.survey.tasks import solved
from bouncesim.survey.tuners import ABSENT, MOST_PARTS, NAMES

# Of a tuner that a station does not have: usual values for air-wound coils and air capacitors, common practice, no source.
ADDED_TUNER = Tuner(name="tuner", coil_q=200.0, capacitor_q=1000.0)
HALF = 0.5  # of the power: what loses more is told

Solved = dict[str, Real]


def with_a_tuner(scenario: Scenario) -> tuple[Scenario, bool]:
    """The station with a tuner, and whether one had to be added right behind the transmitter."""
    if any(isinstance(part, Tuner) for part in scenario.path):
        return scenario, False
    return scenario.model_copy(update={"path": (ADDED_TUNER, *scenario.path)}), True


def on_bands(
    scenario: Scenario, frequencies_hz: Sequence[float], region: int, types: Sequence[str] = (), ratings: Ratings | None = None
) -> tuple[OnBand, ...]:
    """The station at each frequency, and with each type of line in the place of its own, if there are `types`: frequency by frequency. The
    line's ratings are those of the first type; another one is held against its published working voltage.

    ScenarioError if its antenna is known at one frequency alone, or if it is not clear which line is meant.
    """
    _refuse_single_frequency(scenario)
    line = scenario.lines[0].name if types else None
    if types and len(scenario.lines) > 1:
        told = ", ".join(one.name for one in scenario.lines)
        raise ScenarioError(Problem("path", f"there is more than one line ({told})", "Compare types of line in a station with one line"))
    survey = Survey(frequencies_hz=tuple(frequencies_hz), types=tuple(types), line=line)
    solver = Solver(Stations(scenario.model_copy(update={"survey": survey})))
    columns = solved(solver, 0, solver.stations.count)
    return tuple(_row(solver.stations, columns, k, region, ratings or Ratings()) for k in range(solver.stations.count))


def _refuse_single_frequency(scenario: Scenario) -> None:
    antenna = scenario.antenna
    if antenna.swr is None and antenna.impedance_ohm is None:
        return
    told = "an SWR" if antenna.swr is not None else "its impedance"
    reason = f"is told by {told}, which holds at {show(scenario.transmitter.frequency_hz, 'Hz', 5)} alone"
    remedy = 'Give what is known on every band: dipole = { length = "20 m", wire = "2 mm" }, elements, or touchstone = "FILE.s1p"'
    raise ScenarioError(Problem("antenna", reason, remedy))


def _row(stations: Stations, columns: Solved, number: int, region: int, ratings: Ratings) -> OnBand:
    value = {name: float(values[number]) for name, values in columns.items()}
    f, kind = (int(axis[0]) for axis in stations.indices(number, 1)[:2])
    frequency, base = stations.frequencies[f], stations.base
    lines = [part.name for part in base.lines]
    own = next((line.type for line in base.lines if line.name == stations.line), None) or stations.line
    heated = [part for part in base.path if f"{part.name}.heat_w" in value and not isinstance(part, Line)]

    def heat(parts: Sequence[Part]) -> float:
        return math.fsum(value[f"{part.name}.heat_w"] for part in parts)

    def most(parts: Sequence[str], field: str) -> float:
        known = [value[f"{part}.{field}"] for part in parts if f"{part}.{field}" in value]
        return max(known, default=math.nan)

    networks = [part.name for part in heated]
    row = OnBand(
        band=band_of(frequency, region),
        frequency_hz=frequency,
        line_type=stations.types[kind] or own,
        outcome=OUTCOMES[int(value["outcome"])],
        swr_antenna=value["antenna.swr"],
        swr_shack=value[f"{lines[0]}.swr_in"],
        seen_swr=value["transmitter.swr"],
        setting=setting_words(base.path, value),
        transmitter_w=value["transmitter.power_w"],
        radiated_w=value["antenna.radiated_w"],
        antenna_heat_w=value["antenna.heat_w"],
        line_heat_w=math.fsum(value[f"{name}.heat_w"] for name in lines),
        tuner_heat_w=heat([part for part in heated if isinstance(part, Tuner)]),
        other_heat_w=heat([part for part in heated if not isinstance(part, Tuner)]),
        line_v_peak=most(lines, "largest_v_peak"),
        line_a_peak=most(lines, "largest_a_peak"),
        coil_a_peak=most(networks, "coil_a_peak"),
        capacitor_v_peak=most(networks, "capacitor_v_peak"),
    )
    # What the user knows of the line is of the first; another type stands against what is published of it.
    known = ratings if kind == 0 else ratings.model_copy(update={"line_v_peak": None, "line_a_peak": None})
    return OnBand(**{**vars(row), "verdict": tuple(_verdict(row, known))})


def setting_words(path: Sequence[Part], value: dict[str, float]) -> str:
    """The parts of the tuners, in order from the transmitter: "shunt C 471 pF, series L 1.02 µH"; "through" where none is needed."""
    found = []
    for part in (part for part in path if isinstance(part, Tuner)):
        codes = [value[f"{part.name}.part_{k}"] for k in range(1, MOST_PARTS + 1)]
        if not np.isfinite(codes).all():
            return ""
        for k, code in enumerate(map(int, codes), 1):
            if code != ABSENT:
                position, kind = NAMES[code].split()
                letter, unit = ("L", "H") if kind == "inductor" else ("C", "F")
                found.append(f"{position} {letter} {show(value[f'{part.name}.part_{k}_value'], unit)}")
    return ", ".join(found) or "through"


def _verdict(row: OnBand, ratings: Ratings) -> Iterator[str]:
    """What is above its rating, that of the line's type too, and whether less than half is radiated."""
    if not row.is_solved:
        yield row.outcome
        return
    asked = [
        ("line", row.line_v_peak, ratings.line_v_peak, "V"),
        ("line", row.line_a_peak, ratings.line_a_peak, "A"),
        ("coil", row.coil_a_peak, ratings.coil_a_peak, "A"),
        ("capacitor", row.capacitor_v_peak, ratings.capacitor_v_peak, "V"),
    ]
    kind = catalogue().get(row.line_type)
    if ratings.line_v_peak is None and kind is not None and kind.working_voltage_v_rms is not None:
        asked[0] = ("line", row.line_v_peak, kind.working_voltage_v_rms * math.sqrt(2), "V")
    for name, found, rating, unit in asked:
        if rating is not None and found > rating:
            yield f"{name} {show(found, unit)} > {show(rating, unit)}"
    if row.radiated_share < HALF:
        lost = 100 * (1 - row.radiated_share)
        yield f"{lost:.0f} % lost" if lost < 99.5 else "over 99 % lost"
