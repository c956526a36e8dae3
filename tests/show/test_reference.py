"""A few frames as they looked when somebody looked at them.

    python -m tests.show.test_reference      writes them anew; look at each before you commit it

matplotlib brings its own freetype, and another version sets letters a little differently, by more than a curve weighs. So blocks of 6 x 6
pixels with letters in them are compared loosely, and all others strictly.
"""

from __future__ import annotations

from pathlib import Path

import imageio.v3 as imageio
import numpy as np
import pytest
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from bouncesim.account.run import Run
from bouncesim.show.scene import Look
from bouncesim.show.stage import Stage
from bouncesim.show.text import own_style
from tests.show.awkward import STORIES
from tests.show.fake import verdict_of

FOLDER = Path(__file__).parent / "frames"
BLOCK = 6  # px
# levels of 255, of block means; measured: one frame later 0.4 and 18 or more, a curve left out 0.3 and 6.6 or more
MEAN, NEARLY_ALL = 0.15, 4.0  # without letters: the mean, and what 99 of 100 blocks stay under
LETTERS = 12.0  # mean over blocks with letters; letters without hinting are 10 off
CASES: dict[str, tuple[str, tuple[int, int], float, Look]] = {
    "wide-dark": ("balun", (480, 270), 0.6, Look()),
    "wide-both-light": ("plain", (480, 270), 0.3, Look("light", quantity="both")),
    "tall-light": ("two tuners", (270, 480), 0.8, Look("light")),
    "square-verdict": ("plain", (270, 270), 2.0, Look()),
}


def drawn(run: Run, case: tuple[str, tuple[int, int], float, Look], later: int = 0) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """The frame (h, w, 3), and where there are letters (h, w)."""
    _, size, share, look = case
    with own_style():
        stage = Stage(run, verdict_of(run), size=size, look=look)
        k = int(share * stage.story.closing) if share <= 1 else len(stage) - 1
        stage.draw(k + later)
        hidden = {id(a) for region in stage.frame.regions if not region.when(k) for a in region.artists}
        words = [t for t in stage.frame.axes.texts if t.get_text().strip() and id(t) not in hidden]
        boxes = [t.get_window_extent() for t in words]
    return stage.frame.pixels[:, :, :3].copy(), letters(boxes, size)


def letters(boxes: list[Bbox], size: tuple[int, int]) -> NDArray[np.bool_]:
    mask = np.zeros((size[1], size[0]), dtype=bool)
    for box in boxes:
        wide = 3 + 0.06 * box.width  # a long line may come out longer or shorter
        x0, y0, x1, y1 = (int(edge) for edge in (box.xmin - wide, size[1] - box.ymax - 3, box.xmax + wide + 1, size[1] - box.ymin + 4))
        mask[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = True
    return mask


def blocks(picture: NDArray[np.generic]) -> NDArray[np.float64]:
    """Means over blocks, shape (h / 6, w / 6, ...)."""
    h, w = picture.shape[0] // BLOCK, picture.shape[1] // BLOCK
    cut = picture[: h * BLOCK, : w * BLOCK].astype(np.float64)
    return np.asarray(cut.reshape(h, BLOCK, w, BLOCK, -1).mean(axis=(1, 3)))


def distances(picture: NDArray[np.uint8], reference: NDArray[np.uint8], mask: NDArray[np.bool_]) -> tuple[float, float, float]:
    """Mean and 99 % quantile over the blocks without letters, mean over those with letters."""
    off = np.abs(blocks(picture) - blocks(reference)).max(axis=2)
    lettered = blocks(mask)[:, :, 0] > 0
    return float(off[~lettered].mean()), float(np.quantile(off[~lettered], 0.99)), float(off[lettered].mean())


@pytest.mark.parametrize("name", CASES)
def test_a_frame_looks_as_it_did(name: str, stories: dict[str, Run]) -> None:
    picture, mask = drawn(stories[CASES[name][0]], CASES[name])
    reference = imageio.imread(FOLDER / f"{name}.png")
    mean, most, lettered = distances(picture, reference, mask)
    assert mean <= MEAN
    assert most <= NEARLY_ALL
    assert lettered <= LETTERS


def test_another_frame_does_not(stories: dict[str, Run]) -> None:
    """The yardstick tells the next frame and a curve left out."""
    case = CASES["wide-dark"]
    reference = imageio.imread(FOLDER / "wide-dark.png")
    for picture, mask in (
        drawn(stories["balun"], case, later=1),
        drawn(stories["balun"], (*case[:3], Look(hidden=frozenset({"largest"})))),
    ):
        mean, most, _ = distances(picture, reference, mask)
        assert mean > MEAN
        assert most > NEARLY_ALL


def write() -> None:
    FOLDER.mkdir(exist_ok=True)
    for name, case in CASES.items():
        imageio.imwrite(FOLDER / f"{name}.png", drawn(STORIES[case[0]].run(), case)[0])


if __name__ == "__main__":
    write()
