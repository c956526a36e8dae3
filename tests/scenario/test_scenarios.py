"""The scenarios that come with the program: they can be read, they are ours, and their films can be captioned."""

import math
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from bouncesim import simulate, solve_exact
from bouncesim.account.readings import PartReading, Readings
from bouncesim.cli.station import may_be_of
from bouncesim.compare.claims import judge
from bouncesim.errors import ScenarioError
from bouncesim.exact.matching import set_tuner, stub_sections
from bouncesim.exact.solve import solve
from bouncesim.scenario import Scenario, parse_scenario, read_scenario
from bouncesim.scenario.vocabulary import fill_caption
from bouncesim.scenario.wideband import fit_error

FOLDER = Path(__file__).parents[2] / "scenarios"
PATHS = sorted(FOLDER.glob("*.toml"))
LONGEST_CAPTION_LINE = 75  # characters that fit under the film, numbers put in
STARTER = files("bouncesim.scenario").joinpath("starter.toml").read_text("utf-8")


LESSONS = {
    "a-keys-edge-through-cable",
    "a-letter-on-a-long-line",
    "antenna-changes-fold-back",
    "antenna-opens",
    "antenna-shorts-dump-load",
    "bad-connector",
    "balun-open-wire",
    "both-ways-receive",
    "both-ways-transmit",
    "echo-meets-420-ohm",
    "echo-meets-8-ohm",
    "ground-takes-little",
    "ground-takes-most",
    "key-down-at-once",
    "key-down-real",
    "key-goes-up",
    "loss-split",
    "low-band-costly",
    "low-band-harmless",
    "meter-for-another-line",
    "meters-along-the-line",
    "no-tuner",
    "one-antenna-160-m",
    "one-antenna-20-m",
    "one-antenna-40-m",
    "one-antenna-80-m",
    "one-echo-or-all",
    "power-held-on-a-mismatch",
    "real-cable",
    "received-wave-comes-back",
    "reflected-power-is-not-heat",
    "same-swr-thick-line",
    "same-swr-thin-cable",
    "stub-match",
    "tee-tuner",
    "thin-lossy-cable",
    "three-sources-5-ohm",
    "three-sources-50-ohm",
    "three-sources-500-ohm",
    "tuner-at-the-antenna",
    "tuner-at-the-shack",
    "tuner-cool",
    "tuner-warm",
    "what-comes-back-fold-back",
    "what-comes-back-isolated",
    "what-comes-back-tuned",
}


def lesson(name: str) -> Scenario:
    return read_scenario(FOLDER / f"{name}.toml")


def solved(station: Scenario) -> Readings:
    return solve(set_tuner(station))


def changed(station: Scenario, **update: object) -> Scenario:
    """With another last line, say."""
    return station.model_copy(update=update)


def test_there_are_lessons_and_a_starter() -> None:
    assert {path.stem for path in PATHS} >= LESSONS
    starter = parse_scenario(STARTER)
    assert Scenario.from_json(starter.to_json()) == starter


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_lesson_tells_a_story(path: Path) -> None:
    lesson = read_scenario(path)
    assert len(lesson.about) > 200
    assert "Caution" in lesson.about
    assert len(lesson.claims) >= 3
    assert 5 <= len(lesson.beats) <= 8
    assert any("${" in beat.caption for beat in lesson.beats)
    for beat in lesson.beats:
        lines = fill_caption(beat.caption, lambda name: "88.8 W").split("\n")
        assert len(lines) <= 2
        assert all(len(line) <= LONGEST_CAPTION_LINE for line in lines)
    assert Scenario.from_json(lesson.to_json()) == lesson


def test_the_same_station_with_and_without_a_tuner() -> None:
    with_tuner, without = (read_scenario(FOLDER / f"{name}.toml") for name in ("one-echo-or-all", "no-tuner"))
    assert without.transmitter == with_tuner.transmitter
    assert without.antenna == with_tuner.antenna
    assert without.path == tuple(part for part in with_tuner.path if part.part != "tuner")


def test_every_key_of_the_starter_works_when_its_remark_is_lifted() -> None:
    """The parts that are remarked out in the starter are read as they stand, and the station is one that can be solved."""
    network = STARTER[STARTER.index("# [[path]]") : STARTER.index('[[path]]\npart = "line"')]
    lifted = STARTER.replace(network, "\n".join(line.removeprefix("# ") for line in network.splitlines()) + "\n")
    constants = [line for line in STARTER.splitlines() if line.startswith("# ") and line.endswith('/m"')]
    assert len(constants) == 4
    for line in constants:
        lifted = lifted.replace(line, line.removeprefix("# "))
    for key in ('impedance = "50 ohm"\n', "velocity_factor", "loss = ", "loss_at", "dielectric_share"):
        start = lifted.index("\n" + key, lifted.index('name = "feed line"')) + 1
        lifted = lifted[:start] + "# " + lifted[start:]
    station = parse_scenario(lifted)
    assert [part.part for part in station.path] == ["meter", "tuner", "network", "transformer", "stub", "line"]
    assert station.lines[0].inductance_h_per_m == 250e-9
    assert station.all_lines[0].type == "rg58c"
    assert solved(station).transmitter.swr < 1.01


@pytest.mark.parametrize("path", [*PATHS, None], ids=lambda path: path.stem if path else "starter")
def test_every_claim_holds_in_closed_form(path: Path | None) -> None:
    """With every transmitter and antenna that the station may have, unless the claim is about its own."""
    lesson = read_scenario(path) if path else parse_scenario(STARTER)
    may_be = may_be_of(lesson)
    verdicts = judge(lesson, solve_exact(lesson), transmitters=may_be.transmitters, antennas=may_be.antennas)
    assert len(verdicts) == len(lesson.claims)
    assert [f"{verdict.claim.says}: {verdict.by_how_much}" for verdict in verdicts if not verdict.holds] == []


def test_figures_told_in_the_texts() -> None:
    """The staircase and the ranges that `about` and the captions tell, to the digits told."""
    with_tuner, without = (read_scenario(FOLDER / f"{name}.toml") for name in ("one-echo-or-all", "no-tuner"))
    readings = solve(set_tuner(with_tuner))
    assert readings.echoes is not None
    assert [round(power) for power in readings.echoes.forward_after_round_trips_w[:4]] == [25, 52, 67, 74]
    assert abs(readings.echoes.reflection_looking_back) ** 2 == pytest.approx(2 / 5, abs=0.05)
    assert round(readings.antenna.power_w) == 39
    assert round(readings.lines[0].heat_w + readings.networks[0].heat_w) == 6
    assert round(readings.lines[0].largest_v_peak) == 148
    told = {5.0: 103, 50.0: 22, 500.0: 9}
    for source, power in told.items():
        transmitter = without.transmitter.model_copy(update={"source_impedance_ohm": source})
        assert round(solve(without.model_copy(update={"transmitter": transmitter})).antenna.power_w) == power
    assert round(solve(without).transmitter.swr) == 5
    thin = solve(read_scenario(FOLDER / "thin-lossy-cable.toml"))
    assert round(thin.lines[0].swr_out) == 18
    assert round(thin.transmitter.swr, 1) == 1.7
    assert round(thin.antenna.power_w, 1) == 1.8
    assert round(1 - 10 ** (-thin.lines[0].matched_loss_db / 10), 1) == 0.7
    assert thin.lines[0].heat_w / thin.lines[0].power_in_w > 0.9


def test_three_sources_differ_in_the_way_only() -> None:
    """Re-reflection is partial at each pass and total in the sum, whatever the source (figures of `about` and captions)."""
    told = {5: (84, [15.6, 34.0, 44.5, 49.0]), 50: (30, [24.5, 41.1, 46.9, 48.7]), 500: (72, [29.8, 54.3, 58.0, 53.9])}
    stations = {z: lesson(f"three-sources-{z}-ohm") for z in told}
    for z, (percent, steps) in told.items():
        assert stations[z].transmitter == stations[50].transmitter.model_copy(update={"source_impedance_ohm": float(z)})
        assert (stations[z].path, stations[z].antenna) == (stations[50].path, stations[50].antenna)
        readings = solved(stations[z])
        assert readings.echoes is not None
        assert round(100 * abs(readings.echoes.reflection_looking_back) ** 2) == percent
        assert [round(power, 1) for power in readings.echoes.forward_after_round_trips_w[:4]] == steps
        assert round(readings.lines[0].forward_in_w, 1) == 49.5
        assert readings.antenna.power_w == pytest.approx(solved(stations[50]).antenna.power_w, rel=1e-12)
        assert round(readings.lines[0].heat_w + readings.networks[0].heat_w) == 7
        assert round(readings.lines[0].largest_v_peak) == 109
        assert stations[z].about.count(f"{percent} %") == 1


def test_one_source_model_obeys_one_minus_rho_squared() -> None:
    station = lesson("no-tuner")
    told = {5.0: 117, 50.0: 25, 500.0: 11}
    for z, power in told.items():
        readings = solve(changed(station, transmitter=station.transmitter.model_copy(update={"source_impedance_ohm": z})))
        rho = (readings.transmitter.swr - 1) / (readings.transmitter.swr + 1)
        assert round(readings.transmitter.power_w) == power
        assert (readings.transmitter.power_w == pytest.approx(45 * (1 - rho**2), rel=1e-9)) == (z == 50)


def test_figures_of_the_stub() -> None:
    """Its place and length are those of the published rule for a line without loss, to the centimetre."""
    station = lesson("stub-match")
    wave = 0.85 * 299.792458 / 21.1
    section = next(found for found in stub_sections(22 - 34j, 50.0, end="open") if found.length < 0.25)
    assert round(section.distance * wave, 2) == station.lines[1].length_m
    assert round(section.length * wave, 2) == station.all_lines[1].length_m
    readings = solved(station)
    assert round(readings.lines[0].swr_out, 2) == 1.06
    assert 100 < readings.lines[1].swr_in < 1000
    whole = station.lines[0].model_copy(update={"length_m": 32.22})
    assert round(solve(changed(station, path=(whole,))).antenna.power_w, 1) == 13.1
    assert readings.transmitter.impedance_ohm.real == pytest.approx(50, rel=0.05)


def test_figures_of_the_balun() -> None:
    station = lesson("balun-open-wire")
    readings = solved(station)
    coax, wire = readings.lines
    assert [round(value, 1) for value in (coax.swr_out, wire.swr_out)] == [16.0, 7.7]
    assert coax.heat_w > 2 * wire.heat_w
    assert readings.networks[1].heat_w > coax.heat_w + wire.heat_w
    assert round(wire.largest_v_peak) == 577
    all_coax = (*station.path[:2], station.lines[0].model_copy(update={"length_m": 37.0}))
    assert round(solved(changed(station, path=all_coax)).antenna.power_w) == 28


def test_figures_of_the_split() -> None:
    """What the split does, from the claim's all-conductor line to all in the insulation; and the handbooks' rule is that of halves."""
    station = lesson("loss-split")
    heat = {}
    for share in (0.0, 0.5, 1.0):
        line = station.lines[0].model_copy(update={"dielectric_share": share})
        heat[share] = solved(changed(station, path=(station.path[0], line))).lines[0]
    assert [round(one.heat_w, 1) for one in heat.values()] == [8.1, 5.7, 2.0]
    halves = heat[0.5]
    rho, a = abs((3 + 1j - 50) / (3 + 1j + 50)), 10 ** (halves.matched_loss_db / 10)
    assert halves.loss_db == pytest.approx(10 * math.log10((a**2 - rho**2) / (a * (1 - rho**2))), rel=1e-9)
    assert heat[0.0].matched_loss_db == pytest.approx(heat[1.0].matched_loss_db, rel=1e-12)


def test_figures_of_both_places_of_a_tuner() -> None:
    here, there = lesson("tuner-at-the-antenna"), lesson("tuner-at-the-shack")
    assert (here.transmitter, here.antenna) == (there.transmitter, there.antenna)
    assert sorted(part.part for part in here.path) == sorted(part.part for part in there.path)
    at_antenna, in_shack = solved(here), solved(there)
    assert [round(readings.antenna.power_w, 1) for readings in (at_antenna, in_shack)] == [25.6, 13.6]
    assert [round(readings.lines[0].loss_db, 1) for readings in (at_antenna, in_shack)] == [1.9, 4.6]
    assert in_shack.lines[0].heat_w / at_antenna.lines[0].heat_w == pytest.approx(2, abs=0.2)


def test_figures_of_the_meters() -> None:
    """The ranges are those of |rho -+ d| with d = 10^(-28/20), worked from each SWR."""
    readings = solved(lesson("meters-along-the-line"))
    leak = 10 ** (-28 / 20)
    for meter, told in zip(readings.meters, ((1.08, 1.08), (1.6, 1.9), (2.4, 2.9)), strict=True):
        rho = (meter.swr - 1) / (meter.swr + 1)
        by_hand = [(1 + bound) / (1 - bound) for bound in (abs(rho - leak), rho + leak)]
        assert [meter.swr_least, meter.swr_most] == pytest.approx(by_hand, rel=1e-6)
        digits = 2 if told[0] == 1.08 else 1
        assert (round(meter.swr_least, digits), round(meter.swr_most, digits)) == told


def test_figures_of_a_real_cable() -> None:
    station = lesson("real-cable")
    meter, cable = station.path
    readings = solved(station)
    assert round(readings.lines[0].swr_out, 1) == 1.7
    better = solved(changed(station, path=(meter, cable.model_copy(update={"type": "rg213"}))))
    assert (round(better.antenna.power_w, 1), round(better.lines[0].loss_db, 1)) == (17.4, 1.4)
    perfect = solved(changed(station, antenna=station.antenna.model_copy(update={"impedance_ohm": 50 + 0j})))
    assert round(perfect.antenna.power_w, 1) == 12.0
    kind = cable.line_type
    assert (round(kind.sources_differ_percent), kind.uncertainty_percent) == (12, 13)
    doubtful = []
    for factor in (1.13, 0.87):
        loss = kind.loss_db_per_m(28.4e6) * factor
        share = kind.loss_parts_db_per_m(28.4e6)[1] / kind.loss_db_per_m(28.4e6)
        figures = {"impedance_ohm": 50.0, "velocity_factor": 0.659, "loss_db_per_m": loss, "dielectric_share": share, "type": None}
        doubtful.append(round(solved(changed(station, path=(meter, cable.model_copy(update=figures)))).antenna.power_w, 1))
    assert doubtful == [10.3, 12.4]


def test_figures_of_a_keys_edge() -> None:
    """What the antenna takes in the first moments, beside the same cable with one loss at all frequencies."""
    station = lesson("a-keys-edge-through-cable")
    near, cable, far = station.path
    flat = changed(station, path=(near, cable.model_copy(update={"loss_law": "carrier"}), far))
    real, plain = (simulate(one) for one in (station, flat))
    soon = real.moments["antenna reached"] + 40e-9
    early = [float(np.interp(soon, run.traces.time_s, run.traces.antenna_power_w)) for run in (real, plain)]
    assert [round(power, 2) for power in early] == [0.05, 0.48]
    at_beat = np.interp(0.5e-6, plain.traces.time_s, plain.traces.antenna_power_w)
    assert round(float(at_beat), 1) == 0.7
    assert [round(float(run.traces.antenna_power_w.max()), 1) for run in (real, plain)] == [8.7, 7.8]
    readings = solved(station)
    assert round(readings.antenna.power_w, 1) == 7.7
    seen = readings.transmitter.impedance_ohm
    assert (round(seen.real), round(seen.imag)) == (53, -3)
    assert 0 < fit_error(station.lines[0].constants(station.transmitter.frequency_hz)) < 0.01


def test_figures_of_the_tee() -> None:
    """Against the same tuner with larger capacitors, and an L of the same Q."""
    station = lesson("tee-tuner")
    meter, tuner, cable = station.path
    readings = solved(station)
    tee = readings.networks[0]
    assert round(tee.power_in_w - tee.heat_w, 1) == 46.0
    assert round(readings.transmitter.current_a_rms * math.sqrt(2), 1) == 1.5
    assert round(tee.coil_a_peak / readings.transmitter.current_a_rms / math.sqrt(2)) == 4
    assert round(tee.capacitor_v_peak / readings.transmitter.voltage_v_rms / math.sqrt(2)) == 6
    assert tee.heat_w < readings.lines[0].heat_w

    def with_tuner(**update: object) -> PartReading:
        return solved(changed(station, path=(meter, tuner.model_copy(update=update), cable))).networks[0]

    assert round(with_tuner(largest_capacitor_f=960e-12).heat_w, 1) == 4.8
    ell = with_tuner(shape="L", largest_capacitor_f=10e-9)
    assert (round(ell.heat_w, 1), round(ell.coil_a_peak, 1), round(ell.capacitor_v_peak)) == (1.1, 5.2, 74)
    with pytest.raises(ScenarioError, match=r"3\.009 nF"):
        with_tuner(shape="L")
