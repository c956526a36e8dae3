"""Measured one-port files: the examples of the standard, files that scikit-rf writes, and a table of bad ones."""

from __future__ import annotations

import itertools
import time

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from bouncesim.errors import ScenarioError
from bouncesim.scenario.touchstone import LARGEST_BYTES, MOST_POINTS, Measurement, at, read_touchstone

ROUNDING = 1e-12  # a few operations in double precision
WRITTEN = 1e-9  # scikit-rf goes by the reflection coefficient, which loses digits far from its reference
LONGEST_S = 5.0  # for the largest file that is read: a second here, on a slow machine more

# Touchstone File Format Specification, version 2.0 (EIA/IBIS, 2009): its one-port impedances, in version 1 (normalised to 75 ohm) and 2.
VERSION_1 = """!1-port Z-parameter file, multiple frequency points
# MHz Z MA R 75
!freq magZ11 angZ11
100 0.99 -4
200 0.80 -22
300 0.707 -45
400 0.40 -62
500 0.01 -89
"""
VERSION_2 = """!1-port Z-parameter file, multiple frequency points
[Version] 2.0
# MHz Z MA
[Number of Ports] 1
[Number of Frequencies] 5
[Reference] 20.0
[Network Data]
!freq magZ11 angZ11
100 74.25 -4
200 60 -22
300 53.025 -45
400 30 -62
500 0.75 -89
[End]
"""


def test_the_examples_of_the_standard() -> None:
    old, new = read_touchstone(VERSION_1), read_touchstone(VERSION_2)
    expected = np.array([74.25, 60, 53.025, 30, 0.75]) * np.exp(1j * np.radians([-4, -22, -45, -62, -89]))
    for measured in (old, new):
        assert measured.frequency_hz == pytest.approx([1e8, 2e8, 3e8, 4e8, 5e8], rel=ROUNDING)
        assert measured.impedance_ohm == pytest.approx(expected, rel=ROUNDING)


def antenna(count: int = 60, first: float = 5e6, last: float = 9e6) -> skrf.Network:
    """An invented antenna: 66 ohm, 11 uH and 46 pF in series, resonant at about 7.07 MHz."""
    frequency = skrf.Frequency(first, last, count, "hz")
    z = 66 + 1j * frequency.w * 11e-6 + 1 / (1j * frequency.w * 46e-12)
    return skrf.Network(frequency=frequency, z=z.reshape(-1, 1, 1), z0=50)


@pytest.mark.parametrize("version", ["1.0", "2.0", "2.1"])
@pytest.mark.parametrize("parameter", ["S", "Z", "Y"])
@pytest.mark.parametrize("form", ["ri", "ma", "db"])
@pytest.mark.parametrize("reference", [1.0, 50.0, 300.0])
def test_files_that_scikit_rf_writes(version: str, parameter: str, form: str, reference: float) -> None:
    network = antenna(5)
    network.renormalize(reference)
    text = network.write_touchstone("x", return_string=True, form=form, parameter=parameter, version=version)
    measured = read_touchstone(text)
    assert measured.frequency_hz == pytest.approx(network.f, rel=ROUNDING)
    assert measured.impedance_ohm == pytest.approx(network.z[:, 0, 0], rel=WRITTEN)
    if parameter == "S" or version == "1.0":  # otherwise the file names another reference, which is of no account
        assert measured.reference_ohm == reference


@pytest.mark.parametrize(("unit", "scale"), [("Hz", 1.0), ("kHz", 1e3), ("MHz", 1e6), ("GHz", 1e9)])
def test_units_and_defaults(unit: str, scale: float) -> None:
    measured = read_touchstone(f"# R 75 RI {unit} S\n1 0 0 ! a comment\n\n2\t.5 0\n")
    assert measured.frequency_hz == pytest.approx([scale, 2 * scale], rel=ROUNDING)
    assert measured.impedance_ohm == pytest.approx([75, 225], rel=ROUNDING)
    plain = read_touchstone("#\n1 0.5 180\n2 0 0\n# MHz Z RI R 1\n3 0 0")  # GHz S MA R 50; the second option line counts for nothing
    assert plain.frequency_hz == pytest.approx([1e9, 2e9, 3e9], rel=ROUNDING)
    assert plain.impedance_ohm == pytest.approx([50 / 3, 50, 50], rel=ROUNDING)


def test_normalised_admittance_by_hand() -> None:
    """y = 2 + 2j relative to 50 ohm: Y = (2 + 2j)/50 S, Z = 25/(1 + 1j) ohm. In version 2 it is 2 + 2j S."""
    assert read_touchstone("# MHz Y RI R 50\n1 2 2\n2 1 0").impedance_ohm[0] == pytest.approx(25 / (1 + 1j), rel=ROUNDING)
    text = "[Version] 2.1\n# MHz Y RI R 50\n[Number of Ports] 1\n[Number of Frequencies] 2\n[Network Data]\n1 2 2\n2 1 0\n[End]"
    assert read_touchstone(text).impedance_ohm[0] == pytest.approx(0.5 / (1 + 1j), rel=ROUNDING)


def test_keywords_of_version_2() -> None:
    text = """[version] 2.0
    # hz s ri
    [NUMBER OF PORTS] 1
    [Number  of Frequencies] 2
    [Reference]
    75
    [Matrix Format] Full
    [Begin Information]
    [Whatever] 1 2 3
    [End Information]
    [Network Data]
    1 0 0
    2 0.5 0
    [End]
    ! the end"""
    assert read_touchstone(text).impedance_ohm == pytest.approx([75, 225], rel=ROUNDING)


HEAD = "[Version] 2.0\n# MHz S RI\n[Number of Ports] 1\n[Number of Frequencies] 2\n"
OPTIONS = "Allowed: Hz, kHz, MHz or GHz; S, Z or Y; RI, MA or DB; R and the reference resistance; such as: # MHz S RI R 50"
KEYWORDS = (
    "A one-port file has [Version], [Number of Ports], [Number of Frequencies], [Reference], [Matrix Format], [Begin Information], "
    "[Network Data], [End]"
)
NUMBERS = "Allowed: numbers such as 7.1, -0.25, 1.2e-3"
ROW = "A one-port file has a frequency and two numbers in a line, a two-port file nine in all: is this the right file?"
BAD = {
    "": "line 1: the file has no data. It takes two at least; for one, give its impedance in the scenario instead",
    "#\n1 0 0": "line 2: the file has one frequency. It takes two at least; for one, give its impedance in the scenario instead",
    "1 0 0": 'line 1: "1 0 0" before the option line. The option line comes first, such as: # MHz S RI R 50',
    "# MHz S XY": f'line 1: "XY" in the option line. {OPTIONS}',
    "# MHz H RI": f'line 1: "H" in the option line. {OPTIONS}',
    "# MHz kHz": f'line 1: "kHz" is a second unit in the option line. {OPTIONS}',
    "# R": "line 1: 0 numbers in the reference resistance. One number belongs here, such as R 50",
    "# R 0": 'line 1: a reference resistance of "0". Allowed: more than 0 ohm, such as R 50',
    "# R nan": f'line 1: "nan" where a number belongs, in the reference resistance. {NUMBERS}',
    "#\n1 0 0\n1 0 0": "line 3: the frequency 1 GHz does not rise. Frequencies are positive and rise from line to line",
    "#\n-1 0 0": "line 2: the frequency -1 GHz does not rise. Frequencies are positive and rise from line to line",
    "#\n1 0": f"line 2: 2 numbers in a line of data. {ROW}",
    "#\n1 0 0 0 0 0 0 0 0": f"line 2: 9 numbers in a line of data. {ROW}",
    "#\n1 0 inf": f'line 2: "inf" where a number belongs, in a line of data. {NUMBERS}',
    "#\n1 0 1e999": f'line 2: "1e999" where a number belongs, in a line of data. {NUMBERS}',
    "#\n1 0 1_0": f'line 2: "1_0" where a number belongs, in a line of data. {NUMBERS}',
    "#\n1 0,5 0": f'line 2: "0,5" where a number belongs, in a line of data. {NUMBERS}',
    "#\n1 \u0661 0": f'line 2: "\u0661" where a number belongs, in a line of data. {NUMBERS}',
    "#\n1 -1 0": "line 2: the magnitude -1. A magnitude is 0 or more: RI in the option line stands for real and imaginary parts",
    "#\n1 1 0": "line 2: an impedance without limit, an open end. Allowed: up to 1 Gohm",
    "# Y\n1 0 0": "line 2: an impedance without limit, an open end. Allowed: up to 1 Gohm",
    "# DB\n1 1e300 0": "line 2: an impedance without limit, an open end. Allowed: up to 1 Gohm",
    "#\n1 0 \x000": "line 2: the character with code 0. Allowed: plain text: is this the right file?",
    "[Version] 1.0": "line 1: [Version] 1.0. Allowed: 2.0 or 2.1, before everything else; a file of version 1 has no keywords",
    "#\n[Version] 2.0": "line 2: [Version] 2.0. Allowed: 2.0 or 2.1, before everything else; a file of version 1 has no keywords",
    "#\n[Reference] 50": 'line 2: "[Reference] 50" in a file of version 1. A file with keywords starts with [Version] 2.0',
    "[Version] 2.0\n#\n[Number of Ports] 2": "line 3: [Number of Ports] 2. Allowed: 1: an antenna has one port",
    "[Version] 2.0\n#\n[Port Number] 1": f'line 3: "[Port Number] 1" is not a keyword of a one-port file. {KEYWORDS}',
    "[Version] 2.0\n#\n[Noise Data]": 'line 3: "[Noise Data]" is not a keyword of a one-port file. Did you mean [Network Data]?',
    HEAD + "[Number of Ports] 1": "line 5: [Number of Ports] comes twice. A keyword comes once",
    HEAD + "[Matrix Format] round": "line 5: [Matrix Format] round. Allowed: Full, Lower, Upper",
    HEAD + "1 0 0": 'line 5: "1 0 0" before [Network Data]. The numbers of a file of version 2 stand after it',
    HEAD + "[Network Data]\n1 0 0\n2 0 0": "line 7: the file ends without [End]. A file of version 2 needs it: is this file whole?",
    HEAD + "[Network Data]\n1 0 0\n[End]": "line 7: [Number of Frequencies] 2, but there are 1. Is this file whole?",
    HEAD + "[Network Data]\n1 0 0\n[End]\n2 0 0": 'line 8: "2 0 0" after [End]. Nothing but comments may follow it',
}


@pytest.mark.parametrize(("text", "message"), BAD.items(), ids=range(len(BAD)))
def test_bad_files(text: str, message: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_touchstone(text, "beam.s1p")
    assert str(caught.value) == f"beam.s1p, {message}"


def test_large_files() -> None:
    rows = [f"{number} 0.{number % 10} 0" for number in range(MOST_POINTS + 1)]
    start = time.perf_counter()
    assert len(read_touchstone("# kHz S RI\n" + "\n".join(rows[:-1])).frequency_hz) == MOST_POINTS
    assert time.perf_counter() - start < LONGEST_S
    with pytest.raises(ScenarioError, match=r"too many frequencies. Allowed: 100000"):
        read_touchstone("# kHz S RI\n" + "\n".join(rows))
    with pytest.raises(ScenarioError, match="is larger than 5 MB"):
        read_touchstone("!" * (LARGEST_BYTES + 1))


@given(text=st.text(alphabet=st.sampled_from("#[]!\n 01.-eERVSZYMHzdbi\u00e9")))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        measured = read_touchstone(text)
    except ScenarioError:
        return
    assert (np.diff(measured.frequency_hz) > 0).all()
    assert np.isfinite(measured.impedance_ohm).all()


ORDER = (0.75, 1.35)  # of the factors 16 and 8 by which the errors of a cubic and of its slope fall when the points are twice as dense


def test_between_the_points() -> None:
    places = np.linspace(6.0013e6, 7.9931e6, 331)  # in no step with the points
    w = 2 * np.pi * places
    exact = 66 + 1j * w * 11e-6 + 1 / (1j * w * 46e-12)
    exact_slope = 11e-6j + 1j / (w**2 * 46e-12)
    worst = []
    for count in (101, 201, 401):
        network = antenna(count)
        found = np.array([at(Measurement(network.f, network.z[:, 0, 0]), place) for place in places])
        worst.append([abs(found[:, 0] / exact - 1).max(), abs(found[:, 1] / exact_slope - 1).max()])
    for coarse, fine in itertools.pairwise(worst):
        assert ORDER[0] * 16 < coarse[0] / fine[0] < ORDER[1] * 16
        assert ORDER[0] * 8 < coarse[1] / fine[1] < ORDER[1] * 8


def test_at_the_points() -> None:
    network = antenna()
    measured = Measurement(network.f, network.z[:, 0, 0])
    for place in (0, 1, 17, 58, 59):
        assert at(measured, float(network.f[place]))[0] == pytest.approx(complex(network.z[place, 0, 0]), rel=ROUNDING)


def test_a_cubic_is_followed_exactly() -> None:
    """Reflection coefficient rho = 0.1 x^3 - 0.2j x + 0.3, x = f/MHz - 2: value and slope by hand, dZ/dw = 100 rho'/(1 - rho)^2/(2 pi)."""
    x = np.array([-1.0, -0.5, 0.25, 1.0])
    rho = 0.1 * x**3 - 0.2j * x + 0.3
    measured = Measurement((x + 2) * 1e6, 50 * (1 + rho) / (1 - rho))
    z, slope = at(measured, 2.5e6)
    here, turn = 0.0125 - 0.1j + 0.3, 0.075 - 0.2j
    assert z == pytest.approx(50 * (1 + here) / (1 - here), rel=ROUNDING)
    assert slope == pytest.approx(100 * turn / (1 - here) ** 2 / (2e6 * np.pi), rel=ROUNDING)


def test_two_points_are_joined_by_a_line() -> None:
    z, _ = at(Measurement(np.array([1e6, 2e6]), np.array([25 + 0j, 50 + 0j])), 1.5e6)
    assert z == pytest.approx(50 * (1 - 1 / 6) / (1 + 1 / 6), rel=ROUNDING)  # rho from -1/3 to 0


def test_outside_the_file_and_not_passive() -> None:
    measured = Measurement(np.array([1e6, 2e6]), np.array([25 + 0j, -5 + 40j]))
    with pytest.raises(ScenarioError) as caught:
        at(measured, 2.1e6, "beam.s1p")
    assert str(caught.value) == "beam.s1p: knows nothing of 2.1 MHz. Allowed: its frequencies, 1 MHz to 2 MHz"
    with pytest.raises(ScenarioError) as caught:
        at(measured, 2e6, "beam.s1p")
    assert str(caught.value) == (
        "beam.s1p: has -5 ohm of resistance at 2 MHz: no passive antenna. "
        "Check the calibration of the measurement, or give the impedance yourself"
    )
