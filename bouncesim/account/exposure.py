"""Published limits of exposure to radio fields, at a frequency: context for a station's figures, and nothing more.

Nothing here says what field a station makes: that takes the antenna's gain, its surroundings, the distance, and how long one transmits. No
figure certifies a station, and the rules of the country where it stands are those that count.

Sources: 47 CFR 1.1310, table 1 (United States), read in two transcriptions; ICNIRP, "Guidelines for limiting exposure to electromagnetic
fields (100 kHz to 300 GHz)", Health Physics 118, 483 (2020): table 6 (local exposure, general public) read in a reproduction, table 5
(whole body) from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

CFR, ICNIRP = "47 CFR 1.1310, table 1", "ICNIRP 2020, table 5, whole body (from memory)"
ICNIRP_LOCAL = "ICNIRP 2020, table 6, local exposure"
Law = Callable[[float], float]  # of the frequency in MHz


@dataclass(frozen=True)
class Limit:
    """Field strengths (rms) and power density of a plane wave that one table gives at one frequency; None where it gives none."""

    source: str
    who: str
    electric_v_per_m: float | None
    magnetic_a_per_m: float | None
    density_w_per_m2: float | None
    average_min: float  # over how long the mean is taken


@dataclass(frozen=True)
class _Row:
    """One row of a table: the range in MHz, and a law a quantity."""

    low: float
    high: float
    electric: Law | None = None
    magnetic: Law | None = None
    density: Law | None = None


def _flat(value: float) -> Law:
    return lambda f: value


def _over(value: float, power: float = 1.0) -> Law:
    """value/f^power."""
    return lambda f: value / f**power


def _times(value: float, power: float = 1.0) -> Law:
    """value f^power."""
    return lambda f: value * f**power


# 47 CFR 1.1310 gives densities in mW/cm2, ten times as large in W/m2; below 30 MHz they are those of a plane wave of the same field.
_CONTROLLED = (
    _Row(0.3, 3, _flat(614), _flat(1.63), _flat(1000)),
    _Row(3, 30, _over(1842), _over(4.89), _over(9000, 2)),
    _Row(30, 300, _flat(61.4), _flat(0.163), _flat(10)),
    _Row(300, 1500, density=_times(1 / 30)),
    _Row(1500, 100_000, density=_flat(50)),
)
_GENERAL = (
    _Row(0.3, 1.34, _flat(614), _flat(1.63), _flat(1000)),
    _Row(1.34, 30, _over(824), _over(2.19), _over(1800, 2)),
    _Row(30, 300, _flat(27.5), _flat(0.073), _flat(2)),
    _Row(300, 1500, density=_times(1 / 150)),
    _Row(1500, 100_000, density=_flat(10)),
)
_WORKERS = (
    _Row(0.1, 30, _over(660, 0.7), _over(4.9)),
    _Row(30, 400, _flat(61), _flat(0.16), _flat(10)),
    _Row(400, 2000, _times(3, 0.5), _times(0.008, 0.5), _times(1 / 40)),
    _Row(2000, 300_000, density=_flat(50)),
)
_PUBLIC = (
    _Row(0.1, 30, _over(300, 0.7), _over(2.2)),
    _Row(30, 400, _flat(27.7), _flat(0.073), _flat(2)),
    _Row(400, 2000, _times(1.375, 0.5), _times(0.0037, 0.5), _times(1 / 200)),
    _Row(2000, 300_000, density=_flat(10)),
)
_LOCAL = (_Row(0.1, 30, _over(671, 0.7), _over(4.9)), _Row(30, 400, _flat(62), _flat(0.163), _flat(10)))

_TABLES = (
    (CFR, "general population", _GENERAL, 30.0),
    (CFR, "occupational", _CONTROLLED, 6.0),
    (ICNIRP, "general public", _PUBLIC, 30.0),
    (ICNIRP, "occupational", _WORKERS, 30.0),
)


def limits(frequency_hz: float) -> tuple[Limit, ...]:
    """What both publications say at a frequency, for the general public and for those who work there; none outside of their ranges."""
    return tuple(found for table in _TABLES if (found := _at(frequency_hz, *table)) is not None)


def local_limit(frequency_hz: float) -> Limit | None:
    """ICNIRP's level for exposure of a part of the body, general public, up to 400 MHz."""
    return _at(frequency_hz, ICNIRP_LOCAL, "general public", _LOCAL, 6.0)


def _at(frequency_hz: float, source: str, who: str, rows: tuple[_Row, ...], average_min: float) -> Limit | None:
    """The first row whose range holds the frequency: at an edge, the lower range's."""
    f = frequency_hz / 1e6
    row = next((row for row in rows if row.low <= f <= row.high), None)
    if row is None:
        return None
    electric, magnetic, density = (law(f) if law is not None else None for law in (row.electric, row.magnetic, row.density))
    return Limit(source, who, electric, magnetic, density, average_min)
