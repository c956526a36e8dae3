"""A station on the grid, with its state and its books; `advance` runs the compiled loop and keeps the guards.

Rows y of the networks, each the root of a power (W^1/2): one a resistor, sqrt(R) i; two a gauge, forward and reflected, (V +- Z I)/(2 sqrt Z), for a place
and a real reference Z; and, apart, the current of the EMF (A).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim.errors import Diverged
from bouncesim.march.loop import BARE, EMF_J, NET, WORST, march
from bouncesim.march.loop import ENERGY as ENERGY_J
from bouncesim.march.line import midstep
from bouncesim.march.network import Discrete, discretise
from bouncesim.march.station import SOURCE, Plan
from bouncesim.march.transmitter import Drive

Array = NDArray[np.float64]

WORST_RESIDUAL = 1e-9  # above this the run stops
CHUNK = 4096  # steps a call: short sums lose nothing, and a broken run is noticed soon
LANES = 4  # matrices are padded to whole vectors of four doubles


@dataclass(frozen=True)
class Gauge:
    """A directional reading of a place: against a real reference, under a name."""

    name: str
    probe: int
    reference_ohm: float


@dataclass(frozen=True)
class Rows:
    """Where each row of y is: heat owners by row, gauge name -> row of its forward wave (reflected follows), and the EMF's current."""

    owners: dict[int, str]
    gauges: dict[str, int]
    emf: int
    count: int


class Stepper:
    """One station on one grid. All arrays float64; V at whole steps, I at half steps, SI units."""

    def __init__(self, plan: Plan, gauges: list[Gauge], dt: float, drive: Drive) -> None:
        self.plan, self.gauges, self.dt, self.drive = plan, gauges, dt, drive
        self.step = 0
        self.discrete = [discretise(net.circuit, dt, 0 if k == 0 else None) for k, net in enumerate(plan.networks)]
        self._place_lines()
        self._build_rows()
        self._pack_networks()
        self.emf_j: list[float] = []
        self.row_j: list[Array] = []
        self.line_j: list[Array] = []

    def _place_lines(self) -> None:
        cells = [section.cells for section in self.plan.sections]
        v0 = np.concatenate([[0], np.cumsum([n + 1 for n in cells])]).astype(np.int64)
        i0 = np.concatenate([[0], np.cumsum(cells)]).astype(np.int64)
        self.bounds = np.array([[v0[s], i0[s], n] for s, n in enumerate(cells)], dtype=np.int64)
        self.coefficients = np.array([section.coefficients(self.dt) for section in self.plan.sections])
        self.v, self.v_old, self.i = np.zeros(v0[-1]), np.zeros(v0[-1]), np.zeros(i0[-1])
        self.mid, self.largest, self.lock = np.zeros((2, v0[-1])), np.zeros((2, v0[-1])), np.zeros((4, v0[-1]))

    def _build_rows(self) -> None:
        owners: dict[int, str] = {}
        places: dict[str, int] = {}
        self._row_blocks: list[Array] = []
        emf = count = 0
        for k, (net, discrete) in enumerate(zip(self.plan.networks, self.discrete, strict=True)):
            rows: list[Array] = []
            if k == 0:
                rows.append(-discrete.current[0])  # current out of the EMF's upper end
                emf = count
            for b, branch in enumerate(net.circuit.branches):
                if branch.kind == "R":
                    owners[count + len(rows)] = branch.owner
                    rows.append(math.sqrt(branch.value) * discrete.current[b])
            for gauge in self.gauges:
                probe = self.plan.probes[gauge.probe]
                if probe.network == k:
                    places[gauge.name] = count + len(rows)
                    z, v, i = gauge.reference_ohm, discrete.voltage[probe.node], discrete.current[probe.branch]
                    rows += [(v + z * i) / (2 * math.sqrt(z)), (v - z * i) / (2 * math.sqrt(z))]
            self._row_blocks.append(np.array(rows).reshape(len(rows), discrete.step.shape[1]))
            count += len(rows)
        self.rows = Rows(owners, places, emf, count)

    def _pack_networks(self) -> None:
        shapes, matrices, ports = [], [], []
        states = elements = 0
        for k, (net, discrete, rows) in enumerate(zip(self.plan.networks, self.discrete, self._row_blocks, strict=True)):
            at_ports = discrete.voltage_next[[port.node for port in net.ports]]
            block = np.vstack([discrete.step, at_ports, rows])
            sources = 2 if k == 0 else 0
            block = block[:, : discrete.states + discrete.ports + sources]
            padded = -(-block.shape[0] // LANES) * LANES
            packed = np.zeros((block.shape[1], padded))
            packed[:, : block.shape[0]] = block.T
            shapes.append([discrete.states, discrete.ports, len(rows), sources, padded, states, len(ports), elements])
            matrices.append(packed.ravel())
            for port in net.ports:
                v0, i0, n = self.bounds[port.section]
                ports.append([v0, i0, 1] if port.sign > 0 else [v0 + n, i0 + n - 1, -1])
            states += discrete.states
            elements += packed.size
        self.shapes, self.ports = np.array(shapes, dtype=np.int64), np.array(ports, dtype=np.int64)
        self.matrices, self.states = np.concatenate(matrices), np.zeros(states)
        self.y, self.lock_y = np.zeros(self.rows.count), np.zeros((2, self.rows.count))
        width = max(int(s[0] + s[1] + s[3]) for s in shapes)
        self._work = (np.zeros(width), np.zeros(max(int(s[4]) for s in shapes)))
        self.weights = np.zeros((2, self.rows.count))
        for row, owner in self.rows.owners.items():
            self.weights[0, row] = 1
            self.weights[1, row] = owner == SOURCE
        self.memory, self.line_heat = np.zeros((len(self.bounds), 4)), np.zeros(len(self.bounds))
        self.books, self.scalars = np.zeros(self.rows.count), np.zeros(5)

    def _drive(self, count: int) -> tuple[Array, Array, Array, float]:
        if not self.plan.ideal_source:
            mean = self.drive.samples(self.step, count, half=True)
            return np.zeros(count), mean, np.zeros(count), 0.0
        whole = self.drive.samples(self.step, count + 1, half=False)
        return whole[:-1], 0.5 * (whole[1:] + whole[:-1]), np.diff(whole) / self.dt, self.discrete[0].emf_energy

    def arguments(self, count: int, mode: int, taper: tuple[Array, Array] | None = None) -> tuple[Any, ...]:
        """What the compiled loop takes for the next `count` steps."""
        cosine, sine = taper if taper is not None else (np.zeros(count), np.zeros(count))
        grid = (self.v, self.v_old, self.i, self.bounds, self.coefficients)
        nets = (self.shapes, self.matrices, self.states, self.ports, self.y, *self._work, self.weights, self.rows.emf)
        memory = (self.memory, self.line_heat, self.books, self.scalars)
        eyes = (self.mid, self.largest, self.lock, self.lock_y, cosine, sine)
        return count, mode, self.dt, grid, nets, memory, self._drive(count), eyes

    def advance(self, steps: int, mode: int = BARE, taper: tuple[Array, Array] | None = None) -> None:
        """Take `steps` steps, watching what `mode` says; taper: weights (steps,) of cosine and sine for LOCK_IN. Raises Diverged."""
        done = 0
        while done < steps:
            count = min(CHUNK, steps - done)
            part = (taper[0][done : done + count], taper[1][done : done + count]) if taper is not None else None
            self.line_heat[:] = 0.0
            self.books[:] = 0.0
            self.scalars[EMF_J] = 0.0
            march(*self.arguments(count, mode, part))
            self.step += count
            done += count
            self.emf_j.append(float(self.scalars[EMF_J]))
            self.row_j.append(self.books.copy())
            self.line_j.append(self.line_heat.copy())
            self._guard()

    def _guard(self) -> None:
        worst, energy = self.scalars[WORST], self.scalars[ENERGY_J]
        if not (math.isfinite(energy) and math.isfinite(worst)):
            raise Diverged(f"a value overflowed or stopped being a number within step {self.step:,} (t = {self.step * self.dt:.3e} s)")
        if worst > WORST_RESIDUAL:
            raise Diverged(
                f"the energy books no longer close: relative residual {worst:.1e} by step {self.step:,} (t = {self.step * self.dt:.3e} s), "
                f"allowed {WORST_RESIDUAL:.0e}"
            )

    @property
    def time_s(self) -> float:
        """The time up to which the books are closed: one step behind the state."""
        return (self.step - 1) * self.dt

    def row_totals(self) -> Array:
        """Energy booked under each row so far (Y,), J."""
        return np.array([math.fsum(column) for column in zip(*self.row_j, strict=True)]) if self.row_j else np.zeros(self.rows.count)

    def heat_totals(self) -> dict[str, float]:
        """Heat of every owner so far, J; the source's own under its own name."""
        totals = self.row_totals()
        heat = {section.name: math.fsum(column) for section, column in zip(self.plan.sections, zip(*self.line_j, strict=True), strict=True)}
        for row, owner in self.rows.owners.items():
            heat[owner] = heat.get(owner, 0.0) + float(totals[row])
        return heat

    @property
    def emf_total(self) -> float:
        """Energy from the EMF so far, J."""
        return math.fsum(self.emf_j)

    @property
    def stored(self) -> float:
        """Energy stored in lines and networks at `time_s`, J."""
        return float(self.scalars[ENERGY_J])

    @property
    def worst_residual(self) -> float:
        """Largest relative residual of any step so far."""
        return float(self.scalars[WORST])

    def accumulated_residual(self) -> float:
        """Relative residual of the whole run so far."""
        miss = math.fsum([self.emf_total, -self.stored, *(-heat for heat in self.heat_totals().values())])
        scale = max(self.stored, float(self.scalars[NET]))
        return abs(miss) / scale if scale > 0 else 0.0

    def lossless(self) -> bool:
        """True where nothing in the station can turn energy into heat or radiation."""
        return not self.rows.owners and not any(section.resistance or section.conductance for section in self.plan.sections)

    def nodes_of(self, section: int) -> slice:
        """The nodes of one section among those of all."""
        v0, _, n = self.bounds[section]
        return slice(int(v0), int(v0 + n + 1))

    def waves_now(self) -> tuple[Array, Array]:
        """V and I of every node of every line, (K,), half a step after `time_s`."""
        for s, section in enumerate(self.plan.sections):
            _, i0, n = self.bounds[s]
            nodes = self.nodes_of(s)
            midstep(
                self.v[nodes], self.v_old[nodes], self.i[i0 : i0 + n], section.capacitance, section.conductance, self.dt,
                self.mid[0, nodes], self.mid[1, nodes],
            )  # fmt: skip
        return self.mid[0].copy(), self.mid[1].copy()
