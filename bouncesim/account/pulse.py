"""Pulse and echo: where on the lines something is wrong, and what, from what comes back of a pulse."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from bouncesim.account.faults import Fault, fault_of
from bouncesim.account.probing import FLOOR, Floats, Phasors, Probing
from bouncesim.account.run import Run
from bouncesim.account.shapes import PLAIN, Fit, Shape, shape_of
from bouncesim.scenario import Stub

MOST = 16  # echoes told apart
UNEXPLAINED = 0.05  # of the echoes about a moment: what is left over of them is no echo of its own
SWEEPS = 1  # of fitting each echo again, with all others taken away
LEAST_PASSED = 0.01  # of a wave, both ways, that a fault lets through if there is to be anything behind it
ONE_SHAPE = 0.1  # of an echo of an echo (rms) may be left over for it to be taken as one of a single fault
ALMOST = 0.15  # of the pulse's width: an echo of an echo comes this near to when it must (coils and capacitors shift its shape)
SMALLER = 1.5  # times what an echo of an echo may be at most, to count as one
BEFORE = 0.1  # of the pulse's width: by how much an echo begins before it shows
APART = 0.3  # of the pulse's width: echoes that begin closer together are one
ONSET = 0.25  # of the pulse's width: how well the beginning of an echo shows before it is fitted


@dataclass(frozen=True)
class Echo:
    """One echo, seen from the start of the first line."""

    at_s: float  # from key-down on, when it begins to come back
    distance_m: float  # along the lines; of an echo of an echo: where it seems to come from
    within_m: float  # how well that is known
    line: str
    along_m: float  # from the start of that line
    place: str  # in words
    seen: float  # its first lobe as it comes back, over the height of the outgoing pulse; below 0: turned over
    then: float  # its other lobe, likewise; 0 if it has one lobe
    size: float  # reflection where it arises (of its larger end, if it differs for slow and fast), lines and faults in front divided out
    kind: str
    value: float | None  # in `unit`, as far as the echo tells
    unit: str  # "ohm", "H", "F" or none
    note: str
    is_second: bool  # an echo of an echo, no place of its own


@dataclass(frozen=True)
class PulseReport:
    """All that came back of a pulse."""

    width_s: float
    resolves_m: float  # faults closer together than this may show as one
    farthest_m: float  # to the end of the path
    overlaps: bool  # the first echo came back before the pulse had gone out: echoes of echoes cannot be told
    smear_s: float  # by how much the lines' loss holds back the peak of an echo from the end; 0 unless their law is wideband
    echoes: tuple[Echo, ...]
    unknown: tuple[str, ...]  # stubs on the path: what lies behind them, and in them, is told wrongly
    left_over: float  # largest part of what came back that no echo explains, over the height of the outgoing pulse
    # for drawing: what came back, over the height of the outgoing pulse, and the place that it comes from at each time
    place_m: tuple[float, ...]
    returned: tuple[float, ...]


@dataclass
class _Found:
    shape: Shape
    wave: Floats
    is_second: bool = False


class _Search:
    """Finds one echo after the other, in the order in which they come back."""

    def __init__(self, probing: Probing) -> None:
        self.probing = probing
        self.found: list[_Found] = []
        self.after_s = -math.inf  # no echo begins before this
        self.end_s = float(probing.delays[-1] + probing.within_s(float(probing.delays[-1])))

    def run(self) -> None:
        """Find them all, then fit each again without the others."""
        p = self.probing
        while len(self.found) < MOST and (onset := self._onset()) is not None:
            found = self._fit(onset)
            found.is_second = self._is_second(found)
            if found.is_second and found.shape.left_over > ONE_SHAPE:
                found = self._lump(onset)
            self.found.append(found)
            self.after_s = max(self.after_s, onset, 2 * found.shape.delay_s) + APART * p.width_s
        for _ in range(SWEEPS):
            for k, one in [(k, one) for k, one in enumerate(self.found) if not one.is_second]:
                rest = [other for other in self.found if other is not one]
                again = self._fit(2 * one.shape.delay_s, rest)
                if abs(again.shape.delay_s - one.shape.delay_s) < ONSET * p.width_s:
                    self.found[k] = _Found(again.shape, again.wave, one.is_second)

    def left(self, without: list[_Found] | None = None) -> Floats:
        """What came back, less the echoes found (or these)."""
        return np.asarray(self.probing.returned - sum(one.wave for one in (self.found if without is None else without)))

    def _onset(self) -> float | None:
        """When the next echo begins that nothing found so far explains."""
        p, left = self.probing, np.abs(self.left())
        level = np.full_like(left, FLOOR * p.peak)
        reach = round(0.5 * p.width_s / p.step_s)
        for one in self.found:
            around = np.lib.stride_tricks.sliding_window_view(np.pad(np.abs(one.wave), reach), 2 * reach + 1).max(axis=1)
            level = np.maximum(level, UNEXPLAINED * around)
        late = np.flatnonzero((left > level) & (p.time_s > self.after_s))
        return float(p.time_s[late[0]]) if late.size else None

    def _fit(self, onset_s: float, rest: list[_Found] | None = None) -> _Found:
        fit = Fit(self.probing, self.left(rest), self.passed(onset_s / 2 - ONSET * self.probing.width_s))
        shape = fit.best(onset_s)
        return _Found(shape, fit.model(shape))

    def _lump(self, onset_s: float) -> _Found:
        """An echo of an echo has the shapes of both faults in one: take it as it is, to where it has died down."""
        p, left = self.probing, self.left()
        quiet, held = np.asarray(np.abs(left) < FLOOR * p.peak), round(0.3 * p.width_s / p.step_s)
        first = int(np.searchsorted(p.time_s, onset_s))
        windows = np.lib.stride_tricks.sliding_window_view(np.pad(quiet[first:], (0, held), constant_values=True), held)
        still = np.flatnonzero(windows.all(axis=1))
        last = min(first + int(still[0]), len(p.time_s) - 1)
        self.after_s = float(p.time_s[last])
        wave = np.where((p.time_s >= onset_s - ONSET * p.width_s) & (p.time_s <= self.after_s), left, 0.0)
        return _Found(shape_of(PLAIN, (onset_s - BEFORE * p.width_s) / 2, float(np.abs(wave).max()) / p.peak, p.width_s), wave, True)

    def passed(self, delay_s: float) -> Phasors:
        """What the faults in front of a place let through, both ways, beyond what the lines alone would. Nothing comes from behind an
        open or a short: what comes later is an echo of an echo, and not divided."""
        p, found = self.probing, np.ones_like(self.probing.s)
        for one in self.found:
            if one.is_second or one.shape.delay_s >= delay_s:
                continue
            k = p.joint_at(one.shape.delay_s)
            if k == len(p.constants) - 1:
                return np.ones_like(p.s)
            known = p.joint(k) if k is not None and k < len(p.constants) - 1 else np.zeros_like(p.s)
            rho = one.shape.reflection(p.s)
            way = -1 if one.shape.slow + one.shape.fast > 2 * float(known[0].real) else 1  # in series 1 - rho passes, across 1 + rho
            found = found * ((1 + way * rho) / (1 + way * known)) ** 2
        return np.asarray(found) if float(np.abs(found[0])) > LEAST_PASSED or float(np.abs(found[-1])) > LEAST_PASSED else np.ones_like(p.s)

    def _is_second(self, new: _Found) -> bool:
        """True for what comes when an echo of an echo must, and is no larger than one may be; and for all from behind the end."""
        if new.shape.delay_s > self.end_s:
            return True
        first, tall = [one for one in self.found if not one.is_second], float(np.abs(new.wave).max())
        for a, b in itertools.combinations_with_replacement(first, 2):
            ways = [0.0] if self.probing.goes_again else []
            ways += [c.shape.delay_s for c in first if c.shape.delay_s < min(a.shape.delay_s, b.shape.delay_s)]
            most = SMALLER * float(np.abs(a.wave).max() * np.abs(b.wave).max()) / self.probing.peak
            for way in ways:
                delay = a.shape.delay_s + b.shape.delay_s - way
                if abs(delay - new.shape.delay_s) < ALMOST * self.probing.width_s and tall < most:
                    return True
        return False


def pulse_report(run: Run) -> PulseReport:
    """The echoes of a run with a pulse, in order of time. Raises BouncesimError for a run without one, or with too few snapshots."""
    probing = Probing(run)
    search = _Search(probing)
    search.run()
    p, end = probing, float(probing.delays[-1])
    peak_s = float(p.time_s[np.argmax(np.abs(p.out))])
    shown = (p.time_s >= peak_s) & ((p.time_s - peak_s) / 2 <= end + p.width_s)
    return PulseReport(
        width_s=p.width_s,
        resolves_m=float(p.width_s * p.velocities.max() / 2),
        farthest_m=float(p.starts_m[-1]),
        overlaps=not p.is_apart,
        smear_s=p.smear_s,
        echoes=tuple(_told(run, search, one) for one in search.found),
        unknown=tuple(part.name for part in run.scenario.path if isinstance(part, Stub)),
        left_over=float(np.abs(search.left()).max() / p.peak),
        place_m=tuple(p.place_m(float(t - peak_s) / 2) for t in p.time_s[shown]),
        returned=tuple(float(value / p.peak) for value in p.returned[shown]),
    )


def _told(run: Run, search: _Search, found: _Found) -> Echo:
    p, shape = search.probing, found.shape
    k, joint = p.line_at(shape.delay_s), p.joint_at(shape.delay_s)
    lines = run.scenario.lines
    last = len(lines) - 1
    behind = k if joint is None else k + 1
    near = p.constants[k].impedance_ohm
    far = None if joint == last else p.constants[behind].impedance_ohm * p.scales[k] / p.scales[behind]  # as line k sees it
    place_m = p.place_m(shape.delay_s)
    fault = Fault("second round", note="an echo of an echo: no place of its own") if found.is_second else fault_of(shape, near, far)
    seen, then = _lobes(found.wave / p.peak)
    return Echo(
        at_s=2 * shape.delay_s,
        distance_m=place_m,
        within_m=p.within_s(shape.delay_s) * float(p.velocities[k]),
        line=lines[k].name,
        along_m=place_m - float(p.starts_m[k]),
        place=_place(run, k, joint, found.is_second, place_m - float(p.starts_m[k])),
        seen=seen,
        then=then,
        size=seen if found.is_second else shape.slow if abs(shape.slow) >= abs(shape.fast) else shape.fast,
        kind=fault.kind,
        value=fault.value,
        unit=fault.unit,
        note=fault.note,
        is_second=found.is_second,
    )


def _place(run: Run, k: int, joint: int | None, is_second: bool, along_m: float) -> str:
    lines = run.scenario.lines
    if is_second:
        return "between the others"
    if joint is None:
        return f"on the {lines[k].name}"
    if joint == len(lines) - 1:
        return f"at the end of the {lines[k].name}"
    return f"between {lines[k].name} and {lines[k + 1].name}"


def _lobes(wave: Floats) -> tuple[float, float]:
    """The first lobe's height and the other one's, with their signs; a lobe under a twentieth of the larger one is none."""
    up, down = int(np.argmax(wave)), int(np.argmin(wave))
    high, low = float(max(wave[up], 0.0)), float(min(wave[down], 0.0))
    least = max(high, -low) / 20
    first, then = ((high, up), (low, down)) if up < down else ((low, down), (high, up))
    kept = [value for value, _ in (first, then) if abs(value) > least]
    return (kept[0] if kept else 0.0), (kept[1] if len(kept) > 1 else 0.0)
