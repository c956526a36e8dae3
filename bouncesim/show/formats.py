"""Kinds of film: what a file of each is made with. All are the same bytes from run to run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bouncesim.errors import OptionError
from bouncesim.show.layout import Shape

BT709 = ("-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709")
EXACT = ("-threads", "2", "-map_metadata", "-1", "-flags", "+bitexact", "-fflags", "+bitexact")
TO_709 = "scale=out_color_matrix=bt709:out_range=tv,setparams=color_primaries=bt709:color_trc=bt709:colorspace=bt709"
GIF_SIZES: dict[Shape, tuple[int, int]] = {"wide": (800, 450), "tall": (450, 800), "square": (600, 600)}


@dataclass(frozen=True)
class Format:
    """`pixels` is how frames come to the encoder; `arguments` takes whether it is a draft. `even`: both sides must be even numbers."""

    name: str
    pixels: str  # "yuv420p" (BT.709, tv range) or "rgba"
    arguments: Callable[[bool], tuple[str, ...]]
    mark: bytes  # in its first bytes
    even: bool = True
    clear: bool = False  # whether it can let through what it is laid over
    frames: bool = False  # whether it is a folder of pictures
    fps: int = 30

    def begins(self, file: Path) -> bool:
        """Whether a file (of a folder of pictures, each) begins as one of this kind does."""
        with file.open("rb") as opened:
            return self.mark in opened.read(12)


def _mp4(draft: bool) -> tuple[str, ...]:
    effort = ("ultrafast", "20") if draft else ("veryfast", "18")
    return (
        *("-c:v", "libx264", "-preset", effort[0], "-crf", effort[1], "-bf", "0", "-pix_fmt", "yuv420p", *BT709, *EXACT),
        *("-movflags", "+faststart", "-f", "mp4"),
    )


def _webm(draft: bool) -> tuple[str, ...]:
    return (
        *("-c:v", "libsvtav1", "-preset", "12" if draft else "8", "-crf", "32", "-svtav1-params", "lp=2", "-pix_fmt", "yuv420p"),
        *(*BT709, *EXACT, "-f", "webm"),
    )


def _mov(draft: bool) -> tuple[str, ...]:
    return (
        *("-vf", TO_709, "-c:v", "prores_ks", "-profile:v", "4444", "-alpha_bits", "8", "-qscale:v", "16" if draft else "9"),
        *("-pix_fmt", "yuva444p10le", *BT709, *EXACT, "-f", "mov"),
    )


def _gif(draft: bool) -> tuple[str, ...]:
    return ("-lavfi", "paletteuse=dither=none:diff_mode=rectangle", *EXACT, "-loop", "0", "-f", "gif")


def _png(draft: bool) -> tuple[str, ...]:
    return ("-c:v", "png", "-compression_level", "1" if draft else "3", *EXACT, "-f", "image2", "-start_number", "0")


FORMATS = {
    kind.name: kind
    for kind in (
        Format("mp4", "yuv420p", _mp4, b"ftyp"),
        Format("webm", "yuv420p", _webm, b"\x1aE\xdf\xa3"),
        Format("gif", "rgba", _gif, b"GIF89a", even=False, fps=25),
        Format("png", "rgba", _png, b"\x89PNG", even=False, clear=True, frames=True),
        Format("mov", "rgba", _mov, b"ftyp", even=False, clear=True),
    )
}


def format_of(path: Path, name: str | None = None, clear: bool = False) -> Format:
    """The format of a name, or else of a path's ending; a path without an ending is a folder of pictures. Raises OptionError.

    `clear`: the film is to let through what it is laid over.
    """
    told = name or path.suffix.lower().lstrip(".") or "png"
    known = ", ".join(FORMATS)
    if told not in FORMATS:
        raise OptionError(f"A film cannot be written as {told!r}; the kinds are {known}.")
    found = FORMATS[told]
    if found.frames and path.suffix:
        raise OptionError(f"A sequence of pictures goes into a folder; {path.name} is the name of a file.")
    if not found.frames and path.suffix.lower() != f".{found.name}":
        raise OptionError(f"A film of the kind {found.name} needs a name that ends in .{found.name}; {path.name} ends otherwise.")
    if clear and not found.clear:
        able = " or ".join(kind.name for kind in FORMATS.values() if kind.clear)
        raise OptionError(f"A film of the kind {found.name} cannot be transparent; choose {able}.")
    return found


def check_pace(kind: Format, fps: int) -> None:
    """OptionError for frames a second that a kind of film cannot have."""
    if not 1 <= fps <= 240:
        raise OptionError(f"A film of {fps} frames a second cannot be made: 1 to 240 are allowed, and 30 is usual.")
    if kind.name == "gif" and 100 % fps:
        raise OptionError(f"Frames of a gif last whole hundredths of a second, so {fps} a second will not do: choose 10, 20, 25 or 50.")


def check_even(kind: Format, size: tuple[int, int]) -> None:
    """OptionError for a side in odd pixels where the format halves its colour."""
    if kind.even and (size[0] % 2 or size[1] % 2):
        near = "x".join(str(side + side % 2) for side in size)
        raise OptionError(f"A film of the kind {kind.name} needs even numbers of pixels, not {size[0]}x{size[1]}: take {near}.")
