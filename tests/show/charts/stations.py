"""Small stations with one, two and five line sections, short and long, simulated once; invented data."""

from __future__ import annotations

from functools import cache

from bouncesim import perform
from bouncesim.account.run import Run
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


@cache
def run_of(name: str) -> Run:
    return perform.simulate(parse_scenario(TEXTS[name]))
