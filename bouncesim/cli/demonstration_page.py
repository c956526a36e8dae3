"""The words of a demonstration sheet."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import Any

from bouncesim.account.plain import to_plain
from bouncesim.cli.cautions import cautions
from bouncesim.cli.meter_options import meters_told
from bouncesim.cli.pages import Block, Heading, Paragraph, Rows, Steps
from bouncesim.exact.demonstration.effects import Candidate, Effect, Meters, Staged, is_made_for, tuner_in_front
from bouncesim.exact.demonstration.instruments import Interval
from bouncesim.exact.demonstration.sheet import Round, Sheet
from bouncesim.quantity import show
from bouncesim.scenario.bands import SOURCE

CLEAR = 1.0  # a contrast above this cannot drown in the errors of the meters
WHERE = {"transmitter": "at the transmitter", "line": "near end of the line", "antenna": "far end of the line"}
SAYS = {
    "above": "The forward reading on the line is above what the transmitter gives",
    "flat": "The transmitter sees next to no reflection, while its line carries a lot",
    "place": "A meter reads something else at the other end of the line",
}


def page(
    title: str, file: str, made: Sheet, found: list[Candidate], effect: str | None, meters: Meters, taken: str, region: int
) -> list[Block]:
    """The whole sheet."""
    name = effect or max(made.effects, key=lambda each: each.contrast).name
    blocks: list[Block] = [Heading(f"Demonstration: {title}", 1), Paragraph(_what(made, name))]
    if found:
        blocks += [_bands(found, name), *map(Paragraph, filter(None, [_not_advised(found), _about_bands(region)]))]
    blocks += [Paragraph(meters_told(meters) + (f" {taken}" if taken else "")), _powers(made), _expected(made)]
    blocks += [Paragraph(note) for note in _notes(made, meters)]
    blocks += [Heading("In this order"), Steps(_order_of_work(made, file))]
    blocks += [Heading("Something is wrong if"), Steps(list(_wrong(made)))]
    blocks += [Heading("Cautions"), Steps(_warnings(made))]
    return blocks


def _what(made: Sheet, name: str) -> str:
    """The effect, in numbers, at the last power of the sheet."""
    staged, last = made.staged, made.rounds[-1]
    first, near, far = last.meters
    frequency = show(made.frequency_hz, "Hz", 6)
    chosen = next((each for each in made.effects if each.name == name), None)
    if chosen is None:
        return f"At {frequency} this station does not show that: there is no tuner in front of {staged.line.name}."
    told = {
        "above": f"{show(last.power_w, 'W')} from the transmitter, and {show(near.forward_w, 'W')} forward on {staged.line.name}.",
        "flat": f"SWR {show(first.swr)} at the transmitter, {show(near.swr)} by the meter on {staged.line.name}.",
        "place": f"SWR {show(near.swr)} by the meter at the near end of {staged.line.name}, {show(far.swr)} at its far end.",
    }[name]
    return f"{SAYS[name]}: at {frequency}, {told} {_verdict(chosen)}"


def _verdict(effect: Effect) -> str:
    size = (
        "no contrast to speak of" if effect.contrast < 0.01 else f"{effect.contrast:.2g} times as much as these meters may be off together"
    )
    tail = (
        "nothing that they may do hides it" if effect.contrast > CLEAR else "so it may drown in their errors: take better meters, or say so"
    )
    return f"The difference is {size}; {tail}."


def _bands(found: list[Candidate], name: str) -> Rows:
    rows = []
    for each in found:
        if each.staged is None:
            rows.append([each.band, show(each.frequency_hz, "Hz", 6), *[""] * 6])
            continue
        s, power = each.staged, each.staged.readings.transmitter.power_w
        swr = [show(meter.swr) for meter in (s.at_transmitter, s.near, s.far)]
        arrives = f"{100 * s.readings.antenna.power_w / power:.0f} %"
        rows.append([each.band, show(each.frequency_hz, "Hz", 6), f"{each.contrast(name):.2g}", _times(s), *swr, arrives])
    columns = ["band", "best at", "contrast", "forward", "first", "near", "far", "arrives"]
    return Rows(f'Where "{name}" shows best', columns, rows)


def _times(staged: Staged) -> str:
    return f"{staged.near.forward_w / staged.readings.transmitter.power_w:.2f} x"


def _not_advised(found: list[Candidate]) -> str:
    """The bands that had better be left alone, the same reason once."""
    reasons: dict[str, list[str]] = {}
    for each in found:
        if each.unfit:
            reasons.setdefault(each.unfit, []).append(each.band)
    return " ".join(f"Not advised: {', '.join(bands)} ({reason})." for reason, bands in reasons.items())


def _about_bands(region: int) -> str:
    return (
        "contrast: the difference over what the meters may be off together; above 1 nothing hides it. forward: on the line, over the "
        "transmitter's power. first, near, far: SWR by the meters at the transmitter and at both ends of the line. arrives: "
        "of the power, at the antenna. "
        f"Bands of region {region} ({SOURCE}); your licence may allow less. Away from its own carrier an antenna told as one impedance is "
        "taken as the R, L and C that make it up, and a tuner is set anew."
    )


def _powers(made: Sheet) -> Rows:
    rows = [
        [
            show(r.power_w, "W"),
            span(r.dummy_load.forward_w, "W"),
            f"up to {show(r.dummy_load.reflected_w.most, 'W')}",
            show(r.highest_v_peak, "V"),
        ]
        for r in made.rounds
    ]
    return Rows("Powers, and what a dummy load shows", ["transmitter", "forward", "reflected", "highest on a line (peak)"], rows)


def _expected(made: Sheet) -> Rows:
    rows = []
    for each in made.rounds:
        for meter in each.meters:
            scales = " / ".join(show(scale, "W") for scale in meter.scales_w)
            if meter.forward_w > meter.scales_w[0]:
                scales = "beyond all"
            needles = [span(meter.shown.forward_w, "W"), span(meter.shown.reflected_w, "W"), span(meter.shown.swr, "")]
            rows.append([f"{show(each.power_w, 'W')}, {WHERE[meter.place]}", scales, *needles])
    return Rows("What each meter may show", ["power, place of the meter", "scales", "forward", "reflected", "SWR"], rows)


def _notes(made: Sheet, meters: Meters) -> Iterator[str]:
    staged = made.staged
    line = next(part for part in staged.scenario.all_lines if part.name == staged.line.name)
    yield (
        "The spans are worst cases: the class of each needle, and a leak of any phase by the directivity. Errors in what the scenario "
        "says of line, antenna and tuner come on top."
    )
    if made.antennas > 1:
        yield f"The antenna is not known fully: the spans take in {made.antennas} that what was told leaves possible."
    if not is_made_for(meters, line, made.frequency_hz):
        own = show(line.constants(made.frequency_hz).impedance_ohm, "ohm", 3)
        yield (
            f"{line.name} is a line of {own}, and the meters are made for {show(meters.reference_ohm, 'ohm')}: their SWR is not that of "
            "the line and changes with the place of the meter. Forward less reflected is the true power all the same."
        )
    if not tuner_in_front(staged.scenario, staged.line.name):
        yield "There is no tuner in front of this line: what the transmitter gives depends on its load, and these powers are for its own."


def _order_of_work(made: Sheet, file: str) -> list[str]:
    low, last = made.rounds[0], made.rounds[-1]
    frequency = show(made.frequency_hz, "Hz", 6)
    tuned = tuner_in_front(made.staged.scenario, made.staged.line.name)
    steps = [
        "Rope off antenna, feed point, open wire and tuner terminals; nobody touches them from here on. Check the ratings of every part.",
        f"Dummy load first. Put the meter between transmitter and dummy load, set {show(low.power_w, 'W')} at {frequency} and key for "
        f"a few seconds: forward {span(low.dummy_load.forward_w, 'W')}, reflected up to {show(low.dummy_load.reflected_w.most, 'W')}.",
        "Key up. Only now change cables: never move a connector, a meter or a switch under power.",
        f"Connect the antenna. Listen on {frequency} for a while, ask whether it is in use, and identify.",
    ]
    if tuned:
        steps.append(
            f"Tune up at {show(low.power_w, 'W')}, to the least reflected reading at the transmitter: up to "
            f"{show(low.meters[0].shown.reflected_w.most, 'W')} is as good as none on this meter. Key up."
        )
    for each in made.rounds:
        steps.append(
            f"Set {show(each.power_w, 'W')}. For each place of the meter: key up, move it, key a few seconds, read forward, then reflected."
        )
    near = last.meters[1]
    asked = f'--on-line "{show(near.forward_w, "W")}" "{show(near.reflected_w, "W")}"'.replace("µ", "u")
    steps += [
        f"Let the audience reckon forward less reflected: at the near end {span(last.meters[1].shown.net_w, 'W')} by these meters.",
        f'What was read, explained: bouncesim explain {shlex.quote(file)} --at "{frequency}" --power "{show(last.power_w, "W")}" {asked}',
        f"Back to {show(low.power_w, 'W')}, identify, key up, transmitter off before anything is taken apart.",
    ]
    return steps


def _wrong(made: Sheet) -> Iterator[str]:
    last = made.rounds[-1]
    first = last.meters[0]
    yield "the dummy load shows more reflected power than the table allows: the meter is the wrong way round, or something is bad."
    if tuner_in_front(made.staged.scenario, made.staged.line.name):
        yield (
            f"forward less reflected on the line is more than {show(first.shown.net_w.most, 'W')}, beyond what these meters may be off: no "
            f"tuner gives back more than it gets. Expect {span(last.tuner_heat_w, 'W')} of heat in what stands between transmitter and "
            "line; a tuner that gets hot takes more."
        )
    if made.staged.line.swr_out > made.staged.line.swr_in:
        yield "forward rises, or reflected falls, along the line by more than the meters may be off: exchange them, and read again."
    yield "a reading drifts while the key is down, jumps, or comes with a smell or a crackle: something gets hot, or arcs. Power off."
    yield "readings lie outside the spans: the station is not the one of the scenario. bouncesim explain says what they would mean."


def _warnings(made: Sheet) -> list[str]:
    power = max(r.power_w for r in made.rounds)
    staged = made.staged
    share = power / staged.readings.transmitter.power_w
    return cautions(staged.scenario, staged.readings.driven(share)) or ["Any bare conductor that carries RF can burn at a few watts."]


def span(interval: Interval, unit: str) -> str:
    """An interval in words, both ends to three figures."""
    low, high = show(interval.least, unit), show(interval.most, unit)
    return low if low == high else f"{low} to {high}"


def plain(made: Sheet, found: list[Candidate], effect: str | None, meters: Meters, region: int) -> dict[str, Any]:
    """The same as data; keys are the names of the fields."""
    return {
        "effect": effect or max(made.effects, key=lambda each: each.contrast).name,
        "frequency_hz": made.frequency_hz,
        "line": made.staged.line.name,
        "meters": to_plain(meters),
        "effects": [to_plain(each) for each in made.effects],
        "region": region,
        "bands": [_plain_band(each) for each in found],
        "rounds": [_plain_round(each) for each in made.rounds],
        "antennas": made.antennas,
        "cautions": _warnings(made),
    }


def _plain_band(each: Candidate) -> dict[str, Any]:
    made: dict[str, Any] = {"band": each.band, "frequency_hz": each.frequency_hz, "unfit": each.unfit or None}
    if each.staged is not None:
        made |= {"effects": [to_plain(effect) for effect in each.effects]}
        made |= {name: getattr(each.staged, name).swr for name in ("at_transmitter", "near", "far")}
    return made


def _plain_round(each: Round) -> dict[str, Any]:
    plain: dict[str, Any] = to_plain(each)
    for told, meter in zip(plain["meters"], each.meters, strict=True):
        told["shown"] |= {"net_w": to_plain(meter.shown.net_w), "swr": to_plain(meter.shown.swr)}
    return plain
