"""From steady phasors to readings: powers as 1/2 Re(V I*), forward and reflected as |V +- Z I|^2/(8 Z)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.meters import meter_reading
from bouncesim.account.readings import (
    AntennaReading,
    LineReading,
    MeterReading,
    PartReading,
    Readings,
    TransmitterReading,
    sound,
    swr_of_powers,
)
from bouncesim.march.line import Section
from bouncesim.march.settling import Steady
from bouncesim.march.station import ANTENNA_HEAT
from bouncesim.march.stepper import Stepper
from bouncesim.scenario import Line, Meter, Network, Scenario
from bouncesim.scenario.model import Stub, Transformer, flat_parts

FIT = 5  # nodes of a local quartic: one node more on each side than a parabola, so that the peak's error stays below the grid's own
ALIKE = 1e-6  # of several maxima this close, the one nearest the transmitter is the largest


class Outcome:
    """Reads one settled station."""

    def __init__(self, scenario: Scenario, stepper: Stepper, steady: Steady) -> None:
        self.scenario, self.stepper, self.steady = scenario, stepper, steady
        self.gauges = {gauge.name: gauge for gauge in stepper.gauges}
        self.at_probe = {gauge.probe: gauge for gauge in reversed(stepper.gauges)}

    def powers(self, name: str) -> tuple[float, float]:
        """Forward and reflected power of a gauge, W."""
        row = self.stepper.rows.gauges[name]
        forward, reflected = np.abs(self.steady.rows[row : row + 2]) ** 2 / 2
        return float(forward), float(reflected)

    def place(self, probe: int) -> tuple[complex, complex, float]:
        """Voltage, current (peak phasors) and net power of a probe."""
        gauge = self.at_probe[probe]
        row = self.stepper.rows.gauges[gauge.name]
        a, b = (complex(x) for x in self.steady.rows[row : row + 2])
        root = math.sqrt(gauge.reference_ohm)
        v, i = root * (a + b), (a - b) / root
        return v, i, 0.5 * (v * i.conjugate()).real

    def heat(self, owner: str) -> float:
        """Mean heat in the resistors of one owner, W."""
        return float(sum(abs(self.steady.rows[row]) ** 2 / 2 for row, name in self.stepper.rows.owners.items() if name == owner))

    def readings(self) -> Readings:
        """Every reading of the station (echoes are the closed form's alone). Where the drive should be controlled, and ran full: those
        where the control comes to rest, since all that it reads is in proportion to the drive. Raises Diverged where the books of the whole
        run do not close, or a reading is no number."""
        self.stepper.close_books()
        full = sound(self._as_run())
        if not self.scenario.is_controlled or self.stepper.control:
            return full
        return full.driven(self.scenario.transmitter.drive_at_rest(*self.powers("transmitter")))

    def _as_run(self) -> Readings:
        parts = list(flat_parts(self.scenario.path))
        return Readings(
            transmitter=self._transmitter(),
            networks=tuple(self._part(part) for part in self.scenario.path if isinstance(part, Network | Transformer | Stub)),
            meters=tuple(self._meter(part) for part in parts if isinstance(part, Meter)),
            lines=tuple(self._line(k, line) for k, line in enumerate(self.scenario.all_lines)),
            antenna=self._antenna(),
            direction=self.scenario.direction,
        )

    def _swr(self, gauge: str) -> float:
        return swr_of_powers(*self.powers(gauge))

    def _transmitter(self) -> TransmitterReading:
        v, i, power = self.place(0)
        return TransmitterReading(
            power_w=power,
            impedance_ohm=v / i if i else complex(math.inf),
            swr=self._swr("transmitter"),
            voltage_v_rms=abs(v) / math.sqrt(2),
            current_a_rms=abs(i) / math.sqrt(2),
            drive=self.stepper.share,
            dump_load_w=self.powers("transmitter")[1] if self.scenario.has_dump_load else 0.0,
        )

    def _antenna(self) -> AntennaReading:
        v, i, power = self.place(self.gauges["antenna"].probe)
        heat = self.heat(ANTENNA_HEAT)
        return AntennaReading(power, abs(v) / math.sqrt(2), abs(i) / math.sqrt(2), self._swr("antenna"), power - heat, heat)

    def _meter(self, part: Meter) -> MeterReading:
        return meter_reading(part.name, *self.powers(part.name), part.directivity_db)

    def _part(self, part: Network | Transformer | Stub) -> PartReading:
        plan = self.stepper.plan
        power_in, power_out = self.place(plan.before[part.name])[2], self.place(plan.after[part.name])[2]
        heat = power_in - power_out if isinstance(part, Stub) else self.heat(part.name)
        coil, capacitor = (self._most(part.name, kind) if isinstance(part, Network) else 0.0 for kind in "LC")
        return PartReading(part.name, power_in, power_out, heat, coil, capacitor)

    def _most(self, part: str, kind: str) -> float:
        """Largest current of a part's coils (A peak) or voltage across its capacitors (V peak)."""
        rows = [row for row, item in self.stepper.rows.watched.items() if item == (part, kind)]
        return max((float(abs(self.steady.rows[row])) for row in rows), default=0.0)

    def _line(self, index: int, line: Line) -> LineReading:
        plan, section = self.stepper.plan, self.stepper.plan.sections[index]
        nodes = self.stepper.nodes_of(index)
        v_max, v_at = largest(self.steady.voltage[nodes], section.length_m)
        i_max, i_at = largest(self.steady.current[nodes], section.length_m)
        power_in, power_out = self.place(plan.before[line.name])[2], self.place(plan.after[line.name])[2]
        frequency = self.scenario.transmitter.frequency_hz
        forward_in, reflected_in = self.powers(line.name)
        forward_out, reflected_out = self.powers(far_end(line.name))
        return LineReading(
            name=line.name,
            reference_ohm=section.reference_ohm,
            power_in_w=power_in,
            power_out_w=power_out,
            heat_w=power_in - power_out,
            forward_in_w=forward_in,
            reflected_in_w=reflected_in,
            forward_out_w=forward_out,
            reflected_out_w=reflected_out,
            swr_in=self._swr(line.name),
            swr_out=self._swr(far_end(line.name)),
            matched_loss_db=line.constants(frequency).loss_db_per_m(frequency) * line.length_m,
            loss_db=_loss_db(section, power_in, power_out),
            largest_v_peak=v_max,
            largest_v_at_m=v_at,
            largest_a_peak=i_max,
            largest_a_at_m=i_at,
        )


def _loss_db(section: Section, power_in: float, power_out: float) -> float:
    """10 log10(power in/power out): nothing where nothing can be lost, without bound where nothing comes out."""
    if not (section.resistance or section.conductance or section.series_branches or section.shunt_branches):
        return 0.0
    return 10 * math.log10(power_in / power_out) if power_in > 0 and power_out > 0 else math.inf


def far_end(line: str) -> str:
    """Name of the gauge at a line's end nearest the antenna."""
    return f"{line}, far end"


def largest(phasors: NDArray[np.complex128], length_m: float) -> tuple[float, float]:
    """Largest |x| along a line and its place (m): a quartic through |x|^2 of the nodes about the largest ones, ends included.

    phasors (K,) from the end nearest the transmitter. Few cells get a polynomial of lower degree.
    """
    square = np.abs(phasors) ** 2
    last = square.size - 1
    size = min(FIT, square.size)
    before, after = np.concatenate([[-np.inf], square[:-1]]), np.concatenate([square[1:], [-np.inf]])
    tops = np.flatnonzero((square >= before) & (square >= after) & (square >= square.max() * (1 - 0.02)))
    found: list[tuple[float, float]] = []
    for top in tops:
        first = int(np.clip(top - size // 2, 0, last + 1 - size))
        offset = np.arange(size) - (top - first)
        fit = np.polynomial.Polynomial(np.linalg.solve(np.vander(offset, increasing=True).astype(float), square[first : first + size]))
        roots = fit.deriv().roots()
        near = [float(x.real) for x in np.atleast_1d(roots) if abs(x.imag) < 1e-9 and abs(x.real) <= 1 and 0 <= top + x.real <= last]
        x = max([*near, 0.0], key=lambda x: float(fit(x)))
        found.append((float(fit(x)), float(top + x)))
    most = max(value for value, _ in found)
    value, at = next((value, at) for value, at in found if value >= most * (1 - ALIKE))
    return math.sqrt(max(value, 0.0)), at / last * length_m
