"""[survey] of a scenario: what it varies, and every way to get it wrong, with its place."""

from __future__ import annotations

from importlib.resources import files

import pytest

from bouncesim.errors import ScenarioError
from bouncesim.scenario import Scenario, parse_scenario
from bouncesim.scenario.bands import BANDS, REGIONS, SHORT_WAVES, band_of, edges, places
from bouncesim.scenario.survey import Ratings, Survey
from bouncesim.scenario.survey_reader import spread
from tests.survey.scenarios import HEAD, PLAIN, every_part

TWO_LINES = PLAIN.replace("[antenna]", '[[path]]\npart = "line"\nname = "second"\ntype = "rg213"\nlength = "2 m"\n[antenna]')


def problems(survey: str, station: str = HEAD + PLAIN) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(station + survey)
    return [str(problem) for problem in caught.value.problems]


def test_everything_in_si() -> None:
    scenario = parse_scenario(
        HEAD
        + PLAIN
        + """
[survey]
bands = ["40 m", "80 m"]
region = 2
per_band = 3
line = "line"
type = "rg213"
length = { from = "10 m", to = "40 m", count = 4 }
antenna = ["25 - 60j ohm", "200 ohm"]
tuner = ["none", "T"]
power = { from = "1 W", to = "4 W", count = 3, spacing = "ratio" }
[survey.ratings]
line_voltage_peak = "1.2 kV"
coil_current_peak = "5 A"
"""
    )
    survey = scenario.survey
    assert survey == Survey(
        bands=("40 m", "80 m"),
        region=2,
        per_band=3,
        line="line",
        types=("rg213",),
        lengths_m=(10.0, 20.0, 30.0, 40.0),
        impedances_ohm=(25 - 60j, 200 + 0j),
        tuners=("none", "T"),
        powers_w=(1.0, 2.0, 4.0),
        ratings=Ratings(line_v_peak=1200.0, coil_a_peak=5.0),
    )
    assert survey is not None
    assert survey.frequencies() == (7.0e6, 7.15e6, 7.3e6, 3.5e6, 3.75e6, 4.0e6)
    assert Scenario.from_json(scenario.to_json()) == scenario


def test_both_ends_of_a_range_are_what_was_written() -> None:
    assert spread(0.1, 0.7, 4, "even")[::3] == (0.1, 0.7)
    assert spread(3.0, 48.0, 5, "ratio") == pytest.approx((3, 6, 12, 24, 48), rel=1e-15)


@pytest.mark.parametrize(
    ("survey", "told"),
    [
        ("[survey]\n", "survey: nothing is varied: none of frequency, length, antenna, swr, power, bands, type, tuner."),
        ("[[survey]]\n", "survey: a list stands where the table [survey] belongs."),
        ('[survey]\nbands = ["4 m"]\n', 'survey.bands[1]: "4 m" is not one of the words known here.'),
        ("[survey]\nbands = []\nswr = 2\n", "survey.bands: is empty."),
        ('[survey]\ntype = "rg58"\n', 'survey.type: "rg58" is not one of the words known here. Did you mean "rg58c"?'),
        ('[survey]\nlength = ["3 m", 4]\n', "survey.length[2]: 4 is a bare number where a length with its unit belongs."),
        ('[survey]\nlength = ["3 m", "-4 m"]\n', "survey.length[2]: -4 m is too small."),
        ('[survey]\nlength = { from = "3 m", to = "2 m", count = 4 }\n', "survey.length: from is not below to."),
        ('[survey]\nlength = { to = "2 m", count = 4 }\n', "survey.length.from: is missing."),
        ('[survey]\nlength = { from = "3 m", to = "4 m" }\n', "survey.length.count: is missing."),
        (
            '[survey]\nlength = { from = "3 m", to = "4 m", count = 1000000 }\n',
            "survey.length.count: 1e+06 is not a whole number from 2 to 100,000.",
        ),
        ('[survey]\nlength = { from = "3 m", to = "4 m", count = 4, step = 1 }\n', 'survey.length.step: "step" is not a key of a range.'),
        (
            '[survey]\nlength = { from = "3 m", to = "4 m", count = 4, spacing = "odd" }\n',
            'survey.length.spacing: "odd" is not one of the words known here.',
        ),
        ('[survey]\nantenna = { from = "3 ohm", to = "4 ohm", count = 4 }\n', "survey.antenna: impedances have no range."),
        ('[survey]\nantenna = "-3 ohm"\n', "survey.antenna: an antenna with a negative resistance would be a source of power."),
        ('[survey]\nswr = ["3"]\n', 'survey.swr[1]: "3" stands where a plain number belongs.'),
        ("[survey]\nswr = 0.5\n", "survey.swr: 0.5 is too small."),
        ("[survey]\nswr = 3\nphases = 1.5\n", "survey.phases: 1.5 is not a whole number from 1 to 10,000."),
        ("[survey]\nswr = 3\nphases = true\n", "survey.phases: true is not a whole number from 1 to 10,000."),
        ('[survey]\nswr = 3\nantenna = "3 ohm"\n', "survey.swr: the antenna is varied in two ways (antenna and swr)."),
        ('[survey]\nbands = "all"\nfrequency = "3 MHz"\n', "survey.bands: the frequency is varied in two ways (frequency and bands)."),
        ('[survey]\nbands = "all"\nregion = 4\n', "survey.region: 4 is not a region."),
        ("[survey]\nswr = 3\nregion = 2\n", "survey.region: goes with bands, and there are none."),
        ('[survey]\nswr = 3\nline = "line"\n', "survey.line: is named, and neither its type nor its length is varied."),
        ('[survey]\nlength = "3 m"\nline = "other"\n', 'survey.line: there is no line "other" on the path.'),
        ('[survey]\ntuner = "Z"\n', 'survey.tuner: "Z" is not one of the words known here.'),
        ('[survey]\nswr = 3\nlenght = "3 m"\n', 'survey.lenght: "lenght" is not a key of a survey. Did you mean "length"?'),
        ('[survey]\nswr = 3\n[survey.ratings]\ncoil = "3 A"\n', 'survey.ratings.coil: "coil" is not a key of a survey.ratings.'),
        ("[survey]\nswr = 3\nratings = 4\n", "survey.ratings: 4 stands where the table [survey.ratings] belongs."),
        (
            '[survey]\nswr = 3\n[[event]]\nhappens = "key up"\nat = "4 us"\n',
            "survey: a survey is one of stations that transmit a steady carrier, without events.",
        ),
    ],
)
def test_malformed(survey: str, told: str) -> None:
    assert [one for one in problems(survey) if one.startswith(told)], problems(survey)


def test_what_does_not_fit_the_path() -> None:
    (told,) = problems('[survey]\nlength = "3 m"\n', HEAD + TWO_LINES)
    assert told.startswith("survey.line: is missing: there is more than one line on the path. Say which one is varied: line, second")
    without = HEAD + PLAIN.replace('[[path]]\npart = "tuner"\ncoil_q = 200\ncapacitor_q = 1000\n', "")
    (told,) = problems('[survey]\ntuner = "L"\n', without)
    assert told.startswith("survey.tuner: there is no tuner on the path whose shape could be varied.")
    measured = HEAD + PLAIN + 'measured_at = "transmitter end"\n'
    (told,) = problems('[survey]\nlength = "3 m"\n', measured.replace('[[path]]\npart = "tuner"\ncoil_q = 200\ncapacitor_q = 1000\n', ""))
    assert told.startswith("survey: the antenna was measured through the line, which is taken out again")
    assert every_part().survey is not None


def test_all_problems_at_once() -> None:
    assert len(problems('[survey]\nbands = ["4 m"]\nlength = ["3"]\nswr = 0\ntuner = "Q"\nregion = 7\nphases = 0\nx = 1\n')) == 7


def test_every_key_is_in_the_starter_and_works_when_its_remark_is_lifted() -> None:
    starter = files("bouncesim.scenario").joinpath("starter.toml").read_text("utf-8")
    lines = starter[starter.index("# [survey]") : starter.index("# Caution: RF can burn at a few watts. Tune up")].splitlines()
    survey = parse_scenario(starter + "\n".join(line.removeprefix("# ") for line in lines)).survey
    assert survey is not None
    beside = ("frequencies_hz", "swrs", "phases")  # told beside bands and antenna
    assert {name for name in Survey.model_fields if getattr(survey, name) == Survey.model_fields[name].default} == {*beside, "region"}
    assert None not in survey.ratings.model_dump().values()


def test_the_edges_of_the_bands() -> None:
    """As the ITU Radio Regulations, article 5, have them (3.5 to 4 MHz as quoted at iaru-r1.org/wiki/HF; others from memory)."""
    assert [edges("80 m", region) for region in REGIONS] == [(3.5e6, 3.8e6), (3.5e6, 4.0e6), (3.5e6, 3.9e6)]
    assert [edges("160 m", region) for region in REGIONS] == [(1.81e6, 1.85e6), (1.8e6, 2.0e6), (1.8e6, 2.0e6)]
    assert [edges("40 m", region) for region in REGIONS] == [(7.0e6, 7.2e6), (7.0e6, 7.3e6), (7.0e6, 7.2e6)]
    assert edges("60 m", 1) == (5351.5e3, 5366.5e3)
    assert SHORT_WAVES == ("160 m", "80 m", "60 m", "40 m", "30 m", "20 m", "17 m", "15 m", "12 m", "10 m")
    assert places("20 m", 1, 1) == [14.175e6]
    assert places("40 m", 2, 3) == [7.0e6, 7.15e6, 7.3e6]
    for band in BANDS:
        for region in REGIONS:
            low, high = edges(band, region)
            assert low < high
            assert {band_of(low, region), band_of(high, region), band_of((low + high) / 2, region)} == {band}
    assert (band_of(7.25e6, 1), band_of(7.25e6, 2), band_of(11e6, 1)) == ("", "40 m", "")
