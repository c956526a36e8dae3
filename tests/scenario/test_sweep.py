"""A measured antenna's file: found beside the scenario and nowhere else, and carried by the scenario from then on."""

import os
from pathlib import Path

import pytest

from bouncesim.errors import ScenarioError
from bouncesim.scenario import Scenario, read_scenario
from bouncesim.scenario.touchstone import LARGEST_BYTES
from tests.scenario.test_reader import GOOD

DATA = "! an invented antenna\n# MHz S RI R 50\n10.0 -0.2 -0.5\n10.1 -0.1 -0.45\n10.2 0.0 -0.4\n"


def reads(folder: Path, name: str, frequency: str = "10.12 MHz", more: str = "") -> Scenario:
    text = GOOD.replace('"10.12 MHz"', f'"{frequency}"').replace('impedance = "25 - 60j ohm"', f"touchstone = '{name}'\n{more}")
    (folder / "station.toml").write_text(text, "utf-8")
    return read_scenario(folder / "station.toml")


def refused(folder: Path, name: str, **more: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        reads(folder, name, **more)
    return str(caught.value)


@pytest.mark.parametrize("name", ["beam.s1p", "measured/beam.s1p", "./beam.s1p", "a beam (2).s1p"])
def test_a_file_beside_the_scenario(tmp_path: Path, name: str) -> None:
    (tmp_path / "measured").mkdir()
    (tmp_path / name).write_text(DATA)
    station = reads(tmp_path, name, more='measured_at = "transmitter end"\nmeasured_within = 0.03\nloss_resistance = "2 ohm"')
    antenna = station.antenna
    assert (antenna.touchstone, antenna.measured_at, antenna.measured_within) == (name, "transmitter end", 0.03)
    assert antenna.measurement is not None
    assert antenna.measurement.band_hz == (10e6, 10.2e6)
    # rho = -0.2 - 0.5j by hand: 50 (0.8 - 0.5j)/(1.2 + 0.5j) = 50 (0.71 - j)/1.69
    assert antenna.measurement.impedance_ohm[0] == pytest.approx(50 * (0.71 - 1j) / 1.69, rel=1e-14)
    assert list(antenna.measurement.measurement().frequency_hz) == [10e6, 10.1e6, 10.2e6]
    (tmp_path / name).unlink()
    assert Scenario.from_json(station.to_json()) == station  # without the file


def test_a_file_with_the_remarks_of_an_older_instrument(tmp_path: Path) -> None:
    (tmp_path / "beam.s1p").write_bytes("! 20 °C\r\n".encode("latin-1") + DATA.encode())
    assert reads(tmp_path, "beam.s1p").antenna.measurement is not None


AWAY = 'leads away from the scenario\'s folder. Name a file that stands beside the scenario, such as "antenna.s1p"'


@pytest.mark.parametrize(
    "name", ["/etc/hostname", "../beam.s1p", "a/../../beam.s1p", "..", "C:beam.s1p", "..\\beam.s1p", "\\\\host\\beam.s1p"]
)
def test_never_outside_of_the_folder(tmp_path: Path, name: str) -> None:
    (tmp_path / "beam.s1p").write_text(DATA)
    inside = tmp_path / "inside"
    inside.mkdir()
    assert refused(inside, name) == f'antenna.touchstone: "{name}" {AWAY}'


def test_no_link_leads_out(tmp_path: Path) -> None:
    inside, link, folder = tmp_path / "inside", tmp_path / "inside" / "beam.s1p", tmp_path / "inside" / "far"
    inside.mkdir()
    (tmp_path / "beam.s1p").write_text(DATA)
    try:
        link.symlink_to(tmp_path / "beam.s1p")
        folder.symlink_to(tmp_path)
    except OSError:
        pytest.skip("no links on this system")
    reason = "leads away from the scenario's folder. Put the file itself there, not a link to it"
    assert refused(inside, "beam.s1p") == f'antenna.touchstone: "beam.s1p" {reason}'
    assert refused(inside, "far/beam.s1p") == f'antenna.touchstone: "far/beam.s1p" {reason}'
    (inside / "own.s1p").write_text(DATA)
    (inside / "alias.s1p").symlink_to(inside / "own.s1p")
    assert reads(inside, "alias.s1p").antenna.measurement is not None
    (inside / "loop.s1p").symlink_to(inside / "loop.s1p")
    assert "loop.s1p" in refused(inside, "loop.s1p")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    at = "antenna.touchstone: "
    assert refused(tmp_path, "beam.s1p") == f'{at}"beam.s1p" is not there. Put the file into the folder of the scenario, and mind capitals'
    (tmp_path / "folder").mkdir()
    not_a_file = 'is not a file. Name a one-port file, such as "antenna.s1p"'
    assert refused(tmp_path, "folder") == f'{at}"folder" {not_a_file}'
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        assert refused(tmp_path, "pipe") == f'{at}"pipe" {not_a_file}'
    (tmp_path / "large.s1p").write_text("!" * (LARGEST_BYTES + 1))
    assert refused(tmp_path, "large.s1p").startswith(f'{at}"large.s1p" is larger than 5 MB')
    (tmp_path / "bad.s1p").write_text("# MHz S RI R 50\n10 0.1\n")
    assert refused(tmp_path, "bad.s1p").startswith("antenna.touchstone (bad.s1p), line 2: 2 numbers in a line of data")
    assert refused(tmp_path, "x" * 190).startswith(f'{at}"xxx')


def test_the_carrier_is_within_the_measured_band(tmp_path: Path) -> None:
    (tmp_path / "beam.s1p").write_text(DATA)
    for frequency in ("10 MHz", "10.2 MHz"):
        reads(tmp_path, "beam.s1p", frequency=frequency)
    assert refused(tmp_path, "beam.s1p", frequency="10.2001 MHz") == (
        'antenna.touchstone: "beam.s1p" tells of 10 MHz to 10.2 MHz, and the carrier is at 10.2001 MHz. '
        "Measure the antenna at the carrier, or move the carrier into the band"
    )


def test_all_problems_at_once(tmp_path: Path) -> None:
    (tmp_path / "beam.s1p").write_text(DATA)
    more = 'swr = 2\n[[event]]\nat = "1 us"\nhappens = "connector fails"\nbehind = "cable"\nresistance = 20'
    places = [line.split(":")[0] for line in refused(tmp_path, "beam.s1p", frequency="7 MHz", more=more).splitlines()]
    assert places == ["antenna.swr", "event[1].resistance"]
    more = more.replace("swr = 2\n", "").replace("= 20", '= "20 ohm"')
    places = [line.split(":")[0] for line in refused(tmp_path, "beam.s1p", frequency="7 MHz", more=more).splitlines()]
    assert places == ["event[1].behind", "antenna.touchstone"]
