"""The largest voltage and current of every part and line while a station starts: against a record of every step."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim.march.simulation import simulate
from bouncesim.march.transmitter import envelope
from bouncesim.perform import record
from bouncesim.scenario import Event, Keying, Meter, Scenario, Transmitter
from tests.march.grids import FREQUENCY, LENGTH, element, line, network, station
from tests.march.test_twin import voltage_of
from tests.march.twin import Twin

POINTS = 40
# Thousands of steps, each another order of additions; the twin solves for every node.
NEAR = 1e-9

PI = network(element("shunt", "capacitor", 2e-10, 0.3), element("series", "inductor", 5e-7, 0.4), element("shunt", "capacitor", 3e-10))
TEE = network(element("series", "capacitor", 4e-10), element("shunt", "inductor", 9e-7, 0.4), element("series", "inductor", 2e-7))


def told(key: Keying) -> Scenario:
    path = [
        Meter(),
        PI.model_copy(update={"name": "pi"}),
        line(length=0.7 * LENGTH, resistance=0.4),
        TEE.model_copy(update={"name": "tee"}),
    ]
    path.append(line(300.0, 0.45 * LENGTH).model_copy(update={"name": "ladder line"}))
    return station(path, 90 - 140j, 25.0, keying=key)


class Brute:
    """Largest of everything in every step of the twin, by name and quantity; and when."""

    def __init__(self, done) -> None:
        scenario, dt = done.outcome.scenario, done.stepper.dt
        self.twin = Twin(scenario, done.stepper.plan.sections, dt)
        self.most: dict[tuple[str, str], tuple[float, float]] = {}
        count = done.stepper.step
        t = (np.arange(count) + 0.5) * dt
        emf = scenario.emf_v_peak * np.sin(2 * np.pi * FREQUENCY * t) * envelope(scenario.keying, t)
        self.along = [np.zeros((2, section.cells + 1)) for section in done.stepper.plan.sections]
        for n in range(count):
            self.twin.step(emf[n])
            self._look(t[n])

    def _take(self, name: str, quantity: str, size: float, time: float) -> None:
        if abs(size) > self.most.get((name, quantity), (0.0, 0.0))[0]:
            self.most[name, quantity] = abs(size), time

    def _look(self, time: float) -> None:
        for lumped in self.twin.networks:
            for part in lumped.parts:
                if part.owner in ("pi", "tee") and part.kind in "LC":
                    quantity = "coil current" if part.kind == "L" else "capacitor voltage"
                    self._take(part.owner, quantity, part.mean_i if part.kind == "L" else part.mean_v, time)
        first = self.twin.meters["meter"]
        self._take("transmitter", "voltage", voltage_of(self.twin.networks[0], first.start), time)
        self._take("transmitter", "current", first.mean_i, time)
        end = next(part for part in self.twin.networks[-1].parts if part.owner == "antenna")
        self._take("antenna", "voltage", voltage_of(self.twin.networks[-1], end.start), time)
        self._take("antenna", "current", end.mean_i, time)
        for most, v, i in zip(self.along, self.twin.mid_v, self.twin.mid_i, strict=True):
            np.maximum(most, np.abs([v, i]), out=most)


@pytest.mark.parametrize("key", [Keying(shape="step"), Keying(shape="linear", rise_s=3 / FREQUENCY)], ids=["step", "three periods of rise"])
def test_every_step_is_watched(key):
    done = simulate(told(key), points=POINTS, tolerance=1e-3)
    brute = Brute(done)
    found = {(one.line, one.quantity): one for one in record.stresses(done, record.traces(done), done.outcome.readings())}
    assert set(brute.most) <= set(found)
    for key_, (size, at_s) in brute.most.items():
        assert found[key_].largest == pytest.approx(size, rel=NEAR), key_
        assert found[key_].at_s == pytest.approx(at_s, rel=1e-9), key_
        assert found[key_].at_m == 0
    for section, most, name in zip(done.stepper.plan.sections, brute.along, ("line", "ladder line"), strict=True):
        for row, quantity in enumerate(("voltage", "current")):
            one = found[name, quantity]
            assert one.largest == pytest.approx(most[row].max(), rel=NEAR)
            assert one.at_m == pytest.approx(int(np.argmax(most[row])) / section.cells * section.length_m)
            assert one.largest >= one.steady * (1 - 1e-2)


def test_steady_values_and_overshoot():
    """Of a coil the steady current is that of its reading; and a step on a tuner of some Q overshoots."""
    done = simulate(told(Keying(shape="step")), points=POINTS)
    readings = done.outcome.readings()
    found = {(one.line, one.quantity): one for one in record.stresses(done, record.traces(done), readings)}
    for part in readings.networks:
        assert found[part.name, "coil current"].steady == pytest.approx(part.coil_a_peak, rel=NEAR)
        assert found[part.name, "capacitor voltage"].steady == pytest.approx(part.capacitor_v_peak, rel=NEAR)
    assert found["transmitter", "voltage"].steady == pytest.approx(readings.transmitter.voltage_v_rms * 2**0.5, rel=NEAR)
    assert found["antenna", "current"].steady == pytest.approx(readings.antenna.current_a_rms * 2**0.5, rel=NEAR)
    assert max(one.overshoot for one in found.values()) > 0.05


def test_what_an_event_does_is_watched():
    """An antenna that opens late: the voltage at the line's end goes beyond all that it was before."""
    scenario = station([line(length=0.7 * LENGTH)], 30 + 40j, 50.0)
    calm, torn = (
        simulate(one, points=POINTS)
        for one in (scenario, scenario.model_copy(update={"events": (Event(at_s=60 / FREQUENCY, happens="antenna opens"),)}))
    )
    voltages = [{(s.line, s.quantity): s for s in record.stresses(one, record.traces(one), one.outcome.readings())} for one in (calm, torn)]
    after = voltages[1]["antenna", "voltage"]
    assert after.largest > 1.5 * voltages[0]["antenna", "voltage"].largest
    assert after.at_s > 60 / FREQUENCY


def test_a_drive_that_moves_is_watched():
    """A fold-back starts at full drive: its largest voltage is that of the start, not of its rest."""
    scenario = station([line(length=0.7 * LENGTH)], 250.0, 50.0)
    held = Transmitter(frequency_hz=FREQUENCY, power_w=40.0, behaviour="fold-back", attack_s=60 / FREQUENCY, release_s=60 / FREQUENCY)
    done = simulate(scenario.model_copy(update={"transmitter": held}), points=POINTS)
    found = {(s.line, s.quantity): s for s in record.stresses(done, record.traces(done), done.outcome.readings())}
    linear = simulate(scenario, points=POINTS)
    full = {(s.line, s.quantity): s for s in record.stresses(linear, record.traces(linear), linear.outcome.readings())}
    one = found["antenna", "voltage"]
    drive = done.stepper.share
    assert drive < 0.7
    assert one.steady == pytest.approx(drive**0.5 * full["antenna", "voltage"].steady, rel=1e-4)
    assert one.steady * 1.1 < one.largest <= full["antenna", "voltage"].largest
