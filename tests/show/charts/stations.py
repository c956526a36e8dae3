"""Small stations with one, two and five line sections, short and long, simulated once; invented data."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from bouncesim import perform
from bouncesim.account.run import Run
from bouncesim.account.startup import KeyStart, SeenByTransmitter, StartUp
from bouncesim.scenario.reader import parse_scenario

LONG = "A question so long that it takes more than one line: what do five feed lines & <their> $losses_{x}$ make of 1.2 kW -->?"


def line(name: str, length_m: float, ohm: float = 50, loss: float = 2.0) -> str:
    text = f'[[path]]\npart = "line"\nname = "{name}"\nlength = "{length_m} m"\nimpedance = "{ohm} ohm"\nvelocity_factor = 0.7\n'
    return text + (f'loss = "{loss} dB/100 m"\n' if loss else "")


def text(title: str, path: str, *, power: str = "35 W", mhz: float = 14.15, rise: str = "0.15 us", antenna: str = "28 - 51j ohm") -> str:
    head = f"title = '''{title}'''\n[transmitter]\nfrequency = \"{mhz} MHz\"\npower = \"{power}\"\n"
    return f'{head}[keying]\nrise = "{rise}"\n{path}[antenna]\nimpedance = "{antenna}"\n'


TUNER = '[[path]]\npart = "tuner"\ncoil_q = 150\n'
METER = '[[path]]\npart = "meter"\nname = "{}"\n'
BALUN = '[[path]]\npart = "transformer"\nname = "step-up balun"\nratio = "1:4"\nwinding_resistance = "0.5 ohm"\n'
STUB = (
    '[[path]]\npart = "stub"\nname = "matching stub"\nend = "open"\n[[path.path]]\npart = "line"\nlength = "1.1 m"\nimpedance = "300 ohm"\n'
    "velocity_factor = 0.9\n"
)
FIVE = (
    METER.format("station meter")
    + TUNER
    + METER.format("line meter")
    + line("jumper in the shack", 2)
    + line("buried coax along the fence", 21, 50, 4)
    + BALUN
    + line("open wire", 9, 300, 0.5)
    + STUB
    + line("twin lead", 5, 240)
    + line("tail", 1.5, 450, 0)
)
TEXTS = {
    "one": text("One line", TUNER + line("feed line", 31)),
    "two": text("A balun between two lines", METER.format("meter") + TUNER + line("coax", 14) + BALUN + line("open wire", 22, 400, 0.4)),
    "five": text(LONG, FIVE, power="1.2 kW"),
    "short": text("A twentieth of a wavelength", line("coax", 0.742, 50, 0), power="5 W", rise="0.3 us"),
    "long": text("Twelve wavelengths", TUNER + line("coax", 178), power="1.5 kW", rise="0.1 us"),
}


FAULTS = ('series = "resistor", value = "30 ohm"', 'shunt = "capacitor", value = "90 pF"', 'series = "inductor", value = "0.3 uH"')
JOINT = '[[path]]\npart = "network"\nname = "joint {}"\nelements = [ {{ {} }} ]\n'
PULSES = {  # name -> path behind a pulse
    "one fault": line("cable in the ground", 14) + JOINT.format("a", FAULTS[0]) + line("cable on the mast", 19),
    "three faults": "".join(line(f"piece {k} of the cable", 9 + 3 * k) + JOINT.format(k, fault) for k, fault in enumerate(FAULTS)),
    "no fault": line("coax", 20),
}


@cache
def pulse_run(name: str) -> Run:
    antenna = "50 ohm" if name == "no fault" else "0 ohm"
    told = text(name, PULSES[name] + (line("the last piece", 12) if name == "three faults" else ""), antenna=antenna)
    return perform.simulate(parse_scenario(told.replace('rise = "0.15 us"', 'shape = "pulse"\nwidth = "40 ns"')))


def start_like(run: Run) -> StartUp:
    """A start-up with the places of this run, and figures that spread."""
    over = {0.0: 1.9, 1e-6: 1.3, 5e-3: 1.0, 1.5e-7: 1.6}
    keys = []
    for k, (rise, times) in enumerate(over.items()):
        stresses = tuple(replace(one, largest=one.steady * (times if n % 3 else 1.0)) for n, one in enumerate(run.stresses))
        seen = SeenByTransmitter(20.0 * (times - 1), 5.7e-7, 0.9 * (times - 1), 1.0, 1 / (2.0 - times), 0.001, 1.01)
        keys.append(KeyStart(("step", "1 µs", "5 ms", "its own, 150 ns")[k], rise, max(3e-6, rise), 7.5, stresses, seen, 271, True, 1e-6))
    return StartUp(tuple(keys), 4e-7)


@cache
def run_of(name: str) -> Run:
    return perform.simulate(parse_scenario(TEXTS[name]))
