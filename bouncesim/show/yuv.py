"""Pixels to yuv420p, BT.709 in tv range (ITU-R BT.709-6, sections 3 and 4: luma weights 0.2126, 0.7152, 0.0722; 16-235 and 16-240)."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bouncesim.kernels import Kernel, kept_in

Bytes = NDArray[np.uint8]
Words = NDArray[np.int32]
EIGHT, SIXTEEN, EIGHTEEN = np.int32(8), np.int32(16), np.int32(18)

KR, KB = 0.2126, 0.0722
ONE = 1 << 16  # fixed point
Y_R, Y_B = round(KR * 219 / 255 * ONE), round(KB * 219 / 255 * ONE)
Y_G = round((1 - KR - KB) * 219 / 255 * ONE)
U_R, U_G = round(-KR / (2 - 2 * KB) * 224 / 255 * ONE), round(-(1 - KR - KB) / (2 - 2 * KB) * 224 / 255 * ONE)
V_G, V_B = round(-(1 - KR - KB) / (2 - 2 * KR) * 224 / 255 * ONE), round(-KB / (2 - 2 * KR) * 224 / 255 * ONE)
U_B, V_R = -U_R - U_G, -V_G - V_B  # so that greys have no colour


def _convert(words: Words, x0: int, y0: int, x1: int, y1: int, luma: Bytes, u: Bytes, v: Bytes) -> None:
    """Pixels are 32-bit words, red lowest. Rows are cut, then indexed from 0, and all numbers have 32 bits: so eight pixels go at once."""
    half, byte = np.int32(1 << 15), np.int32(255)
    for j in range(y0, y1):
        row, out = words[j, x0:x1], luma[j, x0:x1]
        for i in range(len(out)):
            p = row[i]
            y = np.int32(Y_R) * (p & byte) + np.int32(Y_G) * ((p >> EIGHT) & byte) + np.int32(Y_B) * ((p >> SIXTEEN) & byte)
            out[i] = np.int32(16) + ((y + half) >> SIXTEEN)
    for j in range(y0 // 2, y1 // 2):
        above, below = words[2 * j, x0:x1], words[2 * j + 1, x0:x1]
        blue, red = u[j, x0 // 2 : x1 // 2], v[j, x0 // 2 : x1 // 2]
        for i in range(len(blue)):
            p, q, s, t = above[2 * i], above[2 * i + 1], below[2 * i], below[2 * i + 1]
            r = (p & byte) + (q & byte) + (s & byte) + (t & byte)
            g = ((p >> EIGHT) & byte) + ((q >> EIGHT) & byte) + ((s >> EIGHT) & byte) + ((t >> EIGHT) & byte)
            b = ((p >> SIXTEEN) & byte) + ((q >> SIXTEEN) & byte) + ((s >> SIXTEEN) & byte) + ((t >> SIXTEEN) & byte)
            blue[i] = np.int32(128) + ((np.int32(U_R) * r + np.int32(U_G) * g + np.int32(U_B) * b + np.int32(2 * ONE)) >> EIGHTEEN)
            red[i] = np.int32(128) + ((np.int32(V_R) * r + np.int32(V_G) * g + np.int32(V_B) * b + np.int32(2 * ONE)) >> EIGHTEEN)


def _folder() -> Path | None:
    """Where the kernel is kept for the next film, or None."""
    digest = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()[:16]
    return kept_in(digest, Path(__file__).parent / "__pycache__")


convert = Kernel(_convert, {"nogil": True}, _folder)


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
        words = rgba.view("<i4")[:, :, 0]
        for x0, y0, x1, y1 in rects:
            convert(words, x0, y0, x1, y1, self.luma, self.u, self.v)
