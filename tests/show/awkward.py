"""Stories that are hard to lay out: long words, many sections, very small and very large figures."""

from __future__ import annotations

from bouncesim.scenario.model import Beat, Element, Meter, Network
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
}
