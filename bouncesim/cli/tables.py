"""The account of a station in tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table

from bouncesim.account.readings import Echoes, Readings
from bouncesim.account.reception import Reception
from bouncesim.account.s_units import s_label
from bouncesim.account.verdict import Outcome, Verdict
from bouncesim.cli.cautions import cautions, line_notes
from bouncesim.cli.keying import key_story
from bouncesim.cli.station import Station
from bouncesim.cli.terminal import table
from bouncesim.cli.text import LABELS, clean, difference, number, says_something, split_quantity, turned, within
from bouncesim.compare.claims import ClaimVerdict
from bouncesim.perform.ranges import bounds
from bouncesim.quantity import show
from bouncesim.scenario import Meter, Receiver, Scenario

ROUND_TRIPS = 8  # of forward power, shown one by one


def print_station(console: Console, station: Station, verdict: Verdict | None = None, extras: Iterable[Table | str] = ()) -> None:
    """The whole account: power, readings, settling, ledger, stresses, claims, range, cautions. `extras` come where the
    stresses would."""
    run = station.run
    console.print(clean(run.scenario.title), style="bold")
    for paragraph in run.scenario.about.strip().split("\n\n"):
        console.print(" ".join(clean(paragraph).split()))
    console.print()
    console.print(power_table(station, verdict))
    console.print(readings_table(run.readings, station.exact))
    console.print(transient(station))
    for piece in key_story(run.scenario, run.readings, account_lines(run.scenario)):
        console.print(piece)
    if station.reception:
        console.print(reception_story(station.reception, station.run.scenario))
    if station.exact.echoes:
        console.print(echo_story(station.exact.echoes))
    more = list(extras)
    if run.stresses and (run.scenario.events or not more):  # what happens on the way is in no other table
        console.print(stress_table(station))
    for piece in more:
        console.print(piece)
    if station.by_source:
        console.print(range_table(station))
        console.print(behaviour_table(station))
    if station.by_antenna:
        console.print(antenna_table(station))
    if station.claims:
        console.print(claims_table(station.claims))
    for note in line_notes(run.scenario, run.readings):
        console.print("Note:", clean(note))
    for caution in cautions(run.scenario, run.readings, run.stresses):
        console.print("Caution:", caution)


def power_table(station: Station, verdict: Verdict | None) -> Table:
    """The net account in watts. With a verdict: its extrapolated values and error bars instead of the single run's."""
    judged = {row.quantity: row for row in verdict.rows} if verdict else {}
    columns = ("extrapolated", "error bar", "closed form", "") if verdict else ("simulated", "closed form", "difference")
    made = table("Where the power goes (net, in watts)", "", *columns)
    own, other = station.run.readings.flatten(), station.exact.flatten()
    for label, quantity in account_lines(station.run.scenario):
        cells: tuple[str, ...]
        if quantity in judged:
            row = judged[quantity]
            cells = (
                within(row.simulated, row.error_bar),
                f"{row.error_bar:.0e}",
                within(row.exact, row.error_bar),
                judged_as(row.outcome),
            )
        elif verdict:
            cells = (number(own[quantity], 6), "not known", number(other[quantity], 9), "not judged")
        else:
            cells = (number(own[quantity]), number(other[quantity]), difference(own[quantity], other[quantity]))
        made.add_row(label, *cells)
    return made


def account_lines(scenario: Scenario) -> list[tuple[str, str]]:
    """Label and reading of each line of the account, in the order of the path: what left the transmitter is the sum of all that follow."""
    source, load = scenario.source_name, scenario.load_name
    heated = [part.name for part in scenario.at_end().path if not isinstance(part, Meter)]
    heat = [(f"  heat in {clean(name)}", f"{name}.heat_w") for name in heated]
    into = [(f"  into the {load}", f"{load}.power_w")]
    if load == "antenna" and scenario.antenna.heat_share:
        into += [("    of it radiated", "antenna.radiated_w"), ("    of it heat in the antenna", "antenna.heat_w")]
    return [(f"left the {source}", f"{source}.power_w"), *heat, *into]


def readings_table(simulated: Readings, exact: Readings) -> Table:
    """Every reading of the run beside the closed form, from the transmitter to the antenna; places count from a line's transmitter end."""
    made = table("Readings in steady state", "", "", "simulated", "closed form", "difference")
    own, other, last = simulated.flatten(), exact.flatten(), ""
    made.columns[1].justify = "left"
    load = "antenna." if simulated.direction == "transmit" else "receiver."
    for quantity, value in sorted(own.items(), key=lambda item: item[0].startswith(load)):
        if not says_something(quantity, own):
            continue
        part, label, unit = split_quantity(quantity)
        if part != last and last:
            made.add_section()
        exact_value = other[quantity]
        label = label if simulated.direction == "transmit" else turned(label)
        cells = (number(value), number(exact_value), difference(value, exact_value))
        made.add_row(clean(part) if part != last else "", f"{label} ({unit})" if unit else label, *cells)
        last = part
    return made


def transient(station: Station) -> str:
    """Settling and energy ledger, in sentences."""
    settling, ledger = station.run.settling, station.run.ledger
    after = f"after {show(settling.settled_s, 's')}: {number(settling.round_trips, 3)} round trips of the whole path"
    is_pulse = station.run.scenario.keying.shape == "pulse"
    return (
        ("The readings are those of a carrier, with the key held down.\n" if is_pulse else f"Settled to within 1 % {after}.\n")
        + f"The run lasted {settling.periods} carrier periods ({show(settling.end_s, 's')}); its estimated distance from the steady state "
        f"is {settling.estimate:.0e}.\n"
        f"Energy ledger: the books close to {ledger.worst_step:.0e} in the worst step, {ledger.accumulated:.0e} over the run.\n"
    )


def echo_story(echoes: Echoes) -> str:
    """How forward power builds up, echo by echo: what a slow key hides."""
    shown = echoes.forward_after_round_trips_w[:ROUND_TRIPS]
    more = f" ... {number(echoes.forward_after_round_trips_w[-1], 3)}" if len(echoes.forward_after_round_trips_w) > ROUND_TRIPS else ""
    return (
        f"Looking from the start of {clean(echoes.line)}, the antenna sends back {number(abs(echoes.reflection_at_input), 3)} of a wave's "
        f"voltage, and the transmitter's side {number(abs(echoes.reflection_looking_back), 3)} of an echo's (closed form).\n"
        f"Forward power there after 0, 1, 2 ... round trips, with the carrier at once at full strength: "
        f"{', '.join(number(power, 3) for power in shown)}{more} W\n"
    )


def reception_story(heard: Reception, scenario: Scenario) -> str:
    """What the receiver gets, what an S-meter makes of it, and what the way costs: in signal, and in signal to noise."""
    told = (
        f"Of {show(heard.available_w, 'W')} that the antenna has to give, {show(heard.received_w, 'W')} arrive: {heard.gain_db:.2f} dB, "
        f"the same as from the receiver's end into the antenna ({heard.gain_other_way_db:.2f} dB). An S-meter should show "
        f"{s_label(heard.received_w, scenario.transmitter.frequency_hz)}, {heard.s_units_lost:.2f} S-units less than without loss "
        "(6 dB a unit).\n"
    )
    if heard.noise_cost_db is None or heard.signal_to_noise_db is None:
        return told + "External noise is not tabulated at this frequency: nothing can be said of signal to noise.\n"
    receiver = scenario.receiver or Receiver()
    return told + (
        f"But noise comes the same way. In {show(receiver.bandwidth_hz, 'Hz')}, in {receiver.surroundings} surroundings (external noise "
        f"{heard.external_noise_db:.0f} dB above thermal, the median of ITU-R P.372), the signal is {heard.signal_to_noise_db:.1f} dB "
        f"above the noise, {heard.noise_cost_db:.2g} dB less than without any loss: that is what one hears of it.\n"
    )


def stress_table(station: Station) -> Table:
    """The largest voltages and currents of the start-up beside those of the steady state."""
    made = table("Largest while starting up (peak values)", "", "largest", "steady", "place", "time")
    for stress in station.run.stresses:
        unit = "V" if stress.quantity.endswith("voltage") else "A"
        cells = (show(stress.largest, unit, 4), show(stress.steady, unit, 4), show(stress.at_m, "m"), show(stress.at_s, "s"))
        made.add_row(f"{clean(stress.line)}: {stress.quantity}", *cells)
    return made


def range_table(station: Station) -> Table:
    """Without a tuner the transmitter's own impedance matters: the account for several of them, in closed form."""
    own = station.run.scenario.transmitter.source_impedance_ohm
    heads = [f"{show(z, 'ohm')}{' (its own)' if z == own else ''}" for z in station.by_source]
    made = table("No tuner: power in watts by source impedance (closed form)", "", *heads)
    columns = [readings.flatten() for readings in station.by_source.values()]
    for label, quantity in account_lines(station.run.scenario):
        made.add_row(label, *(number(column[quantity], 4) for column in columns))
    return made


def behaviour_table(station: Station) -> Table:
    """Without a tuner what the transmitter does about its load matters too: the account by behaviour, in closed form."""
    own = station.run.scenario.transmitter
    made = table("No tuner: power in watts by what the transmitter does about it (closed form)", "", *station.by_behaviour)
    columns = [readings.flatten() for readings in station.by_behaviour.values()]
    rows = [*account_lines(station.run.scenario), ("drive, share of the full power", "transmitter.drive")]
    for label, quantity in [*rows, ("into the dump load", "transmitter.dump_load_w")]:
        made.add_row(label, *(number(column[quantity], 4) for column in columns))
    rated = f"Each with a source of {show(own.rated_load_ohm, 'ohm')}"
    made.caption = f"{rated}; a fold-back from SWR 2 on, a level up to 3 dB above the rated drive (common practice, no source)"
    return made


def antenna_table(station: Station) -> Table:
    """What is not known of the antenna: the least and the most of every reading that matters, over all antennas that it may be."""
    made = table(
        f"What is open about the antenna: {len(station.by_antenna)} that it may be (closed form)", "", "least", "most", "simulated"
    )
    limits, own = bounds(list(station.by_antenna)), station.run.readings.numbers()
    lines = [line.name for line in station.run.scenario.lines]
    rows = account_lines(station.run.scenario)
    rows += [("SWR at the transmitter", f"{station.run.scenario.source_name}.swr")]
    for name in lines:
        rows += [(f"{clean(name)}: {LABELS[key]}", f"{name}.{key}") for key in ("loss_db", "largest_v_peak", "largest_a_peak")]
    for label, quantity in rows:
        unit = split_quantity(quantity)[2]
        least, most = limits[quantity]
        made.add_row(f"{label} ({unit})" if unit and "(" not in label else label, *(number(x, 4) for x in (least, most, own[quantity])))
    return made


def claims_table(claims: Sequence[ClaimVerdict]) -> Table:
    """Each claim, what it is judged by, and the verdict."""
    made = table("Claims", "", "reading", "verdict")
    for judged in claims:
        unit = split_quantity(judged.claim.quantity)[2]
        made.add_row(clean(judged.claim.says), f"{number(judged.value)} {unit}".strip(), judged.by_how_much)
    return made


def verdict_table(verdict: Verdict) -> Table:
    """Every reading: extrapolated from three grids, its error bar, the closed form, the observed order, and whether it holds."""
    grids = ", ".join(str(points) for points in verdict.points_per_period)
    title = f"Simulated against the closed form ({grids} steps a carrier period)"
    made = table(title, "", "extrapolated", "error bar", "closed form", "order", "")
    for row in verdict.rows:
        part, label, unit = split_quantity(row.quantity)
        order = "" if row.order is None else f"{row.order:.2f}"
        name = f"{clean(part)}: {label}" + (f" ({unit})" if unit else "")
        cells = (within(row.simulated, row.error_bar), f"{row.error_bar:.0e}", within(row.exact, row.error_bar), order)
        made.add_row(name, *cells, judged_as(row.outcome))
    return made


def judged_as(outcome: Outcome) -> str:
    """An outcome as it stands in a table: what does not hold strikes the eye."""
    return outcome if outcome == "holds" else outcome.upper()


def summary(verdict: Verdict) -> str:
    """The verdict in a sentence or two."""
    order = "not judged" if verdict.order is None else f"{verdict.order:.2f}"
    books = f"Smallest order of convergence: {order}. Energy ledger: {verdict.ledger_residual:.0e}."
    books += "".join(f" The loss of {clean(line)} follows its law within {100 * off:.1g} %." for line, off in verdict.fit_errors.items())
    told, unproven = [], "are NOT PROVEN, as their order is off and so their error bars cannot be trusted"
    judged: tuple[tuple[Outcome, str], ...] = (("fails", "FAIL"), ("not proven", unproven))
    for outcome, words in judged:
        if rows := verdict.of(outcome):
            told.append(f"{len(rows)} of {len(verdict.rows)} readings {words}: {clean(', '.join(row.quantity for row in rows))}.")
    return " ".join([*(told or [f"All {len(verdict.rows)} readings hold."]), books])
