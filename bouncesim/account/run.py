"""One simulated station: readings, traces, ledger and settling, as everything downstream sees it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bouncesim.account.readings import Readings
from bouncesim.scenario import Scenario

Array = NDArray[np.floating]
Phasors = NDArray[np.complexfloating]


@dataclass(frozen=True)
class LineTrace:
    """Snapshots along one line: K places, T instants. Waves to draw are (V +- reference_ohm I)/2."""

    name: str
    reference_ohm: float  # sqrt(L/C)
    x_m: Array  # (K,) from the line's end nearest the transmitter, 0 .. length
    voltage_v: Array  # (T, K) float32
    current_a: Array  # (T, K) float32, positive toward the antenna
    largest_v: Array  # (T, K) float32, largest |V| so far
    steady_v: Phasors  # (K,) peak phasors of the steady state: Re(V exp(jwt))
    steady_a: Phasors  # (K,)


@dataclass(frozen=True)
class Traces:
    """Time histories over the story's span, one row a snapshot (about 32 a carrier period), T instants in all.

    The energy account is net: left_transmitter_j = into_antenna_j + sum of heat_j + stored_j. `forward_w` and `reflected_w` are means
    over the last carrier period. Their keys: "transmitter" (against the rated load), every meter's name, every line's name (at its
    input, against sqrt(L/C)).
    """

    time_s: Array  # (T,)
    lines: tuple[LineTrace, ...]
    left_transmitter_j: Array  # (T,)
    into_antenna_j: Array  # (T,)
    stored_j: Array  # (T,) in lines, tuner and networks (and the antenna's own reactance)
    heat_j: dict[str, Array]  # name of the line, tuner or network -> (T,)
    forward_w: dict[str, Array]
    reflected_w: dict[str, Array]
    antenna_power_w: Array  # (T,) net power into the antenna, mean over the last carrier period
    antenna_heat_j: Array | None = None  # (T,) what of into_antenna_j is heat; None: nothing is told of it
    dump_load_j: Array | None = None  # (T,) taken up by the dump load of an isolated transmitter, outside of the account
    drive: Array | None = None  # (T,) share of the full drive power, where something controls it


@dataclass(frozen=True)
class Settling:
    """How the run came to rest. Where the key goes up again: how the same station does with the key held down."""

    settled_s: float  # from here on every power of the story stays within 1 % of the largest final one
    end_s: float  # when the run stopped
    periods: int  # carrier periods run
    round_trips: float  # of the whole path, at the settled time
    estimate: float  # estimated relative distance from the steady state at the end


@dataclass(frozen=True)
class Ledger:
    """The energy books at the end of the run, and how well they close (section and equation: march.energy)."""

    emf_j: float  # from the EMF
    left_transmitter_j: float
    into_antenna_j: float
    heat_j: dict[str, float]
    stored_j: float
    worst_step: float  # largest relative residual of one step
    accumulated: float  # relative residual of the whole run


@dataclass(frozen=True)
class Stress:
    """The largest voltage or current at a place while the station started up, against its steady state."""

    line: str  # the line, another part, or an end: "transmitter", "antenna"
    quantity: str  # "voltage", "current", "coil current", "capacitor voltage"
    largest: float  # V peak or A peak
    at_m: float  # along a line; 0 elsewhere
    at_s: float
    steady: float  # largest in steady state

    @property
    def overshoot(self) -> float:
        """How far the largest is above the steady state, as a share of it; negative while it has not been reached."""
        return self.largest / self.steady - 1 if self.steady > 0 else 0.0


@dataclass(frozen=True)
class Run:
    """The outcome of one simulation. `moments` names instants (s): "key down", "antenna reached", "first echo", "round trip N",
    "settled", and the events by what happens ("antenna opens", "key up" ...)."""

    scenario: Scenario  # tuner already resolved into an explicit network
    readings: Readings
    traces: Traces
    moments: dict[str, float]
    settling: Settling
    ledger: Ledger
    stresses: tuple[Stress, ...]

    def save(self, folder: str | Path) -> Path:
        """Save into `folder`, for `load_run` to read; returns the folder. Raises OutputError."""
        from bouncesim.account.store import save_run  # there, because the store knows what a run is

        return save_run(self, folder)
