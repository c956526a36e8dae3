"""The published rules that are held against the exact engine: what each says, where it is from, what it takes for granted, and its range.

`compare.rules` lays each over its range. The range of a rule goes as far as stations do, so that it shows where the rule ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bouncesim.exact import formulas
from bouncesim.exact.phasor import Complex, Real

DEFINITION = "definition, as in any handbook"
FROM_MEMORY = "handbook rule (from memory)"
NO_SOURCE = "common practice, no source"
REAL_IMPEDANCE = "the line's impedance is real, so its loss is half in the conductors and half in the insulation"
NO_LOSS = "no loss in the line"
AS_RESISTANCE = "the antenna is the same resistance at every frequency"


@dataclass(frozen=True)
class Axis:
    """One quantity that a rule is laid over, from `low` to `high`; in even ratios if `log`. `unit` as quantity.show takes it."""

    label: str
    low: float
    high: float
    unit: str = ""
    log: bool = False


@dataclass(frozen=True)
class Rule:
    """One rule of thumb. `formula` in words or letters; `quantity` is what it gives, in `unit`; `held` says what else the range holds."""

    name: str
    says: str
    formula: str
    function: Callable[..., Real | Complex]
    quantity: str
    unit: str
    source: str
    assumes: tuple[str, ...]
    x: Axis
    y: Axis
    held: str


SWR = Axis("SWR at the antenna", 1.1, 20, log=True)
ANY_PHASE = "the antenna of every phase that has this SWR: the worst of them counts"
THIN = "all loss in the conductors, 0.5 dB a wavelength, as in thin cable"

RULES = (
    Rule(
        "reflected-share",
        "The SWR tells what share of the forward power is reflected",
        "((SWR - 1)/(SWR + 1))²",
        formulas.reflected_share,
        "reflected share",
        "",
        f"{DEFINITION} (Pozar, Microwave Engineering, section 2.3)",
        ("the SWR is read at the same place as the powers", "no loss between a largest voltage and a least one"),
        SWR,
        Axis("loss of the line, dB a wavelength", 0.005, 2, log=True),
        f"the SWR taken as it is defined, largest over least voltage, along the last half wave; {ANY_PHASE}",
    ),
    Rule(
        "tuned-forward",
        "On a tuned line the forward power is P/(1 - rho²)",
        "P/(1 - rho²)",
        formulas.tuned_forward_w,
        "forward power for each watt that enters the line",
        "W",
        "P = Pf - Pr and Pr = rho² Pf (definitions)",
        (NO_LOSS, "rho is the antenna's"),
        SWR,
        Axis("matched loss of the line", 0, 3, "dB"),
        f"two wavelengths of line, read at its transmitter end; {ANY_PHASE}",
    ),
    Rule(
        "one-echo",
        "On a tuned line the forward power is the transmitter's power and one echo",
        "P (1 + rho²)",
        formulas.one_echo_forward_w,
        "forward power for each watt that enters the line",
        "W",
        NO_SOURCE,
        (NO_LOSS, "the first echo is the only one"),
        SWR,
        Axis("matched loss of the line", 0, 3, "dB"),
        f"two wavelengths of line, read at its transmitter end; {ANY_PHASE}",
    ),
    Rule(
        "added-loss",
        "Matched loss and SWR tell the whole loss of a line",
        "10 lg((a² - rho²)/(a (1 - rho²))), a = 10^(matched loss/10)",
        formulas.loss_with_swr_db,
        "loss of the line",
        "dB",
        "amateur radio handbooks (from memory); follows from Pozar, eq. 2.92 to 2.94",
        (REAL_IMPEDANCE, "or the line is so long that voltage and current are each high in turn"),
        Axis("SWR at the antenna", 1.1, 30, log=True),
        Axis("length of the line, wavelengths", 0.02, 4, log=True),
        f"{THIN}; {ANY_PHASE}",
    ),
    Rule(
        "largest-voltage",
        "The largest voltage on a line is the root of P Z0 SWR",
        "√(P Z0 SWR)",
        formulas.largest_voltage_v_rms,
        "largest voltage for each watt on 50 ohm",
        "V",
        FROM_MEMORY,
        (NO_LOSS, "the line is long enough to hold the place"),
        SWR,
        Axis("length of the line, wavelengths", 0.02, 1, log=True),
        f"a line without loss; {ANY_PHASE}",
    ),
    Rule(
        "swr-in-the-shack",
        "The matched loss tells what SWR the shack sees",
        "rho in the shack = rho at the antenna × 10^(-matched loss/10)",
        formulas.swr_at_input,
        "SWR in the shack",
        "",
        "Pozar, Microwave Engineering, section 2.7",
        (REAL_IMPEDANCE,),
        Axis("SWR at the antenna", 1.1, 30, log=True),
        Axis("matched loss of the line", 0.05, 10, "dB", log=True),
        f"{THIN}, so that much loss means a long line; {ANY_PHASE}",
    ),
    Rule(
        "untuned-power",
        "Without a tuner the transmitter delivers 1 - rho² of its power",
        "P (1 - rho²)",
        formulas.untuned_power_w,
        "power for each watt that is rated",
        "W",
        "mismatch loss (Stanley and Jeffords, Electronic Communications, example 14.11)",
        ("the source is linear, and its impedance is the rated load",),
        Axis("SWR that the transmitter sees", 1.1, 10, log=True),
        Axis("source impedance", 5, 500, "ohm", log=True),
        "a linear source that delivers its rated power into 50 ohm; a load of every phase that has this SWR: the worst of them counts",
    ),
    Rule(
        "tuner-loss",
        "A tuner keeps its Q over the Q of its coil as heat",
        "√(50 ohm/R - 1)/Q of the coil",
        formulas.tuner_loss_share,
        "heat in the tuner, share of the power",
        "",
        "Niknejad, Matching Networks (lecture, UC Berkeley, 2016), to first order; handbook rule (from memory)",
        ("the load is a resistance R", "the heat is small", "the capacitor has no loss"),
        Axis("resistance of the load", 3, 45, "ohm", log=True),
        Axis("reactance of the load", -300, 0, "ohm"),
        "an L of a shunt capacitor without loss and a series coil with a Q of 200, to 50 ohm",
    ),
    Rule(
        "quarter-wave-bandwidth",
        "The ratio of impedances tells the bandwidth of a quarter-wave match",
        "2 - (4/π) arccos(rm/√(1 - rm²) · 2 √(Z0 R)/|R - Z0|)",
        formulas.quarter_wave_bandwidth,
        "bandwidth, share of the frequency",
        "",
        "Pozar, Microwave Engineering, eq. 5.33",
        (NO_LOSS, AS_RESISTANCE),
        Axis("antenna over transmitter, ratio of impedances", 1.6, 10, log=True),
        Axis("Q of the antenna", 0, 20),
        "SWR up to 1.5; the antenna a series circuit of this Q, resonant at the middle frequency",
    ),
    Rule(
        "half-an-s-unit",
        "Half the power is half an S-unit",
        "0.5 S-units a halving",
        formulas.s_units_by_halves,
        "S-units lost",
        "",
        f"{NO_SOURCE}; 6 dB an S-unit by IARU Region 1 recommendation R.1 (1981)",
        ("the meter has 6 dB an S-unit",),
        Axis("part of the power that is left", 0.05, 0.9),
        Axis("the meter's S-unit", 3, 6, "dB"),
        "a meter with as many dB in every S-unit",
    ),
    Rule(
        "round-trips",
        "Round trips tell when a line has settled",
        "the least n with (rho of one end × rho of the other)ⁿ at most 1 %",
        formulas.waves_to_settle,
        "waves that set out until the forward power stays within 1 %",
        "",
        "lattice diagram (Gonen, Electric Power Transmission System Engineering, chapter 7)",
        ("the ends reflect at once", "what settles is a voltage"),
        Axis("rho at the transmitter's end", 0.05, 0.9),
        Axis("rho at the antenna", 0.05, 0.9),
        "a line without loss; every phase of the round trip: the worst counts",
    ),
    Rule(
        "open-end",
        "To the returning wave, a tuner looks like an open end: all of it sets out again",
        "1",
        formulas.sent_again_as_open,
        "part of an echo's power that sets out again",
        "",
        NO_SOURCE,
        ("the steady state, in which all echoes together amount to it, holds for each of them",),
        Axis("SWR on the line", 1.1, 20, log=True),
        Axis("source impedance", 5, 500, "ohm", log=True),
        "an L without loss, set to 50 ohm; the line of every phase that has this SWR: the worst of them counts",
    ),
    Rule(
        "meter-on-any-line",
        "A directional wattmeter tells the SWR of the line that it stands in",
        "(√Pf + √Pr)/(√Pf - √Pr)",
        formulas.swr_of_powers,
        "SWR on the line",
        "",
        "Blake, Electronic Communication Systems, example 14.20",
        ("the meter is made for the impedance of this line",),
        Axis("SWR on the line", 1.05, 10, log=True),
        Axis("impedance of the line", 25, 400, "ohm", log=True),
        "a meter for 50 ohm; an antenna of every phase that has this SWR: the worst of them counts",
    ),
    Rule(
        "half-wave-line",
        "A half-wave line repeats its load",
        "Z in = Z of the load",
        formulas.half_wave_ohm,
        "impedance at the input",
        "ohm",
        "Ulaby, Fundamentals of Applied Electromagnetics, section 2.7",
        (NO_LOSS,),
        SWR,
        Axis("loss of the line, dB a wavelength", 0.005, 2, log=True),
        f"all loss in the conductors; {ANY_PHASE}",
    ),
)


def rule(name: str) -> Rule:
    """The rule called `name`; KeyError if there is none."""
    for one in RULES:
        if one.name == name:
            return one
    raise KeyError(name)
