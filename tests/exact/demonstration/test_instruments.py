"""What a wattmeter may show: no allowed error leads outside, and some lead to the very edge."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from bouncesim.account.readings import swr_of
from bouncesim.exact.demonstration.instruments import COMMON_SCALES_W, Instrument, Interval, scale_for
from tests.reference import case

# The worst errors are tried on a circle of so many phases, which comes this near to the worst of all.
PHASES, NEAR = 720, 1e-4


@pytest.mark.parametrize(("forward", "reflected"), [(60.0, 20.0), (40.0, 0.0), (80.0, 79.0), (30.0, 0.02)])
def test_worst_cases(forward, reflected):
    instrument = Instrument(0.04, 100.0, 50.0, 26.0)
    shown, d = instrument.shows(forward, reflected), 10 ** (-26 / 20)
    turns = np.exp(2j * np.pi * np.arange(PHASES) / PHASES)
    gamma = math.sqrt(reflected / forward) * cmath.exp(0.7j)
    ahead, back = forward * abs(1 + d * turns * gamma) ** 2, forward * abs(gamma + d * turns) ** 2
    for interval, true, error in ((shown.forward_w, ahead, 4.0), (shown.reflected_w, back, 2.0)):
        assert interval.most == pytest.approx(true.max() + error, rel=NEAR)
        assert interval.least <= max(0.0, true.min() - error) + 1e-12
        assert interval.least == pytest.approx(
            max(0.0, (true.min() if math.sqrt(reflected / forward) > d or interval is shown.forward_w else 0) - error), rel=NEAR, abs=1e-9
        )
    assert shown.net_w.least == shown.forward_w.least - shown.reflected_w.most


def test_directivity_alone_gives_the_published_bounds():
    """F01: what directivity alone makes of an SWR; the forward needle, which the figures leave out, is taken as it is."""
    figures = case("F01")
    for name in figures.expected:
        if name.startswith("perfect"):
            swr, directivity, end = 1.0, float(name.split("@")[1].removesuffix("dB")), "most"
        else:
            place, true = name.split(",")
            swr, directivity = float(true), float(place.split("@")[1].removesuffix("dB"))
            end = "least" if place.startswith("low") else "most"
        rho = (swr - 1) / (swr + 1)
        shown = Instrument(0.0, 1.0, 1.0, directivity).shows(1.0, rho**2)
        figures.check(name, swr_of(math.sqrt(getattr(shown.reflected_w, end))))


def test_scales():
    assert scale_for(16.0, COMMON_SCALES_W) == 20.0
    assert scale_for(1e4, COMMON_SCALES_W) == 2000.0
    assert Interval(1, 3) & Interval(2, 5) == Interval(2, 3)
    assert Interval(1, 3) | Interval(2, 5) == Interval(1, 5)
    assert 2 in Interval(1, 3)
