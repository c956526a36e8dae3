"""What a run shows at any instant: waves, powers and the energy account, interpolated linearly between snapshots.

After the last snapshot the steady state goes on: the last whole carrier period repeats, and every energy of the account grows by what it
grew in that period, so that the account closes as well as the run's own.
"""

from __future__ import annotations

import math
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.means import mean_power
from bouncesim.account.readings import swr_of_powers
from bouncesim.account.run import LineTrace, Run
from bouncesim.scenario.model import Line, Meter, Receiver
from bouncesim.show.books import Account, heat_kinds
from bouncesim.show.groups import Groups

Floats = NDArray[np.float64]

SEEN = 2e-3  # share of the largest wave under which a wave counts as not there yet
BLOCK = 512  # snapshots looked through at a time


class Live:
    """A run at any instant t (s from key-down)."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.traces = run.traces
        self.period = 1 / run.scenario.transmitter.frequency_hz
        self.times = np.asarray(run.traces.time_s, dtype=np.float64)
        self.end = float(self.times[-1])
        self._groups = Groups(self.times, self.period)
        self.lines = run.traces.lines
        self.kinds = heat_kinds(run.scenario)
        self.line_names = tuple(part.name for part in run.scenario.path if isinstance(part, Line))
        self.all_lines = tuple(line.name for line in run.scenario.all_lines)  # those inside stubs too
        self.meters = tuple(part.name for part in run.scenario.path if isinstance(part, Meter))
        self._final = run.readings.numbers()
        heat = self.traces.heat_j
        self._energies: dict[str, NDArray[np.floating]] = {
            "left": self.traces.left_transmitter_j,
            "antenna": self.traces.into_antenna_j,
            "stored": self.traces.stored_j,
        }
        for kind, names in self.kinds.items():
            self._energies[kind] = sum((heat[name] for name in names if name in heat), np.zeros(len(self.times)))
        self._means = {item: mean_power(self.times, energy, self.period) for item, energy in self._energies.items()}
        self._heat_w = {name: mean_power(self.times, energy, self.period) for name, energy in heat.items()}
        self._ends = {trace.name: self._end_powers(trace) for trace in self.lines}

    def _place(self, t: float) -> tuple[int, float, int]:
        """Snapshot before t, share of the way to the next one, and whole periods taken off to find t among the snapshots."""
        repeats = max(0, math.ceil((t - self.end) / self.period - 1e-9))
        t = min(max(t - repeats * self.period, self.times[0]), self.end)
        i = min(max(int(np.searchsorted(self.times, t, side="right")) - 1, 0), len(self.times) - 2)
        return i, (t - self.times[i]) / (self.times[i + 1] - self.times[i]), repeats

    def _at(self, array: NDArray[np.floating], t: float) -> float:
        i, share, _ = self._place(t)
        return float(array[i]) * (1 - share) + float(array[i + 1]) * share

    def _energy(self, item: str, t: float) -> float:
        """An energy of the account; after the last snapshot it grows by its last mean power."""
        return self._at(self._energies[item], t) + self._place(t)[2] * float(self._means[item][-1]) * self.period

    def wave(self, trace: LineTrace, t: float, quantity: str = "voltage") -> tuple[Floats, Floats]:
        """Forward and reflected wave along a line, (V + ZI)/2 and (V - ZI)/2 with Z = sqrt(L/C), in V; shapes (K,).

        Of the current (A) the parts are (I + V/Z)/2 and (I - V/Z)/2, so that they add up to it too.
        """
        v, zi = self._row(trace.voltage_v, t), self._row(trace.current_a, t) * trace.reference_ohm
        forward, reflected = np.asarray((v + zi) / 2, dtype=np.float64), np.asarray((v - zi) / 2, dtype=np.float64)
        return (forward, reflected) if quantity == "voltage" else (forward / trace.reference_ohm, -reflected / trace.reference_ohm)

    def _row(self, rows: NDArray[np.floating], t: float) -> NDArray[np.floating]:
        i, share, _ = self._place(t)
        if self._groups.between(i):
            return self._groups.wave(rows, i, t)
        return np.asarray(rows[i] * (1 - share) + rows[i + 1] * share)

    def largest(self, trace: LineTrace, t: float, quantity: str = "voltage") -> Floats:
        """Largest |V| so far along a line, V (or |I|, A: the largest of the snapshots), shape (K,)."""
        i = int(np.searchsorted(self.times, t, side="right")) - 1
        rows = trace.largest_v if quantity == "voltage" else self._largest_a(trace.name)
        return np.asarray(rows[min(max(i, 0), len(self.times) - 1)], dtype=np.float64)

    @cache  # noqa: B019 - a Live dies with its film
    def _largest_a(self, name: str) -> NDArray[np.floating]:
        trace = next(trace for trace in self.lines if trace.name == name)
        return np.asarray(np.maximum.accumulate(np.abs(trace.current_a), axis=0))

    @lru_cache(maxsize=8)  # noqa: B019 - a Live dies with its film
    def account(self, t: float) -> Account:
        """The net energy account at t."""
        return self._account({item: self._energy(item, t) for item in self._energies})

    @lru_cache(maxsize=8)  # noqa: B019 - a Live dies with its film
    def flow(self, t: float) -> Account:
        """Watts: how fast each item of the account grows, mean over the last carrier period."""
        return self._account({item: self._at(mean, t) for item, mean in self._means.items()})

    def _account(self, booked: dict[str, float]) -> Account:
        return Account(booked["left"], booked["antenna"], booked["stored"], {kind: booked[kind] for kind in self.kinds})

    def powers(self, name: str, t: float, far: bool = False) -> tuple[float, float]:
        """Forward and reflected power (W) of the transmitter's terminals, a meter or a line's input; means over the last carrier period.

        With `far`, at a line's end nearest the antenna.
        """
        forward, reflected = self._ends[name] if far else (self.traces.forward_w[name], self.traces.reflected_w[name])
        return max(self._at(forward, t), 0.0), max(self._at(reflected, t), 0.0)

    def swr(self, name: str, t: float, far: bool = False) -> float:
        """SWR that those two powers amount to; nan while there is next to nothing, and where there is no carrier."""
        if not self.has_carrier:
            return math.nan
        forward, reflected = self.powers(name, t, far)
        return swr_of_powers(forward, reflected) if forward > 1e-6 * self.scale_w else math.nan

    def antenna_power(self, t: float) -> float:
        """Net power into the antenna (W), mean over a period: as the account has it, without what the contacts of an event take."""
        return float(self._at(self._means["antenna"], t))

    def _end_powers(self, trace: LineTrace) -> tuple[Floats, Floats]:
        """Forward and reflected power (W) at a line's far end, running means over the last carrier period; shapes (T,)."""
        v, zi = trace.voltage_v[:, -1].astype(np.float64), trace.current_a[:, -1].astype(np.float64) * trace.reference_ohm
        means = []
        for wave in ((v + zi) / 2, (v - zi) / 2):
            power = wave**2 / trace.reference_ohm
            energy = np.concatenate([[0.0], np.cumsum((power[1:] + power[:-1]) / 2 * np.diff(self.times))])
            mean = mean_power(self.times, energy, self.period)
            means.append(self._groups.mean_squares(wave, mean * trace.reference_ohm) / trace.reference_ohm)
        return means[0], means[1]

    def passing(self, trace: LineTrace, t: float, ahead: Floats, home: Floats) -> tuple[Floats, Floats]:
        """Forward and reflected power (W) at places `ahead` s behind the near end and `home` s before the far end of a line: what those
        ends sent so long ago, the loss on the way left out. Of a pulse, which has no mean over a period, the wave's own power there."""
        if not self.has_carrier:
            there, back = (wave**2 / trace.reference_ohm for wave in self.wave(trace, t))
            x_m = ahead / (ahead + home) * float(trace.x_m[-1])
            return np.interp(x_m, trace.x_m, there), np.interp(x_m, trace.x_m, back)
        forward, reflected = self.traces.forward_w[trace.name], self._ends[trace.name][1]
        return np.interp(t - ahead, self.times, forward, left=0.0), np.interp(t - home, self.times, reflected, left=0.0)

    def value(self, name: str, t: float) -> float:
        """A quantity by its path: live where a trace has it, else the steady-state reading; of a pulse, whose means over a carrier period
        say nothing, what a carrier would read. KeyError if there is none."""
        if name == "time":
            return t
        if not self.has_carrier and name in self._final:
            return self._final[name]
        if name == f"{self.run.scenario.load_name}.power_w":
            return self.antenna_power(t)
        part, _, field = name.rpartition(".")
        if part in self.traces.forward_w:
            fields = self._line_fields(part, t) if part in self.all_lines else _fields(*self.powers(part, t))
            if field in fields:
                return fields[field]
        if field == "heat_w" and part in self.traces.heat_j:
            return self._at(self._heat_w[part], t)
        return self._final[name]

    def _line_fields(self, part: str, t: float) -> dict[str, float]:
        """Live at the near end, and for a line of the main path, of which there are waves, at the far end too."""
        ends = {"in": _fields(*self.powers(part, t))}
        if part in self._ends:
            ends["out"] = _fields(*self.powers(part, t, far=True))
        found: dict[str, float] = {}
        for end, fields in ends.items():
            found |= {f"forward_{end}_w": fields["forward_w"], f"reflected_{end}_w": fields["reflected_w"]}
            found |= {f"power_{end}_w": fields["power_w"], f"swr_{end}": fields["swr"]}
        return found

    def names(self) -> list[str]:
        """Every path that `value` knows."""
        names = {"time", *self._final}
        for part in self.traces.forward_w:
            names |= {f"{part}.{field}" for field in ("forward_w", "reflected_w", "swr")} if part not in self.all_lines else set()
        return sorted(names)

    def largest_forward(self) -> float:
        """Largest forward power on the lines of the main path, W: mean over a period, of a pulse its peak."""
        if not self.has_carrier:
            waves = ((trace.voltage_v + trace.current_a * trace.reference_ohm, trace.reference_ohm) for trace in self.lines)
            return max(float(np.max(np.square(wave))) / 4 / ohm for wave, ohm in waves)
        return max(float(np.max(self.traces.forward_w[trace.name])) for trace in self.lines)

    def largest_wave(self, quantity: str = "voltage") -> float:
        """Largest voltage (V) or current (A) of the run, total, forward or reflected."""
        found = 1e-12
        for trace in self.lines:
            unit = 1.0 if quantity == "voltage" else trace.reference_ohm
            if quantity == "voltage":
                found = max(found, float(np.max(trace.largest_v[-1])))
            for start in range(0, len(self.times), BLOCK):
                rows = slice(start, start + BLOCK)
                volts, zi = np.abs(trace.voltage_v[rows]), np.abs(trace.current_a[rows]) * trace.reference_ohm
                found = max(found, float(np.max(volts + zi)) / 2 / unit, float(np.max(volts if quantity == "voltage" else zi)) / unit)
        return found

    @property
    def has_carrier(self) -> bool:
        """A pulse has none, and so no SWR."""
        return self.run.scenario.keying.shape != "pulse"

    @property
    def pauses(self) -> bool:
        """Whether the carrier goes off, so that a line may be quiet again behind a wave."""
        return math.isfinite(self.run.scenario.carrier_until_s)

    @property
    def scale_w(self) -> float:
        """What a power is small against: the transmitter's, or the available power of an antenna that receives."""
        scenario = self.run.scenario
        if scenario.direction == "receive":
            return (scenario.receiver or Receiver()).signal_w
        return scenario.transmitter.power_w

    def first_seen(self, trace: LineTrace, scale: float) -> tuple[Floats, Floats]:
        """When the forward and the reflected wave first exceed SEEN times `scale` (V) at each place, s; inf where never. Shapes (K,)."""
        seen = np.full((2, len(trace.x_m)), np.inf)
        for start in range(0, len(self.times), BLOCK):
            rows = slice(start, start + BLOCK)
            zi = trace.current_a[rows] * trace.reference_ohm
            for wave, first in zip((trace.voltage_v[rows] + zi, trace.voltage_v[rows] - zi), seen, strict=True):
                there = np.abs(wave) > 2 * SEEN * scale
                new = np.isinf(first) & there.any(axis=0)
                first[new] = self.times[start + there.argmax(axis=0)[new]]
            if np.isfinite(seen).all():
                break
        return seen[0], seen[1]


def _fields(forward: float, reflected: float) -> dict[str, float]:
    """What a forward and a reflected power (W) amount to."""
    swr = swr_of_powers(forward, reflected) if forward > 0 else math.nan
    return {"forward_w": forward, "reflected_w": reflected, "power_w": forward - reflected, "swr": swr}
