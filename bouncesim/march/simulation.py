"""A resolved scenario on a grid, and its run to the steady state."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bouncesim import budget
from bouncesim.budget import Work, together
from bouncesim.errors import Problem, ScenarioError
from bouncesim.march import grid
from bouncesim.march.budget import march_work
from bouncesim.march.control import Control
from bouncesim.march.expected import expected_s, modes_of, ring_down_s
from bouncesim.march.loop import BARE
from bouncesim.march.observers import SNAPSHOTS_A_PERIOD, Recorder, expected_snapshots, has_slow_key, snapshot_bytes
from bouncesim.march.outcome import Outcome, far_end
from bouncesim.march.packing import Gauge
from bouncesim.march.settling import Progress, Steady, settle
from bouncesim.march.station import Plan, plan_station
from bouncesim.march.stepper import Stepper
from bouncesim.march.transmitter import Carrier, Drive, Waveform, pulse
from bouncesim.quantity import show
from bouncesim.scenario import Keying, Line, Meter, Scenario
from bouncesim.scenario.events import with_connectors
from bouncesim.scenario.model import flat_parts
from bouncesim.scenario.morse import WORD_SPACE, length_in_dots

RUN_TOLERANCE = 1e-6
CHECK_TOLERANCE = 1e-11
CHECK_POINTS = 160
STEPS_A_PULSE, SNAPSHOTS_A_PULSE = 60, 24  # at least
MOST_STORY_STEPS = 100_000_000  # of a text; what is sent later looks no different
LEAST_ROUND_TRIPS, MOST_ROUND_TRIPS = 4, 60  # after the key is up
AT_REST = 1e-6  # of the most energy that was ever stored


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
    gauges = [Gauge("transmitter", 0, scenario.source_reference_ohm)]
    references = {section.name: section.reference_ohm for section in plan.sections}
    for part in flat_parts(scenario.path):
        if isinstance(part, Meter):
            gauges.append(Gauge(part.name, plan.before[part.name], part.reference_ohm))
        elif isinstance(part, Line):
            gauges.append(Gauge(part.name, plan.before[part.name], references[part.name]))
            gauges.append(Gauge(far_end(part.name), plan.after[part.name], references[part.name]))
    gauges.append(Gauge("antenna", plan.after[scenario.path[-1].name], references[scenario.lines[-1].name]))
    known = {gauge.probe for gauge in gauges}
    rated = scenario.source_reference_ohm
    return gauges + [Gauge(f"place {probe}", probe, rated) for probe in range(len(plan.probes)) if probe not in known]


def build(scenario: Scenario, points: int, refine: int = 1, *, controlled: bool = False) -> Stepper:
    """The station at rest, on a grid of points * refine steps a carrier period whose Courant numbers are those of `points`. Its drive is
    full unless it is to be `controlled`. TooMuchWork where that would take too much time or memory."""
    transmitter, keying = scenario.transmitter, scenario.keying
    dt = 1 / (transmitter.frequency_hz * points * refine)
    plan = _planned(scenario, points, refine)
    # As a rule, and without its control: a survey builds many, and who builds one has asked `run_work` and the like before.
    budget.check(march_work(plan, expected_s(scenario, plan.delay_s, controlled=False) / dt, "The simulation"))
    ups = [event.at_s for event in scenario.events if event.happens == "key up"]
    carrier = Carrier(scenario.emf_v_peak, keying, points * refine, dt, *ups)
    drive: Drive = Waveform(pulse(keying, scenario.emf_v_peak), dt) if keying.shape == "pulse" else carrier
    control = Control(transmitter, carrier, points * refine) if controlled and scenario.is_controlled else None
    return Stepper(plan, gauges_of(scenario, plan), dt, drive, control)


def _planned(scenario: Scenario, points: int, refine: int = 1) -> Plan:
    frequency = scenario.transmitter.frequency_hz
    return plan_station(scenario, [grid.section(line, frequency, points, refine) for line in scenario.all_lines])


def rest_work(scenario: Scenario, points: int) -> Work:
    """What following a resolved scenario until it is at rest takes, estimated, on a grid of so many points a period."""
    plan = _planned(scenario, points)
    return march_work(plan, _steps(scenario, plan, points, RUN_TOLERANCE), "The simulation")


def _steps(scenario: Scenario, plan: Plan, points: int, tolerance: float, controlled: bool = True) -> float:
    """Steps until a resolved scenario is at rest, about."""
    return expected_s(scenario, plan.delay_s, tolerance, controlled=controlled) * scenario.transmitter.frequency_hz * points


def run_work(scenario: Scenario, points: int | None = None) -> Work:
    """What `simulate` of a resolved scenario takes, estimated. Raises ScenarioError."""
    points, before = run_points(scenario, points), _before(scenario)
    plan = _planned(before, points)
    dt = 1 / (scenario.transmitter.frequency_hz * points)
    if not is_over(scenario):
        return _watched_work(scenario, plan, points, expected_s(scenario, plan.delay_s, RUN_TOLERANCE), SNAPSHOTS_A_PERIOD)
    round_trip = 2 * plan.delay_s
    held = _held(scenario, round_trip)
    still = march_work(plan, _steps(held, plan, points, RUN_TOLERANCE), "The simulation of the steady state")
    found = modes_of(scenario)
    trips = ring_down_s(found, math.sqrt(AT_REST)) / round_trip if found else 0.0
    told = over_at(scenario, dt) + min(max(trips, 2 * LEAST_ROUND_TRIPS), MOST_ROUND_TRIPS) * round_trip
    return together(still, _watched_work(scenario, plan, points, told, _snapshots(scenario, points)))


def _watched_work(scenario: Scenario, plan: Plan, points: int, until_s: float, a_period: int) -> Work:
    """Of a run with snapshots."""
    frequency, each = scenario.transmitter.frequency_hz, snapshot_bytes(plan.sections)
    is_slow = scenario.keying.shape != "pulse" and has_slow_key(scenario.keying, plan.sections)
    shots = expected_snapshots(until_s * frequency, each, a_period, 0.0 if is_slow else 1.0)
    return march_work(plan, until_s * frequency * points, "The simulation", shots, shots * each)


def run_points(scenario: Scenario, points: int | None = None) -> int:
    """Steps a carrier period of `simulate`, at least `points`. Raises ScenarioError for a line, or a pulse, that is too short."""
    frequency, keying, points = scenario.transmitter.frequency_hz, scenario.keying, points or grid.DEFAULT_POINTS
    if keying.shape == "pulse":
        points = max(points, math.ceil(STEPS_A_PULSE / (frequency * (keying.width_s or math.inf))))
    if points > grid.MOST_POINTS:
        least = show(STEPS_A_PULSE / (frequency * grid.MOST_POINTS), "s")
        reason = f"it is so short that the run would need {points:,} steps a carrier period"
        raise ScenarioError(Problem("keying.width", reason, f"Make it {least} or longer, or take a higher frequency"))
    return grid.best_points(scenario.all_lines, frequency, points)


def _before(scenario: Scenario) -> Scenario:
    """The station while its connectors are still good."""
    return scenario.model_copy(update={"path": with_connectors(scenario.path, scenario.events, before=True)})


def _held(scenario: Scenario, round_trip: float) -> Scenario:
    """The station under a key that stays down, whose steady state is that of a story without one."""
    return scenario.at_end().model_copy(update={"keying": soft_key(scenario, round_trip)})


def earliest(scenario: Scenario, stepper: Stepper) -> float:
    """When settling may be judged: key fully up, the last event over, and the front at every end."""
    begun = max(scenario.keying.rise_s, scenario.last_event_s + 1 / scenario.transmitter.frequency_hz)
    return begun + stepper.plan.delay_s


def simulate(
    scenario: Scenario, *, tolerance: float = RUN_TOLERANCE, points: int | None = None, progress: Progress | None = None
) -> Simulation:
    """Run a resolved scenario from key-down to the steady state, with snapshots. Raises ScenarioError, TooMuchWork, NotSettled, Diverged.

    A pulse, a text and a key that goes up leave no carrier behind: their steady state is that of the key held down, found apart.
    """
    budget.check(run_work(scenario, points))
    frequency, points, before = scenario.transmitter.frequency_hz, run_points(scenario, points), _before(scenario)
    stepper = build(before, points, controlled=True)
    begin = earliest(scenario, stepper)
    round_trip = 2 * stepper.plan.delay_s
    if is_over(scenario):
        held = _held(scenario, round_trip)
        still = build(held, points, controlled=True)
        steady = settle(still, points, earliest(held, still), tolerance, still.advance, progress)
        recorder = Recorder(stepper, frequency, _snapshots(scenario, points))
        run_until_over(scenario, stepper, recorder, round_trip)
        return Simulation(stepper, steady, Outcome(held, still, steady), recorder, points)
    recorder = Recorder(stepper, frequency, SNAPSHOTS_A_PERIOD)
    steady = settle(stepper, points, begin, tolerance, recorder.advance, progress)
    return Simulation(stepper, steady, Outcome(scenario.at_end(), stepper, steady), recorder, points)


def is_over(scenario: Scenario) -> bool:
    """True where the story ends without a carrier."""
    return math.isfinite(scenario.carrier_until_s)


def over_at(scenario: Scenario, dt: float) -> float:
    """When nothing more comes from the source, s: of a text, as much of it is told as MOST_STORY_STEPS allow."""
    keying = scenario.keying
    if keying.shape == "pulse":
        return keying.width_s or 0.0
    if keying.shape == "morse":
        whole = (length_in_dots(keying.text) - WORD_SPACE) * keying.dot_length_s + keying.rise_s
        return min(whole, max(MOST_STORY_STEPS * dt, 2 * keying.rise_s))
    return scenario.last_event_s + keying.rise_s


def run_until_over(scenario: Scenario, stepper: Stepper, recorder: Recorder, round_trip: float) -> None:
    """Run the story of a key that goes up, of a pulse, or of a text, until the station is at rest again."""
    dt = stepper.dt
    recorder.advance(math.ceil(over_at(scenario, dt) / dt), BARE, None)
    trip, most = math.ceil(round_trip / dt), max([*recorder.stored, stepper.stored])
    for trips in range(MOST_ROUND_TRIPS):
        if trips >= LEAST_ROUND_TRIPS and stepper.stored < AT_REST * most:
            break
        recorder.advance(trip, BARE, None)


def soft_key(scenario: Scenario, round_trip: float) -> Keying:
    """A key so slow that the station follows it without ringing."""
    rise = max(16 / scenario.transmitter.frequency_hz, 2 * round_trip)
    return Keying(shape="raised-cosine", rise_s=1.0).model_copy(update={"rise_s": rise})  # of a very long line beyond what may be typed


def simulate_steady(scenario: Scenario, refine: int, progress: Progress | None = None) -> Simulation:
    """The steady state alone, at full drive, as the last event leaves it, for a study of refinement: fixed Courant numbers, a soft key, to
    the limit of arithmetic."""
    scenario, points = _soft(scenario)
    stepper = build(scenario, points, refine)
    steady = settle(stepper, points * refine, earliest(scenario, stepper), CHECK_TOLERANCE, stepper.advance, progress)
    return Simulation(stepper, steady, Outcome(scenario, stepper, steady), None, points * refine)


def steady_work(scenario: Scenario, refine: int) -> Work:
    """What `simulate_steady` takes, estimated. Raises ScenarioError."""
    scenario, points = _soft(scenario)
    plan = _planned(scenario, points, refine)
    steps = _steps(scenario, plan, points * refine, CHECK_TOLERANCE, controlled=False)
    return march_work(plan, steps, f"The check, on its grid of {points * refine} steps a period,")


def _soft(scenario: Scenario) -> tuple[Scenario, int]:
    """The station under a soft key, and steps a period of the coarsest grid of a study of refinement."""
    frequency = scenario.transmitter.frequency_hz
    round_trip = 2 * sum(grid.delay_of(line, frequency) for line in scenario.all_lines)
    return _held(scenario, round_trip), grid.least_points(scenario.all_lines, frequency, CHECK_POINTS)


def _snapshots(scenario: Scenario, points: int) -> int:
    """Snapshots a carrier period: enough to see a pulse pass."""
    if scenario.keying.shape != "pulse":
        return SNAPSHOTS_A_PERIOD
    needed = math.ceil(SNAPSHOTS_A_PULSE / (scenario.transmitter.frequency_hz * (scenario.keying.width_s or math.inf)))
    return min(points, max(SNAPSHOTS_A_PERIOD, needed))
