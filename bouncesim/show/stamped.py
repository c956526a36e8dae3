"""Pictures that say where they come from, in a place that no eye sees."""

from __future__ import annotations

import struct
import zlib

import imageio.v3 as imageio
import numpy as np
from numpy.typing import NDArray

from bouncesim.show.report.visible import one_line

HEAD = 33  # bytes of a PNG up to the end of its first chunk, IHDR (ISO/IEC 15948, from memory)


def png(pixels: NDArray[np.uint8], words: str) -> bytes:
    """A picture (height, width, 3 or 4) as PNG, with `words` as its text "Source", unless there are none."""
    made: bytes = imageio.imwrite("<bytes>", pixels, extension=".png")
    if not words:
        return made
    chunk = b"tEXt" + b"Source\0" + one_line(words).encode("latin-1", "replace")
    return made[:HEAD] + struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk)) + made[HEAD:]
