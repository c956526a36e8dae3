"""What readings say: every state of a station that would show them, by interval arithmetic.

A uniform line has a forward wave that falls by the factor a (a power, one way), and a reflected one that grows by 1/a toward its antenna:
F2 = a F1, rho2 = rho1/a. So a line is three numbers, rho1, a and F1, and each reading bounds F1 for given rho1 and a (see
exact.demonstration.instruments): with the errors e and the leak d

    (shown - e)/(1 + d rho)^2 <= F <= (shown + e)/(1 - d rho)^2,      (shown - e)/(rho + d)^2 <= F <= (shown + e)/max(0, rho - d)^2.

Net power may not exceed what the transmitter gives. The plane of rho1 and a is laid out in cells; a cell in which no F1 is possible, by
bounds that hold for the whole cell, is struck out; what is left is laid out anew, until it shrinks no more. Nothing that is possible is
ever struck out, so the truth lies inside whatever comes out, provided that the readings are as good as they were said to be.

The meters refer to a real impedance R, the line's own is complex. With g = |Z0 - R|/|Z0 + R| the outputs become |1 + g Gamma| and
|Gamma + g| times sqrt F: the same form as a leak, and added to it; and the net power is F [(1 - g^2)(1 - rho^2) -+ 4 g rho] (at most).
Derived here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from bouncesim.account.readings import swr_of
from bouncesim.exact.demonstration.instruments import Instrument, Interval
from bouncesim.exact.phasor import Real

PLACES = ("transmitter", "line", "antenna")  # of readings: in front of the tuner, at the near end of the line, at its far end
MOST_LOSS_DB = 60.0  # one way, of a line of which nothing is known
CELLS = (40, 40)  # of rho1 and of a, while it shrinks
FINE, FINE_ALONE = (400, 240), (1600, 60)  # at the end; without a reading at the antenna, which is all that would bound a
ROUNDS = 40
SHRINKS = 0.97  # a round that leaves more than this of a side is the last
LARGEST_SCALE = 1e3  # of the uncertainties, tried for readings that do not agree
STEPS = 14  # of that search, halvings
ROUNDING = 1e-12  # of a power: bounds this close are equal
USELESS = 0.05  # a g above this: the meter is made for another line, and its waves are not the line's


@dataclass(frozen=True)
class Reading:
    """Two needles, W, and the instrument."""

    forward_w: float
    reflected_w: float
    instrument: Instrument


@dataclass(frozen=True)
class Evidence:
    """What is known. `readings` by place (see `PLACES`); `power_w`: net, from the transmitter; `matched_loss_db`: of the line, one way;
    `skew`: g above; `has_tuner`: something between transmitter and line may turn power into heat."""

    readings: Mapping[str, Reading] = field(default_factory=dict)
    power_w: Interval | None = None
    matched_loss_db: Interval | None = None
    skew: float = 0.0
    has_tuner: bool = True

    def loosened(self, times: float) -> Evidence:
        """The same with every uncertainty so many times as large."""
        readings = {}
        for place, reading in self.readings.items():
            leak = min(0.999, reading.instrument.leak * times)
            decibels = -20 * math.log10(leak) if leak > 0 else None
            instrument = replace(reading.instrument, accuracy=reading.instrument.accuracy * times, directivity_db=decibels)
            readings[place] = replace(reading, instrument=instrument)
        power, loss = (_loosened(each, times) for each in (self.power_w, self.matched_loss_db))
        return replace(self, readings=readings, power_w=power, matched_loss_db=loss)

    def without(self, name: str) -> Evidence:
        """The same without one reading, or without "power" or "matched loss"."""
        if name == "power":
            return replace(self, power_w=None)
        if name == "matched loss":
            return replace(self, matched_loss_db=None)
        return replace(self, readings={place: reading for place, reading in self.readings.items() if place != name})

    @property
    def names(self) -> list[str]:
        """Everything that is known, as `without` takes it."""
        found = list(self.readings)
        return found + ["power"] * (self.power_w is not None) + ["matched loss"] * (self.matched_loss_db is not None)


@dataclass(frozen=True)
class Finding:
    """What evidence says. `values`: interval by name, none where nothing is known of it; empty where the readings cannot all be true.

    `loosened`: by what factor every uncertainty would have to be multiplied for all of it to be possible (below 1: room to spare; infinite:
    no factor does it). `culprits`: what could be left out so that the rest agrees, where it does not."""

    consistent: bool
    loosened: float
    values: dict[str, Interval]
    culprits: tuple[str, ...] = ()


def finding(evidence: Evidence) -> Finding:
    """Everything that the evidence says. ValueError if it says nothing at all."""
    if not evidence.readings:
        raise ValueError("there is no reading")
    values = _values(evidence, True)
    loosened = _least_scale(evidence)
    if values is not None:
        return Finding(True, min(loosened, 1.0), values)
    culprits = tuple(name for name in evidence.names if len(evidence.names) > 1 and _values(evidence.without(name), False) is not None)
    return Finding(False, max(loosened, 1.0), {}, culprits)


def _least_scale(evidence: Evidence) -> float:
    """The least factor on all uncertainties with which the evidence is possible."""
    low, high = 0.0, 1.0
    while _values(evidence.loosened(high), False) is None:
        low, high = high, high * 4
        if high > LARGEST_SCALE:
            return math.inf
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (low, middle) if _values(evidence.loosened(middle), False) is not None else (middle, high)
    return high


def _values(evidence: Evidence, finely: bool) -> dict[str, Interval] | None:
    """Every interval; None if nothing is possible."""
    found: dict[str, Interval] = {}
    power = evidence.power_w
    if "transmitter" in evidence.readings:
        alone = _pave(Evidence({"line": evidence.readings["transmitter"]}, power, has_tuner=False), finely)
        if alone is None:
            return None
        found |= {f"transmitter.{name}": alone[name] for name in ("swr", "forward_w", "net_w")}
        power = alone["net_w"] if power is None else power & alone["net_w"]
    if power is not None:
        found["transmitter.power_w"] = power
    along = [place for place in ("line", "antenna") if place in evidence.readings]
    if not along:
        return found
    told = _line(replace(evidence, power_w=power), finely)
    if told is None:
        return None
    found |= told
    if power is not None and evidence.has_tuner and "line.net_w" in found:
        net = found["line.net_w"]
        found["tuner.heat_w"] = Interval(max(0.0, power.least - net.most), max(0.0, power.most - net.least))
        found["transmitter.power_w"] = power = Interval(max(power.least, net.least), power.most)
        if power.most > 0:
            shares = (found["tuner.heat_w"].least / power.most, found["tuner.heat_w"].most / max(power.least, 1e-300))
            found["tuner.heat_share"] = Interval(shares[0], min(1.0, shares[1]))
    return found


def _line(evidence: Evidence, finely: bool) -> dict[str, Interval] | None:
    """What is known along the line."""
    if evidence.skew <= USELESS:
        paved = _pave(evidence, finely)
        if paved is None:
            return None
        names = {"swr": "line.swr", "forward_w": "line.forward_w", "net_w": "line.net_w"}
        if "antenna" in evidence.readings or evidence.matched_loss_db is not None:
            names |= {"far_swr": "antenna.swr", "far_net_w": "antenna.power_w", "heat_w": "line.heat_w", "loss_db": "line.loss_db"}
        names |= {"matched_loss_db": "line.matched_loss_db"}
        return {long: paved[short] for short, long in names.items()}
    found: dict[str, Interval] = {}
    for place, name in (("line", "line"), ("antenna", "antenna")):
        if place in evidence.readings:
            limit = evidence.power_w if place == "line" else found.get("line.net_w", evidence.power_w)
            alone = _pave(Evidence({"line": evidence.readings[place]}, limit), finely)
            if alone is None:
                return None
            found |= {f"{name}.meter_swr": alone["swr"], f"{name}.{'net_w' if name == 'line' else 'power_w'}": alone["net_w"]}
    if "line" in evidence.readings and "antenna" in evidence.readings:
        near, far = found["line.net_w"], found["antenna.power_w"]
        found["line.heat_w"] = Interval(max(0.0, near.least - far.most), near.most - far.least)
    return found


def _pave(evidence: Evidence, finely: bool) -> dict[str, Interval] | None:
    """The plane of rho1 and a laid out in cells; every interval over what is left of it, or None."""
    g = evidence.skew
    least_a, most_a = 10 ** (-MOST_LOSS_DB / 10), 1.0
    if evidence.matched_loss_db is not None:
        least_a, most_a = (10 ** (-loss / 10) for loss in (evidence.matched_loss_db.most, max(0.0, evidence.matched_loss_db.least)))
    sides = [(0.0, 1 + 4 * g), (least_a, most_a)]
    fine = FINE if "antenna" in evidence.readings else FINE_ALONE
    cells, last = CELLS, False
    for _ in range(ROUNDS):
        left = _Cells(evidence, *_laid_out(sides, cells)).possible()
        if left is None:
            return None
        if last:
            return left.values()
        new = [(float(left.rho[0].min()), float(left.rho[1].max())), (float(left.a[0].min()), float(left.a[1].max()))]
        settled = all(b[1] - b[0] >= SHRINKS * (s[1] - s[0]) for b, s in zip(new, sides, strict=True))
        sides = new
        if settled:
            cells, last = fine if finely else CELLS, True
    left = _Cells(evidence, *_laid_out(sides, cells)).possible()
    return None if left is None else left.values()


def _laid_out(sides: list[tuple[float, float]], cells: tuple[int, int]) -> tuple[tuple[Real, Real], tuple[Real, Real]]:
    """Lower and upper edges of rho1 and a of every cell, each (n,); a side without width is one cell."""
    edges = [np.linspace(low, high, (count if high > low else 1) + 1) for (low, high), count in zip(sides, cells, strict=True)]
    low = np.meshgrid(edges[0][:-1], edges[1][:-1], indexing="ij")
    high = np.meshgrid(edges[0][1:], edges[1][1:], indexing="ij")
    return (low[0].ravel(), high[0].ravel()), (low[1].ravel(), high[1].ravel())


@dataclass(frozen=True)
class _Cells:
    """Cells of rho1 and a, edges (lower, upper), and bounds of F1 in each."""

    evidence: Evidence
    rho: tuple[Real, Real]
    a: tuple[Real, Real]
    forward: tuple[Real, Real] = (np.zeros(0), np.zeros(0))

    def possible(self) -> _Cells | None:
        """Those in which a forward power is possible; None if there are none."""
        g, (a0, a1) = self.evidence.skew, self.a
        low, high = np.zeros(len(a0)), np.full(len(a0), np.inf)
        far = (self.rho[0] / a1, self.rho[1] / a0)
        allowed = far[0] <= 1 + 4 * g
        if (near_reading := self.evidence.readings.get("line")) is not None:
            least, most = _forward(near_reading, self.rho, g)
            low, high = np.maximum(low, least), np.minimum(high, most)
        if (far_reading := self.evidence.readings.get("antenna")) is not None:
            least, most = _forward(far_reading, (far[0], np.minimum(far[1], 1 + 4 * g)), g)
            low, high = np.maximum(low, least / a1), np.minimum(high, most / a0)
        if (power := self.evidence.power_w) is not None:
            least_net, most_net = _net(self.rho, g)
            high = np.minimum(high, np.divide(power.most, least_net, out=np.full(len(a0), np.inf), where=least_net > 0))
            if not self.evidence.has_tuner:
                low = np.maximum(low, np.divide(power.least, most_net, out=np.full(len(a0), np.inf), where=most_net > 0))
        allowed &= low <= high * (1 + ROUNDING)
        if not allowed.any():
            return None
        pick = [(edge[0][allowed], edge[1][allowed]) for edge in (self.rho, self.a, (low, high))]
        return _Cells(self.evidence, *pick)

    def values(self) -> dict[str, Interval]:
        """Every quantity over all cells."""
        g, (r0, r1), (a0, a1), (f0, f1) = self.evidence.skew, self.rho, self.a, self.forward
        far = (r0 / a1, np.minimum(r1 / a0, 1 + 4 * g))
        near_share, far_share = _net((r0, r1), g), _net(far, g)
        net = (f0 * near_share[0], np.minimum(_part_of(f1, near_share[1]), self._most_power()))
        far_net = (f0 * a0 * far_share[0], np.minimum(_part_of(f1, a1 * far_share[1]), net[1]))
        slack = _part_of(f1, 8 * g * r1)
        heat = (f0 * (1 - g**2) * (1 - a1) * (1 + r0**2 / a1) - slack, _part_of(f1, (1 - a0) * (1 + r1**2 / a0)) + slack)
        heat = (np.maximum(heat[0], 0.0), np.minimum(heat[1], net[1]))
        with np.errstate(divide="ignore", invalid="ignore"):
            by_heat = (1 + np.where(far_net[1] > 0, heat[0] / far_net[1], 0.0), 1 + np.where(far_net[0] > 0, heat[1] / far_net[0], np.inf))
            by_share = (near_share[0] / (a1 * far_share[1]), np.where(far_share[0] > 0, near_share[1] / (a0 * far_share[0]), np.inf))
            ratio = (np.fmax(by_heat[0], by_share[0]), np.fmin(by_heat[1], by_share[1]))
            loss_db = (10 * np.log10(np.maximum(ratio[0], 1.0)), 10 * np.log10(np.maximum(ratio[1], 1.0)))
            matched = (np.abs(10 * np.log10(a1)), np.abs(10 * np.log10(a0)))
        values = {
            "forward_w": self.forward,
            "net_w": net,
            "far_net_w": far_net,
            "heat_w": heat,
            "loss_db": loss_db,
            "matched_loss_db": matched,
        }
        found = {name: Interval(float(low.min()), float(high.max())) for name, (low, high) in values.items()}
        for name, (low, high) in (("swr", (r0, r1)), ("far_swr", far)):
            seen = (np.maximum(0.0, low - g) / (1 + g * low), (high + g) / (1 - g * high))
            found[name] = Interval(swr_of(float(seen[0].min())), swr_of(float(seen[1].max())))
        return found

    def _most_power(self) -> float:
        return math.inf if self.evidence.power_w is None else self.evidence.power_w.most


def _part_of(power: Real, share: Real) -> Real:
    """A share of a power that may have no bound: nothing of it is nothing."""
    return np.multiply(power, share, out=np.zeros_like(power), where=share > 0)


def _net(rho: tuple[Real, Real], g: float) -> tuple[Real, Real]:
    """Least and most net power in each cell, as a share of the forward power."""
    least = (1 - g**2) * (1 - rho[1] ** 2) - 4 * g * rho[1]
    most = (1 - g**2) * (1 - rho[0] ** 2) + 4 * g * rho[1]
    return np.maximum(least, 0.0), np.maximum(most, 0.0)


def _forward(reading: Reading, rho: tuple[Real, Real], g: float) -> tuple[Real, Real]:
    """Least and most forward power that a reading allows in each cell."""
    d, both = reading.instrument.leak, reading.instrument.leak * g
    leak = d + g
    e_forward, e_reflected = reading.instrument.forward_error_w, reading.instrument.reflected_error_w
    through = 1 - leak * rho[1] - both
    back = np.maximum(0.0, rho[0] * (1 - both) - leak)
    with np.errstate(divide="ignore"):
        least = np.maximum(
            (reading.forward_w - e_forward) / (1 + leak * rho[1] + both) ** 2,
            np.where(rho[1] + leak > 0, (reading.reflected_w - e_reflected) / (rho[1] * (1 + both) + leak) ** 2, -np.inf),
        )
        most = np.minimum(
            np.where(through > 0, (reading.forward_w + e_forward) / through**2, np.inf),
            np.where(back > 0, (reading.reflected_w + e_reflected) / back**2, np.inf),
        )
    return np.maximum(least, 0.0), most


def _loosened(interval: Interval | None, times: float) -> Interval | None:
    """Its width multiplied, never below nothing."""
    if interval is None:
        return None
    middle, half = (interval.least + interval.most) / 2, interval.width / 2 * times
    return Interval(max(0.0, middle - half), middle + half)
