"""What the commands run and film share: one station, simulated, solved and judged."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bouncesim import perform
from bouncesim.account.plain import to_plain
from bouncesim.account.readings import Readings
from bouncesim.account.reception import Reception
from bouncesim.account.run import Run
from bouncesim.cli.cautions import cautions, line_notes
from bouncesim.cli.keying import plain_key
from bouncesim.cli.terminal import progress
from bouncesim.compare.claims import ClaimVerdict, judge
from bouncesim.exact.reception import reception
from bouncesim.quantity import show
from bouncesim.scenario import Network, Scenario

RESULTS = Path("outputs")


@dataclass(frozen=True)
class Station:
    """The simulated station beside its closed form; `by_source` is empty where a tuner sets the load of the transmitter."""

    file: Path
    run: Run
    exact: Readings
    claims: tuple[ClaimVerdict, ...]
    by_source: dict[float, Readings]
    by_behaviour: dict[str, Readings] = field(default_factory=dict)  # of the transmitter; empty likewise
    by_antenna: tuple[Readings, ...] = ()  # with every antenna that what was told of it leaves possible; empty where nothing is left open
    reception: Reception | None = None  # of a station that receives

    @property
    def holds(self) -> bool:
        """True unless a claim of the scenario fails."""
        return not any(claim.outcome == "fails" for claim in self.claims)


def home_of(scenario_file: Path) -> Path:
    """Where the results of a scenario go by default."""
    return RESULTS / scenario_file.stem


def simulate_station(file: Path, scenario: Scenario) -> Station:
    """Solve, then simulate; a claim about a reading that does not exist shows before the long work."""
    exact = perform.solve_exact(scenario)
    judge(scenario, exact)
    with progress("simulating") as tick:
        run = perform.simulate(scenario, progress=tick)
    return station_of(file, scenario, run, exact)


def station_of(file: Path, scenario: Scenario, run: Run, exact: Readings | None = None) -> Station:
    """A station that has been simulated, beside its closed form. Raises ScenarioError for a claim about a reading that does not exist."""
    exact, may_be = exact or perform.solve_exact(scenario), may_be_of(scenario)
    bars = _differences(run.readings, exact)
    claims = judge(scenario, run.readings, bars=bars, transmitters=may_be.transmitters, antennas=may_be.antennas)
    heard = reception(run.scenario) if scenario.direction == "receive" else None
    return Station(file, run, exact, claims, may_be.by_source, may_be.by_behaviour, may_be.antennas, heard)


@dataclass(frozen=True)
class MayBe:
    """What is left open of a station, in closed form: its transmitter, where no tuner sets what it sees, and its antenna."""

    by_source: dict[float, Readings]
    by_behaviour: dict[str, Readings]
    antennas: tuple[Readings, ...]

    @property
    def transmitters(self) -> dict[str, Readings]:
        """Every one of them by a name that stands after "with"."""
        sources = {f"a source of {show(ohm, 'ohm')}": one for ohm, one in self.by_source.items()}
        return sources | {f"a transmitter: {name}": one for name, one in self.by_behaviour.items()}


def may_be_of(scenario: Scenario) -> MayBe:
    """Everything that the station may be."""
    sources = by_source(scenario)
    return MayBe(sources, perform.behaviour_range(scenario) if sources else {}, tuple(perform.antenna_range(scenario)))


def by_source(scenario: Scenario) -> dict[float, Readings]:
    """Readings over the range of source impedances (ohm); none where a tuner sets what the transmitter sees, or nothing is transmitted."""
    if (
        scenario.direction == "receive"
        or scenario.transmitter.behaviour == "isolated"
        or any(isinstance(part, Network) and part.is_tuner for part in perform.resolve(scenario).path)
    ):
        return {}
    return perform.source_range(scenario)


def _differences(simulated: Readings, exact: Readings) -> dict[str, float]:
    """What one run on one grid has for error bars: how far each reading is from its closed form."""
    other = exact.numbers()
    found = {name: abs(value - other[name]) for name, value in simulated.numbers().items()}
    return {name: bar for name, bar in found.items() if math.isfinite(bar)}


def plain_claim(judged: ClaimVerdict) -> dict[str, Any]:
    """One claim and its verdict, for --json."""
    claim = judged.claim
    return {
        "says": claim.says,
        "quantity": claim.quantity,
        "at_least": claim.at_least,
        "at_most": claim.at_most,
        "about": claim.about,
        "within": claim.within,
        "outcome": judged.outcome,
        "holds": judged.holds,
        "value": judged.value,
        "error_bar": judged.error_bar,
        "margin": judged.margin,
        "worst_with": judged.worst_with or None,
    }


def plain_station(station: Station) -> dict[str, Any]:
    """Everything that the tables say, for --json; keys are the names of the fields, units in their suffix."""
    run = station.run
    return {
        "title": run.scenario.title,
        "file": str(station.file),
        "readings": to_plain(run.readings),
        "exact": to_plain(station.exact),
        "claims": [plain_claim(claim) for claim in station.claims],
        "reception": to_plain(station.reception),
        "by_behaviour": [{"behaviour": name, "readings": to_plain(r)} for name, r in station.by_behaviour.items()],
        "by_antenna": [to_plain(readings) for readings in station.by_antenna],
        "by_source_impedance": [{"source_impedance_ohm": z, "readings": to_plain(r)} for z, r in station.by_source.items()],
        "keying": plain_key(run.scenario, run.readings),
        "settling": to_plain(run.settling),
        "ledger": to_plain(run.ledger),
        "stresses": to_plain(run.stresses),
        "moments_s": to_plain(run.moments),
        "notes": line_notes(run.scenario, run.readings),
        "cautions": cautions(run.scenario, run.readings, run.stresses),
    }
