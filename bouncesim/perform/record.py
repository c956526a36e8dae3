"""What a simulation leaves, as a Run: its books, its traces, its largest voltages and currents."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.means import mean_power
from bouncesim.account.readings import Readings
from bouncesim.account.run import Ledger, LineTrace, Stress, Traces
from bouncesim.march import simulation as march
from bouncesim.march.line import Section
from bouncesim.march.observers import Recorder
from bouncesim.march.station import ANTENNA_HEAT, SOURCE
from bouncesim.march.switches import ANTENNA, SWITCH
from bouncesim.scenario import Scenario
from bouncesim.scenario.model import flat_parts

Array = NDArray[np.floating]

AS_LARGE = 1e-3  # a snapshot this near the largest one is when it came about; later ones only repeat it
SETTLED = 0.01  # of the largest final power


def main_sections(done: march.Simulation) -> dict[int, Section]:
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
        elif owner == SWITCH:
            parts[owner] = heat
    return parts


def ledger(done: march.Simulation) -> Ledger:
    """The books at the end of the run. Raises Diverged where they do not close."""
    stepper = done.stepper
    stepper.close_books()
    heat = stepper.heat_totals()
    inside = heat.pop(SOURCE, 0.0)
    into_antenna = heat.pop(ANTENNA, 0.0) + heat.pop(ANTENNA_HEAT, 0.0)
    return Ledger(
        emf_j=stepper.emf_total,
        left_transmitter_j=stepper.emf_total - inside,
        into_antenna_j=into_antenna,
        heat_j=_by_part(done, heat, 0.0),
        stored_j=stepper.stored,
        worst_step=stepper.worst_residual,
        accumulated=stepper.accumulated_residual(),
    )


def traces(done: march.Simulation) -> Traces:
    """What was recorded, snapshot by snapshot."""
    stepper, recorder = done.stepper, done.recorder
    assert recorder is not None
    time = np.array(recorder.times)
    rows = recorder.cumulative(stepper.row_j)
    line_heat = recorder.cumulative(stepper.line_j)
    heat = {section.name: line_heat[:, s].copy() for s, section in enumerate(stepper.plan.sections)}
    for row, owner in stepper.rows.owners.items():
        heat[owner] = heat.get(owner, 0.0) + rows[:, row]
    left = recorder.cumulative(stepper.emf_j) - heat.pop(SOURCE, np.zeros(len(time)))
    antenna_heat = heat.pop(ANTENNA_HEAT, None)
    into_antenna = heat.pop(ANTENNA, np.zeros(len(time))) + (0.0 if antenna_heat is None else antenna_heat)
    period = 1 / done.outcome.scenario.transmitter.frequency_hz
    shown = [gauge.name for gauge in stepper.gauges if gauge.name in ("transmitter", "antenna") or gauge.name in _metered(done)]
    forward: dict[str, Array] = {name: mean_power(time, rows[:, stepper.rows.gauges[name]], period) for name in shown}
    reflected: dict[str, Array] = {name: mean_power(time, rows[:, stepper.rows.gauges[name] + 1], period) for name in shown}
    antenna = forward.pop("antenna") - reflected.pop("antenna")
    return Traces(
        time_s=time,
        lines=tuple(_line_traces(done, recorder)),
        left_transmitter_j=left,
        into_antenna_j=into_antenna,
        stored_j=np.array(recorder.stored),
        heat_j=_by_part(done, heat, np.zeros(len(time))),
        forward_w=forward,
        reflected_w=reflected,
        antenna_power_w=antenna,
        antenna_heat_j=antenna_heat,
        dump_load_j=rows[:, stepper.rows.gauges["transmitter"] + 1].copy() if done.outcome.scenario.has_dump_load else None,
        drive=np.array(recorder.shares) if stepper.control else None,
    )


def _line_traces(done: march.Simulation, recorder: Recorder) -> Iterator[LineTrace]:
    stepper = done.stepper
    shots = [np.array(column) for column in zip(*recorder.shots, strict=True)]
    for s, section in main_sections(done).items():
        v, i, largest = (column[:, recorder.line(s)] for column in shots)
        x = recorder.places[s] / section.cells * section.length_m
        nodes = stepper.bounds[s, 0] + recorder.places[s]
        steady = (done.steady.voltage[nodes], done.steady.current[nodes])
        yield LineTrace(section.name, section.reference_ohm, x, v, i, largest, *steady)


def _metered(done: march.Simulation) -> set[str]:
    return {part.name for part in flat_parts(done.outcome.scenario.path) if part.part in ("meter", "line")}


def settled_at(taken: Traces, readings: Readings, done: march.Simulation, told: Scenario) -> float:
    """The time after which every power of the story, as it is `told`, stays within 1 % of the largest final one while the key is down.

    The antenna counts twice: what goes in at its terminals, and what it uses, which comes later where it stores energy of its own.
    """
    finals = {name: done.outcome.powers(name) for name in taken.forward_w}
    largest = max([abs(readings.antenna.power_w), *(max(pair) for pair in finals.values())])
    used = mean_power(taken.time_s, taken.into_antenna_j, 1 / done.outcome.scenario.transmitter.frequency_hz)
    off = np.maximum(np.abs(taken.antenna_power_w - readings.antenna.power_w), np.abs(used - readings.antenna.power_w))
    for name, (forward, reflected) in finals.items():
        off = np.maximum(off, np.abs(taken.forward_w[name] - forward))
        off = np.maximum(off, np.abs(taken.reflected_w[name] - reflected))
    off = off[taken.time_s <= max(told.carrier_until_s, taken.time_s[0])]
    late = np.flatnonzero(off > SETTLED * largest)
    return float(taken.time_s[min(late[-1] + 1, len(off) - 1)]) if late.size else float(taken.time_s[0])


def stresses(done: march.Simulation, taken: Traces, readings: Readings) -> tuple[Stress, ...]:
    """The largest voltage and current along every line of the path, at both ends, and in the parts between."""
    return (*_line_stresses(done, taken, readings), *place_stresses(done))


def place_stresses(done: march.Simulation) -> Iterator[Stress]:
    """Of the ends and parts, each against its own steady state; of the coils, and of the capacitors, of a part the one with the most."""
    outcome, most = done.outcome, dict[tuple[str, str], Stress]()
    parts = {part.name for part in outcome.scenario.path if part.part in ("network", "transformer", "stub")}
    names = {"transmitter": outcome.scenario.source_name, "antenna": outcome.scenario.load_name}
    # The steady state may have been found apart, by a stepper of its own: same places, other rows.
    for place, (largest, at_s), still in zip(done.stepper.places, done.stepper.peaks, outcome.stepper.places, strict=True):
        if place.name not in parts and place.name not in names:
            continue
        (a, b), (of_a, of_b) = still.rows, still.weights
        steady = float(abs(of_a * outcome.steady.rows[a] + of_b * outcome.steady.rows[b]))
        found = Stress(names.get(place.name, place.name), place.quantity, float(largest), 0.0, float(at_s), steady)
        key = (found.line, found.quantity)
        if key not in most or found.largest > most[key].largest:
            most[key] = found
    return iter(most.values())


def _line_stresses(done: march.Simulation, taken: Traces, readings: Readings) -> Iterator[Stress]:
    for trace, (s, section) in zip(taken.lines, main_sections(done).items(), strict=True):
        nodes, line = done.stepper.nodes_of(s), readings.lines[s]
        for quantity, row, steady in (("voltage", 0, line.largest_v_peak), ("current", 1, line.largest_a_peak)):
            most = done.stepper.largest[row, nodes]
            at = int(np.argmax(most))
            shots = np.abs(trace.voltage_v if row == 0 else trace.current_a).max(axis=1)
            when = float(taken.time_s[int(np.argmax(shots >= shots.max() * (1 - AS_LARGE)))])
            yield Stress(line.name, quantity, float(most[at]), at / section.cells * section.length_m, when, steady)


def until(taken: Traces, end_s: float) -> Traces:
    """Only the story's span of what was recorded."""
    keep = slice(0, int(np.searchsorted(taken.time_s, end_s)) + 1)
    cut: dict[str, Any] = {name: values[keep] for name, values in vars(taken).items() if isinstance(values, np.ndarray)}
    cut |= {name: {key: values[keep] for key, values in held.items()} for name, held in vars(taken).items() if isinstance(held, dict)}
    lines = tuple(
        replace(line, voltage_v=line.voltage_v[keep], current_a=line.current_a[keep], largest_v=line.largest_v[keep])
        for line in taken.lines
    )
    return Traces(lines=lines, **cut)
