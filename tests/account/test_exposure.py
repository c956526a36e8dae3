"""Published limits of exposure, against the figures of their sources."""

from __future__ import annotations

import math

import pytest

from bouncesim.account.exposure import CFR, ICNIRP, Limit, limits, local_limit
from tests.reference import case

OHM_OF_SPACE = 376.73  # of a plane wave: CODATA, from memory
TWO_FIGURES = 0.032  # what is printed as 0.16 may be anything from 0.155 to 0.165
PLANE_WAVE = 2 * TWO_FIGURES  # of a square


def limit(frequency_hz: float, source: str, who: str) -> Limit:
    (found,) = [one for one in limits(frequency_hz) if (one.source, one.who) == (source, who)]
    return found


def test_the_limits_of_the_united_states() -> None:
    published, values = case("G03"), {}
    for mhz in (3.6, 7.1, 14.2, 28.5):
        public, worker = (limit(mhz * 1e6, CFR, who) for who in ("general population", "occupational"))
        values |= {f"E_genpop@{mhz}": public.electric_v_per_m, f"E_occ@{mhz}": worker.electric_v_per_m}
        values[f"S_genpop@{mhz}"] = public.density_w_per_m2 / 10  # mW/cm2
    public, worker = (limit(100e6, CFR, who) for who in ("general population", "occupational"))
    values |= {"E_30_300_genpop": public.electric_v_per_m, "S_30_300_genpop": public.density_w_per_m2 / 10}
    published.check_all(values | {"E_occ_30_300": worker.electric_v_per_m})
    assert (public.average_min, worker.average_min) == (30, 6)


def test_the_levels_of_the_international_commission() -> None:
    whole, local = limit(30e6, ICNIRP, "general public"), local_limit(30e6)
    case("G04").check_all(
        {
            "local_E@14": local_limit(14e6).electric_v_per_m,
            "local_E@30": local.electric_v_per_m,
            "wb_E@30": whole.electric_v_per_m,
            "local_S_plane": local_limit(100e6).electric_v_per_m ** 2 / OHM_OF_SPACE,
            "ratio_local_wb": local.electric_v_per_m / whole.electric_v_per_m,
        }
    )
    assert local_limit(500e6) is None


@pytest.mark.parametrize("mhz", [0.5, 2, 3.5, 7, 14, 29, 50, 145, 435])
def test_electric_and_magnetic_limits_and_density_belong_to_one_plane_wave(mhz: float) -> None:
    """Where a source gives all three: ICNIRP has no density below 30 MHz."""
    for one in limits(mhz * 1e6):
        if one.density_w_per_m2 is None or one.electric_v_per_m is None:
            continue
        assert one.electric_v_per_m**2 / OHM_OF_SPACE == pytest.approx(one.density_w_per_m2, rel=PLANE_WAVE)
        assert one.electric_v_per_m / one.magnetic_a_per_m == pytest.approx(OHM_OF_SPACE, rel=PLANE_WAVE)


@pytest.mark.parametrize("edge", [1.34, 3, 30, 300, 400, 1500, 2000])
def test_the_rows_of_a_table_meet_at_their_edges(edge: float) -> None:
    """To the rounding of what is printed."""
    for below, above in zip(limits(edge * 1e6 * (1 - 1e-9)), limits(edge * 1e6 * (1 + 1e-9)), strict=True):
        assert (below.source, below.who) == (above.source, above.who)
        for name in ("electric_v_per_m", "magnetic_a_per_m", "density_w_per_m2"):
            a, b = getattr(below, name), getattr(above, name)
            if a is not None and b is not None:
                assert a == pytest.approx(b, rel=TWO_FIGURES), (edge, below.source, name)


def test_outside_of_the_tables_there_is_nothing() -> None:
    assert limits(50e3) == ()
    assert {one.source for one in limits(200e3)} == {ICNIRP}
    assert all(math.isfinite(one.density_w_per_m2) and one.electric_v_per_m is None for one in limits(5e9))
