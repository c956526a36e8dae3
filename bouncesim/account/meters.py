"""What a real directional wattmeter may show: its coupler's directivity lets a little of the forward wave into the reflected reading."""

from __future__ import annotations

import math

from bouncesim.account.readings import MeterReading, swr_of, swr_of_powers


def meter_reading(name: str, forward_w: float, reflected_w: float, directivity_db: float | None) -> MeterReading:
    """The reading of a meter, with the range that an instrument of this directivity (dB; None: perfect) may show.

    The leak d = 10^(-D/20) adds to the reflection with a phase that nobody knows: |rho - d| <= rho shown <= rho + d, to first order
    (D. M. Pozar, Microwave Engineering, ch. 7, for the definition of directivity; from memory).
    """
    rho = math.sqrt(reflected_w / forward_w) if forward_w > 0 and reflected_w > 0 else 0.0
    leak = 10 ** (-directivity_db / 20) if directivity_db is not None else 0.0
    least, most = abs(rho - leak), rho + leak
    return MeterReading(
        name=name,
        forward_w=forward_w,
        reflected_w=reflected_w,
        swr=swr_of_powers(forward_w, reflected_w),
        reflected_least_w=forward_w * least**2 if leak else reflected_w,
        reflected_most_w=forward_w * most**2 if leak else reflected_w,
        swr_least=swr_of(least) if leak else swr_of_powers(forward_w, reflected_w),
        swr_most=swr_of(most) if leak else swr_of_powers(forward_w, reflected_w),
    )
