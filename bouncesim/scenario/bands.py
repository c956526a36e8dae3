"""The amateur bands, by the three regions into which the radio world is divided.

Edges are those of the amateur service in the ITU Radio Regulations, article 5, whose regions are those of the IARU too (3.5 to 4 MHz as
quoted at iaru-r1.org/wiki/HF; the others from memory). Region 1: Europe, Africa, the Middle East and northern Asia; 2: the Americas; 3: the
rest of Asia, and the Pacific. A licence may allow less, or, by a national footnote, more.
"""

from __future__ import annotations

SOURCE = "ITU Radio Regulations, article 5"
REGIONS = (1, 2, 3)


def _everywhere(low_khz: float, high_khz: float) -> tuple[tuple[float, float], ...]:
    return ((low_khz * 1e3, high_khz * 1e3),) * len(REGIONS)


def _by_region(*edges_khz: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    return tuple((low * 1e3, high * 1e3) for low, high in edges_khz)


BANDS: dict[str, tuple[tuple[float, float], ...]] = {  # name -> edges in Hz, region by region
    "160 m": _by_region((1810, 1850), (1800, 2000), (1800, 2000)),
    "80 m": _by_region((3500, 3800), (3500, 4000), (3500, 3900)),
    "60 m": _everywhere(5351.5, 5366.5),
    "40 m": _by_region((7000, 7200), (7000, 7300), (7000, 7200)),
    "30 m": _everywhere(10100, 10150),
    "20 m": _everywhere(14000, 14350),
    "17 m": _everywhere(18068, 18168),
    "15 m": _everywhere(21000, 21450),
    "12 m": _everywhere(24890, 24990),
    "10 m": _everywhere(28000, 29700),
    "6 m": _by_region((50000, 52000), (50000, 54000), (50000, 54000)),
    "2 m": _by_region((144000, 146000), (144000, 148000), (144000, 148000)),
    "70 cm": _by_region((430000, 440000), (420000, 450000), (430000, 440000)),
}
SHORT_WAVES = tuple(BANDS)[:10]  # 160 m to 10 m


def edges(band: str, region: int) -> tuple[float, float]:
    """Lower and upper edge of a band in a region, Hz. KeyError for a band that there is not."""
    return BANDS[band][region - 1]


def places(band: str, region: int, count: int) -> list[float]:
    """So many frequencies of a band, Hz: its middle; or both edges, and others evenly between them."""
    low, high = edges(band, region)
    return [(low + high) / 2] if count == 1 else [low + (high - low) * k / (count - 1) for k in range(count)]


def band_of(frequency_hz: float, region: int) -> str:
    """The band that a frequency lies in; "" outside all of them."""
    return next((band for band in BANDS if edges(band, region)[0] <= frequency_hz <= edges(band, region)[1]), "")
