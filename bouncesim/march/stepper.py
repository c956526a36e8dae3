"""A station on the grid, with its state and its books; `advance` runs the compiled loop and keeps the guards."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bouncesim.errors import Diverged
from bouncesim.march.control import Control, idle
from bouncesim.march.line import at_rest
from bouncesim.march.loop import BARE, EMF_J, HIGHEST, LOWEST, SCALE, SHARE, UNREAD, WORST, march
from bouncesim.march.loop import ENERGY as ENERGY_J
from bouncesim.march.network import discretise
from bouncesim.march.packing import Gauge, pack
from bouncesim.march.places import watched_places
from bouncesim.march.station import SOURCE, Plan
from bouncesim.march.switches import schedule
from bouncesim.march.transmitter import Drive
from bouncesim.march.wideband import branch_row

Array = NDArray[np.float64]
Taper = tuple[Array, ...]

WORST_RESIDUAL = 1e-9  # above this the run stops
CHUNK = 8192  # steps a call: short sums lose nothing, and a broken run is noticed soon


class Stepper:
    """One station on one grid. All arrays float64; V at whole steps, I at half steps, SI units."""

    def __init__(self, plan: Plan, gauges: list[Gauge], dt: float, drive: Drive, control: Control | None = None) -> None:
        self.plan, self.gauges, self.dt, self.drive, self.control = plan, gauges, dt, drive, control
        self.step = 0
        self.due = deque(schedule(plan, dt))
        self.discrete = [discretise(circuit, dt, 0 if k == 0 else None) for k, circuit in enumerate(plan.circuits)]
        self._place_lines()
        self.packed = pack(plan, self.discrete, gauges, self.bounds)
        self.x, self.y, self.rows = self.packed.x, self.packed.y, self.packed.rows
        self._open_books()
        self.places = watched_places(plan, gauges, self.rows)
        self.place_rows = np.array([place.rows for place in self.places], dtype=np.uint32).reshape(-1, 2)
        self.place_weights = np.array([place.weights for place in self.places]).reshape(-1, 2)
        self.peaks = np.zeros((len(self.places), 2))
        self.held = control.arrays(dt, self.rows) if control else idle()

    def _place_lines(self) -> None:
        cells = [section.cells for section in self.plan.sections]
        v0 = np.concatenate([[0], np.cumsum([n + 1 for n in cells])]).astype(np.int64)
        i0 = np.concatenate([[0], np.cumsum(cells)]).astype(np.int64)
        self.bounds = np.array([[v0[s], i0[s], n] for s, n in enumerate(cells)], dtype=np.uint32)
        self.coefficients = np.array([section.coefficients(self.dt) for section in self.plan.sections])
        self.branches = self._place_branches(int(v0[-1]), int(i0[-1]))
        (self.v, self.i), self.v_old = at_rest(int(v0[-1]), int(i0[-1])), np.zeros(v0[-1])
        self.mid, self.largest, self.lock = np.zeros((2, v0[-1])), np.zeros((2, v0[-1])), np.zeros((6, v0[-1]))

    def _place_branches(self, nodes: int, cells: int) -> tuple[Any, ...] | None:
        """Rows and states of the branches of wideband lines, in the shapes of loop.wide_line; None where there are none."""
        sections = self.plan.sections
        if not any(section.series_branches or section.shunt_branches for section in sections):
            return None
        counts = np.array([[len(s.series_branches), len(s.shunt_branches)] for s in sections], dtype=np.int64)
        series = np.zeros((len(sections), counts[:, 0].max(), 5))
        shunt = np.zeros((len(sections), counts[:, 1].max(), 5))
        for s, section in enumerate(sections):
            for j, (size, store) in enumerate(section.series_branches):
                series[s, j] = branch_row(size, store, self.dt)
            for j, (size, store) in enumerate(section.shunt_branches):
                shunt[s, j] = branch_row(size, store, self.dt)
        return counts, series, shunt, np.zeros((cells, series.shape[1])), np.zeros((nodes, shunt.shape[1]))

    def _open_books(self) -> None:
        owners = self.rows.owners.items()
        self.heat_rows = np.array([[row, owner == SOURCE] for row, owner in owners], dtype=np.uint32).reshape(-1, 2)
        self.memory, self.line_heat = np.zeros((len(self.bounds), 4)), np.zeros(len(self.bounds))
        self.scalars, self.lock_y = np.zeros(6), np.zeros((3, self.rows.count))
        self.nothing = np.zeros(CHUNK)  # what is not there: kept, as new memory for every call would be what a call takes longest for
        self.emf_j: list[float] = []
        self.row_j: list[Array] = []
        self.row_ends: list[int] = []
        self.line_j: list[Array] = []

    def _drive(self, count: int) -> tuple[Any, Any, Any, float]:
        if not self.plan.ideal_source:
            mean = self.drive.samples(self.step, count, half=True)
            return self.nothing[:count], mean, self.nothing[:count], 0.0
        whole = self.drive.samples(self.step, count + 1, half=False)
        return whole[:-1], 0.5 * (whole[1:] + whole[:-1]), np.diff(whole) / self.dt, self.discrete[0].emf_energy

    def arguments(self, count: int, mode: int, taper: Taper | None = None, ends: Sequence[int] = ()) -> tuple[Any, ...]:
        """What the compiled loop takes for the next `count` steps, CHUNK at most, which it books in pieces that end before these of them,
        and the last."""
        if taper is None:
            taper = (self.nothing[:count],) * 3
        pieces = np.array([*ends, count], dtype=np.int64)
        grid = (self.v, self.v_old, self.i, self.bounds, self.coefficients)
        p = self.packed
        nets = (p.matrices, p.blocks, p.x, p.y, p.ports, p.states, p.signs, self.heat_rows, p.emf)
        self.books = np.zeros((len(pieces), self.rows.count))
        memory = (self.memory, self.line_heat, self.books, pieces, self.scalars)
        target = self.control.target(self.step, count) if self.control else np.zeros(0)
        eyes = (self.mid, self.largest, self.lock, self.lock_y, self.place_rows, self.place_weights, self.peaks, *taper)
        return count, mode, self.step, self.dt, grid, self.branches, nets, memory, self._drive(count), (*self.held, target), eyes

    def advance(self, steps: int, mode: int = BARE, taper: Taper | None = None, ends: Sequence[int] = ()) -> None:
        """Take `steps` steps, watching what `mode` says; taper: weights (steps,) of cosine, sine and mean for LOCK_IN; ends: where a piece
        of the books `row_j` is to end, in order, beside those places where one ends anyhow (see `row_ends`). Raises Diverged."""
        done = 0
        if self.control:
            mode &= ~UNREAD
        while done < steps:
            self._turn_contacts()
            count = min(CHUNK, steps - done, self.due[0][0] - self.step if self.due else CHUNK)
            part = tuple(weights[done : done + count] for weights in taper) if taper is not None else None
            self.line_heat[:] = 0.0
            self.scalars[EMF_J] = 0.0
            marks = [end - self.step for end in ends if self.step < end < self.step + count]
            march(*self.arguments(count, mode, part, marks))
            self.row_j.extend(self.books)
            self.row_ends += [self.step + end for end in (*marks, count)]
            self.step += count
            done += count
            self.emf_j.append(float(self.scalars[EMF_J]))
            self.line_j.append(self.line_heat.copy())
            self._guard()

    def _turn_contacts(self) -> None:
        """Give resistors the values that are due by now. The states stay: their units come from coils and capacitors alone."""
        changed = set()
        while self.due and self.due[0][0] <= self.step:
            for c, b, ohm in self.due.popleft()[1]:
                branches = self.plan.circuits[c].branches
                branches[b] = replace(branches[b], value=ohm)
                changed.add(c)
        for c in changed:
            self.discrete[c] = discretise(self.plan.circuits[c], self.dt, 0 if c == 0 else None)
        if changed:
            self.packed.matrices[:] = pack(self.plan, self.discrete, self.gauges, self.bounds).matrices

    def share_range(self) -> tuple[float, float]:
        """Least and most drive since the last call, as shares of the full power."""
        state = self.held[1]
        found = float(state[LOWEST]), float(state[HIGHEST])
        state[LOWEST] = state[HIGHEST] = state[SHARE]
        return found

    @property
    def share(self) -> float:
        """The drive now, as a share of the full power."""
        return float(self.held[1][SHARE])

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

    def row_total(self, row: int) -> float:
        """Energy booked under a row so far, J."""
        return math.fsum(books[row] for books in self.row_j)

    def heat_totals(self) -> dict[str, float]:
        """Heat of every owner so far, J; the source's own under its own name."""
        heat = {section.name: math.fsum(column) for section, column in zip(self.plan.sections, zip(*self.line_j, strict=True), strict=True)}
        for row, owner in self.rows.owners.items():
            heat[owner] = heat.get(owner, 0.0) + self.row_total(row)
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
        scale = float(self.scalars[SCALE])
        return abs(miss) / scale if scale > 0 else 0.0

    def close_books(self) -> None:
        """Raise Diverged where the books of the whole run do not close, however well each step did."""
        if not (missed := self.accumulated_residual()) <= WORST_RESIDUAL:
            raise Diverged(f"the energy books of the whole run do not close: relative residual {missed:.1e}, allowed {WORST_RESIDUAL:.0e}")

    def lossless(self) -> bool:
        """True where nothing in the station can turn energy into heat or radiation."""
        sections = self.plan.sections
        return not self.rows.owners and not any(s.resistance or s.conductance or s.series_branches or s.shunt_branches for s in sections)

    def nodes_of(self, section: int) -> slice:
        """The nodes of one section among those of all."""
        v0, _, n = self.bounds[section]
        return slice(int(v0), int(v0 + n + 1))

    def waves_now(self) -> tuple[Array, Array]:
        """V and I of every node of every line, (K,), half a step after `time_s`."""
        return self.mid[0].copy(), self.mid[1].copy()
