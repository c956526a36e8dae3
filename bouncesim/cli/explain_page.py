"""The words of bouncesim explain."""

from __future__ import annotations

import math
from typing import Any

from bouncesim.account.plain import to_plain
from bouncesim.cli.meter_options import meters_told
from bouncesim.cli.pages import Block, Heading, Paragraph, Rows, Steps
from bouncesim.exact.demonstration.effects import Meters, Staged
from bouncesim.exact.demonstration.inference import USELESS, Evidence, Finding
from bouncesim.quantity import show

LABELS = {  # of a quantity: in words, and its unit
    "transmitter.swr": ("SWR at the transmitter", ""),
    "transmitter.forward_w": ("forward at the transmitter", "W"),
    "transmitter.net_w": ("forward less reflected at the transmitter", "W"),
    "transmitter.power_w": ("power that leaves the transmitter", "W"),
    "tuner.heat_w": ("heat between transmitter and line", "W"),
    "tuner.heat_share": ("that, as a share of the power", "%"),
    "line.swr": ("SWR on the line, near end", ""),
    "line.meter_swr": ("SWR by the meter on the line", ""),
    "line.forward_w": ("forward at the near end of the line", "W"),
    "line.net_w": ("power into the line", "W"),
    "line.matched_loss_db": ("matched loss of the line, one way", "dB"),
    "line.loss_db": ("loss of the line as operated", "dB"),
    "line.heat_w": ("heat in the line", "W"),
    "antenna.swr": ("SWR at the far end", ""),
    "antenna.meter_swr": ("SWR by the meter at the far end", ""),
    "antenna.power_w": ("power out of the line", "W"),
}
PLACES = {"transmitter": "at the transmitter", "line": "on the line", "antenna": "at the far end"}
DOUBTS = {place: f"the reading {where}" for place, where in PLACES.items()} | {
    "power": "the transmitter's power",
    "matched loss": "the line's loss",
}
NEXT_TO_NOTHING = 0.01


def page(title: str, evidence: Evidence, found: Finding, staged: Staged | None, meters: Meters, notes: list[str]) -> list[Block]:
    """The whole answer."""
    rows = [
        [
            PLACES[place],
            show(r.forward_w, "W"),
            show(r.instrument.forward_error_w, "W"),
            show(r.reflected_w, "W"),
            show(r.instrument.reflected_error_w, "W"),
        ]
        for place, r in evidence.readings.items()
    ]
    blocks: list[Block] = [Heading(title, 1), Rows("Read", ["", "forward", "±", "reflected", "±"], rows)]
    blocks += [Paragraph(verdict(found))]
    if found.consistent:
        blocks.append(_answers(found, staged))
        if evidence.skew > USELESS:
            blocks.append(
                Paragraph("The meters are not made for this line: their SWR is not the line's; what they tell is the power that flows.")
            )
    blocks.append(Paragraph(" ".join([meters_told(meters), "Each needle may be off by its class, and by a leak of any phase.", *notes])))
    blocks.append(Heading("Cautions"))
    blocks.append(
        Steps(["Never move a meter, a connector or a switch under power; read at low power, and let no one touch a bare conductor."])
    )
    return blocks


def verdict(found: Finding) -> str:
    """Whether all of it can be true, and by how much."""
    if found.consistent:
        if found.loosened < NEXT_TO_NOTHING:
            return "These readings can all be true, even if next to nothing is off."
        return f"These readings can all be true; {found.loosened:.2g} of the errors that are allowed would do."
    if math.isinf(found.loosened):
        told = "These readings cannot all be true, however far the errors that were told are stretched."
    else:
        told = f"These readings cannot all be true: every error would have to be {found.loosened:.3g} times as large as was told."
    if not found.culprits:
        return told + " No single one of them is to blame."
    return f"{told} Doubt {' or '.join(DOUBTS[name] for name in found.culprits)}: without it the rest agrees."


def _answers(found: Finding, staged: Staged | None) -> Rows:
    expected = expected_values(staged) if staged else {}
    rows = []
    for name, (label, unit) in LABELS.items():
        if name in found.values:
            interval, factor = found.values[name], 100 if unit == "%" else 1
            ends = [show(end * factor, unit) for end in (interval.least, interval.most)]
            row = [label, *ends]
            if staged:
                value = expected.get(name)
                row += (
                    ["", ""] if value is None else [show(value * factor, unit), _inside(value, interval.least, interval.most, unit, factor)]
                )
            rows.append(row)
    columns = ["", "at least", "at most"] + (["the scenario says", ""] if staged else [])
    return Rows("What they say", columns, rows)


def _inside(value: float, least: float, most: float, unit: str, factor: float) -> str:
    if value < least * (1 - 1e-9):
        return f"too low by {show((least - value) * factor, unit)}"
    return f"too high by {show((value - most) * factor, unit)}" if value > most * (1 + 1e-9) else "possible"


def expected_values(staged: Staged) -> dict[str, float]:
    """What the scenario says of every quantity, by the closed form."""
    r, line = staged.readings, staged.line
    net = staged.near.forward_w - staged.near.reflected_w
    return {
        "transmitter.swr": staged.at_transmitter.swr,
        "transmitter.forward_w": staged.at_transmitter.forward_w,
        "transmitter.net_w": r.transmitter.power_w,
        "transmitter.power_w": r.transmitter.power_w,
        "tuner.heat_w": r.transmitter.power_w - net,
        "tuner.heat_share": (r.transmitter.power_w - net) / r.transmitter.power_w,
        "line.swr": line.swr_in,
        "line.meter_swr": staged.near.swr,
        "line.forward_w": staged.near.forward_w,
        "line.net_w": net,
        "line.matched_loss_db": line.matched_loss_db,
        "line.loss_db": line.loss_db,
        "line.heat_w": line.heat_w,
        "antenna.swr": line.swr_out,
        "antenna.meter_swr": staged.far.swr,
        "antenna.power_w": staged.far.forward_w - staged.far.reflected_w,
    }


def plain(evidence: Evidence, found: Finding, staged: Staged | None) -> dict[str, Any]:
    """The same as data."""
    expected = expected_values(staged) if staged else {}
    return {
        "consistent": found.consistent,
        "errors_needed": found.loosened,
        "doubt": list(found.culprits),
        "says": verdict(found),
        "read": to_plain(dict(evidence.readings)),
        "power_w": to_plain(evidence.power_w) if evidence.power_w else None,
        "matched_loss_db": to_plain(evidence.matched_loss_db) if evidence.matched_loss_db else None,
        "values": {name: to_plain(value) | {"scenario": expected.get(name)} for name, value in found.values.items()},
    }
