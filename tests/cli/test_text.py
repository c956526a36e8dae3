"""Numbers of the printed tables: as many figures as the error bar leaves standing."""

from __future__ import annotations

import math

import pytest

from bouncesim.cli.text import within


@pytest.mark.parametrize(
    ("value", "bar", "words"),
    [
        (38.9071076, 9e-8, "38.90710760"),
        (9.65, 6e-2, "9.65"),
        (45.0, 1e-14, "45.000000000"),
        (-1e-12, 1e-7, "0.0000000"),
        (1.5208e-11, 1e-20, "1.520800000e-11"),
        (1.5208e-11, 3e-13, "1.52e-11"),
        (-2.5e-6, 1e-7, "-2.5e-06"),
        (math.inf, 1e-3, "infinite"),
        (2.5, 0.0, "2.5"),
    ],
)
def test_a_value_within_its_error_bar(value: float, bar: float, words: str) -> None:
    assert within(value, bar) == words
