"""A resolved scenario on a grid, and its run to the steady state."""

from __future__ import annotations

from dataclasses import dataclass

from bouncesim.march import grid
from bouncesim.march.observers import Recorder
from bouncesim.march.outcome import Outcome, far_end
from bouncesim.march.packing import Gauge
from bouncesim.march.settling import Progress, Steady, settle
from bouncesim.march.station import Plan, plan_station
from bouncesim.march.stepper import Stepper
from bouncesim.march.transmitter import Carrier
from bouncesim.scenario import Keying, Line, Meter, Scenario
from bouncesim.scenario.model import flat_parts

RUN_TOLERANCE = 1e-6
CHECK_TOLERANCE = 1e-11
CHECK_POINTS = 160
STORY_ROUND_TRIPS = 60  # a guess of the span to set memory aside for; a longer one is strobed or cut


@dataclass(frozen=True)
class Simulation:
    """What is left of a run: the stepper with its books, the steady phasors, what reads them, and the snapshots if any were taken."""

    stepper: Stepper
    steady: Steady
    outcome: Outcome
    recorder: Recorder | None
    points: int


def gauges_of(scenario: Scenario, plan: Plan) -> list[Gauge]:
    """Directional readings wherever one is asked for, and at least one a probe, so that every place has its voltage and current."""
    gauges = [Gauge("transmitter", 0, scenario.transmitter.rated_load_ohm)]
    references = {section.name: section.reference_ohm for section in plan.sections}
    for part in flat_parts(scenario.path):
        if isinstance(part, Meter):
            gauges.append(Gauge(part.name, plan.before[part.name], part.reference_ohm))
        elif isinstance(part, Line):
            gauges.append(Gauge(part.name, plan.before[part.name], references[part.name]))
            gauges.append(Gauge(far_end(part.name), plan.after[part.name], references[part.name]))
    gauges.append(Gauge("antenna", plan.after[scenario.path[-1].name], references[scenario.lines[-1].name]))
    known = {gauge.probe for gauge in gauges}
    rated = scenario.transmitter.rated_load_ohm
    return gauges + [Gauge(f"place {probe}", probe, rated) for probe in range(len(plan.probes)) if probe not in known]


def build(scenario: Scenario, points: int, refine: int = 1) -> Stepper:
    """The station at rest, on a grid of points * refine steps a carrier period whose Courant numbers are those of `points`."""
    transmitter = scenario.transmitter
    sections = [grid.section(line, transmitter.frequency_hz, points, refine) for line in scenario.all_lines]
    plan = plan_station(scenario, sections)
    dt = 1 / (transmitter.frequency_hz * points * refine)
    return Stepper(plan, gauges_of(scenario, plan), dt, Carrier(transmitter.emf_v_peak, scenario.keying, points * refine, dt))


def earliest(scenario: Scenario, stepper: Stepper) -> float:
    """When settling may be judged: key fully up, and the front at every end."""
    return scenario.keying.rise_s + sum(section.delay_s for section in stepper.plan.sections)


def simulate(
    scenario: Scenario, *, tolerance: float = RUN_TOLERANCE, points: int = grid.DEFAULT_POINTS, progress: Progress | None = None
) -> Simulation:
    """Run from key-down to the steady state, with snapshots. Raises ScenarioError, NotSettled, Diverged."""
    frequency = scenario.transmitter.frequency_hz
    points = grid.best_points(scenario.all_lines, frequency, points)
    stepper = build(scenario, points)
    begin = earliest(scenario, stepper)
    recorder = Recorder(stepper, points, frequency * begin * STORY_ROUND_TRIPS)
    steady = settle(stepper, points, begin, tolerance, recorder.advance, progress)
    return Simulation(stepper, steady, Outcome(scenario, stepper, steady), recorder, points)


def simulate_steady(scenario: Scenario, refine: int, progress: Progress | None = None) -> Simulation:
    """The steady state alone, for a study of refinement: fixed Courant numbers, a soft key, to the limit of arithmetic."""
    frequency = scenario.transmitter.frequency_hz
    points = grid.least_points(scenario.all_lines, frequency, CHECK_POINTS)
    round_trip = 2 * sum(grid.delay_of(line, frequency) for line in scenario.all_lines)
    soft = Keying(shape="raised-cosine", rise_s=max(16 / frequency, 2 * round_trip))
    scenario = scenario.model_copy(update={"keying": soft})
    stepper = build(scenario, points, refine)
    steady = settle(stepper, points * refine, earliest(scenario, stepper), CHECK_TOLERANCE, stepper.advance, progress)
    return Simulation(stepper, steady, Outcome(scenario, stepper, steady), None, points * refine)
