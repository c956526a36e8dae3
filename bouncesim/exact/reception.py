"""What a station that receives hears, in closed form."""

from __future__ import annotations

import math

import numpy as np

from bouncesim.account.reception import Reception
from bouncesim.errors import ScenarioError
from bouncesim.exact import phasor
from bouncesim.exact.noise import external_noise_db, noise_after, signal_to_noise_db
from bouncesim.exact.parts import path_chains
from bouncesim.exact.solve import solve
from bouncesim.scenario import Receiver, Scenario


def reception(scenario: Scenario) -> Reception:
    """Signal and noise of a resolved scenario that receives.

    External noise comes in with the signal and is weakened with it; the thermal noise of what is lossy on the way, and the receiver's own,
    are not. An antenna with a loss resistance hands on its radiated share of the external noise. ScenarioError as in `solve`.
    """
    receiver, frequency = scenario.receiver or Receiver(), scenario.transmitter.frequency_hz
    readings = solve(scenario)
    gain = readings.antenna.power_w / receiver.signal_w
    outside, signal, free = None, None, None
    try:
        outside = float(external_noise_db(receiver.surroundings, frequency))
    except ScenarioError:
        pass  # nothing is tabulated there: then nothing is said
    else:
        radiated = 1 - scenario.antenna.heat_share
        arriving = 10 * math.log10(radiated * 10 ** (outside / 10) + 1 - radiated)
        available = available_gain(scenario)
        match = gain / available if available > 0 else 1.0  # of nothing, any share
        path = noise_after(available, arriving, receiver.noise_figure_db, match)
        signal = float(signal_to_noise_db(receiver.signal_w, receiver.bandwidth_hz, arriving, receiver.noise_figure_db, path))
        free = float(signal_to_noise_db(receiver.signal_w, receiver.bandwidth_hz, arriving, receiver.noise_figure_db))
    return Reception(
        available_w=receiver.signal_w,
        received_w=readings.antenna.power_w,
        gain_db=_db(gain),
        gain_other_way_db=_db(other_way(scenario)),
        external_noise_db=outside,
        signal_to_noise_db=signal,
        without_loss_db=free,
    )


def available_gain(scenario: Scenario) -> float:
    """What the end of the path could give to a matched receiver, over what the antenna could: |Voc|^2/Re Zout over |EMF|^2/Re Zs.

    |d|^2 Re Zout is no less than Re Zs, as a passive path gives no more than it gets; beside a large reactance rounding may say otherwise.
    """
    n, d, nepers = phasor.looking_back(path_chains(scenario.path, scenario.transmitter.frequency_hz), scenario.source_ohm)
    least = float(np.exp(-2 * nepers)) * scenario.source_ohm.real
    taken = max(least, (complex(n) * complex(d).conjugate()).real)
    return least / taken if taken > 0 else 0.0


def other_way(scenario: Scenario) -> float:
    """The transducer gain of the path from a source with the receiver's impedance into the antenna: power in the antenna over what the
    source could give."""
    ohm = (scenario.receiver or Receiver()).impedance_ohm
    transmitter = scenario.transmitter.model_copy(update={"source_impedance_ohm": ohm, "rated_load_ohm": ohm, "behaviour": "linear"})
    turned = scenario.as_transmitting().model_copy(update={"transmitter": transmitter})
    return solve(turned).antenna.power_w / transmitter.power_w


def _db(ratio: float) -> float:
    return 10 * math.log10(ratio) if ratio > 0 else -math.inf
