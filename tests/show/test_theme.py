"""Every text can be read and every quantity told apart, by any eye."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from bouncesim.show.theme import DARK, LIGHT, MARKS, VEIL, Palette
from tests.show.vision import SIGHTS, contrast, difference

TEXT = 4.95  # WCAG 2.2 asks 4.5:1 of text at level AA; the palettes do better
CURVE = 4.06  # WCAG 2.2 asks 3:1 of graphics
JUST_SEEN = 2.3  # L*a*b* distance that is just seen (Mahy, Van Eycken, Oosterlinck 1994; from memory)
WAVES_APART = 20 * JUST_SEEN
ITEMS_APART = 3 * JUST_SEEN  # account items stand side by side and have hatches too
WAVES = ("total", "forward", "reflected")
ITEMS = ("antenna", "heat", "stored")
palettes = pytest.mark.parametrize("palette", [DARK, LIGHT], ids=lambda palette: palette.name)


@palettes
def test_text_contrast(palette: Palette) -> None:
    for name in ("text", "secondary", "forward", "reflected", "antenna"):
        assert contrast(getattr(palette, name), palette.panel) >= TEXT - 0.005, name
    for name in ("text", "secondary"):
        assert contrast(getattr(palette, name), palette.background) >= TEXT, name


@palettes
@pytest.mark.parametrize("footage", ["#000000", "#FFFFFF"])
def test_contrast_over_other_footage(palette: Palette, footage: str) -> None:
    """A panel that lets the brightest or the darkest footage through still carries text (WCAG 2.2: 4.5:1) and curves (3:1)."""
    share = int(VEIL, 16) / 255
    ground = "#" + "".join(
        f"{round(share * int(palette.panel[i : i + 2], 16) + (1 - share) * int(footage[i : i + 2], 16)):02X}" for i in (1, 3, 5)
    )
    for name in ("text", "secondary"):
        assert contrast(getattr(palette, name), ground) >= 4.5, name
    for name in (*WAVES, *ITEMS):
        assert contrast(getattr(palette, name), ground) >= 3, name


@palettes
def test_curve_contrast(palette: Palette) -> None:
    for name in WAVES:
        for ground in (palette.panel, palette.largest_fill):
            assert contrast(getattr(palette, name), ground) >= CURVE - 0.005, name
    for name in (*ITEMS, "largest_edge", "axis", "conductor"):
        assert contrast(getattr(palette, name), palette.panel) >= CURVE, name


@palettes
@pytest.mark.parametrize("sight", SIGHTS)
def test_colours_stay_apart(palette: Palette, sight: str) -> None:
    for names, apart in ((WAVES, WAVES_APART), (ITEMS, ITEMS_APART)):
        for one, other in combinations(names, 2):
            assert difference(getattr(palette, one), getattr(palette, other), sight) >= apart, (one, other)


def test_told_apart_without_colour() -> None:
    waves = [(MARKS[name].dashes, MARKS[name].arrow, MARKS[name].width) for name in WAVES]
    hatches = [mark.hatch for name, mark in MARKS.items() if name in ("antenna", "into the stub", "stored", "reflected") or "heat" in name]
    assert len(set(waves)) == len(waves)
    assert len(set(hatches)) == len(hatches)


def test_yardsticks() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)  # WCAG 2.2: the largest there is
    for matrix in SIGHTS.values():
        assert matrix @ np.ones(3) == pytest.approx(np.ones(3), abs=2e-6)  # white stays white
