"""A question and the reading that answers it, in words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from bouncesim.errors import OptionError
from bouncesim.scenario import Scenario

LONGEST = 240  # characters of a question that a card can show
_ENDS = {
    "power_w": ("power leaving the {}", "power into the {}"),
    "swr": ("SWR at the {}", "SWR at the {}"),
    "voltage_v_rms": ("voltage at the {}, rms", "voltage at the {}, rms"),
    "current_a_rms": ("current at the {}, rms", "current at the {}, rms"),
}
_PARTS = {
    "power_in_w": "power into the {}",
    "power_out_w": "power out of the {}",
    "heat_w": "heat in the {}",
    "forward_w": "forward power at the {}",
    "reflected_w": "reflected power at the {}",
    "swr": "SWR at the {}",
    "forward_in_w": "forward power at the start of the {}",
    "reflected_in_w": "reflected power at the start of the {}",
    "forward_out_w": "forward power at the end of the {}",
    "reflected_out_w": "reflected power at the end of the {}",
    "swr_in": "SWR at the start of the {}",
    "swr_out": "SWR at the end of the {}",
    "loss_db": "loss of the {}, as it is used",
    "matched_loss_db": "loss of the {}, if it were matched",
    "largest_v_peak": "largest voltage on the {}, peak",
    "largest_a_peak": "largest current on the {}, peak",
    "coil_a_peak": "current in the coil of the {}, peak",
    "capacitor_v_peak": "voltage on the capacitor of the {}, peak",
}


def question_words(question: str | None, title: str) -> str:
    """The question, on one line; the title where there is none. Raises OptionError for one that no card can hold."""
    words = " ".join((question if question is not None else title).split())
    if not words or len(words) > LONGEST:
        raise OptionError(f"A question has 1 to {LONGEST} characters; this one has {len(words)}.")
    return words


def reading_words(quantity: str, known: Iterable[str], scenario: Scenario) -> str:
    """A reading's path in words: "forward power at the start of the feed line". Raises OptionError for one that there is not."""
    known = list(known)
    if quantity not in known:
        near = difflib.get_close_matches(quantity, known, n=3, cutoff=0.4)
        raise OptionError(f'There is no reading "{quantity}". {"Nearest: " + ", ".join(near) if near else "One is antenna.power_w"}')
    part, _, field = quantity.rpartition(".")
    if part in (scenario.source_name, scenario.load_name) and field in _ENDS:
        return _ENDS[field][part == scenario.load_name].format(part)
    if field in _PARTS:
        return _PARTS[field].format(part)
    return quantity.replace("_", " ").replace(".", ": ")
