"""A run and a verdict with every field filled: for tests of what is done with them, not of the physics."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from bouncesim.account.readings import AntennaReading, Echoes, LineReading, MeterReading, PartReading, Readings, TransmitterReading
from bouncesim.account.run import Ledger, LineTrace, Run, Settling, Stress, Traces
from bouncesim.account.startup import KeyStart, SeenByTransmitter, StartUp
from bouncesim.account.verdict import Outcome, Verdict, VerdictRow
from bouncesim.scenario import Antenna, Claim, Element, Keying, Line, Meter, Network, Scenario, Transmitter

TUNER = Network(
    name="tuner",
    elements=(Element(position="shunt", kind="capacitor", value=3.1e-10), Element(position="series", kind="inductor", value=0.1 + 0.2)),
    is_tuner=True,
)


def scenario(tuned: bool = True, claims: tuple[Claim, ...] = ()) -> Scenario:
    """A tuner (or none), a meter and one line."""
    line = Line(name="feed line", length_m=31.0, impedance_ohm=50.0, velocity_factor=0.66, loss_db_per_m=0.022)
    return Scenario(
        title="A [bold]station[/bold] of \u2126",
        about="Two\nlines.",
        transmitter=Transmitter(frequency_hz=10.12e6, power_w=40.0),
        keying=Keying(rise_s=4e-7),
        path=(*((TUNER,) if tuned else ()), Meter(name="meter"), line),
        antenna=Antenna(impedance_ohm=25 - 60j),
        claims=claims,
    )


def readings(antenna_w: float = 26.5) -> Readings:
    """Invented figures whose account closes; one SWR is infinite."""
    line = LineReading(
        "feed line", 50.0, 39.0, antenna_w, 39.0 - antenna_w, 60.0, 21.0, 45.0, 18.5, 4.1, 4.6, 0.7, 1.68, 130.0, 4.5, 2.6, 9.5
    )
    return Readings(
        transmitter=TransmitterReading(40.0, 50.0 - 1e-9j, 1.0, math.sqrt(2000), math.sqrt(0.8)),
        networks=(PartReading("tuner", 40.0, 39.0, 1.0, coil_a_peak=2.5),),
        meters=(MeterReading("meter", 60.0, 60.0, math.inf, 58.0, 60.0, 58.5, math.inf),),
        lines=(line,),
        antenna=AntennaReading(antenna_w, 36.0, 1.0, 4.6),
        echoes=Echoes("feed line", 0.3 - 0.5j, complex(-0.0, 0.6), (30.0, 45.5, 60.0)),
    )


def run(tuned: bool = True, claims: tuple[Claim, ...] = (), antenna_w: float = 26.5) -> Run:
    """Traces of twelve instants at five places."""
    chance = np.random.default_rng(7)
    time = np.linspace(0.0, 1e-6, 12)
    wave = [chance.normal(size=(12, 5)).astype(np.float32) for _ in range(3)]
    wave[0][3, 2] = -0.0
    steady = [chance.normal(size=5) + 1j * chance.normal(size=5) for _ in range(2)]
    history = {key: chance.random(12) for key in ("left", "into", "stored", "heat", "line heat", "forward", "reflected", "antenna")}
    traces = Traces(
        time_s=time,
        lines=(LineTrace("feed line", 50.0, np.linspace(0, 31.0, 5), *wave, *steady),),
        left_transmitter_j=history["left"],
        into_antenna_j=history["into"],
        stored_j=history["stored"],
        heat_j={"tuner": history["heat"], "feed line": history["line heat"]},
        forward_w={"transmitter": history["forward"], "meter": history["forward"] * 2},
        reflected_w={"transmitter": history["reflected"], "meter": history["reflected"] * 3},
        antenna_power_w=history["antenna"],
    )
    stresses = (Stress("feed line", "voltage", 140.0, 4.5, 2.2e-7, 130.0), Stress("feed line", "current", 2.7, 9.5, 3.1e-7, 2.6))
    figures = readings(antenna_w) if tuned else dataclasses.replace(readings(antenna_w), networks=())
    return Run(
        scenario=scenario(tuned, claims),
        readings=figures,
        traces=traces,
        moments={"key down": 0.0, "antenna reached": 1.5e-7, "first echo": 3e-7, "settled": 8e-7},
        settling=Settling(8e-7, 1e-6, 10, 2.6, 3e-9),
        ledger=Ledger(41e-6, 40e-6, 26e-6, {"tuner": 1e-6, "feed line": 12e-6}, 1e-6, 3e-15, 2e-14),
        stresses=stresses,
    )


def start_up() -> StartUp:
    """A step that asks more of one place, and a slow key that asks nothing."""
    seen = SeenByTransmitter(20.0, 5.7e-7, 0.45, 1.0, 5.1, 0.001, 1.01)
    slow = SeenByTransmitter(0.001, 4.9e-3, 5e-5, 1.0, 1.01, 0.001, 1.01)
    over = (Stress("feed line", "voltage", 195.0, 4.5, 2.2e-7, 130.0), Stress("feed line", "current", 2.6, 9.5, 3.1e-7, 2.6))
    calm = tuple(dataclasses.replace(stress, largest=stress.steady) for stress in over)
    return StartUp(
        (
            KeyStart("step", 0.0, 3.5e-6, 7.5, over, seen, 271, True, 1.5e-6),
            KeyStart("5 ms", 5e-3, 4.78e-3, 1e4, calm, slow, 67, False, 0.0),
        ),
        4.7e-7,
    )


def verdict(holds: bool = True, otherwise: Outcome = "fails") -> Verdict:
    """Every reading of `run`, with an error bar; the antenna's power fails where asked, or is not proven."""
    judged = dict.fromkeys(readings().flatten(), "holds") | ({} if holds else {"antenna.power_w": otherwise})
    rows = tuple(
        VerdictRow(quantity, value, 1e-9, value, None if math.isinf(value) else 2.0, judged[quantity])
        for quantity, value in readings().flatten().items()
    )
    return Verdict(rows, (160, 320, 640), 1.998, 4e-14, 40.0)
