"""Pixels to yuv420p, BT.709 in tv range (ITU-R BT.709-6, sections 3 and 4: luma weights 0.2126, 0.7152, 0.0722; 16-235 and 16-240)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

KR, KB = 0.2126, 0.0722
ONE = 1 << 16  # fixed point
Y_R, Y_B = round(KR * 219 / 255 * ONE), round(KB * 219 / 255 * ONE)
Y_G = round((1 - KR - KB) * 219 / 255 * ONE)
U_R, U_G = round(-KR / (2 - 2 * KB) * 224 / 255 * ONE), round(-(1 - KR - KB) / (2 - 2 * KB) * 224 / 255 * ONE)
V_G, V_B = round(-(1 - KR - KB) / (2 - 2 * KR) * 224 / 255 * ONE), round(-KB / (2 - 2 * KR) * 224 / 255 * ONE)
U_B, V_R = -U_R - U_G, -V_G - V_B  # so that greys have no colour


def _convert(rgba: Bytes, x0: int, y0: int, x1: int, y1: int, luma: Bytes, u: Bytes, v: Bytes) -> None:
    half = 1 << 15
    for j in range(y0 // 2, y1 // 2):
        for i in range(x0 // 2, x1 // 2):
            red, green, blue = 0, 0, 0
            for dj in range(2):
                for di in range(2):
                    r = int(rgba[2 * j + dj, 2 * i + di, 0])
                    g = int(rgba[2 * j + dj, 2 * i + di, 1])
                    b = int(rgba[2 * j + dj, 2 * i + di, 2])
                    luma[2 * j + dj, 2 * i + di] = 16 + ((Y_R * r + Y_G * g + Y_B * b + half) >> 16)
                    red, green, blue = red + r, green + g, blue + b
            u[j, i] = 128 + ((U_R * red + U_G * green + U_B * blue + 2 * ONE) >> 18)
            v[j, i] = 128 + ((V_R * red + V_G * green + V_B * blue + 2 * ONE) >> 18)


def _compiled() -> Callable[..., Any]:
    """The kernel; kept on disk for the next film unless no folder can be written."""
    try:
        kernel: Callable[..., Any] = numba.njit(cache=True, nogil=True)(_convert)
    except RuntimeError:
        kernel = numba.njit(nogil=True)(_convert)
    return kernel


convert = _compiled()


class Planes:
    """One yuv420p frame, kept up to date rectangle by rectangle."""

    def __init__(self, size: tuple[int, int]) -> None:
        w, h = size
        self.data = np.empty(w * h * 3 // 2, dtype=np.uint8)
        self.luma = self.data[: w * h].reshape(h, w)
        self.u = self.data[w * h : w * h * 5 // 4].reshape(h // 2, w // 2)
        self.v = self.data[w * h * 5 // 4 :].reshape(h // 2, w // 2)

    def take(self, rgba: Bytes, rects: list[tuple[int, int, int, int]]) -> None:
        """Convert the rectangles (x0, y0, x1, y1; even numbers) of an RGBA picture of shape (h, w, 4)."""
        for x0, y0, x1, y1 in rects:
            convert(rgba, x0, y0, x1, y1, self.luma, self.u, self.v)
