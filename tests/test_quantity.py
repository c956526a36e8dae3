"""Quantities: what is read and to what, what is refused, and what is printed."""

import math
import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bouncesim.quantity import KINDS, LONGEST, QuantityError, parse, parse_complex, quote, show

READ = [
    ("7.1 MHz", "frequency", 7.1e6),
    ("7100kHz", "frequency", 7.1e6),
    ("1e-3 GHz", "frequency", 1e6),
    ("12 m", "length", 12.0),
    ("12m", "length", 12.0),
    ("30 ft", "length", 9.144),  # the international foot is 0.3048 m by definition
    ("120 cm", "length", 1.2),
    ("0.5 km", "length", 500.0),
    (".5 m", "length", 0.5),
    ("5. m", "length", 5.0),
    ("+5 m", "length", 5.0),
    ("-5 m", "length", -5.0),
    ("−5 m", "length", -5.0),  # a typographer's minus sign
    ("5\u00a0m", "length", 5.0),  # a space that does not break
    ("4 us", "time", 4e-6),
    ("4 µs", "time", 4e-6),  # micro sign
    ("4 μs", "time", 4e-6),  # Greek mu
    ("5 ms", "time", 5e-3),
    ("40 W", "power", 40.0),
    ("40 mW", "power", 0.04),
    ("1.5 MW", "power", 1.5e6),
    ("50 ohm", "impedance", 50.0),
    ("50 Ω", "impedance", 50.0),  # Greek omega
    ("50 \u2126", "impedance", 50.0),  # ohm sign
    ("1.2 kΩ", "impedance", 1200.0),
    ("470 pF", "capacitance", 470e-12),
    ("1.2 uH", "inductance", 1.2e-6),
    ("3 dB", "ratio", 3.0),
    ("2.2 dB/100 m", "loss", 0.022),
    ("2.2 dB / 100m", "loss", 0.022),
    ("0.2 ohm/m", "resistance of a line", 0.2),
    ("7.5 ohm/km", "resistance of a line", 0.0075),
    ("250 nH/m", "inductance of a line", 250e-9),
    ("0 S/m", "conductance of a line", 0.0),
]


@pytest.mark.parametrize(("text", "kind", "value"), READ)
def test_read(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == value  # decimal scaling is exact to the last bit


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 Np", "ratio", 20 / math.log(10)),
        ("0.67 dB/100 ft", "loss", 0.67 / 30.48),
        ("29.5 pF/ft", "capacitance of a line", 29.5e-12 / 0.3048),
    ],
)
def test_read_quotient(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == pytest.approx(value, rel=3e-16)  # the expected quotient itself is rounded once or twice


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("25 - 60j ohm", 25 - 60j),
        ("25-60j ohm", 25 - 60j),
        ("25 - j60 ohm", 25 - 60j),
        ("25 + j 60 ohm", 25 + 60j),
        ("-60j ohm", -60j),
        ("j5 ohm", 5j),
        ("50 ohm", 50 + 0j),
        ("1 + 2j kohm", 1000 + 2000j),
        ("2.5e1−6e-1j Ω", 25 - 0.6j),
        ("25 + 0j ohm", 25 + 0j),
    ],
)
def test_read_complex(text: str, value: complex) -> None:
    assert parse_complex(text, "impedance") == value


REFUSED = [
    ("7,1 MHz", "frequency", '"7,1 MHz" has a comma in it. Write a decimal point: "7.1 MHz"'),
    (
        "1,000 W",
        "power",
        '"1,000 W" has a comma in it. Write "1000 W" or "1.000 W", whichever you mean: a decimal point, and nothing between thousands',
    ),
    ("7.1 mHz", "frequency", '"mHz" in "7.1 mHz" is not a unit here: capitals matter. Write MHz instead of mHz'),
    ("7.1 mhz", "frequency", '"mhz" in "7.1 mhz" is not a unit here: capitals matter. Write MHz instead of mhz'),
    ("40 w", "power", '"w" in "40 w" is not a unit here: capitals matter. Write W instead of w'),
    ("40 MS", "time", '"MS" in "40 MS" is not a unit here: capitals matter. Write ms instead of MS'),
    ("12", "length", '"12" has no unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("12 parsec", "length", '"parsec" in "12 parsec" is not a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("12 metres", "length", '"metres" in "12 metres" is not a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("12 feet", "length", '"feet" in "12 feet" is not a unit. Did you mean ft? Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("12 s", "length", '"s" in "12 s" is not a unit of length. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    (12, "length", '12 is a bare number where a length with its unit belongs. Write it in quotes, for example "31 m"'),
    (3.5, "inductance", '3.5 is a bare number where an inductance with its unit belongs. Write it in quotes, for example "1.2 uH"'),
    (True, "length", 'true stands where a length belongs. Write it in quotes, for example "31 m"'),
    (None, "length", 'nothing stands where a length belongs. Write it in quotes, for example "31 m"'),
    ({}, "length", 'a table stands where a length belongs. Write it in quotes, for example "31 m"'),
    ("nan m", "length", '"nan m" is not a finite number. Write a finite length, for example "31 m"'),
    ("-Infinity m", "length", '"-Infinity m" is not a finite number. Write a finite length, for example "31 m"'),
    ("1e400 m", "length", '"1e400 m" is too large a number. Write a length of this world, for example "31 m"'),
    ("1e4000 m", "length", '"e4000 m" in "1e4000 m" is not a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("2**10**10 m", "length", '"**10**10 m" in "2**10**10 m" is not a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("1_000 m", "length", '"_000 m" in "1_000 m" is not a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("1.2.3 m", "length", '"1.2.3 m" is not a number with a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("٣ m", "length", '"٣ m" is not a number with a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
    ("25 - 60j ohm", "impedance", '"25 - 60j ohm" is complex where a real impedance belongs. Write a real one, for example "50 ohm"'),
    ("25 + 0j ohm", "impedance", '"25 + 0j ohm" is complex where a real impedance belongs. Write a real one, for example "50 ohm"'),
    ("25 - 60i ohm", "impedance", '"- 60i ohm" in "25 - 60i ohm" is not a unit. Write j for the imaginary part, as in "25 - 60j ohm"'),
    ("2.2 dB", "loss", '"2.2 dB" is not given per length. Allowed: dB, Np per length, for example "2.2 dB/100 m"'),
    ("2.2 dB/0 m", "loss", '"0 m" in "2.2 dB/0 m" is not a length. Write, for example, "2.2 dB/100 m"'),
    ("2.2 dB/100 W", "loss", '"100 W" in "2.2 dB/100 W" is not a length. Write, for example, "2.2 dB/100 m"'),
    ("3 dB/m", "ratio", '"3 dB/m" is given per length. Allowed: dB, Np; for example "3 dB"'),
    ("\x1b[2J m", "length", '"?[2J m" is not a number with a unit. Allowed: mm, cm, m, km, ft; for example "31 m"'),
]


@pytest.mark.parametrize(("text", "kind", "message"), REFUSED)
def test_refused(text: object, kind: str, message: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    assert str(caught.value) == message


@given(st.text(max_size=2 * LONGEST), st.sampled_from(sorted(KINDS)))
def test_any_text_is_a_finite_number_or_refused(text: str, kind: str) -> None:
    try:
        value = parse_complex(text, kind)
    except QuantityError as error:
        value = 0j
        message = str(error)
    else:
        message = "read"
    assert math.isfinite(value.real + value.imag)
    assert message.isprintable()


SYMBOLS = st.text(alphabet="0123456789.,+-eEj*/()_ mMkHzohWΩ", max_size=LONGEST)


@given(SYMBOLS, st.sampled_from(["impedance", "frequency", "loss", "length"]))
def test_text_that_looks_like_a_quantity_is_never_evaluated(text: str, kind: str) -> None:
    try:
        parse_complex(text, kind)
    except QuantityError:
        return
    assert not set(text) & set("*()_,")  # no operator, bracket or separator is ever read


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=6))
def test_reading_is_correctly_rounded(number: Decimal) -> None:
    assert parse(f"{number} us", "time") == float(f"{number}e-6")
    assert parse(f"{number} kohm", "impedance") == float(f"{number}e3")


@pytest.mark.parametrize("text", ["9" * 10**6 + " m", "-" * 10**6, "1e" * 10**6, " " * 10**6, "9." * 10**6, "j" * 10**6])
def test_long_input_costs_nothing(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(QuantityError, match="far too long"):
        parse(text, "length")
    assert time.perf_counter() - start < 1.0  # a million characters; scanning them thousands of times would show


def test_what_the_user_wrote_is_shown_short_and_harmless() -> None:
    assert quote("x" * 100) == '"' + "x" * 37 + '..."'
    assert quote("a\nb\x07") == '"a?b?"'
    assert quote(10**400) == "a number without bounds"
    assert quote([1]) == "a list"


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (7.1e6, "Hz", "7.1 MHz"),
        (10.12e6, "Hz", "10.1 MHz"),
        (999.96, "W", "1 kW"),
        (999.4, "W", "999 W"),
        (0.0, "W", "0 W"),
        (45.0, "W", "45 W"),
        (-0.0123, "A", "-12.3 mA"),
        (4e-6, "s", "4 µs"),
        (470e-12, "F", "470 pF"),
        (25 - 60j, "ohm", "25 - 60j ohm"),
        (1250 + 3j, "ohm", "1.25 + 0.003j kohm"),
        (0.2, "ohm", "0.2 ohm"),
        (0.5, "m", "500 mm"),
        (31.0, "m", "31 m"),
        (0.022, "dB/m", "0.022 dB/m"),
        (-12.345, "dB", "-12.3 dB"),
        (5.9999, "", "6"),
        (3.217, "", "3.22"),
        (1e12, "W", "1000 GW"),
        (1e-15, "W", "0.001 pW"),
        (math.inf, "", "infinite"),
        (-math.inf, "W", "minus infinite"),
        (math.nan, "W", "undefined"),
    ],
)
def test_show(value: complex, unit: str, shown: str) -> None:
    assert show(value, unit) == shown


def test_show_with_other_digits() -> None:
    assert show(10.12e6, "Hz", 4) == "10.12 MHz"
    assert show(149.6, "W", 2) == "150 W"


@given(st.floats(1e-9, 1e9), st.sampled_from(["power", "time", "capacitance", "impedance", "frequency"]))
def test_what_is_shown_can_be_read_again(value: float, kind: str) -> None:
    text = show(value, KINDS[kind].unit, 17)
    if any(unit in text for unit in ("nW", "pW", "ks", "Ms", "Gs", "kF", "MF", "GF", "GW", "Gohm", "pHz")):
        return  # shown, but no unit that a scenario may use
    assert parse(text, kind) == pytest.approx(value, rel=1e-15)
