"""Colours as a player expects them."""

from __future__ import annotations

import numpy as np
import pytest

from bouncesim.show.yuv import Planes, _convert, convert

ROUNDING = 1  # level of 255: fixed point against floating point


def converted(picture: np.ndarray, kernel: object = convert) -> Planes:
    planes = Planes((picture.shape[1], picture.shape[0]))
    kernel(picture.view("<i4")[:, :, 0], 0, 0, picture.shape[1], picture.shape[0], planes.luma, planes.u, planes.v)  # type: ignore[operator]
    return planes


@pytest.mark.parametrize(
    ("rgb", "yuv"),
    # ITU-R BT.709-6, 8-bit narrow range: full colours worked by hand from its equations
    [
        ((0, 0, 0), (16, 128, 128)),
        ((255, 255, 255), (235, 128, 128)),
        ((255, 0, 0), (63, 102, 240)),
        ((0, 255, 0), (173, 42, 26)),
        ((0, 0, 255), (32, 240, 118)),
    ],
)
def test_full_colours(rgb: tuple[int, int, int], yuv: tuple[int, int, int]) -> None:
    planes = converted(np.full((2, 2, 4), (*rgb, 255), dtype=np.uint8))
    assert (planes.luma[0, 0], planes.u[0, 0], planes.v[0, 0]) == yuv


def test_kernel_is_its_python_and_its_numpy_twin() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (18, 22, 4), dtype=np.uint8)
    planes = converted(picture)
    assert np.array_equal(planes.data, converted(picture, _convert).data)
    r, g, b = np.moveaxis(picture[:, :, :3].astype(float), 2, 0)
    y = 0.2126 * r + 0.7152 * g + 0.0722 * b
    quarter = [c.reshape(9, 2, 11, 2).mean(axis=(1, 3)) for c in (y, (b - y) / 1.8556, (r - y) / 1.5748)]
    assert np.abs(planes.luma - (16 + y * 219 / 255)).max() <= ROUNDING
    assert np.abs(planes.u - (128 + quarter[1] * 224 / 255)).max() <= ROUNDING
    assert np.abs(planes.v - (128 + quarter[2] * 224 / 255)).max() <= ROUNDING


def test_only_the_rectangle_changes() -> None:
    planes = Planes((8, 8))
    planes.data[:] = 7
    planes.take(np.full((8, 8, 4), 255, dtype=np.uint8), [(2, 4, 6, 8)])
    assert (planes.luma == 235).sum() == 16
    assert (planes.luma[4:8, 2:6] == 235).all()
    assert (planes.u[2:4, 1:3] == 128).all()
    assert (planes.u == 7).sum() == 12
