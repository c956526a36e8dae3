"""How a station starts up under several keys: what each part has to bear, and what the transmitter sees meanwhile."""

from __future__ import annotations

from dataclasses import dataclass

from bouncesim.account.run import Stress


@dataclass(frozen=True)
class SeenByTransmitter:
    """Readings at the transmitter's terminals from key-down on, means over one carrier period, against its rated load. Of its terminals
    alone: nothing here is the stress on the devices inside."""

    reflected_w: float  # the largest
    at_s: float
    share: float  # reflected over forward, at its largest while the forward reading is up (see `account.startup.UP`)
    swr_least: float  # while the forward reading is up
    swr_most: float
    steady_reflected_w: float
    steady_swr: float


@dataclass(frozen=True)
class KeyStart:
    """One key. `settled_s`: from when on every power stays within 1 % of the largest final one, counted from key-down."""

    key: str  # in words: "step", "1 us", "5 ms", "its own: ..."
    rise_s: float
    settled_s: float
    round_trips: float  # of the whole path, at the settled time
    stresses: tuple[Stress, ...]
    seen: SeenByTransmitter
    points: int  # steps a carrier period
    is_exact: bool  # every line at Courant number 1: fronts stay sharp, and the overshoot of a step can be trusted
    trimmed: float  # wavelengths that a line was made shorter or longer for that, at most


@dataclass(frozen=True)
class StartUp:
    """The same station under each key."""

    keys: tuple[KeyStart, ...]
    round_trip_s: float  # of the whole path
    left_out: tuple[str, ...] = ()  # keys that would have taken too long

    @property
    def worst(self) -> tuple[KeyStart, Stress] | None:
        """Key and place with the largest overshoot; None where no key brings any."""
        found = [(key, stress) for key in self.keys for stress in key.stresses if stress.steady > 0]
        key, stress = max(found, key=lambda one: one[1].overshoot)
        return (key, stress) if stress.overshoot > OVER else None


UP = 0.1  # of its final value: below that, a forward reading is too small for its ratio to the reflected one to matter
OVER = 0.005  # of the steady state: less above it is told as none
