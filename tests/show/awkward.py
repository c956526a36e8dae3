"""Stories that are hard to lay out: long words, many sections, very small and very large figures."""

from __future__ import annotations

from typing import Literal

from bouncesim.scenario.model import Beat, Element, Line, Meter, Network, Part, Stub, Transformer
from tests.show.fake import TUNER, Station

LONG = "What becomes of the power that a badly mismatched antenna at the end of three different feed lines sends back to the shack?"
LONG_CAPTION = (
    "This caption goes on for longer than any caption should, because somebody wanted to explain the whole of it at once: "
    "${antenna.power_w} into the antenna, and SWR ${feed line.swr_in} at the start."
)
PI = Network(
    name="harmonic filter",
    elements=(
        Element(position="shunt", kind="capacitor", value=1e-10),
        Element(position="series", kind="inductor", value=1e-6),
        Element(position="shunt", kind="capacitor", value=1e-10),
        Element(position="series", kind="resistor", value=1.0),
    ),
)
TEE = Network(
    name="mast tuner",
    elements=(
        Element(position="series", kind="capacitor", value=2e-10),
        Element(position="shunt", kind="inductor", value=1e-6),
        Element(position="series", kind="capacitor", value=2e-10),
    ),
    is_tuner=True,
)
LADDER = Network(name="band filter", elements=PI.elements * 2)
BALUN = Transformer(name="step-up balun", impedance_ratio=6.25)


def stub(name: str, end: Literal["open", "short"] | complex = "open", *more: Part) -> Stub:
    """A stub of one line and whatever else."""
    line = Line(name=f"line of {name}", length_m=4.27, impedance_ohm=75.0, velocity_factor=0.66)
    return Stub(name=name, path=(line, *more), end=end)


STORIES: dict[str, Station] = {
    "plain": Station(),
    "many lines": Station(
        title=LONG,
        power=1250.0,
        loss_db=3.0,
        wavelengths=2.3,
        sections=(
            ("jumper", 0.03, 50.0),
            ("buried coax along the garden fence", 0.4, 50.0),
            ("patch", 0.02, 75.0),
            ("open wire up the mast", 0.55, 450.0),
        ),
        before=(Meter(name="station meter"), PI, TUNER),
        between=(Meter(name="line meter"),),
        after=(Meter(name="mast meter"), Network(name="balun", elements=TUNER.elements[1:])),
        beats=(
            Beat(until="antenna reached", lasts_s=2.0, caption=LONG_CAPTION.replace("feed line", "jumper")),
            Beat(until="settled", lasts_s=2.0, caption="$5 says: not all is lost at ${time}, with <${patch.forward_in_w}> going up."),
        ),
    ),
    "two metres": Station(
        title="Two metres of coax",
        frequency=3.6e6,
        power=5e-3,
        wavelengths=0.0364,
        antenna=1500.0,
        before=(),
        round_trips=60.0,
        rise_periods=0.5,
    ),
    "long and lossy": Station(
        title="Three hundred metres of thin coax on ten metres",
        frequency=28.5e6,
        wavelengths=43.0,
        power=400.0,
        loss_db=14.0,
        antenna=12.0,
        round_trips=1.5,
        beats=(Beat(until="settled", lasts_s=3.0, caption=LONG_CAPTION), Beat(until=2e-3, lasts_s=3.0, caption="A slow look.")),
        rise_s=5e-3,
    ),
    "very high SWR": Station(
        title="A wire that is nearly an open end",
        power=900.0,
        antenna=4900.0,
        source_reflection=0.9,
        round_trips=30.0,
        before=(TUNER, Meter(name="meter")),
    ),
    "balun": Station(
        title="A balun and a stub",
        sections=(("coax", 0.3, 50.0), ("open wire", 0.7, 450.0)),
        before=(Meter(name="station meter"), TUNER),
        between=(BALUN,),
        after=(stub("matching stub", "short"),),
        loss_db=0.4,
    ),
    "two tuners": Station(
        title="A tuner at each end, and a meter on either side of the line",
        before=(Meter(name="station meter"), TUNER, Meter(name="line meter")),
        after=(Meter(name="mast meter"), TEE),
        beats=(
            Beat(until="first echo", lasts_s=2, caption="${tuner.coil_a_peak} in the coil, ${mast tuner.capacitor_v_peak} on a capacitor."),
            Beat(until="settled", lasts_s=2, caption="SWR ${mast meter.swr_least} to ${mast meter.swr_most}."),
        ),
    ),
    "everything": Station(
        title="Every kind of part at once",
        sections=(("coax", 0.02, 50.0), ("open wire", 0.98, 450.0)),
        before=(Meter(name="station meter"), TUNER, Meter(name="line meter"), PI),
        between=(stub("notch stub"), LADDER, BALUN, stub("trap", 50 - 20j, Meter(name="inner"), stub("on a stub"))),
        after=(TEE, Meter(name="mast meter"), stub("end stub", "short", Network(name="lone coil", elements=PI.elements[1:2]))),
        loss_db=1.0,
    ),
    "many places": Station(
        title="Parts at one place, more than the frame has room for",
        sections=(("coax", 0.5, 50.0), ("more coax", 0.5, 50.0)),
        between=tuple(Meter(name=f"meter number {n}") for n in range(30)),
        after=tuple(stub(f"stub number {n}") for n in range(20)),
    ),
}
