"""The reader of scenario files: what a good file becomes, and what is said about a bad one."""

import math
import os
import tomllib
from pathlib import Path

import pytest

from bouncesim.errors import ScenarioError
from bouncesim.scenario import Antenna, Line, Meter, Network, Scenario, Stub, Transformer, Transmitter, Tuner, parse_scenario, read_scenario
from bouncesim.scenario.model import flat_parts

TABLE = tomllib.loads(Path(__file__).with_name("malformed.toml").read_text("utf-8"))
ENDS = tomllib.loads(Path(__file__).with_name("malformed-ends.toml").read_text("utf-8"))
CASES = TABLE["case"] + ENDS["case"]
GOOD: str = TABLE["good"]


def problems(text: str) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize("case", CASES, ids=lambda case: repr(case["new"][:60]))
def test_malformed(case: dict) -> None:
    assert case["old"] in GOOD
    assert problems(GOOD.replace(case["old"], case["new"], 1)) == case["says"]


def test_the_table_is_long_and_says_everything_once() -> None:
    assert len(TABLE["case"]) >= 60
    assert len(ENDS["case"]) >= 100
    edits = [(case["old"], case["new"]) for case in CASES]
    assert len(set(edits)) == len(edits)


def test_good_scenario_in_si() -> None:
    station = parse_scenario(GOOD)
    assert station.transmitter.frequency_hz == 10.12e6
    assert station.transmitter.source_impedance_ohm == 50.0
    assert station.keying.rise_s == 1e-6
    assert [part.name for part in station.path] == ["meter", "tuner", "network", "feed line"]
    assert station.lines[0].loss_db_per_m == 0.022
    assert station.antenna.impedance_ohm == 25 - 60j
    assert station.claims[0].at_least == 10.0
    assert station.beats[0].lasts_s == 3.0
    assert isinstance(station.path[1], Tuner)
    assert Scenario.from_json(station.to_json()) == station


def test_defaults() -> None:
    text = GOOD.replace('[keying]\nshape = "raised-cosine"\nrise = "1 us"\n', "")
    station = parse_scenario(text.replace('power = "45 W"', 'power = "45 W"\nrated_load = "75 ohm"'))
    assert station.keying.shape == "raised-cosine"
    assert station.keying.rise_s == 2 / 10.12e6  # two periods of the carrier
    assert station.transmitter.source_impedance_ohm == 75.0
    assert station.about == ""


def test_emf_gives_the_rated_power_into_the_rated_load() -> None:
    transmitter = parse_scenario(GOOD.replace('power = "45 W"', 'power = "45 W"\nsource_impedance = "15 ohm"')).transmitter
    current = transmitter.emf_v_peak / (15 + 50)
    assert current**2 / 2 * 50 == pytest.approx(45, rel=1e-15)


def test_names_are_numbered_from_the_second_of_a_kind() -> None:
    line = '[[path]]\npart = "line"\nlength = "1 m"\nimpedance = "50 ohm"\nvelocity_factor = 1\n'
    named = line + 'name = "line 2"\n'
    station = parse_scenario(GOOD.replace("[antenna]", line + named + line + "[antenna]"))
    assert [part.name for part in station.lines] == ["feed line", "line", "line 2", "line 3"]


STUB = """
[[path]]
part = "stub"
end = "50 - 20j ohm"
[[path.path]]
part = "line"
length = "3 m"
impedance = "50 ohm"
velocity_factor = 0.66
[[path.path]]
part = "stub"
name = "twig"
end = "open"
[[path.path.path]]
part = "network"
elements = [ { series = "inductor", value = "1 uH" } ]
[[path.path.path]]
part = "line"
length = "2 m"
impedance = "75 ohm"
velocity_factor = 0.8
[[path.path]]
part = "line"
length = "1 m"
impedance = "50 ohm"
velocity_factor = 0.66
"""


def test_a_stub_has_a_path_of_its_own() -> None:
    station = parse_scenario(GOOD.replace("[antenna]", STUB + "[antenna]"))
    stub = station.path[-1]
    assert isinstance(stub, Stub)
    assert stub.end == 50 - 20j
    names = [part.name for part in flat_parts(station.path[3:])]
    assert names == ["feed line", "stub", "stub line", "twig", "twig network", "twig line", "stub line 2"]
    assert [line.length_m for line in station.all_lines] == [31, 3, 2, 1]
    assert [line.name for line in station.lines] == ["feed line"]
    assert Scenario.from_json(station.to_json()) == station
    for reading in ("stub.heat_w", "twig line.largest_v_peak"):
        parse_scenario(GOOD.replace("[antenna]", STUB + "[antenna]").replace("${antenna.power_w}", f"${{{reading}}}"))


def test_only_lines_and_meters_are_read_inside_a_stub() -> None:
    text = GOOD.replace("[antenna]", STUB + "[antenna]")
    (problem,) = problems(text.replace("${antenna.power_w}", "${twig network.heat_w}"))
    assert problem.startswith('beat[1].caption: "${twig network.heat_w}" is not a reading')


@pytest.mark.parametrize("end", ["open", "short"])
def test_a_stub_ends_open_or_short(end: str) -> None:
    station = parse_scenario(GOOD.replace("[antenna]", STUB.replace("50 - 20j ohm", end) + "[antenna]"))
    assert Scenario.from_json(station.to_json()).path[-1].end == end


def test_a_transformer_in_si() -> None:
    keys = """
        [[path]]
        part = "transformer"
        name = "balun"
        ratio = "1:4"
        leakage_inductance = "40 nH"
        magnetising_inductance = "11 uH"
        winding_resistance = "0.3 ohm"
        core_resistance = "6 kohm"
        [antenna]"""
    station = parse_scenario(GOOD.replace("[antenna]", keys))
    assert station.path[-1] == Transformer(
        name="balun",
        impedance_ratio=4.0,
        leakage_inductance_h=40e-9,
        magnetising_inductance_h=11e-6,
        winding_resistance_ohm=0.3,
        core_resistance_ohm=6e3,
    )
    for text, ratio in (("9:1", 1 / 9), ("1 : 2.25", 2.25), ("50:450", 9.0)):
        assert parse_scenario(GOOD.replace("[antenna]", keys.replace("1:4", text))).path[-1].impedance_ratio == ratio
    bare = parse_scenario(GOOD.replace("[antenna]", '[[path]]\npart = "transformer"\nratio = "1:1"\n[antenna]')).path[-1]
    assert bare == Transformer(name="transformer", impedance_ratio=1.0)
    parse_scenario(GOOD.replace("[antenna]", keys).replace("antenna.power_w", "balun.heat_w"))


def test_settings_of_tuners_and_meters_in_si() -> None:
    keys = 'shape = "T"\nlargest_coil = "28 uH"\nsmallest_capacitor = "15 pF"\nlargest_capacitor = "240 pF"'
    text = GOOD.replace("coil_q = 200", keys).replace('part = "meter"', 'part = "meter"\ndirectivity = "26 dB"')
    station = parse_scenario(text.replace("[antenna]", '[[path]]\npart = "tuner"\nshape = "pi"\n[antenna]'))
    ranges = {"largest_coil_h": 28e-6, "smallest_capacitor_f": 15e-12, "largest_capacitor_f": 240e-12}
    assert station.path[1] == Tuner(name="tuner", shape="T", **ranges)
    assert station.path[-1] == Tuner(name="tuner 2", shape="pi")
    assert station.path[0].directivity_db == 26


def test_losses_of_elements_follow_from_q_at_the_carrier() -> None:
    elements = """elements = [
        { series = "inductor", value = "1.2 uH", q = 200 }, { shunt = "capacitor", value = "470 pF", q = 1000 },
        { series = "resistor", value = "2 kohm" }, { shunt = "inductor", value = "3 uH", loss_resistance = "0.2 ohm" } ]"""
    station = parse_scenario(GOOD.replace("coil_q = 200", elements))
    tuner = station.path[1]
    assert isinstance(tuner, Network)
    assert tuner.is_tuner
    assert tuner.name == "tuner"
    # by hand: w = 2 pi 10.12 MHz = 63.5858e6/s; w 1.2 uH = 76.303 ohm, /200; 1/(w 470 pF) = 33.4612 ohm, /1000
    assert [element.loss_ohm for element in tuner.elements] == pytest.approx([0.381515, 0.0334612, 0, 0.2], rel=1e-5)
    assert [(element.position, element.kind) for element in tuner.elements[:2]] == [("series", "inductor"), ("shunt", "capacitor")]
    assert Scenario.from_json(station.to_json()) == station


def test_problems_of_fields_and_between_fields_come_together() -> None:
    bad = GOOD.replace('"10.12 MHz"', '"10,12 MHz"').replace('loss = "2.2 dB/100 m"', 'loss = "2.2 dB"\nresistance = "1 ohm/m"')
    bad = bad.replace('"antenna.power_w"', '"antenna.power"').replace('"first echo"', '"last echo"')
    places = [problem.split(": ")[0] for problem in problems(bad)]
    assert places == ["transmitter.frequency", "path[4].loss", "path[4]", "claim[1].quantity", "beat[1].until"]


def test_a_part_that_cannot_be_read_makes_no_trouble_elsewhere() -> None:
    bad = GOOD.replace('part = "line"', 'part = "lin"').replace("antenna.power_w}", "feed line.loss_db}")
    assert [problem.split(": ")[0] for problem in problems(bad)] == ["path[4].part"]


@pytest.mark.parametrize("content", ["9" * 5000, "[" * 50_000, '"' + "x" * 500_000], ids=["long number", "deep list", "long text"])
def test_hostile_toml_is_a_problem_like_another(content: str) -> None:
    (problem,) = problems(f"title = {content}")
    assert problem.startswith("scenario: not valid TOML")


@pytest.mark.parametrize("key", ["a", "'.'", '"\\""', '". a"'])
def test_a_key_of_thousands_of_parts_is_refused_before_its_square_is_laid_out(key: str) -> None:
    for line in (f"{'.'.join([key] * 5000)} = 1", f"[{' . '.join([key] * 5000)}]", f"x = {{ {'.'.join([key] * 5000)} = 1 }}"):
        (problem,) = problems(f"# a remark\n{line}")
        assert problem == "scenario: a key of more than 20 parts at line 2. A key of a scenario has one to three"


def test_files_that_are_no_scenarios(tmp_path: Path) -> None:
    def problem(path: Path | str) -> str:
        with pytest.raises(ScenarioError) as caught:
            read_scenario(path)
        (only,) = caught.value.problems
        return f"{only.reason}. {only.remedy}"

    binary, huge, broken = tmp_path / "a.toml", tmp_path / "b.toml", tmp_path / "c.toml"
    binary.write_bytes(bytes(range(256)))
    huge.write_text("# " + "x" * 1_000_000)
    broken.write_text("title = \n")
    right_file = "is this the right file?"
    assert problem(tmp_path / "none.toml") == 'there is no such file. Check the name, or write one with "bouncesim new"'
    assert problem(tmp_path) == "is not a file. Name a scenario file, ending in .toml"
    assert problem(binary) == f"is not a text file in UTF-8. Save it as UTF-8 text: {right_file}"
    assert problem(huge) == f"is larger than 1 MB. A scenario is a page or two of text: {right_file}"
    assert problem("a\0b").startswith(("there is no such file", "cannot be read"))
    assert problem(broken).startswith("not valid TOML at line 1, column 9: invalid value")
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        assert problem(tmp_path / "pipe").startswith("is not a file")


def test_a_file_is_read_with_byte_order_mark_and_foreign_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "station.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_scenario(path) == parse_scenario(GOOD)


def test_models_built_in_python_are_judged_too() -> None:
    station = parse_scenario(GOOD)
    with pytest.raises(ValueError, match="there is no line in the path"):
        Scenario(title="t", transmitter=station.transmitter, path=(), antenna=station.antenna)
    with pytest.raises(ValueError, match="described in two ways"):
        Line(length_m=1, impedance_ohm=50, velocity_factor=1, capacitance_f_per_m=1e-10)
    with pytest.raises(ValueError, match="not a finite number"):
        Line(length_m=math.nan, impedance_ohm=50, velocity_factor=1)
    twice = Line(name="a", length_m=1, impedance_ohm=50, velocity_factor=1)
    with pytest.raises(ValueError, match='two parts are named "a"'):
        Scenario(title="t", transmitter=station.transmitter, path=(twice, twice), antenna=station.antenna)
    for path, end, message in (
        ((Tuner(),), "open", 'there is a tuner in the stub "stub"'),
        ((Meter(),), "open", 'there is nothing in the stub "stub"'),
        ((), "open", 'there is nothing in the stub "stub"'),
        ((Stub(path=(Stub(path=(Stub(path=(twice,), end="open"),), end="open"),), end="open"),), "open", "stubs are nested 4 deep"),
        ((twice,), "open", 'two parts are named "a"'),
    ):
        with pytest.raises(ValueError, match=message):
            Scenario(
                title="t",
                transmitter=Transmitter(frequency_hz=7e6, power_w=1),
                path=(twice, Stub(path=path, end=end)),
                antenna=Antenna(impedance_ohm=50),
            )
    with pytest.raises(ValueError, match="source of power"):
        Stub(path=(twice,), end=-1 + 0j)
    with pytest.raises(ValueError, match="not below the largest"):
        Tuner(smallest_capacitor_f=2e-10, largest_capacitor_f=1e-10)
    with pytest.raises(ValueError, match="too large"):
        Transformer(impedance_ratio=1e5)
    with pytest.raises(ValueError, match="frozen"):
        station.title = "other"  # type: ignore[misc]
