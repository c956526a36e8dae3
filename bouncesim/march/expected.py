"""How long a station has to be followed until it is at rest, before it makes a step.

Each of its modes begins as large as the key lets it, dies away at its own rate, and counts with what the tapered windows of the lock-in
see of it (`ringing`, `settling`). The station is at rest, by the rule of `settling`, when the rest of the largest is below the tolerance;
or, where the change from window to window swings as two modes beat, at a standstill. Measured: within a factor of 1.5 of the steps that
are then taken for every lesson, within two for 95 % of random stations, within three for 99 %.
"""

from __future__ import annotations

import functools
import math

import numpy as np
from numpy.typing import NDArray

from bouncesim.march import grid, ringing
from bouncesim.march.ringing import Modes
from bouncesim.march.settling import MOST_PERIODS, MOST_ROUND_TRIPS, STANDSTILL, WINDOW_PERIODS
from bouncesim.march.station import plan_station
from bouncesim.scenario import Keying, Scenario

Real = NDArray[np.float64]

USUAL_WINDOWS = 9  # of a station that is not looked into
LEAST_WINDOWS = 6  # the first, and the five changes that the rule takes at least
LATE = 2.5  # windows that the rule looks on: two must say so, by the worst of their last ratios
BEATING = 0.3  # rad that a mode turns between two windows, from which on its changes do not fall one by one
MAIN_LOBE = 1.5  # periods a window that a mode may be off, to be seen in full
CONTROL_TIMES = 5  # time constants of a control, where nothing else is known
FULL = 1e-6  # a drive this near to full is full


def expected_s(scenario: Scenario, delay_s: float, tolerance: float | None = None, *, controlled: bool = True) -> float:
    """How long the station has to be followed until it is at rest, s, its control at work or not; `delay_s`: of all its lines, one way.
    Without a `tolerance` as a rule, whatever its parts: for a station that is not resolved yet. Raises ScenarioError."""
    frequency = scenario.transmitter.frequency_hz
    begun = max(scenario.keying.rise_s, scenario.keying.width_s or 0.0, scenario.last_event_s + 1 / frequency) + delay_s
    window = max(WINDOW_PERIODS, math.ceil(2 * delay_s * frequency - 1e-9)) / frequency
    found = modes_of(scenario) if tolerance else None
    controlled = controlled and scenario.is_controlled
    if found is None or not tolerance:
        slowest = max(scenario.transmitter.attack_s, scenario.transmitter.release_s)
        return begun + USUAL_WINDOWS * window + (CONTROL_TIMES * slowest if controlled else 0.0)
    ringing_s = max(LEAST_WINDOWS * window, LATE * window + _ringing_s(scenario, found, window, tolerance))
    most = max(MOST_PERIODS / frequency, 2 * MOST_ROUND_TRIPS * delay_s)
    return begun + min(ringing_s, most) + (_control_s(scenario, found, window, tolerance) if controlled else 0.0)


def modes_of(scenario: Scenario) -> Modes | None:
    """The modes of a resolved scenario as its last event leaves it; see `ringing.modes`. Raises ScenarioError."""
    return _modes_of(scenario.at_end().model_copy(update={"keying": Keying(shape="step"), "beats": (), "claims": ()}))


@functools.lru_cache(maxsize=8)  # every grid and every key of a command asks
def _modes_of(scenario: Scenario) -> Modes | None:
    lines, frequency = scenario.all_lines, scenario.transmitter.frequency_hz
    points = grid.least_points(lines, frequency, grid.DEFAULT_POINTS)
    return ringing.modes(plan_station(scenario, [grid.section(line, frequency, points) for line in lines]))


def ring_down_s(found: Modes, share: float) -> float:
    """How long all modes take to fall below a share of the steady state, s."""
    return _longest(np.log(np.maximum(found.sizes, share) / share) / -found.poles.real)


def _longest(times: Real) -> float:
    return float(times.max()) if times.size else 0.0


def _begun(scenario: Scenario, found: Modes) -> Real:
    """What is left of each mode by the rise of the key; whatever happens later happens at once."""
    if scenario.events or not scenario.keying.rise_s:
        return found.sizes
    turns = np.abs(1j * scenario.omega - found.poles) * scenario.keying.rise_s
    return np.asarray(found.sizes / (1 + (turns / 2 if scenario.keying.shape == "linear" else (turns / math.pi) ** 2)))


def _ringing_s(scenario: Scenario, found: Modes, window: float, tolerance: float) -> float:
    """Until what the windows see of every mode is below the tolerance, s."""
    rate, turns = -found.poles.real, found.poles.imag / scenario.omega
    near, mirrored = _seen(turns - 1), _seen(turns + 1)
    seen = _begun(scenario, found) * near
    turned = np.mod(found.poles.imag * window, math.pi)
    beats = (np.exp(-rate * window) * (near + mirrored) >= near - mirrored) & (np.minimum(turned, math.pi - turned) > BEATING)
    times = np.log(np.maximum(seen, tolerance) / np.where(beats, STANDSTILL, tolerance)) / rate
    return _longest(np.where(seen > tolerance, times, 0.0))


def _seen(off: Real) -> Real:
    """What a window of the lock-in sees, at most, of a wave so many carrier frequencies off: the side lobes of a Hann taper."""
    periods = np.maximum(np.abs(off) * WINDOW_PERIODS, MAIN_LOBE)
    return np.where(periods > MAIN_LOBE, 1 / (math.pi * periods * (periods**2 - 1)), 1.0)


def _control_s(scenario: Scenario, found: Modes, window: float, tolerance: float) -> float:
    """Until a control has come to rest, s: from full drive toward where it rests, by e in a time constant until the tolerance is left, or
    the end of its range is reached. A level is held from the first period on, of which its reading knows nothing yet; a fold-back acts
    where the steady state, or the ringing before, comes up to its threshold."""
    transmitter, ohm, emf = scenario.transmitter, scenario.source_reference_ohm, scenario.emf_v_peak
    forward, reflected = (abs(emf * (found.voltage + sign * ohm * found.current)) ** 2 / (8 * ohm) for sign in (1, -1))
    share = transmitter.drive_at_rest(forward, reflected)
    is_level = transmitter.behaviour == "level-controlled"
    falls = share < 1 - FULL or (is_level and share < 1 + FULL)
    slowest = transmitter.attack_s if falls else transmitter.release_s
    away = abs(1 / share - 1)
    if is_level:
        away = max(away, 1 / (transmitter.frequency_hz * slowest))
    elif not falls:
        over = math.sqrt(reflected) + float(_begun(scenario, found).sum()) * math.sqrt(forward + reflected)
        away = window / transmitter.attack_s if over**2 > transmitter.held_w else 0.0
    to_forward, to_reflected = transmitter.held_weights
    left = abs(1 - share * (to_forward * forward + to_reflected * reflected) / transmitter.held_w)
    return slowest * math.log1p(away / max(left, tolerance))
