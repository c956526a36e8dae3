"""The scenarios that come with the program: they can be read, they are ours, and their films can be captioned."""

from importlib.resources import files
from pathlib import Path

import pytest

from bouncesim.compare.claims import judge
from bouncesim.exact.matching import set_tuner
from bouncesim.exact.solve import solve
from bouncesim.scenario import Scenario, parse_scenario, read_scenario
from bouncesim.scenario.vocabulary import fill_caption

FOLDER = Path(__file__).parents[2] / "scenarios"
PATHS = sorted(FOLDER.glob("*.toml"))
LONGEST_CAPTION_LINE = 75  # characters that fit under the film, numbers put in
STARTER = files("bouncesim.scenario").joinpath("starter.toml").read_text("utf-8")


def test_there_are_three_lessons_and_a_starter() -> None:
    assert {"one-echo-or-all", "no-tuner", "thin-lossy-cable"} <= {path.stem for path in PATHS}
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
    """The parts that are remarked out in the starter are read as they stand."""
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
    assert [part.part for part in station.path] == ["meter", "tuner", "network", "line"]
    assert station.lines[0].inductance_h_per_m == 250e-9


@pytest.mark.parametrize("path", [*PATHS, None], ids=lambda path: path.stem if path else "starter")
def test_every_claim_holds_in_closed_form(path: Path | None) -> None:
    lesson = read_scenario(path) if path else parse_scenario(STARTER)
    verdicts = judge(lesson, solve(set_tuner(lesson)))
    assert len(verdicts) == len(lesson.claims)
    assert all(verdict.holds for verdict in verdicts)


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
