"""The one place where the parts meet: a scenario is read, its tuner set, simulated, and turned into a Run.

The closed form sets the tuner, once; from there on both engines get the same component values, and each computes alone.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim import exact
from bouncesim.account.means import mean_power
from bouncesim.account.readings import Readings
from bouncesim.account.run import Ledger, LineTrace, Run, Settling, Stress, Traces
from bouncesim.exact.matching import set_tuner
from bouncesim.march import simulation as march
from bouncesim.march.line import Section
from bouncesim.march.station import ANTENNA, SOURCE
from bouncesim.scenario import Scenario, read_scenario
from bouncesim.scenario.model import flat_parts

Array = NDArray[np.floating]
Progress = Callable[[int, int], None]

AS_LARGE = 1e-3  # a snapshot this near the largest one is when it came about; later ones only repeat it
SETTLED = 0.01  # of the largest final power
SOURCE_RANGE_OHM = (5.0, 50.0, 500.0)
ROUND_TRIPS_NAMED = 60
TAIL_PERIODS = 3  # of steady state kept behind the story, for a film to go on from


def load(path: str | os.PathLike[str]) -> Scenario:
    """Read a scenario file. Raises ScenarioError with every mistake in it."""
    return read_scenario(Path(path))


def resolve(scenario: Scenario) -> Scenario:
    """The scenario with its tuner, if any, set for the carrier. Raises ScenarioError if no setting exists."""
    return set_tuner(scenario)


def solve_exact(scenario: Scenario) -> Readings:
    """Every steady-state reading in closed form. Raises ScenarioError."""
    return exact.solve(resolve(scenario))


def source_range(scenario: Scenario) -> dict[float, Readings]:
    """Readings by source impedance (ohm): 5, 50, 500 and the scenario's own, the rated power kept; in rising order."""
    resolved = resolve(scenario)
    return exact.over_sources(resolved, sorted({*SOURCE_RANGE_OHM, resolved.transmitter.source_impedance_ohm}))


def simulate(scenario: Scenario, *, progress: Progress | None = None) -> Run:
    """Run a station from key-down to its steady state. Raises ScenarioError, NotSettled, Diverged.

    progress(done, total) is called now and then.
    """
    resolved = resolve(scenario)
    done = march.simulate(resolved, progress=progress)
    # The steady state knows no echo from another; the closed form tells how it was put together.
    readings = replace(done.outcome.readings(), echoes=exact.solve(resolved).echoes)
    traces = _traces(done)
    period = 1 / resolved.transmitter.frequency_hz
    delay = sum(section.delay_s for section in _main_sections(done).values())
    settled = _settled_at(traces, readings, done)
    moments = {"key down": 0.0, "antenna reached": delay, "first echo": 2 * delay, "settled": settled}
    moments |= {f"round trip {n}": 2 * n * delay for n in range(1, ROUND_TRIPS_NAMED + 1)}
    stresses = _stresses(done, traces, readings)
    span = max([settled, *(moments.get(beat.until, 0.0) if isinstance(beat.until, str) else beat.until for beat in resolved.beats)])
    return Run(
        scenario=resolved,
        readings=readings,
        traces=_until(traces, span + TAIL_PERIODS * period),
        moments=moments,
        settling=Settling(settled, done.stepper.time_s, done.steady.periods, settled / (2 * delay), done.steady.estimate),
        ledger=_ledger(done),
        stresses=stresses,
    )


def _main_sections(done: march.Simulation) -> dict[int, Section]:
    """The sections of the main path, by their index among all."""
    names = [line.name for line in done.outcome.scenario.lines]
    return {s: section for s, section in enumerate(done.stepper.plan.sections) if section.name in names}


def _by_part(done: march.Simulation, owned: dict[str, Any], nothing: Any) -> dict[str, Any]:
    """Heat by owner as heat by part of the main path: what is inside a stub belongs to it. Source and antenna are left out."""
    parts = {part.name: nothing for part in done.outcome.scenario.path if part.part != "meter"}
    belongs = done.stepper.plan.belongs
    for owner, heat in owned.items():
        if owner in belongs:
            parts[belongs[owner]] = parts[belongs[owner]] + heat
    return parts


def _ledger(done: march.Simulation) -> Ledger:
    stepper = done.stepper
    heat = stepper.heat_totals()
    inside = heat.pop(SOURCE, 0.0)
    into_antenna = heat.pop(ANTENNA, 0.0)
    return Ledger(
        emf_j=stepper.emf_total,
        left_transmitter_j=stepper.emf_total - inside,
        into_antenna_j=into_antenna,
        heat_j=_by_part(done, heat, 0.0),
        stored_j=stepper.stored,
        worst_step=stepper.worst_residual,
        accumulated=stepper.accumulated_residual(),
    )


def _traces(done: march.Simulation) -> Traces:
    stepper, recorder = done.stepper, done.recorder
    assert recorder is not None
    time = np.array(recorder.times)
    rows = recorder.cumulative(stepper.row_j)
    line_heat = recorder.cumulative(stepper.line_j)
    heat = {section.name: line_heat[:, s].copy() for s, section in enumerate(stepper.plan.sections)}
    for row, owner in stepper.rows.owners.items():
        heat[owner] = heat.get(owner, 0.0) + rows[:, row]
    left = recorder.cumulative(stepper.emf_j) - heat.pop(SOURCE, np.zeros(len(time)))
    into_antenna = heat.pop(ANTENNA, np.zeros(len(time)))
    period = 1 / done.outcome.scenario.transmitter.frequency_hz
    shown = [gauge.name for gauge in stepper.gauges if gauge.name in ("transmitter", "antenna") or gauge.name in _metered(done)]
    forward: dict[str, Array] = {name: mean_power(time, rows[:, stepper.rows.gauges[name]], period) for name in shown}
    reflected: dict[str, Array] = {name: mean_power(time, rows[:, stepper.rows.gauges[name] + 1], period) for name in shown}
    antenna = forward.pop("antenna") - reflected.pop("antenna")
    lines = []
    shots = [np.array(column) for column in zip(*recorder.shots, strict=True)]
    for s, section in _main_sections(done).items():
        v, i, largest = (column[:, recorder.line(s)] for column in shots)
        x = recorder.places[s] / section.cells * section.length_m
        nodes = stepper.bounds[s, 0] + recorder.places[s]
        steady = (done.steady.voltage[nodes], done.steady.current[nodes])
        lines.append(LineTrace(section.name, section.reference_ohm, x, v, i, largest, *steady))
    return Traces(
        time_s=time,
        lines=tuple(lines),
        left_transmitter_j=left,
        into_antenna_j=into_antenna,
        stored_j=np.array(recorder.stored),
        heat_j=_by_part(done, heat, np.zeros(len(time))),
        forward_w=forward,
        reflected_w=reflected,
        antenna_power_w=antenna,
    )


def _metered(done: march.Simulation) -> set[str]:
    return {part.name for part in flat_parts(done.outcome.scenario.path) if part.part in ("meter", "line")}


def _settled_at(traces: Traces, readings: Readings, done: march.Simulation) -> float:
    """The time after which every power of the story stays within 1 % of the largest final one."""
    finals = {name: done.outcome.powers(name) for name in traces.forward_w}
    largest = max([abs(readings.antenna.power_w), *(max(pair) for pair in finals.values())])
    off = np.abs(traces.antenna_power_w - readings.antenna.power_w)
    for name, (forward, reflected) in finals.items():
        off = np.maximum(off, np.abs(traces.forward_w[name] - forward))
        off = np.maximum(off, np.abs(traces.reflected_w[name] - reflected))
    late = np.flatnonzero(off > SETTLED * largest)
    return float(traces.time_s[min(late[-1] + 1, len(off) - 1)]) if late.size else float(traces.time_s[0])


def _stresses(done: march.Simulation, traces: Traces, readings: Readings) -> tuple[Stress, ...]:
    found = []
    for trace, (s, section) in zip(traces.lines, _main_sections(done).items(), strict=True):
        nodes, line = done.stepper.nodes_of(s), readings.lines[s]
        for quantity, row, steady in (("voltage", 0, line.largest_v_peak), ("current", 1, line.largest_a_peak)):
            most = done.stepper.largest[row, nodes]
            at = int(np.argmax(most))
            shots = np.abs(trace.voltage_v if row == 0 else trace.current_a).max(axis=1)
            when = float(traces.time_s[int(np.argmax(shots >= shots.max() * (1 - AS_LARGE)))])
            found.append(Stress(line.name, quantity, float(most[at]), at / section.cells * section.length_m, when, steady))
    return tuple(found)


def _until(traces: Traces, end_s: float) -> Traces:
    """Only the story's span of the traces."""
    keep = slice(0, int(np.searchsorted(traces.time_s, end_s)) + 1)
    cut: dict[str, Any] = {name: values[keep] for name, values in vars(traces).items() if isinstance(values, np.ndarray)}
    cut |= {name: {key: values[keep] for key, values in held.items()} for name, held in vars(traces).items() if isinstance(held, dict)}
    lines = tuple(
        replace(line, voltage_v=line.voltage_v[keep], current_a=line.current_a[keep], largest_v=line.largest_v[keep])
        for line in traces.lines
    )
    return Traces(lines=lines, **cut)
