"""Which plain tones at a page's border are clouded, as what is laid by hand is and light never is.

Pigment settles, pools and dries unevenly over a few mm. The shadow of a hand, a gutter, a lamp's
fall-off and a sheet that does not lie flat change the tone of paper too, but each smoothly; what
is left of them, once means over three sizes are set against one another so that any bend of the
light comes to nothing, is the paper's own tooth.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from app.filters.grid import Mask, some, square

_SIZES_MM = (1.5, 3.5, 4.5)  # of the means that are set against one another
_PLAIN = 0.9  # of the widest mean must be plain
_ABOUT_MM = 6.0  # over which paper swings much alike
_CALM = 0.3  # of the page at least does so
_LIVELY = 1.4  # times as much: something lies there
_LOW = 0.015  # below the light (a logarithm): a tone
_SOFT_MM = 2.5  # of paper's tooth evened out, or its pits would join to tones
_ACROSS_MM = 7.0  # of what is drawn across a tone does not part it; lettering is less high
_WITHIN_MM = 3.5  # of a tone's rim, which bends sharply
_RIM_MM = 5  # of a tone's soft rim that goes with it
_TOLD_MM = (6.0, 8.0)  # within the outer rim of a tone, however soft, that it has come to
_FALLS = 0.72  # of how deep it lies further in; shade deepens more
_AREA_MM2 = 120.0  # of a tone must be seen well within it
_CALMER = 0.3  # of a tone may be calmer than what it is judged by, and of paper livelier
_CLOUDED = 0.012  # of its depth at least the clouds swing
_LIVELIER = 1.35  # times the paper's own swing
_PLAINLY = 0.04  # the same, times how much more that is than the paper's own swing

Cells = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Clouds:
    """By how much plain squares (h, w) of ``mm`` swing over a few mm, and where that is told."""

    swings: Cells
    told: Mask
    mm: float

    def about(self, part: Mask) -> Cells:
        """How much they swing about each square of a part, as far as that is the part's own."""
        energy, _ = _means(self.swings * self.swings, part & self.told, _odd(_ABOUT_MM, self.mm))
        return np.asarray(np.sqrt(np.maximum(energy, np.float32(0))), np.float32)

    def lively(self) -> Mask:
        """Where they swing more than on the calmer part of the page."""
        swing, seen = self.about(self.told), some(self.told)
        usual = float(np.quantile(swing.ravel()[seen], _CALM)) if seen.size else np.inf
        return np.asarray(swing > _LIVELY * usual)


def find_clouds(level: Cells, paper: Mask, mm: float) -> Clouds:
    """Clouds of a level, the logarithm of a tone, on squares of ``mm``.

    What bends as light does comes to nothing.

    >>> slope = np.linspace(0, 0.2, 60, dtype=np.float32) ** 2 * np.ones((60, 1), np.float32)
    >>> bool(abs(find_clouds(slope, np.ones((60, 60), bool), 0.5).swings[30, 30]) < 1e-5)
    True
    """
    sizes = [_odd(size, mm) for size in _SIZES_MM]
    fine, middle, wide = (_means(level, paper, size) for size in sizes)
    spread = [size * size for size in sizes]
    # weights whose sum is 0, and that of their second moments too
    more = (spread[1] - spread[0]) / max(spread[2] - spread[1], 1)
    swings = fine[0] - np.float32(1 + more) * middle[0] + np.float32(more) * wide[0]
    return Clouds(np.asarray(swings, np.float32), np.asarray(paper & (wide[1] > _PLAIN)), mm)


def find_clouded(level: Cells, clouds: Clouds, paper: Mask, border: Mask) -> Mask:
    """Squares (h, w) in clouded tones that touch the border.

    ``level`` is the logarithm of the tone over the page's light, ``paper`` where it is plain.

    >>> level = np.zeros((80, 80), np.float32)
    >>> level[30:] = -0.06
    >>> plain, border = np.ones((80, 80), bool), np.ones((80, 80), bool)
    >>> border[3:-3, 3:-3] = False
    >>> bool(find_clouded(level, find_clouds(level, plain, 0.5), plain, border).any())
    False
    >>> level[30:] += 0.01 * np.sin(np.arange(80) * 2.0)
    >>> bool(find_clouded(level, find_clouds(level, plain, 0.5), plain, border)[60, 40])
    True
    """
    low = _tones(level, paper, clouds.mm)
    _, label = cv2.connectedComponents(low, connectivity=4)
    rim = square(_WITHIN_MM / clouds.mm)
    out, within = (clouds.told & (cv2.erode(part, rim) > 0) for part in (1 - low, low))
    usual = float(np.quantile(clouds.about(out)[out], 1 - _CALMER)) if out.any() else np.inf
    swing, far = clouds.about(within), _depths_within(low, clouds.mm)
    found = np.zeros(low.shape, np.bool_)
    for number in np.unique(label[border & (low > 0)]):
        part = (label == number) & paper
        inner = within & part
        if np.count_nonzero(inner) * clouds.mm ** 2 < _AREA_MM2:
            continue
        most = float(np.quantile(swing[inner], _CALMER))
        more = np.sqrt(max(most * most - usual * usual, 0.0)) / -float(np.median(level[inner]))
        if (more > _CLOUDED and most > _LIVELIER * usual and more * most > _PLAINLY * usual
                and _ends(level[part], far[part])):
            found |= label == number
    return np.asarray(cv2.dilate(found.astype(np.uint8), square(_RIM_MM / clouds.mm)) > 0)


def _ends(level: Cells, far: Cells) -> bool:
    """Whether a tone comes to nothing within its rim, where light goes on to change."""
    near, most = _TOLD_MM
    beside, beyond = (far > near) & (far <= most), far > most
    if not beside.any() or not beyond.any():
        return True
    return bool(np.median(level[beside]) < _FALLS * np.median(level[beyond]))


def _depths_within(low: npt.NDArray[np.uint8], mm: float) -> Cells:
    """How far within tones squares lie in mm; at the page's border they are taken to go on."""
    wide = cv2.copyMakeBorder(low, 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    far = cv2.distanceTransform(wide, cv2.DIST_L2, cv2.DIST_MASK_5)[1:-1, 1:-1]
    return np.asarray(far * mm, np.float32)


def _tones(level: Cells, paper: Mask, mm: float) -> npt.NDArray[np.uint8]:
    """1 where the level lies below the light."""
    soft, many = _means(level, paper, _odd(_SOFT_MM, mm))
    seen = many > 0.5
    wide, near = _means(soft, seen, _odd(_ACROSS_MM, mm))
    low = (np.where(seen, soft, wide) < -_LOW) & (near > 0)
    about = np.ones((3, 3), np.uint8)
    return np.asarray(cv2.morphologyEx(low.astype(np.uint8), cv2.MORPH_OPEN, about), np.uint8)


def _means(level: Cells, there: Mask, size: int) -> tuple[Cells, Cells]:
    """Means over squares of that size of what is there, and how much of them is."""
    weight = there.astype(np.float32)
    total, many = (cv2.blur(plane, (size, size), borderType=cv2.BORDER_CONSTANT)
                   for plane in (level * weight, weight))
    mean = np.asarray(total / np.maximum(many, np.float32(1e-3)), np.float32)
    return mean, np.asarray(many, np.float32)


def _odd(length: float, mm: float) -> int:
    return max(1, round(length / mm)) | 1
